//! How two fish are related, in words.

use std::collections::BTreeMap;

use crate::kin::Ancestry;

/// Whether two fish have both parents in common: the same sire, who is known, and a possible dam. Two possible dams in
/// common are still one mother at most.
fn full_sibs(one: &Ancestry, other: &Ancestry) -> bool {
    let sure = one.other_sires.is_empty() && other.other_sires.is_empty();
    sure && one.sire.is_some() && one.sire == other.sire && one.dams.iter().any(|d| other.dams.contains(d))
}

/// A parent, and whether it is the only one of its sex that comes into question.
type Parent<'a> = (&'a str, bool);

/// The parents of a fish, possible ones included.
fn parents<'a>(fish: &str, known: &BTreeMap<&str, &'a Ancestry>) -> Vec<Parent<'a>> {
    known.get(fish).map_or(vec![], |a| {
        let (one_sire, one_dam) = (a.other_sires.is_empty(), a.dams.len() == 1);
        let sires = a.sire.iter().chain(a.other_sires.iter().map(|(sire, _)| sire)).map(|s| (s.as_str(), one_sire));
        sires.chain(a.dams.iter().map(|d| (d.as_str(), one_dam))).collect()
    })
}

/// Whether a fish is among parents or grandparents, and if so whether it is for certain.
fn among(ancestors: &[Parent<'_>], fish: &str) -> Option<bool> {
    let found: Vec<bool> = ancestors.iter().filter(|(name, _)| *name == fish).map(|(_, certain)| *certain).collect();
    (!found.is_empty()).then(|| found.contains(&true))
}

/// Whether two lists share an ancestor, and if so whether one of those they share is both's for certain.
fn shared(a: &[Parent<'_>], b: &[Parent<'_>]) -> Option<bool> {
    let both = a.iter().filter_map(|(name, certain)| Some(among(b, name)? && *certain));
    both.reduce(|any, certain| any || certain)
}

/// `mother and son`, `full brother and sister`, `perhaps uncle and niece`, …; `None` when no close tie is known. A tie by a
/// parent that is one of several possible ones is a perhaps.
pub fn relation(sire: &str, dam: &str, pedigree: &[Ancestry]) -> Option<String> {
    let known: BTreeMap<&str, &Ancestry> = pedigree.iter().map(|a| (a.fish.as_str(), a)).collect();
    let (words, certain) = tie(sire, dam, &known)?;
    Some(if certain { words.to_owned() } else { format!("perhaps {words}") })
}

fn tie(sire: &str, dam: &str, known: &BTreeMap<&str, &Ancestry>) -> Option<(&'static str, bool)> {
    let of = |fish: &str| parents(fish, known);
    let grandparents = |fish: &str| {
        let through = |(parent, certain): Parent<'_>| of(parent).into_iter().map(move |(g, sure)| (g, sure && certain));
        of(fish).into_iter().flat_map(through).collect::<Vec<_>>()
    };
    let (of_sire, of_dam) = (of(sire), of(dam));
    if let Some(certain) = among(&of_sire, dam) {
        return Some(("mother and son", certain));
    }
    if let Some(certain) = among(&of_dam, sire) {
        return Some(("father and daughter", certain));
    }
    if let Some(certain) = shared(&of_sire, &of_dam) {
        let full = known.get(sire).zip(known.get(dam)).is_some_and(|(s, d)| full_sibs(s, d));
        return Some((if full { "brother and sister" } else { "half brother and half sister" }, certain));
    }
    let (above_sire, above_dam) = (grandparents(sire), grandparents(dam));
    [
        ("grandmother and grandson", among(&above_sire, dam)),
        ("grandfather and granddaughter", among(&above_dam, sire)),
        ("aunt and nephew", shared(&above_sire, &of_dam)),
        ("uncle and niece", shared(&above_dam, &of_sire)),
        ("cousins", shared(&above_sire, &above_dam)),
    ]
    .into_iter()
    .find_map(|(words, certain)| Some((words, certain?)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fish(name: &str, sire: &str, dam: &str) -> Ancestry {
        let parent = |p: &str| (!p.is_empty()).then(|| p.to_owned());
        let dams = parent(dam).iter().flat_map(|d| d.split('+').map(str::to_owned)).collect();
        Ancestry { fish: name.into(), sire: parent(sire), dams, ..Ancestry::default() }
    }

    #[test]
    fn close_ties_have_their_words() {
        let pedigree = [
            fish("P", "", ""),
            fish("M", "", ""),
            fish("N", "", ""),
            fish("s", "P", "M"),
            fish("d", "P", "M"),
            fish("h", "P", "N"),
            fish("k", "s", "N"),
        ];
        for (sire, dam, words) in [
            ("s", "M", Some("mother and son")),
            ("P", "d", Some("father and daughter")),
            ("s", "d", Some("brother and sister")),
            ("s", "h", Some("half brother and half sister")),
            ("k", "M", Some("grandmother and grandson")),
            ("k", "d", Some("aunt and nephew")),
            ("P", "N", None),
        ] {
            assert_eq!(relation(sire, dam, &pedigree).as_deref(), words, "{sire} × {dam}");
        }
    }

    #[test]
    fn one_of_several_possible_parents_is_a_perhaps() {
        let stored = Ancestry { other_sires: vec![("Z".into(), 0.25)], ..fish("d2", "Y", "M") };
        let pedigree = [
            fish("P", "", ""),
            fish("A", "", ""),
            fish("B", "", ""),
            fish("Y", "", ""),
            fish("Z", "", ""),
            fish("M", "", ""),
            fish("s2", "P", "A+B"),
            fish("d", "P", "M"),
            fish("k", "s2", "M"),
            stored,
        ];
        for (sire, dam, words) in [
            ("s2", "A", "perhaps mother and son"),
            ("s2", "B", "perhaps mother and son"),
            ("Z", "d2", "perhaps father and daughter"),
            ("Y", "d2", "perhaps father and daughter"),
            ("s2", "d", "half brother and half sister"),
            ("k", "B", "perhaps grandmother and grandson"),
        ] {
            assert_eq!(relation(sire, dam, &pedigree).as_deref(), Some(words), "{sire} × {dam}");
        }
        assert_eq!(relation("s2", "Z", &pedigree), None, "one of several dams is no tie to everybody");
    }

    /// Out of one tank of two dams: by two sires they share a mother at most, by one sire father and perhaps mother; by a
    /// sire nobody recorded no more than a mother is known to be shared.
    #[test]
    fn two_possible_dams_in_common_are_no_father_in_common() {
        let of = |name: &str, sire: Option<&str>| Ancestry {
            fish: name.into(),
            sire: sire.map(Into::into),
            dams: vec!["D1".into(), "D2".into()],
            ..Ancestry::default()
        };
        let pedigree =
            [of("son", Some("F1")), of("half", Some("F2")), of("full", Some("F1")), of("u", None), of("v", None)];
        let half = Some("perhaps half brother and half sister");
        assert_eq!(relation("son", "half", &pedigree).as_deref(), half);
        assert_eq!(relation("son", "full", &pedigree).as_deref(), Some("brother and sister"));
        assert_eq!(relation("u", "v", &pedigree).as_deref(), half);
    }
}
