//! The fish of each photo as they are kept sorted, held against the log after whatever may happen to them.

use broodhue::book::regions::{self, Region};
use broodhue::book::scores::{self, Said};
use broodhue::book::tallies::{self, Selection};
use broodhue::book::{Book, check, decisions, fish::Gone, photo_tally, photos};
use broodhue::sheet::{NOT_SHOWN, Sheet, UNDECIDED};
use broodhue::units::{Sex, View};
use proptest::prelude::*;
use rusqlite::Connection;

use crate::common::{HASH, book, by, first_layout, keep_photo, seen, sitting};

const CLASSES: [&str; 5] = ["full", "reduced", "absent", UNDECIDED, NOT_SHOWN];
const AXES: [&str; 2] = ["red-body", "red-finnage"];
const OTHER: &str = "ffeeddccbbaa99887766554433221100ffeeddccbbaa99887766554433221100";

/// Every tally of every axis, in an order of its own.
fn counted(book: &Book) -> Vec<String> {
    let (read, sheet) = (book.read(), Sheet::starting().unwrap());
    let mut all = Vec::new();
    for axis in tallies::axes(&read, &sheet).unwrap() {
        let selection = Selection { cross: None, view: View::Above, include_proposed: true };
        for (_, tally) in tallies::tallies(&read, &sheet, &axis, &selection).unwrap() {
            all.push(format!("{axis} {:?} {:?}", tally.pairs, tally.warnings));
            all.extend(tally.scored.iter().map(|s| format!("{axis} {s:?}")));
            all.extend(tally.suggested.iter().map(|s| format!("{axis} {s:?}")));
            all.extend(tally.open.iter().map(|s| format!("{axis} {s:?}")));
        }
    }
    all.sort();
    all
}

/// As [`counted`], but by the log alone.
fn counted_by_log(book: &Book) -> Vec<String> {
    let beside = Connection::open(book.dir().join("book.sqlite")).unwrap();
    beside.execute("INSERT INTO photo_unsorted SELECT id FROM photo", []).unwrap();
    let found = counted(book);
    beside.execute("DELETE FROM photo_unsorted", []).unwrap();
    found
}

fn holds(book: &Book) {
    assert_eq!(counted(book), counted_by_log(book));
    let faults = check::run(&book.read()).unwrap().faults;
    assert!(faults.iter().all(|f| !f.contains("recount")), "{faults:?}");
}

fn all_fish(book: &Book) -> Vec<Region> {
    let read = book.read();
    photos::list(&read).unwrap().iter().flat_map(|p| regions::of_photo(&read, p).unwrap()).collect()
}

/// Something that happens to a book: what, to which fish, and how.
type Event = (u8, usize, usize);

fn happen(book: &mut Book, (what, which, how): Event) {
    let fish = all_fish(book);
    let one = &fish[which % fish.len()];
    let who = by(["Ann", "Ben"][how % 2]);
    let said = |classes| Said { classes, sex: None };
    match what {
        0 | 1 => {
            let class = (AXES[how % 2].to_owned(), CLASSES[how % 5].to_owned());
            book.write(|w| scores::correct(w, one.id, &said(vec![class]), None, &who)).map(drop).unwrap();
        }
        2 => {
            let sex = [Sex::Male, Sex::Female][how % 2];
            let said = Said { sex: Some(sex), ..said(Vec::new()) };
            book.write(|w| scores::correct(w, one.id, &said, None, &who)).map(drop).unwrap();
        }
        3 => {
            let reason = (how % 3 > 0).then_some("blurred");
            book.write(|w| scores::set_aside(w, one.id, reason, &who)).map(drop).unwrap();
        }
        4 => {
            let gone = [Gone::Moved, Gone::Died][how % 2];
            book.write(|w| scores::set_gone(w, one.id, gone, None, &who)).map(drop).unwrap();
        }
        5 => {
            book.write(|w| decisions::undo(w, &who)).map(drop).unwrap();
        }
        6 => {
            book.write(|w| scores::opinion(w, one.id, AXES[how % 2], CLASSES[how % 3], &who)).map(drop).unwrap();
        }
        7 => {
            let open = scores::acceptable(&fish, 0.5);
            book.write(|w| scores::accept(w, &open, None, &who)).map(drop).unwrap();
        }
        8 => {
            let reason = (how % 2 > 0).then_some("upside down");
            book.write(|w| photos::set_aside(w, &one.photo, reason, &who)).map(drop).unwrap();
        }
        _ => {
            // Measured again: some a little shifted, some elsewhere, one of them now a cluster of three.
            let at = |n: u32| f64::from(n) * 40.0 + (how % 25) as f64;
            let mut again: Vec<_> = (1..=4).map(|n| seen(n, at(n), 0.0, CLASSES[how % 5])).collect();
            again[which % 4].number = 3;
            keep_photo(book, [HASH, OTHER][how % 2], &sitting(), &again);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]
    #[test]
    fn what_is_kept_sorted_is_what_the_log_says(events in prop::collection::vec((0u8..10, 0usize..8, 0usize..30), 1..24)) {
        let (_dir, mut book) = book();
        for (hash, x) in [(HASH, 0.0), (OTHER, 3.0)] {
            let fish: Vec<_> = (1..=4).map(|n| seen(n, f64::from(n) * 40.0 + x, 0.0, CLASSES[n as usize])).collect();
            keep_photo(&mut book, hash, &sitting(), &fish);
        }
        for event in events {
            happen(&mut book, event);
            holds(&book);
        }
    }
}

#[test]
fn another_programs_writing_is_noticed_and_a_wrong_row_is_named_and_mended() {
    let (_dir, mut book) = book();
    keep_photo(&mut book, HASH, &sitting(), &[seen(1, 0.0, 0.0, "full"), seen(2, 50.0, 0.0, "absent")]);
    let beside = Connection::open(book.dir().join("book.sqlite")).unwrap();
    beside
        .execute_batch(
            "INSERT INTO decision (made_at, made_by, what) VALUES ('2026-05-03T10:00:00Z', 'Ben', 'correct');
             INSERT INTO change (decision_id, region_id, field, axis, new) VALUES (last_insert_rowid(), 1, 'class', 'red-body', 'absent');",
        )
        .unwrap();
    assert!(counted(&book).iter().any(|line| line.contains("Ben")), "read out of the log until it is sorted");
    let mut book = Book::open(book.dir()).unwrap();
    let due: u32 = beside.query_row("SELECT count(*) FROM photo_unsorted", [], |row| row.get(0)).unwrap();
    assert_eq!(due, 0, "opening sorts");
    holds(&book);

    beside.execute("UPDATE photo_tally SET number = number + 1 WHERE class = 'absent'", []).unwrap();
    let faults = check::run(&book.read()).unwrap().faults;
    assert!(faults.iter().any(|f| f.contains("photo tray.jpg") && f.contains("book recount")), "{faults:?}");
    assert_eq!(book.write(photo_tally::recount).unwrap(), 1);
    holds(&book);
}

#[test]
fn a_book_of_the_first_layout_counts_the_same_after_its_step_up() {
    let (_dir, mut book) = book();
    keep_photo(&mut book, HASH, &sitting(), &[seen(1, 0.0, 0.0, "full"), seen(2, 50.0, 0.0, "absent")]);
    for event in [(7, 0, 0), (0, 1, 2), (2, 0, 1), (3, 1, 1)] {
        happen(&mut book, event);
    }
    let (before, dir) = (counted(&book), book.dir().to_owned());
    drop(book);
    first_layout(&dir);
    let book = Book::open(&dir).unwrap();
    assert_eq!(check::info(&book.read()).unwrap().layout, 2);
    assert_eq!(counted(&book), before);
    holds(&book);
}
