//! Checking, backing up, restoring.

use std::fs;

use broodhue::book::originals::Wrong;
use broodhue::book::{Book, backup, check, photos};
use broodhue::units::View;

use crate::common::{HASH, SOUND, book, by, keep_photo, seen, sitting};

#[test]
fn a_backup_holds_everything_and_comes_back() {
    let (dir, mut book) = book();
    keep_photo(&mut book, SOUND, &sitting(), &[seen(1, 0.0, 0.0, "full")]);
    let file = dir.path().join("safe.backup");
    let copied = backup::write(&book, &file).unwrap();
    assert_eq!((copied.files, copied.spoilt), (1, Vec::new()));
    assert!(backup::write(&book, &file).is_err(), "an older backup is never overwritten");
    let again = dir.path().join("again");
    let copied = backup::restore(&file, &again).unwrap();
    assert_eq!((copied.files, copied.spoilt), (1, Vec::new()));
    let back = Book::open(&again).unwrap();
    assert_eq!(check::info(&back.read()).unwrap().regions, 1);
    let original = photos::named(&back.read(), SOUND).unwrap().original;
    assert_eq!(fs::read(original).unwrap(), b"not a real photo");
    assert!(backup::restore(&file, &again).is_err());
}

/// Four photos: one sound, one changed by somebody, one gone, one that no program can read (a folder stands in its place).
#[test]
fn originals_that_are_not_what_was_taken_in_are_named_and_all_else_is_saved_and_comes_back() {
    let (dir, mut book) = book();
    let (lost, unreadable) = (HASH.replace("0011", "aa11"), HASH.replace("0011", "bb11"));
    for hash in [HASH, &lost, &unreadable, SOUND] {
        keep_photo(&mut book, hash, &sitting(), &[]);
    }
    let original = |hash: &str| photos::named(&book.read(), hash).unwrap().original;
    fs::remove_file(original(&lost)).unwrap();
    fs::remove_file(original(&unreadable)).unwrap();
    fs::create_dir(original(&unreadable)).unwrap();
    let file = dir.path().join("safe.backup");
    let copied = backup::write(&book, &file).unwrap();
    let named = |copied: &backup::Copied| copied.spoilt.iter().map(|s| s.photo.clone()).collect::<Vec<_>>();
    assert_eq!((copied.files, named(&copied)), (2, vec!["tray.jpg (brood K1-1 on 2026-05-02)".to_owned(); 3]));
    let [Wrong::Changed, Wrong::Missing, Wrong::Unreadable(_)] = [0, 1, 2].map(|i| copied.spoilt[i].wrong.clone())
    else {
        panic!("{:?}", copied.spoilt)
    };
    let again = dir.path().join("again");
    let back = backup::restore(&file, &again).unwrap();
    assert_eq!((back.files, named(&back).len(), &back.spoilt[0].wrong), (2, 3, &Wrong::Changed));
    let back = Book::open(&again).unwrap();
    for hash in [SOUND, HASH] {
        assert_eq!(fs::read(photos::named(&back.read(), hash).unwrap().original).unwrap(), b"not a real photo");
    }
}

#[test]
fn a_backup_that_is_not_there_is_said_to_be_so() {
    let dir = tempfile::tempdir().unwrap();
    let of = |name: &str| backup::restore(&dir.path().join(name), &dir.path().join("b")).unwrap_err().message;
    assert_eq!(of("nix.backup"), "there is no such file");
    assert_eq!(of("."), "is a folder, not a backup");
    #[cfg(unix)]
    assert_eq!(of("/dev/null"), "is no backup, and no file at all");
}

#[test]
fn a_backup_that_is_cut_short_or_cannot_be_written_says_so_of_the_backup() {
    let (dir, mut book) = book();
    keep_photo(&mut book, SOUND, &sitting(), &[seen(1, 0.0, 0.0, "full")]);
    let whole = dir.path().join("whole.backup");
    backup::write(&book, &whole).unwrap();
    let bytes = fs::read(&whole).unwrap();
    for length in [bytes.len() / 2, 50] {
        let cut = dir.path().join("cut.backup");
        fs::write(&cut, &bytes[..length]).unwrap();
        let error = backup::restore(&cut, &dir.path().join("back")).unwrap_err();
        assert!(error.place.ends_with("cut.backup") && error.message.contains("is damaged"), "{length}: {error}");
        assert!(error.hint.contains("another backup") && !error.hint.contains("restore"), "{error}");
    }
    let error = backup::write(&book, &dir.path().join("nowhere/safe.backup")).unwrap_err();
    assert!(error.place.ends_with("nowhere/safe.backup") && error.hint.contains("a folder that is there"), "{error}");
    assert!(error.message.contains("the backup cannot be written here"), "{error}");
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
    assert!(found.faults[0].contains("the original of tray.jpg is not the file that was taken in"));
    fs::write(book.dir().join("originals/stray.jpg"), b"x").unwrap();
    assert!(check::run(&book.read()).unwrap().remarks[0].contains("no record names"));
}
