//! Who can have fathered a brood by the days: males who came too late, males side by side, drops not known to the day.
//! Young are carried for 21 days at least, so that each day of the drop gives the last day of the mating by hand.

use broodhue::book::broods::{self, EarlierSire, NewBrood};
use broodhue::book::crosses::{self, Dam, NewCross, Stay};
use broodhue::book::evidence::{self, Question};
use broodhue::book::{Book, fish, paternity, pedigree};
use broodhue::kin::Pedigree;
use broodhue::sheet::Sheet;
use broodhue::units::{Sex, View};
use jiff::civil::{Date, date};
use tempfile::TempDir;

use crate::common::{book, by, new_fish};

fn from(month: i8, day: i8) -> Stay {
    Stay { day_in: Some(date(2026, month, day)), day_out: None }
}

fn to(stay: Stay, month: i8, day: i8) -> Stay {
    Stay { day_out: Some(date(2026, month, day)), ..stay }
}

fn at(month: i8, day: i8) -> (Date, Date) {
    (date(2026, month, day), date(2026, month, day))
}

/// Sires with their days in a cross of Nell, and hers.
type Of<'a> = (&'a str, &'a [(&'a str, Stay)], Stay);

/// Crosses of Nell, a brood N of the last of them dropped between those days, and a daughter out of it.
fn of_nell(nell: fish::NewFish, crosses: &[Of<'_>], dropped: (Date, Date), earlier: Option<&str>) -> (TempDir, Book) {
    let (dir, mut book) = book();
    let mut sires: Vec<&str> = crosses.iter().flat_map(|(_, sires, _)| sires.iter().map(|(name, _)| *name)).collect();
    sires.sort_unstable();
    sires.dedup();
    book.write(|w| {
        fish::add(w, &nell, &by("Ann"))?;
        sires.iter().try_for_each(|sire| fish::add(w, &new_fish(sire, Sex::Male, None), &by("Ann")))?;
        for (cross, sires, stay) in crosses {
            let new = NewCross {
                name: (*cross).into(),
                sires: sires.iter().map(|(name, stay)| ((*name).to_owned(), *stay)).collect(),
                dams: vec![(Dam::Fish("Nell".into()), *stay)],
                ..NewCross::default()
            };
            crosses::add(w, &new)?;
        }
        let brood = NewBrood {
            name: "N".into(),
            cross: crosses.last().map(|(cross, ..)| (*cross).to_owned()).unwrap_or_default(),
            dropped_from: Some(dropped.0),
            dropped_to: Some(dropped.1),
            earlier_sire: earlier.map(EarlierSire::named),
            ..NewBrood::default()
        };
        broods::add(w, &brood)?;
        let young = fish::NewFish { brood: Some("N".into()), ..new_fish("young", Sex::Female, None) };
        fish::add(w, &young, &by("Ann"))
    })
    .unwrap();
    (dir, book)
}

fn nell() -> fish::NewFish {
    new_fish("Nell", Sex::Female, None)
}

fn fathers(book: &Book) -> paternity::Paternity {
    paternity::of_brood(&broods::known(&book.read(), "N").unwrap())
}

fn sires(found: &paternity::Paternity) -> Vec<Option<&str>> {
    found.matings.iter().flat_map(|m| m.sires.iter().map(Option::as_deref)).collect()
}

fn earlier(name: &str) -> Option<EarlierSire> {
    Some(EarlierSire::Fish(name.into()))
}

/// Put to Nell on 1 March, S2 can be the father of what she drops from 22 March on.
#[test]
fn a_male_who_came_too_late_is_no_sire() {
    let a = ("A", &[("S1", to(from(1, 1), 2, 28))][..], to(from(1, 1), 2, 28));
    let b = ("B", &[("S2", from(3, 1))][..], from(3, 1));
    let found = fathers(&of_nell(nell(), &[a, b], at(3, 6), None).1);
    assert_eq!((found.sire(), &found.earlier), (Some("S1"), &None));
    let said = "brood N: dropped 2026-03-06, but Nell met S2 on 2026-03-01 and young are carried for 21 days at least, and it \
                counts as of S1 (cross A, until 2026-02-28), whom she was with before: check the days";
    assert_eq!(found.notes, [said]);
    assert_eq!(fathers(&of_nell(nell(), &[a, b], at(3, 21), None).1).sire(), Some("S1"));
    let in_time = fathers(&of_nell(nell(), &[a, b], at(3, 22), None).1);
    assert_eq!((in_time.sire(), in_time.earlier.clone()), (Some("S2"), earlier("S1")));
    // Dropped on one of these days: it may have been the last.
    let window = fathers(&of_nell(nell(), &[a, b], (date(2026, 3, 20), date(2026, 3, 22)), None).1);
    assert_eq!((window.sire(), window.earlier.clone()), (Some("S2"), earlier("S1")));
}

#[test]
fn a_dam_who_was_bought_in_young_has_them_of_a_male_nobody_recorded() {
    let b = ("B", &[("S2", from(3, 1))][..], from(3, 1));
    let (_dir, book) = of_nell(nell(), &[b], at(3, 4), None);
    let found = fathers(&book);
    assert_eq!((sires(&found), found.earlier.clone()), (vec![None], None));
    assert!(found.notes[0].contains("it counts as of a male that is not recorded"), "{found:?}");
    let kin = Pedigree::new(&pedigree::ancestry(&book.read()).unwrap()).unwrap();
    assert!(kin.kinship("S2", "young").unwrap().abs() < 1e-12);
    // Named, he is the sire and no second one.
    let named =
        fathers(&of_nell(nell(), &[("A", &[("S1", Stay::default())], Stay::default()), b], at(3, 4), Some("S1")).1);
    assert_eq!((sires(&named), named.earlier.clone()), (vec![Some("S1")], None));
    let unknown = fathers(&of_nell(nell(), &[b], at(3, 4), Some("?")).1);
    assert_eq!((sires(&unknown), unknown.earlier.clone()), (vec![None], None));
    // A virgin was with nobody else: a day is wrong.
    let virgin = fish::NewFish { virgin_on: Some(date(2026, 3, 1)), ..nell() };
    let found = fathers(&of_nell(virgin, &[b], at(3, 4), None).1);
    assert_eq!(
        (found.sire(), found.notes[0].contains("a virgin until 2026-03-01: check the days")),
        (Some("S2"), true)
    );
}

/// S1 and S2 were both with her when she mated. By hand: each fathered the young with one half, so that its kinship with each is a
/// quarter of one half. Who was written down first does not matter.
#[test]
fn males_side_by_side_are_each_a_possible_sire() {
    let both = to(from(1, 1), 3, 20);
    for order in [["S1", "S2"], ["S2", "S1"]] {
        let males = order.map(|name| (name, both));
        let (_dir, book) = of_nell(nell(), &[("K", &males, both)], at(3, 20), None);
        let found = fathers(&book);
        assert_eq!((sires(&found), &found.earlier, found.sire()), (vec![Some("S1"), Some("S2")], &None, None));
        assert!(found.notes[0].contains("Nell was with S1 and S2") && found.why_not_one().is_none(), "{found:?}");
        let kin = Pedigree::new(&pedigree::ancestry(&book.read()).unwrap()).unwrap();
        for sire in ["S1", "S2"] {
            assert!((kin.kinship(sire, "young").unwrap() - 0.125).abs() < 1e-12);
        }
        let question = Question { axis: "red-body", target: "absent", middle: None, view: View::Above };
        let (evidence, _) = evidence::gather(&book.read(), &Sheet::starting().unwrap(), &question).unwrap();
        let of_n = evidence.broods.iter().find(|b| b.name == "N").unwrap();
        let parents: Vec<(&str, &str)> = of_n
            .parents
            .iter()
            .map(|m| (evidence.breeders[m.sire].fish.as_str(), evidence.breeders[m.dam].fish.as_str()))
            .collect();
        assert_eq!(parents, [("S1", "Nell"), ("S2", "Nell")]);
    }
}

/// The mating behind a drop of 31 March lies between 1 and 10 March.
#[test]
fn a_male_who_had_left_in_time_is_the_earlier_sire_and_no_second_one() {
    let of = |s1: Stay, s2: Stay| {
        let found = fathers(&of_nell(nell(), &[("K", &[("S2", s2), ("S1", s1)], from(1, 1))], at(3, 31), None).1);
        let names = sires(&found).into_iter().flatten().map(str::to_owned).collect::<Vec<_>>();
        (names, found.earlier)
    };
    let one = |earlier| (vec!["S2".to_owned()], earlier);
    let two = (vec!["S1".to_owned(), "S2".to_owned()], None);
    // The other took his place, whether a last day was written down or not.
    assert_eq!(of(from(1, 1), from(3, 5)), one(earlier("S1")));
    assert_eq!(of(to(from(1, 1), 3, 5), from(3, 5)), one(earlier("S1")));
    // Beside him until 20 February; until 5 March; from his own last possible day on.
    assert_eq!(of(to(from(1, 1), 2, 20), from(1, 15)), one(earlier("S1")));
    assert_eq!(of(to(from(1, 1), 3, 5), from(1, 15)), two);
    assert_eq!(of(to(from(1, 1), 4, 15), from(3, 10)), two);
}

/// Dropped between 1 and 31 March: begotten up to 8 February in one case, by S1, up to 10 March in the other, by S2 who took his place
/// on 15 February.
#[test]
fn a_drop_of_a_month_takes_every_male_who_came_within_it() {
    let males = [("S1", from(1, 1)), ("S2", from(2, 15))];
    let on = |dropped| of_nell(nell(), &[("K", &males, from(1, 1))], dropped, None);
    let month = fathers(&on((date(2026, 3, 1), date(2026, 3, 31))).1);
    assert_eq!((sires(&month), &month.earlier), (vec![Some("S1"), Some("S2")], &None));
    assert!(month.notes[0].contains("narrow the days"), "{month:?}");
    assert_eq!(fathers(&on(at(3, 1)).1).sire(), Some("S1"));
    let late = fathers(&on(at(3, 31)).1);
    assert_eq!((late.sire(), late.earlier.clone()), (Some("S2"), earlier("S1")));
}

/// S2 came months after Nell had left: he is the cross's only sire, and nobody's father.
#[test]
fn a_sire_who_was_never_with_the_dam_fathers_nothing() {
    let k = ("K", &[("S2", to(from(6, 15), 8, 1))][..], to(from(1, 1), 2, 14));
    let (_dir, book) = of_nell(nell(), &[k], at(1, 25), None);
    let found = fathers(&book);
    assert_eq!(found.doubt.as_deref(), Some("by their days its dam was never with S2"));
    let brood = broods::known(&book.read(), "N").unwrap();
    assert_eq!(
        found.remarks(&brood),
        [
            "brood N: its counts are left out: by their days its dam was never with S2; mend the days with `broodhue cross set`"
        ]
    );
    let kin = Pedigree::new(&pedigree::ancestry(&book.read()).unwrap()).unwrap();
    assert!(kin.kinship("S2", "young").unwrap().abs() < 1e-12);
}
