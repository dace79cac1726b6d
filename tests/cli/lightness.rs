//! `kin`, `lighter` and `trend` as a person runs them.

use std::fs;
use std::path::{Path, PathBuf};

use serde_json::Value;

use super::{broodhue, outcome};

fn ok(folder: &Path, args: &[&str]) -> String {
    let (out, message, code) = outcome(broodhue(folder).args(args));
    assert_eq!(code, 0, "{args:?}: {message}");
    out
}

fn json(folder: &Path, args: &[&str]) -> Value {
    serde_json::from_str(&ok(folder, args)).unwrap()
}

fn sample(name: &str) -> String {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("sample-images").join(name).display().to_string()
}

/// Sibs out of K1, and a sib mating.
fn family() -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    ok(dir.path(), &["book", "new", "--by", "Ann"]);
    fs::write(
        dir.path().join("fish.csv"),
        "fish,sex,line,cross,born\nLowmere-1,m,Lowmere,,\nTarnwick-1,f,Tarnwick,,\nK1-s,m,,K1,\nK1-d,f,,K1,\nK2-q,m,,K2,\n",
    )
    .unwrap();
    ok(dir.path(), &["import", "fish", "fish.csv"]);
    fs::write(
        dir.path().join("counts.csv"),
        "cross,sire,dam,brood,dropped,axis,class,sex,count\n\
         K1,Lowmere-1,Tarnwick-1,K1-1,2025-08-09,red-body,full,,20\n\
         K2,K1-s,K1-d,K2-1,2026-01-10,red-body,full,,18\n",
    )
    .unwrap();
    ok(dir.path(), &["import", "counts", "counts.csv"]);
    dir
}

#[test]
fn kinship_of_a_small_family() {
    let dir = family();
    let found = json(dir.path(), &["kin", "K2-q", "K1-d", "--sire", "K2-q", "--dam", "K1-d", "--json"]);
    assert_eq!(found["schema"], "broodhue.kin/1");
    assert_eq!(found["fish"][0], serde_json::json!({ "fish": "K2-q", "inbreeding": 0.25 }));
    // Son and mother, the son of full sibs: 3/8 (check by hand: (k(s,d) + k(d,d)) / 2 = (1/4 + 1/2) / 2).
    assert_eq!(found["kinship"][0], serde_json::json!(["K2-q", "K1-d", 0.375]));
    assert_eq!(found["planned"]["inbreeding"], 0.375);
    // With her own young of her son: ((1 + 0)/2 + 3/8)/2; all genes from the two founders of K1.
    assert_eq!(found["planned"]["kinship_with_dam"], 0.4375);
    let shares =
        serde_json::json!([{ "founder": "Lowmere-1", "share": 0.5 }, { "founder": "Tarnwick-1", "share": 0.5 }]);
    assert_eq!((&found["planned"]["founder_shares"], &found["planned"]["effective_breeders"]), (&shares, &2.0.into()));
    assert_eq!(found["founder_shares"][0]["share"], 0.5);
    assert_eq!(found["effective_breeders"]["number"], 2.0);
    let table = ok(dir.path(), &["kin"]);
    assert!(table.contains("K2-q") && table.contains("0.2500"), "{table}");
    let (_, message, code) = outcome(broodhue(dir.path()).args(["kin", "nobody"]));
    assert_eq!(code, 1);
    assert!(message.contains("nobody"), "{message}");
}

#[test]
fn two_fish_of_a_photo_need_no_book() {
    let dir = tempfile::tempdir().unwrap();
    let tray = sample("K2-1-tray-a.jpg");
    let (a, b) = (format!("{tray}#1"), format!("{tray}#3"));
    let found = json(dir.path(), &["lighter", &a, &b, "--json"]);
    assert_eq!(found["schema"], "broodhue.lighter/1");
    assert_eq!(found["unit"], "two fish within one photo");
    assert_eq!(found["a"]["fish"], 1);
    let number = |key: &str| found[key].as_f64().unwrap();
    assert!(number("low") <= number("difference") && number("difference") <= number("high"));
    let swapped = json(dir.path(), &["lighter", &b, &a, "--json"]);
    assert!((swapped["difference"].as_f64().unwrap() + number("difference")).abs() < 1e-3);
    let (_, message, code) = outcome(broodhue(dir.path()).args(["lighter", &a, &a]));
    assert_eq!(code, 2);
    assert!(message.contains(&format!("{a} stands on both sides")), "{message}");
    let (_, message, code) = outcome(broodhue(dir.path()).args(["lighter", &format!("{tray}#999"), &b]));
    assert_eq!(code, 1);
    assert!(message.contains("no fish 999"), "{message}");
}

/// Without the card's size a crumb of this photo passes for a fish, and its numbers are others than the book's.
#[test]
fn a_photo_of_the_book_keeps_its_numbers() {
    let dir = family();
    let folder = dir.path();
    ok(folder, &["book", "set", "--card-pitch-mm", "12.4"]);
    let tray = sample("K1-1.jpg");
    let (a, b) = (format!("{tray}#1"), format!("{tray}#9"));
    let unknown = json(folder, &["lighter", &a, &b, "--json"]);
    let kept = json(folder, &["score", &tray, "--brood", "K2-1", "--sitting", "2026-08-01", "--json"]);
    let lightness = |n: u64| {
        let fish = kept["fish"].as_array().unwrap().iter().find(|f| f["n"] == n).unwrap();
        fish["trunk"]["lightness"].as_f64().unwrap()
    };
    let known = json(folder, &["lighter", &a, &b, "--json"]);
    let apart = lightness(1) - lightness(9);
    for found in [unknown, known] {
        assert!((found["difference"].as_f64().unwrap() - apart).abs() < 0.01, "{found} {apart}");
    }

    let refused = |args: &[&str]| {
        let (_, message, code) = outcome(broodhue(folder).arg("lighter").args(args));
        assert_eq!(code, 2, "{args:?}: {message}");
        message
    };
    assert!(refused(&["K1-1,K2-1", "K2-1"]).contains("K2-1 stands on both sides"));
    let shared = refused(&["K2-1", &a]);
    assert!(shared.contains(&format!("K2-1 and {a} have 1 fish in common")), "{shared}");
    let unheeded = refused(&["K2-1", "K2-1", "--drop", "5", "--card-pitch-mm", "3"]);
    assert!(unheeded.contains("no photo is measured here"), "{unheeded}");
}

#[test]
fn what_cannot_be_said_is_said() {
    let dir = family();
    let said = |args: &[&str], code: i32| {
        let (_, message, found) = outcome(broodhue(dir.path()).args(args));
        assert_eq!(found, code, "{args:?}: {message}");
        message
    };
    assert!(said(&["lighter", "K1-s", "K1-d"], 1).contains("no portrait of this fish can be read"));
    assert!(said(&["lighter", "nobody", "K1-d"], 1).contains("nobody: no fish and no single brood of this name"));
    let class = said(&["lighter", "K2-1/red-body=ful", "K2-1"], 1);
    assert!(class.contains("no readable fish of the latest sitting is confirmed as ful on red-body"), "{class}");
    assert!(said(&["lighter", "K1-s"], 2).contains("<B>"));
    assert!(said(&["lighter", "--groups", "K2-1"], 1).contains("too few"));
    assert!(said(&["lighter", "--groups", "K2-1", "--class", "nope=x"], 2).contains("no axis of this name"));
    assert!(said(&["lighter", "--groups", "K2-1", "--drop", "5"], 1).contains("no photo is measured here"));
    assert!(said(&["export", "measurements", "--view", "side"], 2).contains("only counts are taken from one view"));
    assert!(said(&["lighter", "--repeat"], 1).contains("photographed twice"));
    assert!(said(&["trend", "Nowhere"], 1).contains("Lowmere"));
    assert!(said(&["trend", "Lowmere"], 1).contains("no brood of this line"));
    let net = said(&["trend", "Lowmere", "--feature", "net"], 1);
    assert!(net.contains("10 pixels a millimetre") && !net.contains("score photos"), "{net}");
    assert!(said(&["trend", "Lowmere", "--feature", "beauty"], 2).contains("no feature 'beauty'"));
}
