//! What is typed of the fish in a photo and meets nothing: said in the same words by `measure`, `score` and `lighter`, and nothing of it kept.

use std::fs;
use std::path::Path;

use super::score::{book, json, ok};
use super::{broodhue, outcome};

#[test]
fn a_correction_typed_now_that_meets_nothing_fails_and_one_of_before_does_not() {
    let dir = book();
    let folder = dir.path();
    ok(folder, &["score", "tray.jpg", "--brood", "K4-1"]);
    for args in [&["--drop", "99"][..], &["--merge", "4,4"]] {
        let (out, message, code) = outcome(broodhue(folder).args([&["score", "tray.jpg", "--again"], args].concat()));
        assert!(code == 1 && message.contains("broodhue: tray.jpg: ") && message.contains("hint: "), "{message}");
        assert!(out.contains("measured again"), "the rest is done: {out}");
    }
    // Nothing of it was kept.
    ok(folder, &["score", "--again"]);
    ok(folder, &["score", "--again", "--afresh"]);
    ok(folder, &["score", "tray.jpg", "--again", "--drop", "3"]);
    let gone = ok(folder, &["score", "--again"]);
    assert!(gone.contains("measured again"), "{gone}");
    // In another light, as it were, the fish that was dropped is not found again: a warning, and no failure of what is asked now.
    let (out, message, code) =
        outcome(broodhue(folder).args(["score", "tray.jpg", "--again", "--tray", "10,10,200,10,200,150,10,150"]));
    assert!(code == 0 && out.contains("is not found again at"), "{code} {out} {message}");
    let wrong = ["score", "tray.jpg", "--again", "--box", "100,100,50,50"];
    let (_, message, code) = outcome(broodhue(folder).args(wrong));
    assert!(code == 2 && message.contains("--box: 100,100,50,50 is no box"), "{message}");
}

/// A box around nothing shows none of the fish that the book has of the photo; of a photo that is new it is no way to be taken in.
#[test]
fn a_box_around_nothing_changes_nothing_in_the_book() {
    let dir = book();
    let folder = dir.path();
    ok(folder, &["score", "tray.jpg", "--brood", "K4-1"]);
    ok(folder, &["confirm", "--photo", "tray.jpg", "--fish", "1", "--class", "red-body=absent"]);
    let kept = || {
        let tables = ["measurements", "scores"].map(|table| json(folder, &["export", table, "--json"]));
        (tables, json(folder, &["book", "info", "--json"]))
    };
    let before = kept();
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-images/K3-1.jpg");
    fs::copy(sample, folder.join("new.jpg")).unwrap();
    let nowhere = ["--box", "9000,9000,9100,9100"];
    for args in [&["score", "tray.jpg", "--again"][..], &["score", "new.jpg", "--brood", "K4-1"]] {
        let (out, message, code) = outcome(broodhue(folder).args([args, &nowhere].concat()));
        assert_eq!((code, out.as_str()), (1, ""), "{message}");
        assert!(message.contains("lies outside of the picture") && message.contains("hint: "), "{message}");
        assert_eq!(kept(), before);
    }
}

#[test]
fn a_comparison_says_what_met_nothing_as_measuring_does() {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path();
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-images");
    fs::copy(samples.join("K4-1.jpg"), folder.join("tray.jpg")).unwrap();
    let drop = ["--drop", "99"];
    let (_, measured, code) = outcome(broodhue(folder).args([&["measure", "tray.jpg"][..], &drop].concat()));
    let (out, compared, as_measured) =
        outcome(broodhue(folder).args([&["lighter", "tray.jpg#1", "tray.jpg#2"][..], &drop].concat()));
    assert_eq!((as_measured, code), (1, 1), "{compared}");
    let line = measured.lines().find(|line| line.contains("there is no fish 99 to correct")).unwrap();
    assert!(compared.lines().any(|said| said == line), "{compared}");
    assert!(out.contains("tray.jpg#1"), "the rest is done: {out}");
}
