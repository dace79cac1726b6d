//! Fish that the counts leave out, and what else must leave them out.

use broodhue::book::crosses::{self, Stay};
use broodhue::book::evidence::Question;
use broodhue::book::measurements::MeasuredFish;
use broodhue::book::photos::Subject;
use broodhue::book::scores::{self, Said};
use broodhue::book::tallies::{self, Selection};
use broodhue::book::{Book, broods, fish, photos, regions, scoring};
use broodhue::sheet::Sheet;
use broodhue::units::{Sex, View};
use jiff::civil::date;

use crate::common::{HASH, book, by, day, keep_photo, new_fish, seen, sitting};

const QUESTION: Question<'_> = Question { axis: "red-body", target: "absent", middle: None, view: View::Above };

fn fish_of(book: &Book, hash: &str) -> Vec<regions::Region> {
    regions::of_photo(&book.read(), &photos::named(&book.read(), hash).unwrap()).unwrap()
}

/// So many fish in a row, each proposed as full.
fn row(fish: u32) -> Vec<MeasuredFish> {
    (1..=fish).map(|n| seen(n, f64::from(n) * 40.0, 0.0, "full")).collect()
}

fn accept_all(book: &mut Book, hash: &str) {
    let open = scores::acceptable(&fish_of(book, hash), 0.0);
    book.write(|w| scores::accept(w, &open, None, &by("Ann"))).unwrap();
}

/// Of fifty fish five were corrected and then set aside: forty-five are too few for an error rate. With five more that were
/// accepted it is half a fish in 51.
#[test]
fn fish_set_aside_say_nothing_of_the_error_rate() {
    let (_dir, mut book) = book();
    keep_photo(&mut book, HASH, &sitting(), &row(50));
    accept_all(&mut book, HASH);
    let absent = Said { classes: vec![("red-body".into(), "absent".into())], sex: None };
    for one in &fish_of(&book, HASH)[..5] {
        book.write(|w| scores::correct(w, one.id, &absent, None, &by("Ann"))).unwrap();
        book.write(|w| scores::set_aside(w, one.id, Some("blurred"), &by("Ann"))).unwrap();
    }
    let rate = |book: &Book| {
        let sheet = Sheet::starting().unwrap();
        let found = tallies::tallies(&book.read(), &sheet, "red-body", &QUESTION.all_crosses()).unwrap();
        scoring::error_rate(&QUESTION, &found)
    };
    assert_eq!(rate(&book), None);
    let second = HASH.replace("00", "aa");
    keep_photo(&mut book, &second, &sitting(), &row(5));
    accept_all(&mut book, &second);
    assert!((rate(&book).unwrap() - 0.5 / 51.0).abs() < 1e-12);
}

/// A second sire without days: nobody knows which of the two fathered K1-1.
fn two_sires(book: &mut Book) {
    book.write(|w| {
        fish::add(w, &new_fish("Farrow-1", Sex::Male, None), &by("Ann"))?;
        crosses::add_parents(w, "K1", &[("Farrow-1".into(), Stay::default())], &[])
    })
    .unwrap();
}

/// Three fish of a brood in doubt, of which none, then one, is confirmed: all three are of doubtful paternity either way.
#[test]
fn proposals_of_doubtful_paternity_count_for_no_cross_and_none_vanishes() {
    let (_dir, mut book) = book();
    two_sires(&mut book);
    let fish: Vec<_> = (1..=3).map(|n| seen(n, f64::from(n) * 40.0, 0.0, "full")).collect();
    keep_photo(&mut book, HASH, &sitting(), &fish);
    let doubtful = |book: &Book| {
        for include_proposed in [false, true] {
            let selection = Selection { cross: None, view: View::Above, include_proposed };
            let (sheet, axis) = (Sheet::starting().unwrap(), ["red-body".to_owned()]);
            let found = tallies::counts(&book.read(), &sheet, &axis, &selection).unwrap().remove(0);
            assert_eq!((found.rows.len(), found.excluded.doubtful_paternity), (0, 3), "{include_proposed}: {found:?}");
            assert_eq!(found.excluded.words().len(), 1, "{:?}", found.excluded);
            assert!(found.warnings[0].contains("brood K1-1 is left out"), "{:?}", found.warnings);
        }
    };
    doubtful(&book);
    let first = &scores::acceptable(&fish_of(&book, HASH), 0.0)[..1];
    book.write(|w| scores::accept(w, first, None, &by("Ann"))).unwrap();
    doubtful(&book);
}

/// Another brood with a photo of two fish, both said to be absent and blond.
fn absent_and_blond(book: &mut Book, new: &broods::NewBrood, hash: &str) {
    book.write(|w| broods::add(w, new)).unwrap();
    let subject = Subject::Sitting { brood: new.name.clone(), day: day() };
    keep_photo(book, hash, &subject, &[seen(1, 0.0, 0.0, "absent"), seen(2, 50.0, 0.0, "absent")]);
    say(book, hash, "absent");
}

/// Says of every fish of a photo that it is blond and of this red.
fn say(book: &mut Book, hash: &str, red: &str) {
    let classes = vec![("red-body".into(), red.into()), ("base".into(), "blond".into())];
    let said = Said { classes, sex: None };
    for one in fish_of(book, hash) {
        book.write(|w| scores::correct(w, one.id, &said, None, &by("Ann"))).unwrap();
    }
}

/// Two fish of K1-1 count on both axes; two of K1-2 are twelve days old, and those of K2-1 have one of two fathers.
#[test]
fn two_axes_together_are_those_of_the_fish_that_count() {
    let (_dir, mut book) = book();
    keep_photo(&mut book, HASH, &sitting(), &[seen(1, 0.0, 0.0, "full"), seen(2, 50.0, 0.0, "full")]);
    say(&mut book, HASH, "full");
    let brood = |name: &str, cross: &str, dropped| broods::NewBrood {
        name: name.into(),
        cross: cross.into(),
        dropped_from: Some(dropped),
        ..broods::NewBrood::default()
    };
    absent_and_blond(&mut book, &brood("K1-2", "K1", date(2026, 4, 20)), &HASH.replace("00", "aa"));
    let sires = ["Lowmere-1", "Farrow-1"].map(|name| (name.to_owned(), Stay::default())).to_vec();
    let dams = vec![(crosses::Dam::Fish("Tarnwick-1".into()), Stay::default())];
    let two = crosses::NewCross { name: "K2".into(), sires, dams, ..crosses::NewCross::default() };
    book.write(|w| {
        fish::add(w, &new_fish("Farrow-1", Sex::Male, None), &by("Ann"))?;
        crosses::add(w, &two)
    })
    .unwrap();
    absent_and_blond(&mut book, &brood("K2-1", "K2", date(2026, 1, 1)), &HASH.replace("00", "bb"));
    let base = Question { axis: "base", target: "blond", ..QUESTION };
    let found = scoring::joint(&book.read(), &Sheet::starting().unwrap(), &QUESTION, &base).unwrap();
    let numbers: Vec<_> = found.iter().map(|j| (j.cross.as_str(), j.counts)).collect();
    assert_eq!(numbers, [("K1", [0, 2, 0, 0])]);
}

/// Three of each class with nets of 0.1 and 0.3 differ by 0.2, whatever the net of fish that are too young to be scored.
#[test]
fn the_contrast_between_classes_is_that_of_the_fish_that_count() {
    let (_dir, mut book) = book();
    let late = broods::NewBrood {
        name: "K1-2".into(),
        cross: "K1".into(),
        dropped_from: Some(date(2026, 4, 20)),
        ..broods::NewBrood::default()
    };
    book.write(|w| broods::add(w, &late)).unwrap();
    for (brood, hash, nets) in [("K1-1", HASH.to_owned(), [0.1, 0.3]), ("K1-2", HASH.replace("00", "aa"), [0.9, 0.1])] {
        let one = |n: u32| {
            let absent = n.is_multiple_of(2);
            let mut fish = seen(n, f64::from(n) * 40.0, 0.0, if absent { "absent" } else { "full" });
            fish.features.net = Some(nets[usize::from(!absent)]);
            fish
        };
        let fish: Vec<_> = (1..=6).map(one).collect();
        keep_photo(&mut book, &hash, &Subject::Sitting { brood: brood.into(), day: day() }, &fish);
        accept_all(&mut book, &hash);
    }
    let found = scoring::contrasts(&book.read(), &Sheet::starting().unwrap(), &QUESTION).unwrap();
    let net = &found["net"];
    assert_eq!((net.broods, net.target_fish, net.other_fish), (1, 3, 3));
    assert!((net.difference + 0.2).abs() < 1e-12, "{net:?}");
}

/// A photo set aside whole is shown as excluded, whether or not another photo of the sitting counts.
#[test]
fn the_fish_of_a_photo_that_is_set_aside_are_counted_as_that() {
    let (_dir, mut book) = book();
    keep_photo(&mut book, HASH, &sitting(), &row(3));
    accept_all(&mut book, HASH);
    let second = HASH.replace("00", "aa");
    keep_photo(&mut book, &second, &sitting(), &row(2));
    accept_all(&mut book, &second);
    let counted = |book: &Book| {
        let axes = ["red-body".to_owned()];
        let all = tallies::counts(&book.read(), &Sheet::starting().unwrap(), &axes, &QUESTION.all_crosses()).unwrap();
        (all[0].rows.iter().map(|r| r.confirmed).sum::<u32>(), all[0].excluded.set_aside)
    };
    assert_eq!(counted(&book), (5, 0));
    book.write(|w| photos::set_aside(w, HASH, Some("another brood"), &by("Ann"))).unwrap();
    assert_eq!(counted(&book), (2, 3));
    book.write(|w| photos::set_aside(w, &second, Some("another brood"), &by("Ann"))).unwrap();
    assert_eq!(counted(&book), (0, 5));
}

/// Of three confirmed fish one died and still counts; the other two are replaced by those of a later sitting.
#[test]
fn a_later_sitting_of_which_little_is_confirmed_is_said_to_take_the_place_of_more() {
    let (_dir, mut book) = book();
    keep_photo(&mut book, HASH, &sitting(), &row(3));
    accept_all(&mut book, HASH);
    let died = fish_of(&book, HASH)[0].id;
    book.write(|w| scores::set_gone(w, died, fish::Gone::Died, Some("found dead"), &by("Ann"))).unwrap();
    let later = HASH.replace("00", "aa");
    keep_photo(&mut book, &later, &Subject::Sitting { brood: "K1-1".into(), day: date(2026, 6, 1) }, &row(3));
    let noted = |book: &Book| {
        let selection = Selection { cross: None, view: View::Above, include_proposed: false };
        let sheet = Sheet::starting().unwrap();
        tallies::counts(&book.read(), &sheet, &["red-body".to_owned()], &selection).unwrap().remove(0).warnings
    };
    let said = |counts: &str| {
        let places = format!("the sitting of 2026-06-01 takes the place of {}", day());
        vec![format!("brood K1-1: {places}, but {counts} on red-body yet; 2 counted then")]
    };
    assert_eq!(noted(&book), said("none of its fish counts"));
    let full = Said { classes: vec![("red-body".into(), "full".into())], sex: None };
    let open: Vec<_> = fish_of(&book, &later).iter().map(|one| one.id).collect();
    book.write(|w| scores::correct(w, open[0], &full, None, &by("Ann"))).unwrap();
    assert_eq!(noted(&book), said("only 1 of its fish counts"));
    book.write(|w| scores::correct(w, open[1], &full, None, &by("Ann"))).unwrap();
    assert!(noted(&book).is_empty(), "as many count as before");
}
