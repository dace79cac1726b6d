//! Fish that the counts leave out, and what else must leave them out.

use broodhue::book::crosses::{self, Stay};
use broodhue::book::evidence::Question;
use broodhue::book::scores::{self, Said};
use broodhue::book::tallies::{self, Selection};
use broodhue::book::{Book, fish, photos, regions, scoring};
use broodhue::sheet::Sheet;
use broodhue::units::{Sex, View};

use crate::common::{HASH, book, by, keep_photo, new_fish, seen, sitting};

const QUESTION: Question<'_> = Question { axis: "red-body", target: "absent", middle: None, view: View::Above };

fn fish_of(book: &Book, hash: &str) -> Vec<regions::Region> {
    regions::of_photo(&book.read(), &photos::named(&book.read(), hash).unwrap()).unwrap()
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
    let row = |fish: u32| (1..=fish).map(|n| seen(n, f64::from(n) * 40.0, 0.0, "full")).collect::<Vec<_>>();
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
