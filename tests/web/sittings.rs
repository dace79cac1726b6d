//! Two sittings of one brood, and broods of one name.

use broodhue::book::broods::{self, NewBrood};
use broodhue::book::crosses::{self, NewCross};
use broodhue::book::photos::Subject;
use serde_json::{Value, json};

use super::client::Server;
use super::decisions::ask;
use super::seed;

#[test]
fn the_next_sitting_tells_what_the_open_ones_became() {
    let dir = tempfile::tempdir().unwrap();
    let first = seed::book(dir.path(), "K2-1");
    let mut book = broodhue::book::Book::open(dir.path()).unwrap();
    let day = jiff::civil::date(2026, 4, 4);
    let later = seed::photo(&mut book, "K2-1-later.jpg", &Subject::Sitting { brood: "K2-1".into(), day });
    drop(book);
    let (then, now) = (seed::fish(dir.path(), &first), seed::fish(dir.path(), &later));
    let server = Server::start(dir.path());
    let decide = |hash: &str, day: &str, region: i64, class: &str| {
        let said = json!({ "region": region, "axis": "red-body", "class": class, "sitting": day });
        assert_eq!(server.post("/decide", &ask(hash, "Nell", &said)).status, 200);
    };
    // Then: 3 full of which one moves out, the other 10 open. Now: 5 full, 2 absent.
    then[..3].iter().for_each(|r| decide(&first, "2026-03-07", r.id.number(), "full"));
    let gone = json!({ "region": then[0].id.number(), "gone": "moved" });
    assert_eq!(server.post("/gone", &ask(&first, "Nell", &gone)).status, 200);
    now[..5].iter().for_each(|r| decide(&later, "2026-04-04", r.id.number(), "full"));
    now[5..7].iter().for_each(|r| decide(&later, "2026-04-04", r.id.number(), "absent"));
    let left = json!({ "moved": 0, "died": 2, "on": "2026-03-20", "sex": null, "sitting": "2026-04-04" });
    let answer = server.post("/left", &ask(&later, "Nell", &left));
    assert_eq!(answer.status, 200, "{}", answer.body);
    let answer: Value = serde_json::from_str(&answer.body).unwrap();
    let since = answer["since"].as_str().unwrap();
    let line = since.split("<dt>").find(|l| l.starts_with("red-body<")).unwrap();
    // 5 + 1 - 3 = 3 of the open ones became full, 2 absent.
    for wanted in [
        "full <strong>+3</strong> (3 → 5, 1 left)",
        "absent <strong>+2</strong> (0 → 2)",
        "0 moved and 2 died unscored",
    ] {
        assert!(line.contains(wanted), "{wanted}: {line}");
    }
    assert!(line.contains("<dd>10 ("), "{line}");
    // At the first sitting there is nothing to compare with, and a blind scorer is told nothing.
    assert!(!server.get("/brood/K2-1?sitting=2026-03-07").body.contains("Since the last sitting"));
    assert!(!server.get("/brood/K2-1?by=Tove&blind=true").body.contains("Since the last sitting"));
    assert!(server.get("/brood/K2-1").body.contains("Since the last sitting, 2026-03-07"));
}

#[test]
fn two_crosses_may_have_a_brood_of_one_name() {
    let dir = tempfile::tempdir().unwrap();
    seed::book(dir.path(), "1");
    let mut book = broodhue::book::Book::open(dir.path()).unwrap();
    book.write(|w| {
        crosses::add(w, &NewCross { name: "K3".into(), ..NewCross::default() })?;
        broods::add(w, &NewBrood { name: "1".into(), cross: "K3".into(), ..NewBrood::default() })
    })
    .unwrap();
    let hash = seed::photo(
        &mut book,
        "K3-1.jpg",
        &Subject::Sitting { brood: "K3/1".into(), day: jiff::civil::date(2026, 8, 8) },
    );
    drop(book);
    let server = Server::start(dir.path());
    assert!(server.get("/").body.contains("/brood/K3%2F1"));
    let page = server.get("/brood/K3%2F1").body;
    assert!(page.contains(&hash) && page.contains("data-brood=\"K3/1\""), "{page}");
    let region = seed::fish(dir.path(), &hash)[0].id.number();
    let said =
        json!({ "brood": "K3/1", "sitting": "2026-08-08", "region": region, "axis": "red-body", "class": "full" });
    assert_eq!(server.post("/decide", &ask(&hash, "Nell", &said)).status, 200);
}
