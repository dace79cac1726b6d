//! A small book with one drawn photo of an invented brood.

use std::path::{Path, PathBuf};

use broodhue::book::broods::{self, NewBrood};
use broodhue::book::crosses::{self, NewCross};
use broodhue::book::fish::{self, NewFish};
use broodhue::book::photos::{self, Subject};
use broodhue::book::regions::{self, Region};
use broodhue::book::{Book, By};
use broodhue::pipeline::keep::{self, Keeping, Known};
use broodhue::pipeline::{Given, MeasureOptions};
use broodhue::sheet::Sheet;
use broodhue::units::Sex;
use jiff::civil::date;

/// A hostile name: markup, quotes, a right-to-left mark.
pub(super) const HOSTILE: &str = "<img src=x onerror=alert(1)>\"'&\u{202e}brood";

pub(super) fn by(name: &str) -> By {
    By { name: name.to_owned(), at: "2026-03-08T18:00:00Z".parse().unwrap() }
}

/// Makes the book in `dir` with the brood of this name and one photo of it; says the photo's hash.
pub(super) fn book(dir: &Path, brood: &str) -> String {
    let mut book = Book::create(dir).unwrap();
    book.write(|w| {
        for (name, sex) in [("K1-s", Sex::Male), ("K1-d", Sex::Female)] {
            fish::add(w, &NewFish { name: name.into(), sex: Some(sex), ..NewFish::default() }, &by("Nell"))?;
        }
        crosses::add(w, &NewCross { name: "K2".into(), ..NewCross::default() })?;
        broods::add(w, &NewBrood { name: brood.into(), cross: "K2".into(), ..NewBrood::default() })
    })
    .unwrap();
    photo(&mut book, "K2-1-tray-a.jpg", &Subject::Sitting { brood: brood.to_owned(), day: date(2026, 3, 7) })
}

/// Measures a sample image and keeps it; says its hash.
pub(super) fn photo(book: &mut Book, file: &str, subject: &Subject) -> String {
    photo_by(book, file, subject, &Sheet::starting().unwrap())
}

/// The same by another sheet.
pub(super) fn photo_by(book: &mut Book, file: &str, subject: &Subject, sheet: &Sheet) -> String {
    let bytes = std::fs::read(PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("sample-images").join(file)).unwrap();
    let options = MeasureOptions { card_pitch_mm: Some(12.4), ..MeasureOptions::default() };
    let day = match subject {
        Subject::Sitting { day, .. } => *day,
        Subject::Portrait(_) => date(2026, 3, 7),
    };
    let given = Given { sheet, empty: None };
    let ready = keep::read_ready(file, &bytes, given, &options, &Known::default(), (None, day)).unwrap();
    let with = Keeping { name: file, bytes: &bytes, subject, sheet, at: by("Nell").at };
    book.write(|w| keep::keep(w, &ready, &with)).unwrap();
    ready.report.hash
}

/// The fish of the photo as another program finds them in the book now.
pub(super) fn fish(dir: &Path, hash: &str) -> Vec<Region> {
    let book = Book::open(dir).unwrap();
    let photo = photos::find(&book.read(), hash).unwrap().unwrap();
    regions::of_photo(&book.read(), &photo).unwrap()
}
