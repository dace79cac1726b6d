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
    let (line, _, _) = outcome(broodhue(folder.path()).args(["sheet", "show", "mine.toml", "--json"]));
    let value: serde_json::Value = serde_json::from_str(&line).unwrap();
    assert_eq!(value["text"], sheet);
    assert_eq!(value["axes"][0]["axis"], "base");
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

#[test]
fn limits_are_fitted_and_sheets_compared_on_the_fish_of_a_book() {
    let folder = tempfile::tempdir().unwrap();
    let (_, message, code) = outcome(broodhue(folder.path()).args(["demo", "--dir", "d"]));
    assert_eq!(code, 0, "{message}");
    let fit = ["sheet", "fit", "--axis", "red-body", "--book", "d"];
    let (words, message, code) = outcome(broodhue(folder.path()).args(fit));
    assert_eq!(code, 0, "{message}");
    for part in ["red share of the trunk", "each brood judged by limits fitted on the others", "nothing is changed"] {
        assert!(words.contains(part), "{words}");
    }
    let (line, _, _) = outcome(broodhue(folder.path()).args(fit).arg("--json"));
    let line: serde_json::Value = serde_json::from_str(&line).unwrap();
    assert_eq!(line["schema"], "broodhue.sheet-fit/1");
    assert!(line["wrong_cross_validated"].as_f64().is_some_and(|w| w < 0.1), "{line}");
    let (_, message, code) = outcome(broodhue(folder.path()).args(["sheet", "fit", "--axis", "gills", "--book", "d"]));
    assert_eq!(code, 2, "{message}");

    std::fs::write(folder.path().join("a.toml"), broodhue::sheet::STARTING).unwrap();
    let wider =
        broodhue::sheet::STARTING.replace("above = 0.15", "above = 0.40").replace("below = 0.15", "below = 0.40");
    std::fs::write(folder.path().join("b.toml"), wider).unwrap();
    let (table, message, code) =
        outcome(broodhue(folder.path()).args(["sheet", "check", "a.toml", "b.toml", "--book", "d"]));
    assert_eq!(code, 0, "{message}");
    assert!(table.contains("full → reduced") && table.contains("K2-1"), "{table}");
    let (same, _, _) = outcome(broodhue(folder.path()).args(["sheet", "check", "a.toml", "a.toml", "--book", "d"]));
    assert!(!same.contains('→'), "{same}");
}
