//! Who fathered a brood, and whose stored sperm may still be at work.

use broodhue::book::broods::{self, EarlierSire};
use broodhue::book::crosses::{self, Dam, NewCross, Stay};
use broodhue::book::{Book, fish, paternity};
use broodhue::units::Sex;
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
