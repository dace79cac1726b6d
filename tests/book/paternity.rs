//! Who fathered a brood, and whose stored sperm may still be at work.

use broodhue::book::broods::{self, EarlierSire};
use broodhue::book::crosses::{self, Dam, NewCross, Stay};
use broodhue::book::evidence::{self, Question};
use broodhue::book::{Book, fish, living, paternity};
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
        all.into_iter().find(|c| c.fish == fish).unwrap().warnings
    };
    let not_a_virgin = ["F is not a virgin (dam of K9): isolate her, or judge the brood as of two sires"];
    assert_eq!(warned(from(date(2026, 1, 1))), not_a_virgin);
    let to = |day| Stay { day_in: Some(date(2023, 6, 1)), day_out: Some(day) };
    assert_eq!(warned(to(date(2024, 2, 1))), not_a_virgin);
    for apart in [to(date(2024, 1, 1)), Stay::default()] {
        assert!(warned(apart).is_empty());
    }
}
