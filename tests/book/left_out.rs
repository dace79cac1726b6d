//! Fish that the counts leave out, and what else must leave them out.

use broodhue::book::evidence::Question;
use broodhue::book::scores::{self, Said};
use broodhue::book::tallies;
use broodhue::book::{Book, photos, regions, scoring};
use broodhue::sheet::Sheet;
use broodhue::units::View;

use crate::common::{HASH, book, by, keep_photo, seen, sitting};

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
