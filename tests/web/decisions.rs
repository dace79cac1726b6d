//! Decisions made on the page: in the book when the answer comes, taken back across a restart, blind ones apart.

use std::path::Path;

use serde_json::{Value, json};

use super::client::Server;
use super::seed;

pub(super) fn ask(hash: &str, by: &str, more: &Value) -> Value {
    let mut all = json!({ "brood": "K2-1", "sitting": "2026-03-07", "photo": hash, "blind": false, "by": by });
    for (key, value) in more.as_object().unwrap() {
        all[key] = value.clone();
    }
    all
}

fn class(dir: &Path, hash: &str, region: i64, axis: &str) -> Option<String> {
    let fish = seed::fish(dir, hash);
    let one = fish.iter().find(|r| r.id.number() == region).unwrap();
    one.classes.get(axis).map(|c| c.class().to_owned())
}

#[test]
fn a_decision_is_in_the_book_when_the_page_says_saved() {
    let dir = tempfile::tempdir().unwrap();
    let hash = seed::book(dir.path(), "K2-1");
    let server = Server::start(dir.path());
    let region = seed::fish(dir.path(), &hash)[0].id.number();
    let said = json!({ "region": region, "axis": "red-body", "class": "absent" });
    let answer = server.post("/decide", &ask(&hash, "Nell", &said));
    assert_eq!(answer.status, 200, "{}", answer.body);
    let answer: Value = serde_json::from_str(&answer.body).unwrap();
    assert!(answer["saved"].as_str().unwrap().starts_with("Saved: fish 1, red-body absent"));
    assert!(answer["rows"][region.to_string()].as_str().unwrap().contains("confirmed absent"));
    assert_eq!(class(dir.path(), &hash, region, "red-body").as_deref(), Some("absent"));
    let wrong = json!({ "region": region, "axis": "red-body", "class": "purple" });
    let refused = server.post("/decide", &ask(&hash, "Nell", &wrong));
    assert_eq!((refused.status, refused.body.contains("its classes")), (400, true), "{}", refused.body);
    assert_eq!(server.post("/decide", &ask(&hash, " ", &said)).status, 400, "a decision needs a name");
}

#[test]
fn undo_goes_back_any_depth_across_a_restart() {
    let dir = tempfile::tempdir().unwrap();
    let hash = seed::book(dir.path(), "K2-1");
    let region = seed::fish(dir.path(), &hash)[0].id.number();
    let server = Server::start(dir.path());
    for class in ["absent", "reduced", "full"] {
        let said = json!({ "region": region, "axis": "red-body", "class": class });
        assert_eq!(server.post("/decide", &ask(&hash, "Nell", &said)).status, 200);
    }
    drop(server);
    let server = Server::start(dir.path());
    for left in [Some("reduced"), Some("absent"), None] {
        assert_eq!(server.post("/undo", &ask(&hash, "Nell", &json!({}))).status, 200);
        assert_eq!(class(dir.path(), &hash, region, "red-body").as_deref(), left);
    }
    let nothing = server.post("/undo", &ask(&hash, "Nell", &json!({})));
    assert!(nothing.body.contains("Nothing is left to undo"), "{}", nothing.body);
}

#[test]
fn a_blind_scorer_sees_and_touches_nothing_of_the_first() {
    let dir = tempfile::tempdir().unwrap();
    let hash = seed::book(dir.path(), "K2-1");
    let region = seed::fish(dir.path(), &hash)[0].id.number();
    let server = Server::start(dir.path());
    let first = json!({ "region": region, "axis": "red-body", "class": "full" });
    server.post("/decide", &ask(&hash, "Nell", &first));
    let second = json!({ "region": region, "axis": "red-body", "class": "absent", "blind": true });
    assert_eq!(server.post("/decide", &ask(&hash, "Tove", &second)).status, 200);
    assert_eq!(class(dir.path(), &hash, region, "red-body").as_deref(), Some("full"));
    let page = server.get("/brood/K2-1?by=Tove&blind=true").body;
    assert!(page.contains("your own score") && !page.contains("confirmed full") && !page.contains("state proposed"));
    let accept = json!({ "region": region, "blind": true });
    assert_eq!(server.post("/accept", &ask(&hash, "Tove", &accept)).status, 400);
    let both = server.get("/scorers").body;
    assert!(both.contains("0 of 1 fish in the same class"), "{both}");
    assert!(both.contains("kappa needs fish") && !both.contains("interval"), "{both}");
}

#[test]
fn two_fish_stand_side_by_side_with_a_verdict() {
    let dir = tempfile::tempdir().unwrap();
    let hash = seed::book(dir.path(), "K2-1");
    let server = Server::start(dir.path());
    let fish = seed::fish(dir.path(), &hash);
    let light = |r: &&broodhue::book::regions::Region| r.features.trunk.as_ref().map_or(0.0, |t| t.lightness);
    let palest = fish.iter().max_by(|a, b| light(a).total_cmp(&light(b))).unwrap().id.number();
    let darkest = fish.iter().min_by(|a, b| light(a).total_cmp(&light(b))).unwrap().id.number();
    let page = server.get(&format!("/compare?a={palest}&b={darkest}"));
    assert_eq!(page.status, 200, "{}", page.body);
    assert!(page.body.contains("lighter") && page.body.contains("CIEDE2000"), "{}", page.body);
    assert_eq!(server.get(&format!("/crop/{palest}?mm=30&px=0")).status, 200);
}
