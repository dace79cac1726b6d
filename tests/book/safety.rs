//! Checking, backing up, restoring.

use std::fs;

use broodhue::book::{Book, backup, check, photos};
use broodhue::units::View;

use crate::common::{HASH, book, by, keep_photo, seen, sitting};

#[test]
fn a_backup_holds_everything_and_comes_back() {
    let (dir, mut book) = book();
    keep_photo(&mut book, HASH, &sitting(), &[seen(1, 0.0, 0.0, "full")]);
    let file = dir.path().join("safe.backup");
    assert_eq!(backup::write(&book, &file).unwrap().files, 1);
    assert!(backup::write(&book, &file).is_err(), "an older backup is never overwritten");
    let again = dir.path().join("again");
    assert_eq!(backup::restore(&file, &again).unwrap().files, 1);
    let back = Book::open(&again).unwrap();
    assert_eq!(check::info(&back.read()).unwrap().regions, 1);
    let original = photos::named(&back.read(), HASH).unwrap().original;
    assert_eq!(fs::read(original).unwrap(), b"not a real photo");
    assert!(backup::restore(&file, &again).is_err());
}

#[test]
fn a_missing_original_is_named_and_all_else_is_saved_and_comes_back() {
    let (dir, mut book) = book();
    keep_photo(&mut book, HASH, &sitting(), &[seen(1, 0.0, 0.0, "full")]);
    let other = HASH.replace("0011", "aa11");
    keep_photo(&mut book, &other, &sitting(), &[]);
    fs::remove_file(photos::named(&book.read(), HASH).unwrap().original).unwrap();
    let file = dir.path().join("safe.backup");
    let copied = backup::write(&book, &file).unwrap();
    assert_eq!((copied.files, copied.without), (1, vec!["tray.jpg (brood K1-1 on 2026-05-02)".to_owned()]));
    let again = dir.path().join("again");
    assert_eq!(backup::restore(&file, &again).unwrap().without, ["tray.jpg (brood K1-1 on 2026-05-02)"]);
    let back = Book::open(&again).unwrap();
    assert_eq!(check::info(&back.read()).unwrap().regions, 1);
    assert_eq!(fs::read(photos::named(&back.read(), &other).unwrap().original).unwrap(), b"not a real photo");
}

#[test]
fn an_original_that_cannot_be_read_stops_a_backup_and_leaves_no_half_of_one() {
    let (dir, mut book) = book();
    keep_photo(&mut book, HASH, &sitting(), &[]);
    let original = photos::named(&book.read(), HASH).unwrap().original;
    fs::remove_file(&original).unwrap();
    fs::create_dir(&original).unwrap();
    assert!(backup::write(&book, &dir.path().join("safe.backup")).is_err());
    assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 1, "only the book");
}

#[test]
fn a_backup_that_is_not_there_is_said_to_be_so() {
    let dir = tempfile::tempdir().unwrap();
    let of = |name: &str| backup::restore(&dir.path().join(name), &dir.path().join("b")).unwrap_err().message;
    assert_eq!(of("nix.backup"), "there is no such file");
    assert_eq!(of("."), "is a folder, not a backup");
}

#[test]
fn a_missing_preview_does_not() {
    let (dir, mut book) = book();
    let subject = sitting();
    book.write(|w| {
        let new = photos::NewPhoto {
            name: "tray.jpg",
            hash: HASH,
            bytes: b"not a real photo",
            width: 100,
            height: 100,
            taken: None,
            view: View::Above,
            preview: Some(b"nor a preview"),
            subject: &subject,
        };
        photos::keep(w, &new, by("Ann").at)
    })
    .unwrap();
    assert_eq!(backup::write(&book, &dir.path().join("both.backup")).unwrap().files, 2);
    fs::remove_file(photos::named(&book.read(), HASH).unwrap().preview.unwrap()).unwrap();
    assert_eq!(backup::write(&book, &dir.path().join("one.backup")).unwrap().files, 1);
}

#[test]
fn a_check_names_a_changed_original_and_a_stray_file() {
    let (_dir, mut book) = book();
    keep_photo(&mut book, HASH, &sitting(), &[]);
    // The invented hash is not that of the invented bytes.
    let found = check::run(&book.read()).unwrap();
    assert_eq!((found.photos, found.faults.len(), found.remarks.len()), (1, 1, 0), "{found:?}");
    assert!(found.faults[0].contains("is not the photo tray.jpg"));
    fs::write(book.dir().join("originals/stray.jpg"), b"x").unwrap();
    assert!(check::run(&book.read()).unwrap().remarks[0].contains("no record names"));
}
