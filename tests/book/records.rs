//! Fish, crosses, broods: what is taken down and what is refused.

use broodhue::book::broods::EarlierSire;
use broodhue::book::crosses::{self, Dam, NewCross, Stay};
use broodhue::book::revise::{self, BroodChange, CrossChange, FishChange, To};
use broodhue::book::{Book, aside, broods, check, decisions, departures, fish, paternity, photos, taken_back};
use broodhue::units::Sex;
use jiff::civil::date;

use crate::common::{HASH, book, by, keep_photo, new_fish, seen, sitting};

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
        line: To::Is("Lowmere".into()),
        classes: [("red-body".to_owned(), Some("reduced".to_owned()))].into(),
        isolated_since: To::Is(date(2026, 3, 1)),
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
    let sex = FishChange { sex: To::Is(Sex::Male), ..FishChange::default() };
    let error = book.write(|w| revise::fish(w, "Tarnwick-1", &sex, &by("Ann"))).unwrap_err();
    assert_eq!(error.message, "Tarnwick-1 is male and cannot be a dam");
    let born = FishChange { born: To::Is(date(2026, 1, 1)), ..FishChange::default() };
    let error = book.write(|w| revise::fish(w, "Lowmere-1", &born, &by("Ann"))).unwrap_err();
    assert!(error.message.contains("its parent Lowmere-1 was born 2026-01-01"), "{error}");
    let found = fish::get(&book.read(), "Lowmere-1").unwrap();
    assert_eq!((found.sex, found.born), (Some(Sex::Male), None), "nothing of it was kept");
    let change = CrossChange { day_in: To::Is(date(2026, 2, 1)), ..CrossChange::default() };
    let error = book.write(|w| revise::cross(w, "K1", &change, &by("Ann"))).unwrap_err();
    assert!(error.message.contains("dropped 2026-01-01, but its parents met 2026-02-01"), "{error}");
}

#[test]
fn a_cross_ends_later_and_one_parent_may_have_days_of_its_own() {
    let (_dir, mut book) = book();
    let day = |month| Some(date(2025, month, 1));
    let to = |month| To::from(day(month));
    let all = CrossChange { day_in: to(9), day_out: to(12), ..CrossChange::default() };
    book.write(|w| revise::cross(w, "K1", &all, &by("Ann"))).unwrap();
    let one = CrossChange { day_in: to(10), of: vec!["Tarnwick-1".into()], ..CrossChange::default() };
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
        CrossChange { day_in: to(12), day_out: to(11), of: vec!["Lowmere-1".into()], ..CrossChange::default() };
    let error = book.write(|w| revise::cross(w, "K1", &turned, &by("Ann"))).unwrap_err();
    assert_eq!(error.to_string(), "cross K1: from 2025-12-01 to 2025-11-01, which is earlier; hint: swap the days");
}

#[test]
fn a_brood_is_counted_anew_and_an_earlier_sire_is_a_male() {
    let (_dir, mut book) = book();
    let mut set = |change: BroodChange| book.write(|w| revise::brood(w, "K1-1", &change, &by("Ann")));
    let dropped = To::Is((date(2026, 1, 2), date(2026, 1, 4)));
    let said = set(BroodChange { dropped, young: To::Is(27), ..BroodChange::default() }).unwrap();
    assert_eq!(
        said,
        ["dropped from 2026-01-02 (was 2026-01-01)", "dropped to 2026-01-04 (was 2026-01-01)", "young 27"]
    );
    for (name, words) in [("?", "earlier sire ?"), ("Lowmere-1", "earlier sire Lowmere-1 (was ?)")] {
        let earlier_sire = To::Is(EarlierSire::named(name));
        assert_eq!(set(BroodChange { earlier_sire, ..BroodChange::default() }).unwrap(), [words]);
    }
    let earlier_sire = To::Is(EarlierSire::named("Tarnwick-1"));
    let error = set(BroodChange { earlier_sire, ..BroodChange::default() }).unwrap_err();
    assert_eq!(error.message, "Tarnwick-1 is female and cannot be an earlier sire");
    let error = set(BroodChange { young: To::Is(4_000_000_000), ..BroodChange::default() }).unwrap_err();
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

/// Beside K1 of Lowmere-1 and Tarnwick-1: another female, a male out of brood K1-1, and his cross K2 with her.
fn two_crosses() -> (tempfile::TempDir, broodhue::book::Book) {
    let (dir, mut book) = book();
    book.write(|w| {
        fish::add(w, &new_fish("Tarnwick-2", Sex::Female, None), &by("Ann"))?;
        let son = fish::NewFish { brood: Some("K1-1".into()), ..new_fish("K1-s", Sex::Male, None) };
        fish::add(w, &son, &by("Ann"))?;
        let parents = |sire: &str, dam: &str| {
            (vec![(sire.to_owned(), Stay::default())], vec![(Dam::Fish(dam.to_owned()), Stay::default())])
        };
        let (sires, dams) = parents("K1-s", "Tarnwick-2");
        crosses::add(w, &NewCross { name: "K2".into(), sires, dams, ..NewCross::default() })
    })
    .unwrap();
    (dir, book)
}

#[test]
fn a_wrong_cross_or_dam_of_a_brood_is_put_right() {
    let (_dir, mut book) = two_crosses();
    book.write(|w| fish::add(w, &new_fish("Farrow-1", Sex::Female, None), &by("Ann"))).unwrap();
    let mut set = |name: &str, change: BroodChange| book.write(|w| revise::brood(w, name, &change, &by("Ann")));
    let to = |cross: &str| BroodChange { cross: Some(cross.to_owned()), ..BroodChange::default() };
    let error = set("K1-1", to("K2")).unwrap_err();
    assert_eq!(error.message, "K1-s comes out of this cross and would be its own ancestor");
    let dams = |names: &[&str]| To::Is(names.iter().map(|n| Dam::Fish((*n).to_owned())).collect());
    let error = set("K1-1", BroodChange { dams: dams(&["Farrow-1"]), ..BroodChange::default() }).unwrap_err();
    assert_eq!(error.message, "Farrow-1 is not a dam of any cross");
    let said = set("K1-1", BroodChange { dams: dams(&["Tarnwick-1"]), ..BroodChange::default() }).unwrap();
    assert_eq!(said, ["dam Tarnwick-1 (was any of its cross)"]);
    let k3 = NewCross {
        name: "K3".into(),
        dams: vec![(Dam::Fish("Farrow-1".into()), Stay::default())],
        ..NewCross::default()
    };
    book.write(|w| crosses::add(w, &k3)).unwrap();
    let said = book.write(|w| revise::brood(w, "K1-1", &to("K3"), &by("Ann"))).unwrap();
    assert_eq!(said, ["cross K3 (was K1)", "K1-s: cross K3 (was K1)", "dam any of its cross (was Tarnwick-1)"]);
    let moved = broods::known(&book.read(), "K1-1").unwrap();
    assert_eq!((moved.cross.as_str(), &moved.dams[0].dam), ("K3", &Dam::Fish("Farrow-1".into())));
    let son = fish::get(&book.read(), "K1-s").unwrap();
    assert_eq!((son.cross.as_deref(), son.brood.as_deref()), (Some("K3"), Some("K1-1")));
    let log = decisions::latest(&book.read(), 1).unwrap();
    assert!(log[0].why.as_deref().is_some_and(|why| why.contains("cross K3 (was K1)")), "{log:?}");
}

#[test]
fn a_wrong_origin_of_a_fish_is_put_right_and_what_is_wrong_is_taken_out() {
    let (_dir, mut book) = two_crosses();
    let second = broods::NewBrood { name: "K2-1".into(), cross: "K2".into(), ..broods::NewBrood::default() };
    book.write(|w| broods::add(w, &second)).unwrap();
    let mut set = |name: &str, change: FishChange| book.write(|w| revise::fish(w, name, &change, &by("Ann")));
    let of_brood = |brood: &str| FishChange { brood: To::Is(brood.to_owned()), ..FishChange::default() };
    let error = set("K1-s", of_brood("K2-1")).unwrap_err();
    assert_eq!(error.message, "K1-s comes out of this cross and would be its own ancestor");
    assert_eq!(set("Tarnwick-1", of_brood("K1-1")).unwrap_err().place, "cross K1");
    let founder = FishChange { cross: To::Nothing, ..FishChange::default() };
    assert_eq!(set("K1-s", founder.clone()).unwrap(), ["cross none (was K1)", "brood none (was K1-1)"]);
    assert_eq!(set("K1-s", of_brood("K1-1")).unwrap(), ["cross K1", "brood K1-1"]);
    let both = FishChange { brood: To::Is("K1-1".into()), ..founder };
    assert!(set("K1-s", both).unwrap_err().message.contains("out of no cross"));
    let wrong = FishChange { sex: To::Nothing, classes: [("red-body".into(), None)].into(), ..FishChange::default() };
    assert_eq!(set("K1-s", wrong).unwrap(), ["sex none (was m)", "red-body none (was full)"]);
    let after = fish::get(&book.read(), "K1-s").unwrap();
    assert_eq!((after.sex, after.classes.len()), (None, 0));
}

#[test]
fn a_wrong_parent_is_replaced_or_taken_out() {
    let (_dir, mut book) = two_crosses();
    let mut replace = |old: &str, new: Option<&str>| {
        let replace = vec![(old.to_owned(), new.map(str::to_owned))];
        book.write(|w| revise::cross(w, "K1", &CrossChange { replace, ..CrossChange::default() }, &by("Ann")))
    };
    assert_eq!(replace("Farrow-1", Some("Tarnwick-2")).unwrap_err().message, "Farrow-1 is no parent of it");
    assert_eq!(replace("Tarnwick-1", Some("Tarnwick-9")).unwrap_err().place, "Tarnwick-9");
    let error = replace("Tarnwick-1", Some("K1-s")).unwrap_err();
    assert_eq!(error.message, "K1-s is male and cannot be a dam");
    let error = replace("Tarnwick-1", Some("a sister of cross K1")).unwrap_err();
    assert!(error.message.contains("would be its own ancestor"), "{error}");
    let error = replace("Lowmere-1", Some("K1-s")).unwrap_err();
    assert!(error.message.contains("would be its own ancestor"), "{error}");
    assert_eq!(replace("Tarnwick-1", Some("Tarnwick-2")).unwrap(), ["dam Tarnwick-2 (was Tarnwick-1)"]);
    assert_eq!(replace("Lowmere-1", None).unwrap(), ["sire Lowmere-1 taken out"]);
    let found = crosses::list(&book.read()).unwrap().remove(0);
    assert_eq!((found.sires.len(), &found.dams[0].0), (0, &Dam::Fish("Tarnwick-2".into())));
    let dams = To::Is(vec![Dam::Fish("Tarnwick-2".into())]);
    book.write(|w| revise::brood(w, "K1-1", &BroodChange { dams, ..BroodChange::default() }, &by("Ann"))).unwrap();
    let out = CrossChange { replace: vec![("Tarnwick-2".into(), None)], ..CrossChange::default() };
    let error = book.write(|w| revise::cross(w, "K1", &out, &by("Ann"))).unwrap_err();
    assert!(error.message.contains("named as the dam of brood K1-1"), "{error}");
}

#[test]
fn what_was_written_down_by_mistake_is_set_aside_unless_something_depends_on_it() {
    let (_dir, mut book) = two_crosses();
    let why = Some("is K1-2");
    let mut brood = |reason| book.write(|w| aside::brood(w, "K1-1", reason, &by("Ann")));
    assert!(brood(why).unwrap_err().message.contains("fish K1-s came from it"));
    let founder = FishChange { cross: To::Nothing, ..FishChange::default() };
    book.write(|w| revise::fish(w, "K1-s", &founder, &by("Ann"))).unwrap();
    let mut cross = |name: &str, reason| book.write(|w| aside::cross(w, name, reason, &by("Ann")));
    assert!(cross("K1", why).unwrap_err().message.contains("brood K1-1 is counted under it"));
    keep_photo(&mut book, HASH, &sitting(), &[seen(1, 0.0, 0.0, "full")]);
    let mut brood = |reason| book.write(|w| aside::brood(w, "K1-1", reason, &by("Ann")));
    assert!(brood(why).unwrap_err().message.contains("photo tray.jpg shows it"));
    book.write(|w| photos::set_aside(w, HASH, Some("blurred"), &by("Ann"))).unwrap();
    let mut brood = |reason| book.write(|w| aside::brood(w, "K1-1", reason, &by("Ann")));
    assert!(brood(Some(" ")).is_err() && brood(why).unwrap() && !brood(why).unwrap());
    let error = broods::known(&book.read(), "K1-1").unwrap_err();
    assert_eq!((error.message.as_str(), error.hint.contains("--bring-back")), ("is set aside: is K1-2", true));
    assert!(broods::list(&book.read()).unwrap().is_empty());
    assert_eq!(broods::all(&book.read()).unwrap()[0].set_aside.as_deref(), why);
    book.write(|w| photos::set_aside(w, HASH, None, &by("Ann"))).unwrap_err();
    let again = broods::NewBrood { name: "K1-1".into(), cross: "K1".into(), ..broods::NewBrood::default() };
    assert!(book.write(|w| broods::add(w, &again)).unwrap_err().message.contains("which is set aside"));
    let mut cross = |name: &str, reason| book.write(|w| aside::cross(w, name, reason, &by("Ann")));
    assert!(cross("K1", why).unwrap());
    let left: Vec<String> = crosses::list(&book.read()).unwrap().into_iter().map(|c| c.name).collect();
    assert_eq!(left, ["K2"]);
    // The brood that went before its cross is still read, and offered nowhere.
    assert_eq!(broods::all(&book.read()).unwrap().len(), 1);
    assert!(broods::list(&book.read()).unwrap().is_empty() && broods::labels(&book.read()).unwrap().is_empty());
    let mut brood = |reason| book.write(|w| aside::brood(w, "K1-1", reason, &by("Ann")));
    assert_eq!(brood(None).unwrap_err().place, "cross K1");
    let mut cross = |name: &str, reason| book.write(|w| aside::cross(w, name, reason, &by("Ann")));
    assert!(cross("K1", None).unwrap() && !cross("K1", None).unwrap());
    let mut brood = |reason| book.write(|w| aside::brood(w, "K1-1", reason, &by("Ann")));
    assert!(brood(None).unwrap() && !brood(None).unwrap());
    assert_eq!(broods::list(&book.read()).unwrap().len(), 1);
    let log = decisions::latest(&book.read(), 1).unwrap();
    assert_eq!(log[0].why.as_deref(), Some("brood K1-1: back again"));
}

/// A male out of a brood cannot have fathered it, nor can one who comes out of it be put there afterwards.
#[test]
fn no_earlier_sire_comes_out_of_his_own_brood() {
    let (_dir, mut book) = two_crosses();
    let change =
        |sire: &str| BroodChange { earlier_sire: To::Is(EarlierSire::Fish(sire.into())), ..BroodChange::default() };
    let error = book.write(|w| revise::brood(w, "K1-1", &change("K1-s"), &by("Ann"))).unwrap_err();
    assert_eq!(error.message, "this fish is its own ancestor");
    book.write(|w| fish::add(w, &new_fish("Other", Sex::Male, None), &by("Ann"))).unwrap();
    book.write(|w| revise::brood(w, "K1-1", &change("Other"), &by("Ann"))).unwrap();
    let own = FishChange { brood: To::Is("K1-1".into()), ..FishChange::default() };
    assert!(book.write(|w| revise::fish(w, "Other", &own, &by("Ann"))).unwrap_err().message.contains("own ancestor"));
}

#[test]
fn an_undo_brings_no_photo_back_into_a_brood_that_is_set_aside() {
    let (_dir, mut book) = book();
    keep_photo(&mut book, HASH, &sitting(), &[seen(1, 0.0, 0.0, "full")]);
    book.write(|w| photos::set_aside(w, HASH, Some("blurred"), &by("Bob"))).unwrap();
    book.write(|w| aside::brood(w, "K1-1", Some("is K1-2"), &by("Ann"))).unwrap();
    let error = book.write(|w| decisions::undo(w, &by("Bob"))).unwrap_err();
    assert_eq!((error.place.as_str(), error.message.as_str()), ("brood K1-1", "is set aside: is K1-2"));
    assert!(error.hint.contains("--bring-back"), "{error}");
    let aside_still = |book: &Book| photos::named(&book.read(), HASH).unwrap().set_aside;
    assert_eq!(aside_still(&book).as_deref(), Some("blurred"));
    book.write(|w| aside::brood(w, "K1-1", None, &by("Ann"))).unwrap();
    book.write(|w| decisions::undo(w, &by("Bob"))).unwrap();
    assert_eq!(aside_still(&book), None);
}

#[test]
fn an_undo_after_a_setting_aside_names_the_way_back() {
    let (_dir, mut book) = book();
    let hint = |book: &mut Book| book.write(|w| decisions::undo(w, &by("Ann"))).unwrap_err().hint;
    book.write(|w| aside::brood(w, "K1-1", Some("is K1-2"), &by("Ann"))).unwrap();
    assert!(hint(&mut book).starts_with("`broodhue brood set-aside K1-1 --bring-back` puts it right"));
    book.write(|w| aside::cross(w, "K1", Some("none such: a slip"), &by("Ann"))).unwrap();
    assert!(hint(&mut book).starts_with("`broodhue cross set-aside K1 --bring-back` puts it right"));
    // Another person has put it right since.
    book.write(|w| aside::cross(w, "K1", None, &by("Bob"))).unwrap();
    assert!(hint(&mut book).starts_with("`broodhue fish set`"));
}

/// Rows of the settings set aside what the commands would refuse to.
#[test]
fn a_check_names_what_stands_under_what_is_set_aside() {
    let (_dir, mut book) = two_crosses();
    keep_photo(&mut book, HASH, &sitting(), &[]);
    let found = |book: &Book| {
        let faults = check::run(&book.read()).unwrap().faults;
        faults.into_iter().filter(|f| f.contains("is set aside")).collect::<Vec<_>>()
    };
    assert!(found(&book).is_empty());
    let raw = rusqlite::Connection::open(book.dir().join("book.sqlite")).unwrap();
    let set_aside = |what: &str, table: &str, name: &str| {
        let sql = format!(
            "INSERT INTO setting (name, value) SELECT 'set aside {what} ' || id, 'bad' FROM {table} WHERE name = ?1"
        );
        assert_eq!(raw.execute(&sql, [name]).unwrap(), 1);
    };
    set_aside("cross", "crosses", "K1");
    let of_cross = found(&book);
    assert!(of_cross[0].starts_with("fish K1-s: stands, but its cross K1 is set aside: bad"), "{of_cross:?}");
    assert!(of_cross[1].starts_with("brood K1-1: stands, but its cross K1 is set aside: bad"), "{of_cross:?}");
    set_aside("brood", "brood", "K1-1");
    let of_brood = found(&book);
    assert!(of_brood[0].starts_with("photo tray.jpg: stands, but its brood K1-1 is set aside: bad"), "{of_brood:?}");
    assert!(of_brood[1].starts_with("fish K1-s: stands, but its brood K1-1 is set aside: bad"), "{of_brood:?}");
    assert_eq!((of_cross.len(), of_brood.len()), (2, 3));
}

#[test]
fn a_fish_that_left_is_here_after_all_and_has_a_day() {
    let (_dir, mut book) = book();
    let day = date(2026, 3, 1);
    let mut gone = |what, on| book.write(|w| fish::set_gone(w, "Lowmere-1", what, on, &by("Ann"))).unwrap();
    assert!(!gone(None, None), "it had not left");
    assert!(gone(Some(fish::Gone::Died), None) && !gone(Some(fish::Gone::Died), None));
    assert!(gone(Some(fish::Gone::Died), Some(day)) && !gone(Some(fish::Gone::Died), Some(day)));
    let dead = fish::get(&book.read(), "Lowmere-1").unwrap();
    assert_eq!((dead.gone.as_deref(), dead.gone_on, dead.available()), (Some("died"), Some(day), false));
    book.write(|w| fish::set_gone(w, "Lowmere-1", None, None, &by("Ann"))).unwrap();
    let here = fish::get(&book.read(), "Lowmere-1").unwrap();
    assert_eq!((here.gone, here.gone_on), (None, None));
    let late = fish::NewFish { name: "late".into(), born: Some(day), ..fish::NewFish::default() };
    book.write(|w| fish::add(w, &late, &by("Ann"))).unwrap();
    let before = date(2026, 2, 1);
    book.write(|w| fish::set_gone(w, "late", Some(fish::Gone::Moved), Some(before), &by("Ann"))).unwrap_err();
}

/// An undo gives back the day that was said before, whether another day or a coming back is taken back.
#[test]
fn the_day_of_a_departure_comes_back_with_an_undo() {
    let (_dir, mut book) = book();
    let (first, second) = (date(2026, 1, 1), date(2026, 2, 2));
    let say = |book: &mut Book, who: &str, what, on| {
        assert!(book.write(|w| fish::set_gone(w, "Lowmere-1", what, on, &by(who))).unwrap());
    };
    let state = |book: &Book| {
        let one = fish::get(&book.read(), "Lowmere-1").unwrap();
        (one.gone, one.gone_on)
    };
    let undo = |book: &mut Book, who: &str| {
        let undo = book.write(|w| decisions::undo(w, &by(who))).unwrap().unwrap();
        taken_back::lines(&book.read(), undo.id).unwrap()
    };
    let dead = |on| (Some("died".to_owned()), on);
    say(&mut book, "Ann", Some(fish::Gone::Died), Some(first));
    say(&mut book, "Ann", Some(fish::Gone::Died), Some(second));
    assert_eq!(undo(&mut book, "Ann"), ["fish Lowmere-1: died on 2026-01-01 (was died on 2026-02-02)"]);
    assert_eq!(state(&book), dead(Some(first)));
    say(&mut book, "Ann", None, None);
    assert_eq!(undo(&mut book, "Ann"), ["fish Lowmere-1: died on 2026-01-01 (was here)"]);
    assert_eq!(state(&book), dead(Some(first)));
    // What another person has said since holds.
    say(&mut book, "Bob", Some(fish::Gone::Died), Some(second));
    assert!(undo(&mut book, "Ann").is_empty());
    assert_eq!(state(&book), dead(Some(second)));
    assert_eq!(undo(&mut book, "Bob"), ["fish Lowmere-1: here (was died on 2026-02-02)"]);
    assert_eq!(state(&book), (None, None));
}

#[test]
fn a_fish_is_not_born_before_its_brood_was_dropped() {
    let (_dir, mut book) = book();
    let young = |name: &str, born| fish::NewFish {
        brood: Some("K1-1".into()),
        born: Some(born),
        ..new_fish(name, Sex::Male, Some("K1"))
    };
    let error = book.write(|w| fish::add(w, &young("Q", date(2020, 1, 1)), &by("Ann"))).unwrap_err();
    assert_eq!(error.message, "born 2020-01-01, before its brood K1-1 was dropped (2026-01-01)");
    book.write(|w| fish::add(w, &young("R", date(2026, 1, 1)), &by("Ann"))).unwrap();
    let later = BroodChange { dropped: To::Is((date(2026, 1, 5), date(2026, 1, 5))), ..BroodChange::default() };
    let error = book.write(|w| revise::brood(w, "K1-1", &later, &by("Ann"))).unwrap_err();
    assert!(error.message.contains("before its brood K1-1 was dropped (2026-01-05)"), "{error}");
}
