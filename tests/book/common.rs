//! An invented book: lines Lowmere and Tarnwick, cross K1, brood K1-1.

use std::collections::BTreeMap;
use std::path::Path;

use broodhue::book::measurements::{Measured, MeasuredFish};
use broodhue::book::photos::{self, NewPhoto, Subject};
use broodhue::book::{Book, By, broods, crosses, fish, measurements};
use broodhue::geometry::{PixelBox, Point};
use broodhue::sheet::{Proposal, Sheet};
use broodhue::units::{Sex, View};
use jiff::civil::{Date, date};
use rusqlite::Connection;
use tempfile::TempDir;

pub(crate) fn by(name: &str) -> By {
    By { name: name.into(), at: "2026-05-02T10:00:00Z".parse().unwrap() }
}

pub(crate) fn day() -> Date {
    date(2026, 5, 2)
}

pub(crate) fn new_fish(name: &str, sex: Sex, cross: Option<&str>) -> fish::NewFish {
    fish::NewFish {
        name: name.into(),
        sex: Some(sex),
        cross: cross.map(Into::into),
        classes: BTreeMap::from([("red-body".into(), "full".into())]),
        ..fish::NewFish::default()
    }
}

/// A book with both founders, cross K1 and its brood K1-1, dropped long before the sitting.
pub(crate) fn book() -> (TempDir, Book) {
    let dir = tempfile::tempdir().unwrap();
    let mut book = Book::create(&dir.path().join("b")).unwrap();
    book.write(|w| {
        fish::add(w, &new_fish("Lowmere-1", Sex::Male, None), &by("Ann"))?;
        fish::add(w, &new_fish("Tarnwick-1", Sex::Female, None), &by("Ann"))?;
        crosses::add(
            w,
            &crosses::NewCross {
                name: "K1".into(),
                sires: vec![("Lowmere-1".into(), crosses::Stay::default())],
                dams: vec![(crosses::Dam::Fish("Tarnwick-1".into()), crosses::Stay::default())],
                ..crosses::NewCross::default()
            },
        )?;
        broods::add(
            w,
            &broods::NewBrood {
                name: "K1-1".into(),
                cross: "K1".into(),
                dropped_from: Some(date(2026, 1, 1)),
                ..broods::NewBrood::default()
            },
        )
    })
    .unwrap();
    (dir, book)
}

/// A fish of 20 × 10 pixels at (x, y), proposed red-body `class`.
pub(crate) fn seen(n: u32, x: f64, y: f64, class: &str) -> MeasuredFish {
    let corners = [(0.0, 0.0), (20.0, 0.0), (20.0, 10.0), (0.0, 10.0)];
    let outline: Vec<Point> = corners.map(|(u, v)| Point::new(x + u, y + v)).to_vec();
    MeasuredFish {
        n,
        centre: Point::new(x + 10.0, y + 5.0),
        bounds: PixelBox::around(&outline).unwrap(),
        outline,
        area_px: 200.0,
        length_mm: None,
        standard_length_mm: None,
        number: 1,
        flags: Vec::new(),
        features: Default::default(),
        proposals: vec![Proposal {
            axis: "red-body".into(),
            class: class.into(),
            confidence: 0.95,
            because: vec!["invented".into()],
        }],
    }
}

/// What `sha256sum` says of the bytes that [`keep`] keeps.
pub(crate) const SOUND: &str = "a62edae58e7eab2e0b32223de6a7934b0674cbcd9ce676f867607dc3381ae0c0";

/// An invented hash: of the bytes kept under it the book must think that somebody changed them.
pub(crate) const HASH: &str = "00112233445566778899aabbccddeeff00112233445566778899aabbccddeeff";

pub(crate) fn keep_photo(
    book: &mut Book,
    hash: &str,
    subject: &Subject,
    found: &[MeasuredFish],
) -> measurements::Difference {
    keep_with_sheet(book, &Sheet::starting().unwrap(), hash, subject, found)
}

pub(crate) fn keep_with_sheet(
    book: &mut Book,
    sheet: &Sheet,
    hash: &str,
    subject: &Subject,
    found: &[MeasuredFish],
) -> measurements::Difference {
    keep(book, (sheet, View::Above), hash, subject, found)
}

pub(crate) fn keep(
    book: &mut Book,
    (sheet, view): (&Sheet, View),
    hash: &str,
    subject: &Subject,
    found: &[MeasuredFish],
) -> measurements::Difference {
    book.write(|w| {
        let new = NewPhoto {
            name: "tray.jpg",
            hash,
            bytes: b"not a real photo",
            width: 100,
            height: 100,
            taken: None,
            view,
            preview: None,
            subject,
        };
        photos::keep(w, &new, by("Ann").at)?;
        let empty = serde_json::json!({});
        let measured = Measured {
            program: "test 1",
            sheet,
            card_layout: Some("chart-24"),
            card_edition: None,
            options: &empty,
            verdict: "good",
            report: &empty,
            fish: found,
        };
        measurements::add(w, hash, &measured, by("Ann").at)
    })
    .unwrap()
}

pub(crate) fn sitting() -> Subject {
    Subject::Sitting { brood: "K1-1".into(), day: day() }
}

/// Takes a book back to the first layout, which kept nothing sorted.
pub(crate) fn first_layout(dir: &Path) {
    let conn = Connection::open(dir.join("book.sqlite")).unwrap();
    let triggers = "SELECT name FROM sqlite_master WHERE type = 'trigger' AND (name LIKE '%unsorts' OR name = 'change_names_axis')";
    let names: Vec<String> =
        conn.prepare(triggers).unwrap().query_map([], |row| row.get(0)).unwrap().map(Result::unwrap).collect();
    names.iter().for_each(|name| conn.execute_batch(&format!("DROP TRIGGER {name}")).unwrap());
    conn.execute_batch("DROP TABLE photo_tally; DROP TABLE photo_unsorted; DROP TABLE scored_axis").unwrap();
    conn.pragma_update(None, "user_version", 1).unwrap();
}
