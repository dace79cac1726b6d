//! Newer books, foreign files, full disks, two programs: one clear message, and nothing half written.

use std::fs;

use broodhue::book::{Book, SCHEMA_VERSION, fish};
use broodhue::units::Sex;
use rusqlite::Connection;

use crate::common::{book, by, new_fish};

fn file(book: &Book) -> std::path::PathBuf {
    book.dir().join("book.sqlite")
}

#[test]
fn a_book_of_a_newer_program_is_refused_untouched() {
    let (_dir, book) = book();
    let (path, dir) = (file(&book), book.dir().to_path_buf());
    drop(book);
    Connection::open(&path).unwrap().pragma_update(None, "user_version", SCHEMA_VERSION + 1).unwrap();
    let before = fs::read(&path).unwrap();
    let error = Book::open(&dir).unwrap_err();
    assert!(error.message.contains(&format!("layout {}", SCHEMA_VERSION + 1)), "{error}");
    assert_eq!(fs::read(&path).unwrap(), before);
}

#[test]
fn another_programs_database_is_not_a_book() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("book.sqlite");
    Connection::open(&path).unwrap().execute_batch("CREATE TABLE x (y)").unwrap();
    assert!(Book::open(dir.path()).unwrap_err().message.contains("not a book"));
    assert!(Book::create(dir.path()).unwrap_err().message.contains("not a book"));
    fs::write(&path, "plain text, long enough to be looked at as a header of a file").unwrap();
    assert!(Book::open(dir.path()).unwrap_err().message.contains("damaged"));
}

#[test]
fn a_missing_book_says_how_to_make_one() {
    let dir = tempfile::tempdir().unwrap();
    assert!(Book::open(dir.path()).unwrap_err().hint.contains("broodhue book new"));
    assert!(fs::read_dir(dir.path()).unwrap().next().is_none(), "looking for a book leaves nothing behind");
}

#[test]
fn what_fails_in_the_middle_leaves_nothing() {
    let (_dir, mut book) = book();
    let outcome = book.write(|w| {
        fish::add(w, &new_fish("first", Sex::Male, None), &by("Ann"))?;
        fish::add(w, &new_fish("Lowmere-1", Sex::Male, None), &by("Ann"))
    });
    assert!(outcome.is_err());
    assert!(fish::get(&book.read(), "first").is_err());
}

#[test]
fn a_second_program_waits_and_is_then_told() {
    let (_dir, mut book) = book();
    let other = Connection::open(file(&book)).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    let error = book.write(|w| fish::add(w, &new_fish("x", Sex::Male, None), &by("Ann"))).unwrap_err();
    assert!(error.message.contains("another program"), "{error}");
    other.execute_batch("ROLLBACK").unwrap();
    book.write(|w| fish::add(w, &new_fish("x", Sex::Male, None), &by("Ann"))).unwrap();
}
