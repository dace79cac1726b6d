//! A book of the first layout, or one in which nothing is laid out yet, brought up to today's under fire.

use std::fs;
use std::path::Path;
use std::time::Duration;

use broodhue::book::tallies::{self, Selection};
use broodhue::book::{Book, check};
use broodhue::photo::identity;
use broodhue::sheet::Sheet;
use broodhue::units::View;
use rusqlite::{Connection, params};

use crate::world::{World, program, sound};

/// Photos of the old book, and fish in each.
const PHOTOS: u32 = 60;
const FISH: u32 = 20;

/// What lies beside the photos of the first layout: a brood, its sitting and the sheet.
const RECORDS: &str = "
    INSERT INTO crosses (name) VALUES ('K1');
    INSERT INTO brood (name, cross_id, dropped_from, dropped_to) VALUES ('K1-1', 1, '2026-01-01', '2026-01-01');
    INSERT INTO sitting (brood_id, day) VALUES (1, '2026-05-02');
    INSERT INTO sheet (hash, text, kept_at) VALUES ('x', '', '2026-05-02T10:00:00Z');
    INSERT INTO decision (made_at, made_by, what) VALUES ('2026-05-02T10:00:00Z', 'Ann', 'accept');";

/// The fish of photo ?1, every fourth of them confirmed as red-free, with an earlier word on each.
const SCORED: [&str; 4] = [
    "INSERT INTO measurement (id, photo_id, measured_at, program, sheet_hash, options, verdict, report)
     SELECT ?1, ?1, '2026-05-02T10:00:00Z', 'test 1', 'x', '{}', 'good', '{}' WHERE ?2 > 0",
    "INSERT INTO region (id, measurement_id, photo_id, n, root_id, stands, centre_x, centre_y, box, outline, features, flags,
                         number, area_px)
     WITH RECURSIVE up (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM up WHERE i < ?2)
     SELECT ?1 * ?2 + i, ?1, ?1, i, ?1 * ?2 + i, 1, 1, 1, '[]', '[]', '{}', '[]', 1, 1 FROM up",
    "INSERT INTO change (decision_id, region_id, field, axis, new)
     SELECT 1, id, 'class', 'red-body', 'reduced' FROM region WHERE photo_id = ?1 AND ?2 > 0",
    "INSERT INTO change (decision_id, region_id, field, axis, old, new)
     SELECT 1, id, 'class', 'red-body', 'reduced', iif(id % 4 = 0, 'absent', 'full') FROM region
     WHERE photo_id = ?1 AND ?2 > 0",
];

/// A book that was only begun, or is of the first layout, is brought up to today's or still is what it was.
pub(crate) fn migrate(world: &mut World, round: usize, after: Option<Duration>) {
    let dir = world.beside(&format!("old-{round}"));
    let begun = round.is_multiple_of(3);
    if begun {
        fs::create_dir(&dir).unwrap();
        Connection::open(dir.join("book.sqlite")).unwrap().execute_batch("VACUUM").unwrap();
    } else {
        first_layout(&dir);
    }
    let out = fs::File::create(world.beside("stdout")).unwrap();
    let args = ["book", "info", "--json", "--book", dir.to_str().unwrap()];
    let child = program(dir.parent().unwrap(), &args).stdout(out).spawn().unwrap();
    world.end(child, after);
    sound(&dir, "an old book");
    let book = Book::open(&dir).unwrap();
    assert_eq!(check::info(&book.read()).unwrap().layout, broodhue::book::SCHEMA_VERSION);
    assert_eq!(red_free(&book), if begun { 0 } else { PHOTOS * FISH / 4 });
    drop(book);
    fs::remove_dir_all(dir).unwrap();
}

/// Fish counted as red-free.
fn red_free(book: &Book) -> u32 {
    let (sheet, axes) = (Sheet::starting().unwrap(), ["red-body".to_owned()]);
    let selection = Selection { cross: None, view: View::Above, include_proposed: false };
    let counts = tallies::counts(&book.read(), &sheet, &axes, &selection).unwrap();
    counts[0].rows.iter().filter(|r| r.class == "absent").map(|r| r.confirmed).sum()
}

fn first_layout(dir: &Path) {
    fs::create_dir_all(dir.join("originals")).unwrap();
    let conn = Connection::open(dir.join("book.sqlite")).unwrap();
    conn.execute_batch("PRAGMA synchronous = off; BEGIN").unwrap();
    conn.execute_batch(include_str!("../../src/book/schema-1.sql")).unwrap();
    conn.execute_batch(RECORDS).unwrap();
    for number in 1..=PHOTOS {
        let (bytes, original) = (format!("photo {number}"), format!("originals/{number}.jpg"));
        fs::write(dir.join(&original), &bytes).unwrap();
        conn.execute(
            "INSERT INTO photo (id, hash, name, bytes, width, height, view, sitting_id, original, kept_at)
             VALUES (?1, ?2, 'tray.jpg', 1, 1, 1, 'above', 1, ?3, '2026-05-02T10:00:00Z')",
            params![number, identity(bytes.as_bytes()), original],
        )
        .unwrap();
        for sql in SCORED {
            conn.execute(sql, [number, FISH]).unwrap();
        }
    }
    conn.execute_batch("PRAGMA user_version = 1; COMMIT").unwrap();
}
