//! How two fish are related, in words.

use std::collections::BTreeMap;

use crate::kin::Ancestry;

/// The parents of a fish, possible dams included.
fn parents<'a>(fish: &str, known: &BTreeMap<&str, &'a Ancestry>) -> Vec<&'a str> {
    known.get(fish).map_or(vec![], |a| a.sire.iter().chain(&a.dams).map(String::as_str).collect())
}

/// `mother and son`, `full brother and sister`, `uncle and niece`, …; `None` when no close tie is known.
pub fn relation(sire: &str, dam: &str, pedigree: &[Ancestry]) -> Option<&'static str> {
    let known: BTreeMap<&str, &Ancestry> = pedigree.iter().map(|a| (a.fish.as_str(), a)).collect();
    let of = |fish: &str| parents(fish, &known);
    let grandparents = |fish: &str| of(fish).into_iter().flat_map(of).collect::<Vec<_>>();
    let (of_sire, of_dam) = (of(sire), of(dam));
    if of_sire.contains(&dam) {
        return Some("mother and son");
    }
    if of_dam.contains(&sire) {
        return Some("father and daughter");
    }
    let shared = of_sire.iter().filter(|p| of_dam.contains(p)).count();
    if shared > 0 {
        return Some(if shared > 1 { "brother and sister" } else { "half brother and half sister" });
    }
    if grandparents(sire).contains(&dam) {
        return Some("grandmother and grandson");
    }
    if grandparents(dam).contains(&sire) {
        return Some("grandfather and granddaughter");
    }
    if grandparents(sire).iter().any(|g| of_dam.contains(g)) {
        return Some("aunt and nephew");
    }
    if grandparents(dam).iter().any(|g| of_sire.contains(g)) {
        return Some("uncle and niece");
    }
    grandparents(sire).iter().any(|g| grandparents(dam).contains(g)).then_some("cousins")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fish(name: &str, sire: &str, dam: &str) -> Ancestry {
        let parent = |p: &str| (!p.is_empty()).then(|| p.to_owned());
        Ancestry { fish: name.into(), sire: parent(sire), dams: parent(dam).into_iter().collect() }
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
            assert_eq!(relation(sire, dam, &pedigree), words, "{sire} × {dam}");
        }
    }
}
