//! Days that contradict the book: refused where a brood, a fish or a sitting would be, else said, and named by a check.

use broodhue::book::broods::{EarlierSire, NewBrood};
use broodhue::book::crosses::{Dam, NewCross, Stay};
use broodhue::book::revise::{self, BroodChange, FishChange, To};
use broodhue::book::{Book, broods, check, crosses, departures, fish, odd_days};
use broodhue::units::Sex;
use jiff::civil::{Date, date};

use crate::common::{HASH, book, by, keep_photo, new_fish, seen, sitting};

fn dropped(day: Date) -> BroodChange {
    BroodChange { dropped: To::Is((day, day)), ..BroodChange::default() }
}

/// K1-1 was dropped on 1 January.
#[test]
fn a_fish_is_not_born_after_its_brood_was_dropped() {
    let (_dir, mut book) = book();
    let young = fish::NewFish {
        brood: Some("K1-1".into()),
        born: Some(date(2026, 1, 2)),
        ..new_fish("Q", Sex::Male, Some("K1"))
    };
    let error = book.write(|w| fish::add(w, &young, &by("Ann"))).unwrap_err();
    assert_eq!(error.message, "born 2026-01-02, after its brood K1-1 was dropped (2026-01-01)");
    let of_window = BroodChange { dropped: To::Is((date(2026, 1, 1), date(2026, 1, 3))), ..BroodChange::default() };
    book.write(|w| revise::brood(w, "K1-1", &of_window, &by("Ann"))).unwrap();
    book.write(|w| fish::add(w, &young, &by("Ann"))).unwrap();
}

#[test]
fn an_earlier_sire_is_born_before_the_drop() {
    let (_dir, mut book) = book();
    let late = fish::NewFish { born: Some(date(2026, 1, 5)), ..new_fish("late", Sex::Male, None) };
    book.write(|w| fish::add(w, &late, &by("Ann"))).unwrap();
    let earlier = |name: &str| Some(EarlierSire::named(name));
    let new = NewBrood {
        name: "K1-2".into(),
        cross: "K1".into(),
        dropped_from: Some(date(2026, 1, 5)),
        earlier_sire: earlier("late"),
        ..NewBrood::default()
    };
    let error = book.write(|w| broods::add(w, &new)).unwrap_err();
    assert_eq!(error.message, "dropped 2026-01-05, but its earlier sire late was born 2026-01-05");
    let change = BroodChange { earlier_sire: To::Is(EarlierSire::named("late")), ..BroodChange::default() };
    book.write(|w| revise::brood(w, "K1-1", &change, &by("Ann"))).unwrap_err();
    book.write(|w| broods::add(w, &NewBrood { dropped_from: Some(date(2026, 3, 1)), ..new })).unwrap();
    let born = FishChange { born: To::Is(date(2026, 4, 1)), ..FishChange::default() };
    let error = book.write(|w| revise::fish(w, "late", &born, &by("Ann"))).unwrap_err();
    assert!(error.message.contains("its earlier sire late was born 2026-04-01"), "{error}");
}

/// The sitting is of 2 May; two young left on 1 March.
#[test]
fn a_brood_is_not_dropped_after_its_sittings_or_after_young_left_it() {
    let (_dir, mut book) = book();
    keep_photo(&mut book, HASH, &sitting(), &[seen(1, 0.0, 0.0, "full")]);
    let error = book.write(|w| revise::brood(w, "K1-1", &dropped(date(2026, 5, 3)), &by("Ann"))).unwrap_err();
    assert_eq!(error.message, "the sitting is dated 2026-05-02, before the brood was dropped (2026-05-03)");
    let mut left = |number| {
        book.write(|w| departures::record(w, "K1-1", fish::Gone::Moved, None, number, date(2026, 3, 1), &by("Ann")))
            .unwrap();
        book.write(|w| revise::brood(w, "K1-1", &dropped(date(2026, 4, 1)), &by("Ann")))
    };
    let error = left(2).unwrap_err();
    assert_eq!(error.message, "left on 2026-03-01, but the brood was dropped on 2026-04-01");
    // Taken back, they did not leave.
    left(-2).unwrap();
}

/// Kit and Nell in cross K from February on, N-1 dropped on 1 April.
fn with_a_pair() -> (tempfile::TempDir, Book) {
    let (dir, mut book) = book();
    let stay = Stay { day_in: Some(date(2026, 2, 1)), day_out: Some(date(2026, 6, 1)) };
    let new = NewCross {
        name: "K".into(),
        sires: vec![("Kit".into(), stay)],
        dams: vec![(Dam::Fish("Nell".into()), stay)],
        ..NewCross::default()
    };
    let brood =
        NewBrood { name: "N-1".into(), cross: "K".into(), dropped_from: Some(date(2026, 4, 1)), ..NewBrood::default() };
    book.write(|w| {
        fish::add(w, &new_fish("Kit", Sex::Male, None), &by("Ann"))?;
        fish::add(w, &new_fish("Nell", Sex::Female, None), &by("Ann"))?;
        crosses::add(w, &new)?;
        broods::add(w, &brood)
    })
    .unwrap();
    (dir, book)
}

fn checked(book: &Book) -> Vec<String> {
    let found = check::run(&book.read()).unwrap();
    assert!(found.faults.is_empty(), "{found:?}");
    found.remarks
}

#[test]
fn a_fish_that_left_before_its_crosses_and_broods_is_said() {
    let (_dir, mut book) = with_a_pair();
    assert!(checked(&book).is_empty());
    let mut died = |name: &str, day| {
        book.write(|w| fish::set_gone(w, name, Some(fish::Gone::Died), Some(day), &by("Ann"))).unwrap();
        odd_days::of_fish(&book.read(), name).unwrap()
    };
    // After all of it nothing is to be said; a sire may be dead when his young are dropped.
    assert!(died("Kit", date(2026, 6, 1)).is_empty());
    let kit = died("Kit", date(2026, 3, 15));
    assert_eq!(kit, ["fish Kit: died on 2026-03-15, but was in cross K until 2026-06-01: check both days"]);
    let nell = died("Nell", date(2026, 1, 15));
    let said = [
        "fish Nell: died on 2026-01-15, but was put into cross K on 2026-02-01: check both days",
        "fish Nell: died on 2026-01-15, but brood N-1 of hers was dropped on 2026-04-01: check both days",
    ];
    assert_eq!(nell, said);
    assert_eq!(checked(&book), [kit, nell].concat());
    let undated = [("Kit", Stay::default())];
    let said = odd_days::gone_already(&book.read(), "K9", undated.into_iter()).unwrap();
    assert_eq!(said, ["fish Kit: died on 2026-03-15, and nothing says that it was in cross K9 before: note both days"]);
}

#[test]
fn a_virgin_after_her_matings_and_broods_is_said() {
    let (_dir, mut book) = with_a_pair();
    let mut virgin = |day| {
        let change = FishChange { virgin_on: To::Is(day), ..FishChange::default() };
        book.write(|w| revise::fish(w, "Nell", &change, &by("Ann"))).unwrap();
        odd_days::of_fish(&book.read(), "Nell").unwrap()
    };
    assert!(virgin(date(2026, 2, 1)).is_empty());
    let found = virgin(date(2026, 4, 2));
    let said = [
        "fish Nell: a virgin until 2026-04-02, but with Kit in cross K from 2026-02-01: check both days",
        "fish Nell: a virgin until 2026-04-02, but brood N-1 of hers was dropped on 2026-04-01: check both days",
    ];
    assert_eq!(found, said);
    assert_eq!(checked(&book), said);
}

/// What older programs let through is named, and what only a person can tell apart is no fault.
#[test]
fn a_check_names_days_that_are_refused_today() {
    let (_dir, mut book) = with_a_pair();
    let young = fish::NewFish { brood: Some("N-1".into()), ..new_fish("Q", Sex::Male, None) };
    book.write(|w| fish::add(w, &young, &by("Ann"))).unwrap();
    let raw = rusqlite::Connection::open(book.dir().join("book.sqlite")).unwrap();
    raw.execute("UPDATE fish SET born = '2026-05-01' WHERE name = 'Q'", []).unwrap();
    raw.execute("UPDATE cross_sire SET day_in = '2026-05-01' WHERE day_in IS NOT NULL", []).unwrap();
    let found = checked(&book);
    assert_eq!(found.len(), 2, "{found:?}");
    assert!(found[0].starts_with("Q: born 2026-05-01, after its brood N-1 was dropped (2026-04-01)"), "{found:?}");
    assert!(found[1].starts_with("brood N-1: dropped 2026-04-01, but its parents met 2026-05-01"), "{found:?}");
}

/// Brood 1 of cross K/1 and brood 1/1 of cross K would both be K/1/1.
#[test]
fn no_two_broods_share_the_name_that_reaches_them() {
    let (_dir, mut book) = book();
    let cross = |name: &str| NewCross { name: name.into(), ..NewCross::default() };
    let brood = |cross: &str, name: &str| NewBrood { name: name.into(), cross: cross.into(), ..NewBrood::default() };
    book.write(|w| {
        ["K", "K/1", "Z"].iter().try_for_each(|name| crosses::add(w, &cross(name)))?;
        broods::add(w, &brood("K/1", "1"))?;
        broods::add(w, &brood("Z", "1/1"))
    })
    .unwrap();
    let error = book.write(|w| broods::add(w, &brood("K", "1/1"))).unwrap_err();
    assert_eq!(error.message, "brood 1/1 of cross K could not be told from brood 1 of cross K/1 by CROSS/NAME");
    book.write(|w| broods::add(w, &brood("Z", "K/1/1"))).unwrap_err();
    let to_k = BroodChange { cross: Some("K".into()), ..BroodChange::default() };
    book.write(|w| revise::brood(w, "1/1", &to_k, &by("Ann"))).unwrap_err();
    book.write(|w| broods::add(w, &brood("K", "1"))).unwrap();
    for (name, cross) in [("K/1/1", "K/1"), ("K/1", "K"), ("Z/1/1", "Z")] {
        assert_eq!(broods::known(&book.read(), name).unwrap().cross, cross);
    }
}
