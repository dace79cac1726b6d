//! A short sheet for one brood: what the book has on other axes stays and goes on by the rules it was scored by.

use std::fs;

use serde_json::Value;

use super::score::{book, json, ok, said};

const SHORT: &str = r#"
name = "red alone"
confidence = 0.9
[[axis]]
name = "red-body"
settled_age_days = 60
[[axis.class]]
name = "full"
when = [{ feature = "red_share.trunk", above = 0.10, margin = 0.01 }]
[[axis.class]]
name = "absent"
when = [{ feature = "red_share.trunk", below = 0.10, margin = 0.01 }]
"#;

fn counted(folder: &std::path::Path, axis: &str) -> Value {
    json(folder, &["counts", "--axis", axis, "--json"])
}

#[test]
fn young_fish_stay_too_young_on_the_axes_of_the_sheet_before() {
    let dir = book();
    let folder = dir.path();
    fs::write(folder.join("short.toml"), SHORT).unwrap();
    // Nineteen days before the sample was taken; the starting sheet's colours are settled at sixty.
    ok(folder, &["brood", "add", "K4-2", "--cross", "K4", "--dropped", "2026-07-20"]);
    ok(folder, &["score", "tray.jpg", "--brood", "K4-2"]);
    ok(folder, &["confirm", "--brood", "K4-2", "--accept", "--at-least", "0"]);
    let before = counted(folder, "red-finnage");
    assert!(before["rows"].as_array().unwrap().is_empty() && before["excluded"]["unsettled"].as_u64() > Some(10));
    let noted = said(folder, &["score", "--again", "--brood", "K4-2", "--sheet", "short.toml"]);
    assert!(noted.contains("no axis base, body-colour, red-finnage, yellow: there it proposes nothing"), "{noted}");
    assert_eq!(counted(folder, "red-finnage"), before);
    // The sheet of last time is used again without being named, which is no news.
    let silent = said(folder, &["score", "--again", "--brood", "K4-2"]);
    assert!(!silent.contains("no axis"), "{silent}");
}

#[test]
fn other_axes_stay_open_to_a_person_and_fish_never_asked_about_are_not_undecided() {
    let dir = book();
    let folder = dir.path();
    fs::write(folder.join("short.toml"), SHORT).unwrap();
    let first = said(folder, &["score", "tray.jpg", "--brood", "K4-1", "--sheet", "short.toml"]);
    assert!(!first.contains("no axis"), "a book's first sheet takes nothing from any: {first}");
    fs::write(folder.join("starting.toml"), broodhue::sheet::STARTING).unwrap();
    ok(folder, &["score", "--again", "--sheet", "starting.toml"]);
    ok(folder, &["score", "--again", "--sheet", "short.toml"]);
    ok(folder, &["confirm", "--photo", "tray.jpg", "--fish", "1", "--class", "yellow=absent"]);
    let fish = json(folder, &["book", "info", "--json"])["regions"].as_u64().unwrap();
    let yellow = counted(folder, "yellow");
    assert_eq!(yellow["rows"][0]["confirmed"], 1);
    let excluded = &yellow["excluded"];
    assert_eq!((&excluded["not_asked"], &excluded["undecided"]), (&(fish - 1).into(), &0.into()), "{excluded}");
    let words = ok(folder, &["counts", "--axis", "yellow"]);
    assert!(words.contains("measured with a sheet without this axis"), "{words}");
}
