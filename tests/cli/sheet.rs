//! `sheet`.

use super::{broodhue, outcome};

#[test]
fn what_show_prints_check_accepts() {
    let folder = tempfile::tempdir().unwrap();
    let (sheet, _, code) = outcome(broodhue(folder.path()).args(["sheet", "show"]));
    assert_eq!(code, 0);
    std::fs::write(folder.path().join("mine.toml"), &sheet).unwrap();
    let (words, _, code) = outcome(broodhue(folder.path()).args(["sheet", "check", "mine.toml"]));
    assert_eq!(code, 0);
    assert!(words.contains("red-body: full, reduced, absent"), "{words}");
    let (again, _, _) = outcome(broodhue(folder.path()).args(["sheet", "show", "mine.toml"]));
    assert_eq!(again, sheet);
}

#[test]
fn a_broken_sheet_is_refused_with_its_line_wherever_it_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let broken =
        broodhue::sheet::STARTING.replace("red_share.trunk\", above = 0.15", "gill_share.trunk\", above = 0.15");
    let line = 1 + broken[..broken.find("gill_share").unwrap()].matches('\n').count();
    std::fs::write(folder.path().join("b.toml"), broken).unwrap();
    for arguments in [&["sheet", "check", "b.toml"][..], &["measure", "x.jpg", "--sheet", "b.toml"][..]] {
        let (_, message, code) = outcome(broodhue(folder.path()).args(arguments));
        assert_eq!(code, 1);
        assert!(message.contains(&format!("b.toml, line {line}: there is no feature 'gill_share.trunk'")), "{message}");
        assert!(message.contains("hint: "), "{message}");
    }
    let (_, message, code) = outcome(broodhue(folder.path()).args(["sheet", "check", "missing.toml"]));
    assert_eq!(code, 1);
    assert!(message.contains("missing.toml") && message.contains("hint: "), "{message}");
}
