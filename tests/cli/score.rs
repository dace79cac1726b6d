//! `score` and `confirm` on a drawn tray: measured, proposed, agreed to, corrected, taken back, measured again.

use std::fs;
use std::path::Path;

use serde_json::Value;

use super::{broodhue, outcome};

pub(super) fn ok(folder: &Path, args: &[&str]) -> String {
    let (out, message, code) = outcome(broodhue(folder).args(args));
    assert_eq!(code, 0, "{args:?}: {message}");
    out
}

pub(super) fn json(folder: &Path, args: &[&str]) -> Value {
    serde_json::from_str(&ok(folder, args)).unwrap()
}

/// A book with cross K4 and its brood, and the drawn tray of that brood as `tray.jpg`.
pub(super) fn book() -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path();
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-images/K4-1.jpg");
    fs::copy(sample, folder.join("tray.jpg")).unwrap();
    ok(folder, &["book", "new", "--by", "Ann", "--card-pitch-mm", "12.4"]);
    ok(folder, &["cross", "add", "K4"]);
    ok(folder, &["brood", "add", "K4-1", "--cross", "K4", "--dropped", "2026-01-01"]);
    dir
}

fn red_body(folder: &Path, extra: &[&str]) -> Value {
    json(folder, &[&["counts", "--axis", "red-body", "--json"], extra].concat())
}

fn confirmed(counts: &Value) -> Vec<(String, u64)> {
    let rows = counts["rows"].as_array().unwrap();
    rows.iter().map(|r| (r["class"].as_str().unwrap().to_owned(), r["confirmed"].as_u64().unwrap())).collect()
}

#[test]
fn a_tray_is_scored_confirmed_corrected_and_measured_again() {
    let dir = book();
    let folder = dir.path();
    let line = json(folder, &["score", "tray.jpg", "--brood", "K4-1", "--json"]);
    assert_eq!(line["kept"]["sitting"], "2026-08-08", "the day the picture says it was taken");
    let fish = line["fish"].as_array().unwrap().len() as u64;
    assert!(fish >= 13, "{fish} of 14 drawn fish");

    let counts = red_body(folder, &[]);
    assert!(counts["rows"].as_array().unwrap().is_empty(), "score never confirms");
    let proposed = red_body(folder, &["--include-proposed"]);
    assert_eq!(proposed["includes_proposed"], true);
    assert!(proposed["rows"][0]["proposed"].as_u64().unwrap() >= 10);

    let shown = ok(folder, &["confirm", "--brood", "K4-1", "--accept", "--at-least", "0.8"]);
    assert!(shown.contains("red-body") && shown.contains("scores confirmed by Ann"), "{shown}");
    let agreed = confirmed(&red_body(folder, &[]));
    assert_eq!(agreed.len(), 1, "{agreed:?}");
    assert_eq!(agreed[0].0, "absent");

    let args = ["confirm", "--photo", "tray.jpg", "--fish", "1", "--class", "red-body=full", "--why", "seen by eye"];
    ok(folder, &args);
    assert_eq!(confirmed(&red_body(folder, &[])), [("absent".to_owned(), agreed[0].1 - 1), ("full".to_owned(), 1)]);
    let log = json(folder, &["export", "scores", "--json"]);
    let last = log["rows"].as_array().unwrap().last().unwrap();
    assert_eq!(
        (&last["by"], &last["from"], &last["to"], &last["why"]),
        (&"Ann".into(), &"absent".into(), &"full".into(), &"seen by eye".into())
    );

    let again = json(folder, &["score", "--again", "--json"]);
    assert_eq!(again["kept"]["changed"]["same"], fish);
    assert_eq!(confirmed(&red_body(folder, &[])), [("absent".to_owned(), agreed[0].1 - 1), ("full".to_owned(), 1)]);
    ok(folder, &["confirm", "--undo"]);
    assert_eq!(confirmed(&red_body(folder, &[])), agreed);
    ok(folder, &["confirm", "--photo", "tray.jpg", "--fish", "1", "--set-aside", "not of this brood"]);
    assert_eq!(red_body(folder, &[])["excluded"]["set_aside"], 1);
    ok(folder, &["book", "check"]);
}

#[test]
fn one_bad_photo_does_not_stop_the_others_and_a_photo_counts_once() {
    let dir = book();
    let folder = dir.path();
    fs::write(folder.join("text.jpg"), "no picture").unwrap();
    let args = ["score", "text.jpg", "missing.jpg", "tray.jpg", "--brood", "K4-1"];
    let (out, message, code) = outcome(broodhue(folder).args(args));
    let faults = message.lines().filter(|l| l.starts_with("broodhue: ")).count();
    assert_eq!((code, faults, message.lines().count()), (3, 2, 3), "{message}");
    assert!(message.contains("for a few minutes only"), "{message}");
    assert!(out.contains("nothing is confirmed yet"), "{out}");
    assert_eq!(json(folder, &["book", "info", "--json"])["photos"], 1);
    let (out, message, code) = outcome(broodhue(folder).args(["score", "tray.jpg", "--brood", "K4-1"]));
    assert!(code == 0 && out.is_empty() && message.contains("in the book already"), "{message}");
    ok(folder, &["brood", "add", "K4-2", "--cross", "K4"]);
    let (_, message, code) = outcome(broodhue(folder).args(["score", "tray.jpg", "--brood", "K4-2", "--again"]));
    assert!(code == 1 && message.contains("brood K4-1 on 2026-08-08"), "{message}");
}

#[test]
fn a_photo_of_another_brood_or_day_is_put_right_with_its_scores() {
    let dir = book();
    let folder = dir.path();
    ok(folder, &["cross", "add", "K5"]);
    ok(folder, &["brood", "add", "K5-1", "--cross", "K5"]);
    ok(folder, &["score", "tray.jpg", "--brood", "K5-1", "--sitting", "2026-08-01"]);
    ok(folder, &["confirm", "--photo", "tray.jpg", "--fish", "1", "--class", "red-body=absent"]);
    let (_, message, code) = outcome(broodhue(folder).args(["score", "tray.jpg", "--brood", "K4-1"]));
    assert!(code == 1 && message.contains("--instead") && !message.contains("a few minutes"), "{message}");
    let moved =
        json(folder, &["score", "tray.jpg", "--brood", "K4-1", "--sitting", "2026-08-08", "--instead", "--json"]);
    assert_eq!((&moved["kept"]["brood"], &moved["kept"]["sitting"]), (&"K4-1".into(), &"2026-08-08".into()));
    // The book has the photo, wherever its file is by now.
    fs::remove_file(folder.join("tray.jpg")).unwrap();
    let day = json(folder, &["score", "tray.jpg", "--sitting", "2026-08-09", "--instead", "--json"]);
    assert_eq!((&day["kept"]["brood"], &day["kept"]["sitting"]), (&"K4-1".into(), &"2026-08-09".into()));
    let counts = red_body(folder, &[]);
    assert_eq!((&counts["rows"][0]["cross"], &counts["rows"][0]["confirmed"]), (&"K4".into(), &1.into()), "{counts}");
    ok(folder, &["book", "check"]);
}

#[test]
fn what_is_not_typed_again_stays_as_it_was() {
    let dir = book();
    let folder = dir.path();
    // A tray without fish, of the sample's size: its own picture will do, for it leaves nothing that stands out.
    fs::copy(folder.join("tray.jpg"), folder.join("empty.jpg")).unwrap();
    let first = json(folder, &["score", "tray.jpg", "--brood", "K4-1", "--empty", "empty.jpg", "--json"]);
    let fish = |line: &Value| line["fish"].as_array().unwrap().len();
    assert!(fish(&first) < 3, "hardly anything differs from the empty tray");
    fs::remove_file(folder.join("empty.jpg")).unwrap();
    let again = json(folder, &["score", "--again", "--json"]);
    assert_eq!((fish(&again), &again["options"]["empty"]), (fish(&first), &first["options"]["empty"]));
    let edition =
        json(folder, &["score", "tray.jpg", "--brood", "K4-1", "--again", "--edition", "before-2014", "--json"]);
    assert_eq!(
        (&edition["options"]["card_pitch_mm"], &edition["options"]["empty"]),
        (&12.4.into(), &first["options"]["empty"])
    );
    let newer = json(folder, &["score", "tray.jpg", "--again", "--edition", "after-2014", "--json"]);
    assert_eq!(
        (&edition["options"]["edition"], &newer["options"]["edition"]),
        (&"before-2014".into(), &"after-2014".into())
    );
    ok(folder, &["book", "check"]);
    ok(folder, &["book", "backup", "safe.backup"]);
    ok(folder, &["book", "restore", "safe.backup", "--book", "back"]);
    let back = json(folder, &["score", "--again", "--json", "--book", "back"]);
    assert_eq!(fish(&back), fish(&edition));
    let afresh = json(folder, &["score", "--again", "--afresh", "--json"]);
    assert!(fish(&afresh) >= 13 && afresh["options"]["empty"].is_null(), "{afresh}");
    let hash = first["options"]["empty"].as_str().unwrap();
    fs::write(folder.join("back/originals").join(&hash[..2]).join(format!("{hash}.empty")), "scratched").unwrap();
    let (out, message, code) = outcome(broodhue(folder).args(["book", "check", "--book", "back"]));
    assert!(code == 1 && out.contains("empty tray"), "{out}{message}");
}

#[test]
fn without_the_cards_pitch_it_is_said_what_that_means() {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path();
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-images/K4-1.jpg");
    ok(folder, &["book", "new", "--by", "Ann"]);
    ok(folder, &["cross", "add", "K4"]);
    ok(folder, &["brood", "add", "K4-1", "--cross", "K4"]);
    let score = |args: &[&str]| outcome(broodhue(folder).args([&["score"], args].concat())).1;
    assert!(score(&[sample.to_str().unwrap(), "--brood", "K4-1"]).contains("book set --card-pitch-mm"));
    ok(folder, &["book", "set", "--card-pitch-mm", "12.4"]);
    let again = score(&["--again"]);
    assert!(!again.contains("pitch"), "{again}");
}

#[test]
fn numbers_go_with_broods_and_days_too() {
    let dir = book();
    let folder = dir.path();
    ok(folder, &["score", "tray.jpg", "--brood", "K4-1"]);
    let refused = |args: &[&str]| {
        let (_, message, code) =
            outcome(broodhue(folder).args([&["confirm", "--photo", "tray.jpg", "--fish", "3"], args].concat()));
        assert_eq!(code, 2, "{args:?}: {message}");
    };
    refused(&["--moved", "--died"]);
    refused(&["--moved", "5"]);
    refused(&["--moved", "--on", "2026-08-09"]);
    let said = ok(folder, &["confirm", "--photo", "tray.jpg", "--fish", "3", "--moved", "--by", "Ann"]);
    assert!(said.contains("fish 3: moved"), "{said}");
    let undone = ok(folder, &["confirm", "--undo", "--by", "Ann"]);
    assert!(undone.contains("of 'moved'"), "{undone}");
}

pub(super) fn said(folder: &Path, args: &[&str]) -> String {
    let (_, message, code) = outcome(broodhue(folder).args(args));
    assert_eq!(code, 0, "{args:?}: {message}");
    message
}

#[test]
fn what_is_typed_beside_accept_holds_and_nothing_goes_by_unheard() {
    let dir = book();
    let folder = dir.path();
    ok(folder, &["score", "tray.jpg", "--brood", "K4-1"]);
    let one = ["confirm", "--photo", "tray.jpg", "--fish", "1"];
    let typed = ["--accept", "--at-least", "0", "--class", "red-body=full", "--sex", "f"];
    let after = ok(folder, &[&one[..], &typed].concat());
    assert!(after.contains("red-body=full") && after.contains("sex f"), "{after}");
    assert_eq!(confirmed(&red_body(folder, &[])), [("full".to_owned(), 1)]);
    assert!(after.contains("body-colour="), "the other axes are agreed to: {after}");
    for (args, said) in [
        (&["--died", "2"][..], "of which brood or fish?"),
        (&["--sex", "f"], "of which fish?"),
        (&["--why", "x"], "goes with --accept"),
        (&["--accept"], "of which fish?"),
        (&["--brood", "K4-1", "--accept", "--sex", "f"], "of which fish?"),
        (&["--photo", "tray.jpg", "--accept", "--died"], "of which brood or fish?"),
        (&["--brood", "K4-1", "--on", "2026-08-08", "--accept"], "goes with --brood and"),
        (&["--brood", "K4-1", "--undo", "--accept"], "cannot be used with"),
    ] {
        let (_, message, code) = outcome(broodhue(folder).args([&["confirm"], args].concat()));
        assert!(code == 2 && message.contains(said), "{args:?}: {message}");
    }
}

#[test]
fn an_undo_names_what_came_back_and_keeps_to_its_brood() {
    let dir = book();
    let folder = dir.path();
    ok(folder, &["score", "tray.jpg", "--brood", "K4-1"]);
    ok(folder, &["brood", "add", "K4-2", "--cross", "K4", "--young", "9"]);
    ok(folder, &["confirm", "--photo", "tray.jpg", "--fish", "2", "--class", "red-body=full"]);
    ok(folder, &["confirm", "--brood", "K4-2", "--moved", "2", "--on", "2026-08-08"]);
    let undone = ok(folder, &["confirm", "--brood", "K4-1", "--undo"]);
    assert!(undone.contains("brood K4-1, tray.jpg: fish 2: red-body open (was full)\n"), "{undone}");
    let (_, message, code) = outcome(broodhue(folder).args(["confirm", "--brood", "K4-1", "--undo"]));
    assert!(code == 1 && message.contains("nothing left to take back of K4-1"), "{message}");
    ok(folder, &["brood", "set", "K4-2", "--young", "8"]);
    let (_, message, code) = outcome(broodhue(folder).args(["confirm", "--undo"]));
    assert!(code == 1 && message.contains("'K4-2: young 8 (was 9)' was written down"), "{message}");
    let undone = ok(folder, &["confirm", "--brood", "K4-2", "--undo"]);
    assert!(undone.contains("brood K4-2: 0 moved unscored (was 2)"), "{undone}");
}

#[test]
fn young_left_unscored_are_of_the_sittings_day() {
    let dir = book();
    let folder = dir.path();
    ok(folder, &["score", "tray.jpg", "--brood", "K4-1"]);
    let left = |args: &[&str]| said(folder, &[&["confirm", "--brood", "K4-1"], args].concat());
    let on = left(&["--died", "2"]);
    assert!(on.contains("2 died unscored on 2026-08-08") && !on.contains("nothing changes"), "{on}");
    assert_eq!(red_body(folder, &[])["excluded"]["died"], 2);
    let later = left(&["--died", "1", "--on", "2026-08-20"]);
    assert!(later.contains("nothing changes in the counts"), "{later}");
    ok(folder, &["brood", "set", "K4-1", "--young", "40"]);
    assert_eq!(red_body(folder, &[])["excluded"]["died"], 3, "of those that were not seen");
}

#[test]
fn a_scored_fish_that_is_mended_away_is_named_with_the_way_back() {
    let dir = book();
    let folder = dir.path();
    ok(folder, &["score", "tray.jpg", "--brood", "K4-1"]);
    ok(folder, &["confirm", "--photo", "tray.jpg", "--fish", "3", "--class", "red-body=full"]);
    let drop = ["score", "tray.jpg", "--again", "--drop", "3"];
    let line = "  fish 3: set aside (mended: not a fish), its score no longer counts; \
                `broodhue confirm --photo tray.jpg --fish 3 --bring-back` brings it back\n";
    let first = ok(folder, &drop);
    assert!(first.contains(line) && first.contains("confirmed of all others stays"), "{first}");
    let again = ok(folder, &["score", "--again"]);
    assert!(!again.contains("fish 3 of before"), "{again}");
    ok(folder, &["confirm", "--photo", "tray.jpg", "--fish", "3", "--bring-back"]);
    assert_eq!(confirmed(&red_body(folder, &[])), [("full".to_owned(), 1)]);
    let second = ok(folder, &drop);
    assert!(second.contains(line) && !second.contains("no fish 3"), "{second}");
    let counts = red_body(folder, &[]);
    assert!(confirmed(&counts).is_empty() && counts["excluded"]["set_aside"] == 1, "{counts}");
    ok(folder, &["confirm", "--photo", "tray.jpg", "--fish", "3", "--bring-back"]);
    let twice = said(folder, &["confirm", "--photo", "tray.jpg", "--bring-back"]);
    assert_eq!(twice, "tray.jpg: was not set aside\n");
}

#[test]
fn a_bad_photo_has_its_line_too() {
    let dir = book();
    let folder = dir.path();
    fs::write(folder.join("text.jpg"), "no picture").unwrap();
    let photos = ["text.jpg", "tray.jpg", "missing.jpg"];
    let lines = |args: &[&str]| -> Vec<Value> {
        let (out, _, code) = outcome(broodhue(folder).args([args, &photos, &["--json"]].concat()));
        assert_eq!(code, 3);
        out.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
    };
    let (scored, measured) = (lines(&["score", "--brood", "K4-1"]), lines(&["measure"]));
    let names: Vec<&str> = scored.iter().map(|line| line["photo"].as_str().unwrap()).collect();
    assert_eq!(names, photos);
    assert_eq!((&scored[0], &scored[2]), (&measured[0], &measured[2]));
}

/// A tray of a whole brood given as the portrait of one fish: it gets no class and no reading from it, and is told why.
#[test]
fn a_tray_is_no_portrait() {
    let dir = book();
    let folder = dir.path();
    ok(folder, &["fish", "add", "S", "--sex", "f"]);
    let said = |args: &[&str], code: i32| {
        let (_, message, found) = outcome(broodhue(folder).args(args));
        assert_eq!(found, code, "{args:?}: {message}");
        message
    };
    let warned = said(&["score", "tray.jpg", "--fish", "S"], 0);
    assert!(warned.contains("as a portrait it tells nothing of S") && warned.contains("--set-aside"), "{warned}");
    let refused = said(&["confirm", "--photo", "tray.jpg", "--accept"], 1);
    assert!(refused.contains("as a portrait it tells nothing of S"), "{refused}");
    ok(folder, &["confirm", "--photo", "tray.jpg", "--fish", "1", "--class", "red-body=absent"]);
    assert!(!ok(folder, &["fish", "list"]).contains("red-body"));
    assert!(said(&["lighter", "S", "tray.jpg#1"], 1).contains("as a portrait it tells nothing of S"));
}

#[test]
fn a_photo_that_is_in_the_book_has_its_line_as_it_is_kept() {
    let dir = book();
    let folder = dir.path();
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-images");
    fs::copy(samples.join("K3-1.jpg"), folder.join("new.jpg")).unwrap();
    let first = json(folder, &["score", "tray.jpg", "--brood", "K4-1", "--json"]);
    fs::write(folder.join("text.jpg"), "no picture").unwrap();
    let photos = ["new.jpg", "tray.jpg", "text.jpg"];
    let (out, _, code) =
        outcome(broodhue(folder).args([&["score", "--brood", "K4-1", "--json"][..], &photos].concat()));
    let lines: Vec<Value> = out.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert_eq!((code, lines.iter().map(|l| l["photo"].as_str().unwrap()).collect::<Vec<_>>()), (3, photos.to_vec()));
    let kept = &lines[1];
    for key in ["schema", "hash", "width", "height", "taken", "card", "kept", "options", "program", "sheet"] {
        assert_eq!(kept[key], first[key], "{key}");
    }
    assert!(kept["warnings"][0].as_str().unwrap().starts_with("in the book already with brood K4-1 on 2026-08-08"));
    let fish = |line: &Value| line["fish"].as_array().unwrap().clone();
    assert_eq!(fish(kept).len(), fish(&first).len());
    for (now, then) in fish(kept).iter().zip(fish(&first)) {
        assert_eq!(now.as_object().unwrap().len(), then.as_object().unwrap().len());
        for (key, value) in
            then.as_object().unwrap().iter().filter(|(key, _)| !key.contains("length_px") && *key != "heading")
        {
            assert_eq!(now[key], *value, "{key}");
        }
    }
}

#[test]
fn a_class_that_stands_already_is_said_to_and_makes_no_entry() {
    let dir = book();
    let folder = dir.path();
    let none = said(folder, &["score", "--again"]);
    assert!(none.contains("there is no photo to score"), "{none}");
    ok(folder, &["score", "tray.jpg", "--brood", "K4-1"]);
    let full = ["confirm", "--photo", "tray.jpg", "--fish", "1", "--class", "red-body=full"];
    assert!(ok(folder, &full).ends_with("(by Ann)\n"));
    let entries = || json(folder, &["book", "info", "--json"])["decisions"].clone();
    let before = entries();
    let again = [&full[..], &["--by", "Nell", "--why", "seen by eye"]].concat();
    let (out, message, code) = outcome(broodhue(folder).args(&again));
    let nothing = "tray.jpg fish 1: nothing changed: red-body is full already, by Ann; the reason is not kept\n";
    assert_eq!((code, message.as_str()), (0, nothing));
    assert!(!out.contains("Nell"), "{out}");
    ok(folder, &["confirm", "--photo", "tray.jpg", "--fish", "1", "--died"]);
    assert_ne!(entries(), before);
    let before = entries();
    for more in [&["--died"][..], &["--bring-back"]] {
        let note = said(folder, &[&["confirm", "--photo", "tray.jpg", "--fish", "1"][..], more].concat());
        assert!(note.contains("nothing changed"), "{note}");
    }
    assert_eq!(entries(), before);
    let both = said(folder, &[&full[..], &["--sex", "m", "--why", "seen"]].concat());
    assert!(!both.contains("nothing changed"), "{both}");
}
