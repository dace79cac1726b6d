//! What is kept is said to be saved, whatever another program does to the book in between.

use std::path::Path;

use broodhue::book::broods::{self, NewBrood};
use broodhue::book::crosses::{self, NewCross};
use broodhue::book::{Book, photos, settings};
use serde_json::{Value, json};

use super::client::Server;
use super::decisions::ask;
use super::seed;

/// Another cross gets a brood of the name of the one on the page, so that the name alone means neither any more.
fn another_of_the_name(dir: &Path, name: &str) {
    let new = NewBrood { name: name.into(), cross: "K3".into(), ..NewBrood::default() };
    Book::open(dir)
        .unwrap()
        .write(|w| {
            crosses::add(w, &NewCross { name: "K3".into(), ..NewCross::default() })?;
            broods::add(w, &new)
        })
        .unwrap();
}

fn answered(answer: &super::http::Answer) -> Value {
    assert_eq!(answer.status, 200, "{}", answer.body);
    serde_json::from_str(&answer.body).unwrap()
}

/// The brood as a page that is open now names it.
fn brood_on(page: &str) -> String {
    page.split("data-brood=\"").nth(1).unwrap().split('"').next().unwrap().to_owned()
}

#[test]
fn a_decision_stays_saved_when_the_name_of_the_brood_becomes_ambiguous() {
    let dir = tempfile::tempdir().unwrap();
    let hash = seed::book(dir.path(), "1");
    let server = Server::start(dir.path());
    let open = brood_on(&server.get("/brood/1").body);
    another_of_the_name(dir.path(), "1");
    let [first, second] = [0, 1].map(|i| seed::fish(dir.path(), &hash)[i].id.number());
    // By the bare name, as an older page still has it.
    let said = json!({ "brood": "1", "region": first, "axis": "red-body", "class": "absent" });
    let answer = answered(&server.post("/decide", &ask(&hash, "Nell", &said)));
    assert!(answer["saved"].as_str().unwrap().starts_with("Saved: fish 1"), "{answer}");
    assert_eq!(answer["reload"], true);
    let again = server.get(answer["at"].as_str().unwrap());
    assert_eq!(again.status, 200, "{}", again.body);
    assert!(again.body.contains("confirmed absent") && again.body.contains(&hash));
    // A page of today goes on as if nothing had happened.
    let said = json!({ "brood": open, "region": second, "axis": "red-body", "class": "full" });
    let answer = answered(&server.post("/decide", &ask(&hash, "Nell", &said)));
    assert_eq!(answer["reload"], false);
    assert!(answer["rows"][second.to_string()].as_str().unwrap().contains("confirmed full"));
    let left = json!({ "brood": open, "moved": 1, "died": 0, "on": "2026-03-08", "sex": null });
    answered(&server.post("/left", &ask(&hash, "Nell", &left)));
}

#[test]
fn a_decision_stays_saved_when_its_photo_is_set_aside_meanwhile() {
    let dir = tempfile::tempdir().unwrap();
    let hash = seed::book(dir.path(), "K2-1");
    let server = Server::start(dir.path());
    Book::open(dir.path()).unwrap().write(|w| photos::set_aside(w, &hash, Some("twice"), &seed::by("Tom"))).unwrap();
    let region = seed::fish(dir.path(), &hash)[0].id.number();
    let said = json!({ "region": region, "axis": "red-body", "class": "absent" });
    let answer = answered(&server.post("/decide", &ask(&hash, "Nell", &said)));
    assert_eq!((&answer["reload"], &answer["at"]), (&json!(true), &json!("/")), "the brood has no other photo");
    let class = seed::fish(dir.path(), &hash)[0].classes["red-body"].class().to_owned();
    assert_eq!(class, "absent");
}

#[test]
fn the_expected_ratio_stays_with_its_brood() {
    let dir = tempfile::tempdir().unwrap();
    let hash = seed::book(dir.path(), "1");
    let server = Server::start(dir.path());
    let ratio = "red-body: full 3, absent 1";
    answered(&server.post("/ratio", &ask(&hash, "Nell", &json!({ "brood": "1", "ratio": ratio }))));
    another_of_the_name(dir.path(), "1");
    let shown = || server.get("/brood/K2%2F1").body.contains(&format!("value=\"{ratio}\""));
    assert!(shown());
    // It is taken back for good, also where an older book keeps one under the bare name.
    let older = |w: &broodhue::book::Write<'_>| settings::set(w, "expected-ratio K2/1", ratio);
    Book::open(dir.path()).unwrap().write(older).unwrap();
    answered(&server.post("/ratio", &ask(&hash, "Nell", &json!({ "brood": "K2/1", "ratio": "" }))));
    assert!(!shown());
}

#[test]
fn the_expected_ratio_of_an_older_book_is_found() {
    let dir = tempfile::tempdir().unwrap();
    seed::book(dir.path(), "K2-1");
    let older = |w: &broodhue::book::Write<'_>| settings::set(w, "expected-ratio K2-1", "red-body: full 1, absent 1");
    Book::open(dir.path()).unwrap().write(older).unwrap();
    let page = Server::start(dir.path()).get("/brood/K2-1").body;
    assert!(page.contains("value=\"red-body: full 1, absent 1\""));
}

#[test]
fn who_is_behind_is_shown_what_others_decided_whatever_was_asked() {
    let dir = tempfile::tempdir().unwrap();
    let hash = seed::book(dir.path(), "K2-1");
    let server = Server::start(dir.path());
    let region = seed::fish(dir.path(), &hash)[0].id.number();
    let said = json!({ "region": region, "axis": "red-body", "class": "absent" });
    answered(&server.post("/decide", &ask(&hash, "Tove", &said)));
    let known: i64 = server.get("/latest").body.parse().unwrap();
    let asked = [
        ("/strip", json!({})),
        ("/ratio", json!({ "ratio": "red-body: full 3, absent 1" })),
        ("/left", json!({ "moved": 1, "died": 0, "on": "2026-03-08", "sex": null })),
        ("/sex", json!({ "region": region, "sex": "m" })),
    ];
    for (path, mut more) in asked {
        let latest: i64 = server.get("/latest").body.parse().unwrap();
        more["latest"] = json!(latest);
        assert_eq!(answered(&server.post(path, &ask(&hash, "Nell", &more)))["reload"], false, "{path}");
        more["latest"] = json!(known - 1);
        assert_eq!(answered(&server.post(path, &ask(&hash, "Nell", &more)))["reload"], true, "{path}");
    }
}

#[test]
fn less_than_half_sure_is_accepted_by_nobody() {
    let dir = tempfile::tempdir().unwrap();
    let hash = seed::book(dir.path(), "K2-1");
    let server = Server::start(dir.path());
    for at_least in [json!(0), json!(0.009), json!(0.49), json!(-1), json!(1.01), json!(90), json!(1e300), json!(null)]
    {
        let refused = server.post("/accept-all", &ask(&hash, "Nell", &json!({ "at_least": at_least })));
        assert!((400..500).contains(&refused.status), "{at_least}: {} {}", refused.status, refused.body);
    }
    assert!(seed::fish(dir.path(), &hash).iter().all(|r| r.classes.is_empty()));
    answered(&server.post("/accept-all", &ask(&hash, "Nell", &json!({ "at_least": 0.5 }))));
    let fish = seed::fish(dir.path(), &hash);
    let sure = |r: &broodhue::book::regions::Region| r.proposals.iter().filter(|p| p.confidence >= 0.5).count();
    assert!(fish.iter().any(|r| !r.classes.is_empty()) && fish.iter().all(|r| r.classes.len() <= sure(r)));
}
