//! Undo on a brood's page stays with that brood, and says what it took back.

use broodhue::book::Book;
use broodhue::book::broods::{self, NewBrood};
use broodhue::book::photos::Subject;
use serde_json::{Value, json};

use super::client::Server;
use super::decisions::ask;
use super::seed;

#[test]
fn undo_stays_with_the_brood_of_the_page() {
    let dir = tempfile::tempdir().unwrap();
    let hash = seed::book(dir.path(), "K2-1");
    let mut book = Book::open(dir.path()).unwrap();
    let new = NewBrood { name: "K2-2".into(), cross: "K2".into(), ..NewBrood::default() };
    book.write(|w| broods::add(w, &new)).unwrap();
    let subject = Subject::Sitting { brood: "K2-2".into(), day: jiff::civil::date(2026, 3, 7) };
    let other = seed::photo(&mut book, "K2-1-tray-b.jpg", &subject);
    drop(book);
    let server = Server::start(dir.path());
    let [here, there] = [&hash, &other].map(|photo| seed::fish(dir.path(), photo)[2].id.number());
    let decide = |hash: &str, brood: &str, region: i64, class: &str| {
        let said = json!({ "brood": brood, "region": region, "axis": "red-body", "class": class });
        assert_eq!(server.post("/decide", &ask(hash, "Nell", &said)).status, 200);
    };
    decide(&hash, "K2-1", here, "absent");
    decide(&other, "K2-2", there, "full");
    let left = json!({ "brood": "K2-2", "moved": 2, "died": 0, "on": "2026-03-08", "sex": null });
    assert_eq!(server.post("/left", &ask(&other, "Nell", &left)).status, 200);
    let class = |hash: &str, region: i64| {
        let fish = seed::fish(dir.path(), hash);
        fish.iter().find(|r| r.id.number() == region).unwrap().classes.get("red-body").map(|c| c.class().to_owned())
    };
    let undo = |hash: &str, brood: &str| {
        let answer = server.post("/undo", &ask(hash, "Nell", &json!({ "brood": brood })));
        let answer: Value = serde_json::from_str(&answer.body).unwrap();
        answer["saved"].as_str().unwrap().to_owned()
    };
    let said = undo(&hash, "K2-1");
    for wanted in ["K2-1", "K2-1-tray-a.jpg", "fish 3", "red-body", "absent"] {
        assert!(said.contains(wanted), "{wanted}: {said}");
    }
    assert_eq!((class(&hash, here), class(&other, there).as_deref()), (None, Some("full")));
    let said = undo(&hash, "K2-1");
    assert!(said.contains("Nothing is left to undo for Nell in brood K2-1"), "{said}");
    assert_eq!(class(&other, there).as_deref(), Some("full"));
    let said = undo(&other, "K2-2");
    assert!(said.contains("K2-2") && said.contains("moved"), "{said}");
    assert_eq!(class(&other, there).as_deref(), Some("full"));
    assert!(undo(&other, "K2-2").contains("was full"));
    assert_eq!(class(&other, there), None);
}
