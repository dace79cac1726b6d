//! Who fathered a brood, and whose stored sperm may still be at work.

use std::collections::BTreeSet;

use broodhue::book::broods::{self, EarlierSire};
use broodhue::book::crosses::{self, Dam, NewCross, Stay};
use broodhue::book::evidence::{self, Question};
use broodhue::book::{Book, aside, fish, living, paternity};
use broodhue::sheet::Sheet;
use broodhue::units::{Sex, View};
use jiff::civil::{Date, date};

use crate::common::{book, by, new_fish};

fn from(day: Date) -> Stay {
    Stay { day_in: Some(day), day_out: None }
}

/// Cross K5 of these sires and of Tarnwick-1, who came on 5 March, with a brood dropped on 1 May.
fn dam_of_march(book: &mut Book, sires: &[(&str, Stay)]) {
    let new = NewCross {
        name: "K5".into(),
        sires: sires.iter().map(|(name, stay)| ((*name).to_owned(), *stay)).collect(),
        dams: vec![(Dam::Fish("Tarnwick-1".into()), from(date(2026, 3, 5)))],
        ..NewCross::default()
    };
    let brood = broods::NewBrood {
        name: "K5-1".into(),
        cross: "K5".into(),
        dropped_from: Some(date(2026, 5, 1)),
        ..broods::NewBrood::default()
    };
    book.write(|w| {
        for (name, _) in sires {
            fish::add(w, &new_fish(name, Sex::Male, None), &by("Ann"))?;
        }
        crosses::add(w, &new)?;
        broods::add(w, &brood)
    })
    .unwrap();
}

/// The sire, the earlier sire, and whether there is doubt.
fn of_march(sires: &[(&str, Stay)]) -> (Option<String>, Option<EarlierSire>, bool) {
    let (_dir, mut book) = book();
    dam_of_march(&mut book, sires);
    let found = paternity::of_brood(&broods::known(&book.read(), "K5-1").unwrap());
    (found.sire().map(str::to_owned), found.earlier.clone(), found.doubt.is_some())
}

/// Sires came on 1 January, 2 February and 2 March: she met the last alone, and with two of them no earlier one.
#[test]
fn a_sire_whom_the_dam_never_met_is_neither_sire_nor_earlier_sire() {
    let (a, b, c) = (from(date(2026, 1, 1)), from(date(2026, 2, 2)), from(date(2026, 3, 2)));
    let only = |name: &str| (Some(name.to_owned()), None, false);
    assert_eq!(of_march(&[("A", a), ("B", b), ("C", c)]), only("C"));
    assert_eq!(of_march(&[("A", a), ("B", b)]), only("B"));
    let left = |stay: Stay, day| Stay { day_out: Some(day), ..stay };
    // B left and A came on the same day, after she had come.
    let back = of_march(&[("B", left(b, date(2026, 3, 10))), ("A", from(date(2026, 3, 10)))]);
    assert_eq!(back, (Some("A".into()), Some(EarlierSire::Fish("B".into())), false));
    let none = of_march(&[("A", left(a, date(2026, 2, 1))), ("B", left(b, date(2026, 3, 1)))]);
    assert_eq!(none, (None, None, true));
}

/// Isolated on 1 January 2024, more than a year before: that says nothing of a female who was with a male since. One whose cross
/// ended on that very day, or has no days at all, is apart from males.
#[test]
fn an_isolation_before_her_latest_cross_says_nothing_of_stored_sperm() {
    let warned = |stay: Stay| {
        let (_dir, mut book) = book();
        let isolated = fish::NewFish { isolated_since: Some(date(2024, 1, 1)), ..new_fish("F", Sex::Female, None) };
        let dams = vec![(Dam::Fish("F".into()), stay)];
        let new = NewCross { name: "K9".into(), dams, ..NewCross::default() };
        book.write(|w| fish::add(w, &isolated, &by("Ann")).and_then(|()| crosses::add(w, &new))).unwrap();
        let question = Question { axis: "red-body", target: "absent", middle: None, view: View::Above };
        let (found, _) = evidence::gather(&book.read(), &Sheet::starting().unwrap(), &question).unwrap();
        let fish = found.find("F").unwrap();
        let all = living::living(&book.read(), &found, date(2026, 3, 1)).unwrap();
        all.into_iter().find(|c| c.fish == fish).unwrap().stored
    };
    let not_a_virgin = Some("F is not a virgin (dam of K9): isolate her, or judge the brood as of two sires");
    assert_eq!(warned(from(date(2026, 1, 1))).as_deref(), not_a_virgin);
    let to = |day| Stay { day_in: Some(date(2023, 6, 1)), day_out: Some(day) };
    assert_eq!(warned(to(date(2024, 2, 1))).as_deref(), not_a_virgin);
    for apart in [to(date(2024, 1, 1)), Stay::default()] {
        assert_eq!(warned(apart), None);
    }
}

/// Crosses of Nell with these sires and days, and a brood of the last of them dropped on that day.
fn of_nell(nell: fish::NewFish, crosses: &[(&str, &str, Stay)], dropped: Date) -> paternity::Paternity {
    let (_dir, mut book) = book();
    let sires: BTreeSet<&str> = crosses.iter().map(|(_, sire, _)| *sire).collect();
    book.write(|w| {
        fish::add(w, &nell, &by("Ann"))?;
        sires.iter().try_for_each(|sire| fish::add(w, &new_fish(sire, Sex::Male, None), &by("Ann")))?;
        for (cross, sire, stay) in crosses {
            let new = NewCross {
                name: (*cross).into(),
                sires: vec![((*sire).to_owned(), *stay)],
                dams: vec![(Dam::Fish("Nell".into()), *stay)],
                ..NewCross::default()
            };
            crosses::add(w, &new)?;
        }
        let (cross, ..) = crosses.last().copied().unwrap_or_default();
        let brood = broods::NewBrood {
            name: "N".into(),
            cross: cross.into(),
            dropped_from: Some(dropped),
            ..Default::default()
        };
        broods::add(w, &brood)
    })
    .unwrap();
    paternity::of_brood(&broods::known(&book.read(), "N").unwrap())
}

/// Until 1 February with S1, from 2 February with S2: a year on stored sperm has fathered young (check values, section 10).
#[test]
fn a_male_of_another_cross_is_the_earlier_sire_while_his_sperm_is_stored() {
    let nell = || new_fish("Nell", Sex::Female, None);
    let until = |from: Date, to: Date| Stay { day_in: Some(from), day_out: Some(to) };
    let a = ("A", "S1", until(date(2025, 1, 1), date(2025, 2, 1)));
    let b = ("B", "S2", until(date(2025, 2, 2), date(2026, 6, 1)));
    let z = ("Z", "S0", until(date(2024, 11, 1), date(2024, 12, 1)));
    let march = date(2025, 3, 5);
    let fish = |name: &str| Some(EarlierSire::Fish(name.to_owned()));
    let found = of_nell(nell(), &[a, b], march);
    assert_eq!((found.sire(), found.earlier.clone()), (Some("S2"), fish("S1")));
    assert!(
        found.notes[0].contains("counts as of two sires: Nell was also with S1 (cross A, until 2025-02-01)"),
        "{found:?}"
    );
    // A year and a month later nothing is left of it; a virgin on the day she came had nothing stored.
    let late = of_nell(nell(), &[a, b], date(2026, 3, 5));
    assert_eq!((late.earlier, late.notes), (None, vec![]));
    let virgin = fish::NewFish { virgin_on: Some(date(2025, 2, 2)), ..nell() };
    assert_eq!(of_nell(virgin, &[a, b], march).earlier, None);
    // He came too late to father a brood of the first pair, and in time for a later one of hers.
    assert_eq!(of_nell(nell(), &[b, a], date(2025, 1, 30)).earlier, None);
    assert_eq!(of_nell(nell(), &[b, a], date(2025, 3, 10)).earlier, fish("S2"));
    // Where no last day is known the next cross ended it, or her isolation.
    let open = ("A", "S1", from(date(2023, 1, 1)));
    assert_eq!(of_nell(nell(), &[open, b], march).earlier, fish("S1"));
    let isolated = fish::NewFish { isolated_since: Some(date(2023, 6, 1)), ..nell() };
    assert_eq!(of_nell(isolated, &[open, b], march).earlier, None);
    // Of several the last, and the others are named; the same male again is no other.
    let three = of_nell(nell(), &[z, a, b], march);
    assert_eq!(three.earlier, fish("S1"));
    assert!(three.notes[0].contains("S0 (cross Z, until 2024-12-01) may have fathered some too"), "{three:?}");
    assert_eq!(of_nell(nell(), &[("A", "S2", a.2), b], march).earlier, None);
    // Without days nothing can be told, and that is said.
    let undated = of_nell(nell(), &[("A", "S1", Stay::default()), b], march);
    assert_eq!(undated.earlier, None);
    assert!(undated.notes[0].contains("S1 (cross A)") && undated.notes[0].contains("not all recorded"), "{undated:?}");
}

/// Cross X9 was written down by mistake: the pair was never together, so it is no mating until it is brought back.
#[test]
fn a_cross_that_was_set_aside_is_no_mating() {
    let (_dir, mut book) = book();
    let of = |cross: &str, sire: &str, stay: Stay| NewCross {
        name: cross.into(),
        sires: vec![(sire.into(), stay)],
        dams: vec![(Dam::Fish("Nell".into()), stay)],
        ..NewCross::default()
    };
    let until = |from: Date, to: Date| Stay { day_in: Some(from), day_out: Some(to) };
    let dropped_from = Some(date(2025, 9, 1));
    let brood = broods::NewBrood { name: "N".into(), cross: "K2".into(), dropped_from, ..Default::default() };
    book.write(|w| {
        fish::add(w, &new_fish("Nell", Sex::Female, None), &by("Ann"))?;
        for sire in ["S1", "S2"] {
            fish::add(w, &new_fish(sire, Sex::Male, None), &by("Ann"))?;
        }
        crosses::add(w, &of("X9", "S1", until(date(2025, 1, 1), date(2025, 5, 1))))?;
        crosses::add(w, &of("K2", "S2", until(date(2025, 6, 1), date(2025, 12, 1))))?;
        broods::add(w, &brood)
    })
    .unwrap();
    let found = |book: &Book| {
        let question = Question { axis: "red-body", target: "absent", middle: None, view: View::Above };
        let (evidence, _) = evidence::gather(&book.read(), &Sheet::starting().unwrap(), &question).unwrap();
        let nell = evidence.find("Nell").unwrap();
        let all = living::living(&book.read(), &evidence, date(2026, 3, 1)).unwrap();
        let stored = all.into_iter().find(|c| c.fish == nell).and_then(|c| c.stored).unwrap();
        let paternity = paternity::of_brood(&broods::known(&book.read(), "N").unwrap());
        (paternity.earlier.clone(), paternity.notes.len(), stored)
    };
    let said = |crosses: &str| {
        format!("Nell is not a virgin (dam of {crosses}): isolate her, or judge the brood as of two sires")
    };
    let with_s1 = (Some(EarlierSire::Fish("S1".into())), 1, said("K2, X9"));
    assert_eq!(found(&book), with_s1);
    book.write(|w| aside::cross(w, "X9", Some("wrong"), &by("Ann"))).unwrap();
    assert_eq!(found(&book), (None, 0, said("K2")));
    book.write(|w| aside::cross(w, "X9", None, &by("Ann"))).unwrap();
    assert_eq!(found(&book), with_s1);
}

/// Of S2 nothing is known but that he left on 1 December: whether he was there before the drop in March nobody knows. Had he left on 1
/// February, he was.
#[test]
fn a_male_known_by_his_last_day_alone_is_taken_only_where_that_was_in_time() {
    let nell = || new_fish("Nell", Sex::Female, None);
    let a = ("A", "S1", Stay { day_in: Some(date(2025, 1, 1)), day_out: Some(date(2025, 5, 1)) });
    let b = |last: Date| ("B", "S2", Stay { day_in: None, day_out: Some(last) });
    let late = of_nell(nell(), &[b(date(2025, 12, 1)), a], date(2025, 3, 1));
    assert_eq!((late.sire(), late.earlier.clone(), late.notes.len()), (Some("S1"), None, 1));
    assert!(late.notes[0].contains("S2 (cross B, until 2025-12-01)") && late.notes[0].contains("not all recorded"));
    let in_time = of_nell(nell(), &[b(date(2025, 2, 1)), a], date(2025, 3, 1));
    assert_eq!(in_time.earlier, Some(EarlierSire::Fish("S2".into())));
}

/// Dam D1 in C1 with S1, in C2 with S3 out of C1, in C4 with S5 out of S3 and another dam. Whatever days are missing, neither son nor
/// grandson fathered the brood he came out of: nobody is his own ancestor.
#[test]
fn a_dams_descendant_is_no_earlier_sire_of_the_brood_he_came_out_of() {
    for with_brood in [true, false] {
        let (_dir, mut book) = book();
        let until = |from: Date, to: Date| Stay { day_in: Some(from), day_out: Some(to) };
        let of = |cross: &str, sire: &str, dam: &str, stay: Stay| NewCross {
            name: cross.into(),
            sires: vec![(sire.into(), stay)],
            dams: vec![(Dam::Fish(dam.into()), stay)],
            ..NewCross::default()
        };
        let son = |name: &str, cross: &str| fish::NewFish {
            cross: Some(cross.into()),
            brood: with_brood.then(|| format!("{cross}-1")),
            ..new_fish(name, Sex::Male, None)
        };
        let brood = |cross: &str| broods::NewBrood {
            name: format!("{cross}-1"),
            cross: cross.into(),
            ..broods::NewBrood::default()
        };
        book.write(|w| {
            for (name, sex) in [("S1", Sex::Male), ("D1", Sex::Female), ("D2", Sex::Female)] {
                fish::add(w, &new_fish(name, sex, None), &by("Ann"))?;
            }
            crosses::add(w, &of("C1", "S1", "D1", until(date(2025, 1, 1), date(2025, 12, 1))))?;
            broods::add(w, &brood("C1"))?;
            fish::add(w, &son("S3", "C1"), &by("Ann"))?;
            crosses::add(w, &of("C3", "S3", "D2", Stay::default()))?;
            broods::add(w, &brood("C3"))?;
            fish::add(w, &son("S5", "C3"), &by("Ann"))?;
            crosses::add(w, &of("C2", "S3", "D1", from(date(2025, 6, 1))))?;
            crosses::add(w, &of("C4", "S5", "D1", from(date(2025, 9, 1))))
        })
        .unwrap();
        let found = paternity::of_brood(&broods::known(&book.read(), "C1-1").unwrap());
        assert_eq!((found.sire(), found.earlier.clone(), found.notes.len()), (Some("S1"), None, 0));
        let question = Question { axis: "red-body", target: "absent", middle: None, view: View::Above };
        evidence::gather(&book.read(), &Sheet::starting().unwrap(), &question).unwrap();
    }
}

#[test]
fn a_drop_long_after_the_pair_parted_is_said() {
    let stay = Stay { day_in: Some(date(2025, 1, 1)), day_out: Some(date(2025, 2, 1)) };
    let found = |dropped| of_nell(new_fish("Nell", Sex::Female, None), &[("A", "S1", stay)], dropped).notes;
    assert!(found(date(2026, 2, 1)).is_empty());
    assert!(found(date(2026, 9, 1))[0].contains("577 days after its parents parted (2025-02-01)"));
}
