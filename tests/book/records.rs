//! Fish, crosses, broods: what is taken down and what is refused.

use broodhue::book::broods::EarlierSire;
use broodhue::book::crosses::{self, Dam, NewCross, Stay};
use broodhue::book::revise::{self, BroodChange, CrossChange, FishChange};
use broodhue::book::{broods, decisions, departures, fish, paternity};
use broodhue::units::Sex;
use jiff::civil::date;

use crate::common::{book, by, new_fish};

#[test]
fn hostile_names_are_data() {
    let (_dir, mut book) = book();
    for name in ["'; DROP TABLE fish; --", "<img onerror=x>", "=1+1", "\u{202e}abc", "a+b", "K1"] {
        book.write(|w| fish::add(w, &new_fish(name, Sex::Male, None), &by("Ann"))).unwrap();
        assert_eq!(fish::get(&book.read(), name).unwrap().name, name);
    }
    assert!(fish::get(&book.read(), "lowmere-1").is_err(), "names are matched exactly");
    for name in [" ", "Lowmere-1 ", "two\nlines"] {
        book.write(|w| fish::add(w, &new_fish(name, Sex::Male, None), &by("Ann"))).unwrap_err();
    }
}

#[test]
fn a_fish_is_mended_and_what_stood_there_stays_in_the_log() {
    let (_dir, mut book) = book();
    let change = FishChange {
        line: Some("Lowmere".into()),
        classes: [("red-body".to_owned(), "reduced".to_owned())].into(),
        isolated_since: Some(date(2026, 3, 1)),
        ..FishChange::default()
    };
    let said = book.write(|w| revise::fish(w, "Tarnwick-1", &change, &by("Ann"))).unwrap();
    assert_eq!(said, ["line Lowmere", "isolated since 2026-03-01", "red-body reduced (was full)"]);
    let log = decisions::latest(&book.read(), 1).unwrap();
    assert!(log[0].why.as_deref().is_some_and(|why| why.contains("(was full)")), "{log:?}");
    assert_eq!(fish::get(&book.read(), "Tarnwick-1").unwrap().classes["red-body"], "reduced");
    assert!(book.write(|w| revise::fish(w, "Tarnwick-1", &change, &by("Ann"))).unwrap().is_empty());
}

#[test]
fn no_mending_breaks_what_other_records_say() {
    let (_dir, mut book) = book();
    let sex = FishChange { sex: Some(Sex::Male), ..FishChange::default() };
    let error = book.write(|w| revise::fish(w, "Tarnwick-1", &sex, &by("Ann"))).unwrap_err();
    assert_eq!(error.message, "Tarnwick-1 is male and cannot be a dam");
    let born = FishChange { born: Some(date(2026, 1, 1)), ..FishChange::default() };
    let error = book.write(|w| revise::fish(w, "Lowmere-1", &born, &by("Ann"))).unwrap_err();
    assert!(error.message.contains("its parent Lowmere-1 was born 2026-01-01"), "{error}");
    let found = fish::get(&book.read(), "Lowmere-1").unwrap();
    assert_eq!((found.sex, found.born), (Some(Sex::Male), None), "nothing of it was kept");
    let stay = Stay { day_in: Some(date(2026, 2, 1)), day_out: None };
    let change = CrossChange { stay, ..CrossChange::default() };
    let error = book.write(|w| revise::cross(w, "K1", &change, &by("Ann"))).unwrap_err();
    assert!(error.message.contains("dropped 2026-01-01, but its parents met 2026-02-01"), "{error}");
}

#[test]
fn a_cross_ends_later_and_one_parent_may_have_days_of_its_own() {
    let (_dir, mut book) = book();
    let day = |month| Some(date(2025, month, 1));
    let all = CrossChange { stay: Stay { day_in: day(9), day_out: day(12) }, ..CrossChange::default() };
    book.write(|w| revise::cross(w, "K1", &all, &by("Ann"))).unwrap();
    let one = CrossChange { stay: Stay { day_in: day(10), day_out: None }, of: vec!["Tarnwick-1".into()], note: None };
    let said = book.write(|w| revise::cross(w, "K1", &one, &by("Ann"))).unwrap();
    assert_eq!(said, ["Tarnwick-1: day in 2025-10-01 (was 2025-09-01)"]);
    let found = crosses::list(&book.read()).unwrap().remove(0);
    assert_eq!((found.started, found.ended), (day(9), day(12)));
    assert_eq!(found.sires[0].1, Stay { day_in: day(9), day_out: day(12) });
    assert_eq!(found.dams[0].1, Stay { day_in: day(10), day_out: day(12) });
    let stranger = CrossChange { of: vec!["Farrow-1".into()], ..one };
    let error = book.write(|w| revise::cross(w, "K1", &stranger, &by("Ann"))).unwrap_err();
    assert_eq!(error.message, "Farrow-1 is no parent of it");
    let turned =
        CrossChange { stay: Stay { day_in: day(12), day_out: day(11) }, of: vec!["Lowmere-1".into()], note: None };
    let error = book.write(|w| revise::cross(w, "K1", &turned, &by("Ann"))).unwrap_err();
    assert_eq!(error.to_string(), "cross K1: from 2025-12-01 to 2025-11-01, which is earlier; hint: swap the days");
}

#[test]
fn a_brood_is_counted_anew_and_an_earlier_sire_is_a_male() {
    let (_dir, mut book) = book();
    let mut set = |change: BroodChange| book.write(|w| revise::brood(w, "K1-1", &change, &by("Ann")));
    let dropped = Some((date(2026, 1, 2), date(2026, 1, 4)));
    let said = set(BroodChange { dropped, young: Some(27), ..BroodChange::default() }).unwrap();
    assert_eq!(
        said,
        ["dropped from 2026-01-02 (was 2026-01-01)", "dropped to 2026-01-04 (was 2026-01-01)", "young 27"]
    );
    for (name, words) in [("?", "earlier sire ?"), ("Lowmere-1", "earlier sire Lowmere-1 (was ?)")] {
        let earlier_sire = Some(EarlierSire::named(name));
        assert_eq!(set(BroodChange { earlier_sire, ..BroodChange::default() }).unwrap(), [words]);
    }
    let earlier_sire = Some(EarlierSire::named("Tarnwick-1"));
    let error = set(BroodChange { earlier_sire, ..BroodChange::default() }).unwrap_err();
    assert_eq!(error.message, "Tarnwick-1 is female and cannot be an earlier sire");
    let error = set(BroodChange { young: Some(4_000_000_000), ..BroodChange::default() }).unwrap_err();
    assert!(error.message.contains("more than the limit of 100000"), "{error}");
    let left = |number, on| (fish::Gone::Moved, number, on);
    for (what, number, on) in [left(28, date(2026, 2, 1)), left(1, date(2025, 12, 31))] {
        book.write(|w| departures::record(w, "K1-1", what, None, number, on, &by("Ann"))).unwrap_err();
    }
}

#[test]
fn a_cross_does_not_end_before_it_begins() {
    let (_dir, mut book) = book();
    let stay = Stay { day_in: Some(date(2025, 7, 5)), day_out: Some(date(2025, 6, 5)) };
    let new = NewCross { name: "K9".into(), sires: vec![("Lowmere-1".into(), stay)], ..NewCross::default() };
    let error = book.write(|w| crosses::add(w, &new)).unwrap_err();
    assert_eq!(error.to_string(), "cross K9: from 2025-07-05 to 2025-06-05, which is earlier; hint: swap the days");
}

#[test]
fn a_female_sire_is_refused_by_name_and_nothing_is_kept() {
    let (_dir, mut book) = book();
    let new =
        NewCross { name: "K9".into(), sires: vec![("Tarnwick-1".into(), Stay::default())], ..NewCross::default() };
    let error = book.write(|w| crosses::add(w, &new)).unwrap_err();
    assert_eq!(
        error.to_string(),
        "cross K9: Tarnwick-1 is female and cannot be a sire; hint: check the sex in `broodhue fish show`"
    );
    assert!(crosses::list(&book.read()).unwrap().iter().all(|c| c.name != "K9"));
}

#[test]
fn a_fish_cannot_be_its_own_ancestor() {
    let (_dir, mut book) = book();
    book.write(|w| fish::add(w, &new_fish("K1-s", Sex::Male, Some("K1")), &by("Ann"))).unwrap();
    let more = [("K1-s".to_owned(), Stay::default())];
    let error = book.write(|w| crosses::add_parents(w, "K1", &more, &[])).unwrap_err();
    assert!(error.message.contains("its own ancestor"), "{error}");
    let sister = [(Dam::SisterOf("K1".into()), Stay::default())];
    assert!(book.write(|w| crosses::add_parents(w, "K1", &[], &sister)).is_err());
}

#[test]
fn a_cross_dated_before_a_parents_birth_is_refused() {
    let (_dir, mut book) = book();
    let young = fish::NewFish { born: Some(date(2026, 3, 1)), ..new_fish("young", Sex::Male, None) };
    book.write(|w| fish::add(w, &young, &by("Ann"))).unwrap();
    let stay = Stay { day_in: Some(date(2026, 2, 1)), day_out: None };
    let new = NewCross { name: "K9".into(), sires: vec![("young".into(), stay)], ..NewCross::default() };
    let error = book.write(|w| crosses::add(w, &new)).unwrap_err();
    assert!(error.message.contains("2026-02-01") && error.message.contains("born 2026-03-01"), "{error}");
}

#[test]
fn an_unnamed_sister_can_be_a_dam_with_her_days() {
    let (_dir, mut book) = book();
    let stay = |from, to| Stay { day_in: Some(from), day_out: Some(to) };
    let new = NewCross {
        name: "K2".into(),
        sires: vec![("Lowmere-1".into(), stay(date(2026, 1, 1), date(2026, 2, 1)))],
        dams: vec![(Dam::SisterOf("K1".into()), stay(date(2026, 1, 15), date(2026, 3, 1)))],
        ..NewCross::default()
    };
    let brood = broods::NewBrood { name: "K2-1".into(), cross: "K2".into(), ..broods::NewBrood::default() };
    book.write(|w| crosses::add(w, &new).and_then(|()| broods::add(w, &brood))).unwrap();
    let brood = broods::known(&book.read(), "K2-1").unwrap();
    assert_eq!(brood.dams[0].dam.to_string(), "a sister of cross K1");
    assert_eq!(brood.dams[0].with, [("Lowmere-1".to_owned(), stay(date(2026, 1, 15), date(2026, 2, 1)))]);
}

#[test]
fn a_later_sire_follows_an_earlier_one_whose_sperm_may_be_stored() {
    let (_dir, mut book) = book();
    let from = |d| Stay { day_in: Some(d), day_out: None };
    let new = NewCross {
        name: "K5".into(),
        sires: vec![("Lowmere-1".into(), from(date(2026, 1, 1))), ("Farrow-1".into(), from(date(2026, 3, 1)))],
        dams: vec![(Dam::Fish("Tarnwick-1".into()), Stay::default())],
        ..NewCross::default()
    };
    let brood = |name: &str, dropped| broods::NewBrood {
        name: name.into(),
        cross: "K5".into(),
        dropped_from: dropped,
        ..broods::NewBrood::default()
    };
    book.write(|w| {
        fish::add(w, &new_fish("Farrow-1", Sex::Male, None), &by("Ann"))?;
        crosses::add(w, &new)?;
        broods::add(w, &brood("early", Some(date(2026, 3, 10))))?;
        broods::add(w, &brood("late", Some(date(2026, 4, 1))))?;
        broods::add(w, &brood("undated", None))
    })
    .unwrap();
    let who = |name: &str| paternity::of_brood(&broods::known(&book.read(), name).unwrap());
    let early = who("early");
    assert_eq!((early.sire(), &early.earlier), (Some("Lowmere-1"), &None));
    assert_eq!(who("late").sire(), Some("Farrow-1"));
    assert_eq!(who("late").earlier, Some(broods::EarlierSire::Fish("Lowmere-1".into())));
    assert!(who("undated").doubt.is_some());
}

#[test]
fn a_brood_is_not_dropped_before_its_parents_met() {
    let (_dir, mut book) = book();
    let in_from = |day| crosses::Stay { day_in: Some(day), day_out: None };
    let brood = |name: &str, dropped| broods::NewBrood {
        name: name.into(),
        cross: "K9".into(),
        dropped_from: Some(dropped),
        ..broods::NewBrood::default()
    };
    book.write(|w| {
        let cross = crosses::NewCross {
            name: "K9".into(),
            sires: vec![("Lowmere-1".into(), in_from(date(2026, 3, 1)))],
            dams: vec![(crosses::Dam::Fish("Tarnwick-1".into()), in_from(date(2026, 2, 1)))],
            ..crosses::NewCross::default()
        };
        crosses::add(w, &cross)?;
        broods::add(w, &brood("K9-1", date(2026, 3, 28)))
    })
    .unwrap();
    let early = brood("K9-0", date(2026, 2, 20));
    let error = book.write(|w| broods::add(w, &early)).unwrap_err();
    assert_eq!(error.message, "dropped 2026-02-20, but its parents met 2026-03-01");
    // An earlier male's sperm may have been at work.
    let stored = broods::NewBrood { earlier_sire: Some(broods::EarlierSire::Unknown), ..early };
    book.write(|w| broods::add(w, &stored)).unwrap();
    assert_eq!(broods::list(&book.read()).unwrap().len(), 3);
}
