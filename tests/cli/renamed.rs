//! `fish set --name`, `cross set --name`, `brood set --name`: a mistyped name is mended, and all that speaks of it follows.

use std::fs;
use std::path::Path;

use super::records::{book, fails, ok};
use super::score::said;

/// Young of K1-1 that are bred from, an unnamed sister, stored sperm, counts.
fn bred() -> tempfile::TempDir {
    let dir = book();
    let folder = dir.path();
    let add = |name: &str, sex: &str| {
        ok(folder, &["fish", "add", name, "--sex", sex, "--brood", "K1-1", "--line", "Lowmere"])
    };
    add("K1-s", "m");
    add("K1-d", "f");
    ok(folder, &["cross", "add", "K2", "--sire", "K1-s", "--dam", "K1-d", "--sister-of", "K1", "--from", "2026-01-01"]);
    ok(folder, &["brood", "add", "K2-1", "--cross", "K2", "--dam", "K1-d", "--earlier-sire", "Lowmere-1"]);
    let table = "cross,sire,dam,brood,dropped,axis,class,sex,count\n\
                 K2,K1-s,K1-d,K2-1,,red-body,absent,,7\nK2,K1-s,K1-d,K2-1,,red-body,full,,18\n";
    fs::write(folder.join("counts.csv"), table).unwrap();
    ok(folder, &["import", "counts", "counts.csv"]);
    dir
}

/// All that the book says, in the words of its commands.
fn all(folder: &Path) -> String {
    let commands =
        ["fish list --json", "cross list --json", "brood list --json", "export fish", "export counts", "kin --json"];
    let more = ["inherit --axis red-body --target absent --json", "counts --axis red-body --json"];
    commands.into_iter().chain(more).map(|c| ok(folder, &c.split(' ').collect::<Vec<_>>())).collect()
}

#[test]
fn all_that_speaks_of_it_goes_by_the_new_name() {
    for (what, old, new) in [
        ("fish", "K1-s", "K1-z"),
        ("fish", "Tarnwick-1", "Tarnwick-9"),
        ("fish", "Lowmere-1", "Lowmere-9"),
        ("brood", "K2-1", "K2-9"),
    ] {
        let dir = bred();
        let folder = dir.path();
        let before = all(folder);
        assert_eq!(said(folder, &[what, "set", old, "--name", new]), format!("{what} {old}: name {new} (was {old})\n"));
        // No other name of this book has the old one in it.
        assert_eq!(all(folder), before.replace(old, new), "{what} {old}");
        ok(folder, &["book", "check"]);
        let undo = fails(folder, &["confirm", "--undo"], 1);
        assert!(undo.contains(&format!("{old}: name {new} (was {old})")), "{undo}");
        assert_eq!(said(folder, &[what, "set", new, "--name", old]), format!("{what} {new}: name {old} (was {new})\n"));
        assert_eq!(all(folder), before);
    }
}

#[test]
fn a_cross_takes_its_broods_and_unnamed_sisters_along() {
    let dir = bred();
    let folder = dir.path();
    ok(folder, &["brood", "add", "K1-1", "--cross", "K2"]);
    let noted = said(folder, &["cross", "set", "K1", "--name", "M1", "--note", "the first"]);
    assert_eq!(noted, "cross K1: note the first; name M1 (was K1)\n");
    assert!(ok(folder, &["cross", "list"]).contains("a sister of cross M1"));
    assert!(ok(folder, &["fish", "show", "K1-d"]).contains("M1"));
    said(folder, &["brood", "set", "M1/K1-1", "--young", "21"]);
    // Another cross and another name in one go, where each alone would be one too many.
    ok(folder, &["brood", "add", "N-1", "--cross", "M1"]);
    let moved = said(folder, &["brood", "set", "K2/K1-1", "--cross", "M1", "--name", "N-2"]);
    assert_eq!(moved, "brood K2/K1-1: name N-2 (was K1-1); cross M1 (was K2)\n");
    ok(folder, &["book", "check"]);
}

#[test]
fn a_name_that_is_taken_or_none_is_refused() {
    let dir = bred();
    let folder = dir.path();
    ok(folder, &["brood", "add", "K2-2", "--cross", "K2"]);
    for (what, old, new) in [("fish", "K1-s", "K1-d"), ("cross", "K1", "K2"), ("brood", "K2-1", "K2-2")] {
        let refused = fails(folder, &[what, "set", old, "--name", new], 1);
        assert!(refused.contains("of this name") && refused.contains("already"), "{refused}");
        let blank = fails(folder, &[what, "set", old, "--name", " x"], 2);
        assert!(blank.contains("begins or ends with a blank"), "{blank}");
        assert_eq!(said(folder, &[what, "set", old, "--name", old]), format!("{what} {old}: nothing to change\n"));
    }
}
