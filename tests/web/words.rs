//! What the page says where something is not kept, or there is nothing to do: in the page's own words.

use broodhue::book::Book;
use broodhue::book::broods::{self, NewBrood};
use jiff::civil::date;
use serde_json::{Value, json};

use super::client::Server;
use super::decisions::ask;
use super::seed;

fn sample(name: &str) -> Vec<u8> {
    std::fs::read(std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-images").join(name)).unwrap()
}

/// The words of the program's own language or of its command line, which mean nothing on the page.
fn foreign(said: &str) -> bool {
    [" --", "deserialize", "i32", "column", "expected "].iter().any(|word| said.contains(word))
}

#[test]
fn a_ratio_that_names_what_is_not_there_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    let hash = seed::book(dir.path(), "K2-1");
    let server = Server::start(dir.path());
    let keep = |ratio: &str| server.post("/ratio", &ask(&hash, "Nell", &json!({ "ratio": ratio })));
    for (ratio, wanted) in [
        ("red-body: full 3 absent 1", "no class “full 3 absent”"),
        ("red-body: full 3, absnt 1", "its classes are absent, full, reduced"),
        ("red: full 3, absent 1", "no axis “red”; hint: its axes are base, body-colour, red-body"),
        ("red-body: full 2,5, absent 1", "a comma between two classes"),
        ("3:1", "write it as red-body: full 3, absent 1"),
    ] {
        let refused = keep(ratio);
        assert!(refused.status == 400 && refused.body.contains(wanted), "{ratio}: {}", refused.body);
        assert!(!server.get("/brood/K2-1").body.contains(&format!("value=\"{ratio}\"")), "{ratio} was kept");
    }
    for ratio in ["red-body: full 3, absent 1", "body-colour: none yet 3, red 1", ""] {
        assert_eq!(keep(ratio).status, 200, "{ratio}");
    }
}

#[test]
fn what_cannot_be_kept_is_said_in_the_page_s_words() {
    let dir = tempfile::tempdir().unwrap();
    let hash = seed::book(dir.path(), "K2-1");
    let dropped = Some(date(2026, 3, 1));
    let new = NewBrood {
        name: "K2-2".into(),
        cross: "K2".into(),
        dropped_from: dropped,
        dropped_to: dropped,
        ..NewBrood::default()
    };
    Book::open(dir.path()).unwrap().write(|w| broods::add(w, &new)).unwrap();
    let region = seed::fish(dir.path(), &hash)[0].id.number();
    let server = Server::start(dir.path());
    let left = |moved: Value, on: &str| json!({ "moved": moved, "died": 0, "on": on, "sex": null });
    for (path, body, wanted) in [
        ("/left", left(json!(1.5), "2026-03-08"), "1.5 is no number of fish"),
        ("/left", left(json!("many"), "2026-03-08"), "cannot be understood"),
        ("/left", left(json!(1), "soon"), "cannot be understood"),
        (
            "/left",
            json!({ "brood": "K2-2", "moved": 1, "died": 0, "on": "2026-02-01", "sex": null }),
            "but the brood was dropped",
        ),
        ("/aside", json!({ "region": region, "why": "  " }), "needs a reason"),
        ("/shows", json!({ "to_brood": "K2-2", "to_day": "2026-02-01" }), "before the brood was dropped"),
        ("/decide", json!({ "region": "x" }), "cannot be understood"),
    ] {
        let refused = server.post(path, &ask(&hash, "Nell", &body));
        assert!(refused.status >= 400 && refused.body.contains(wanted), "{path} {body}: {}", refused.body);
        assert!(!foreign(&refused.body), "{path} {body}: {}", refused.body);
    }
    let known =
        server.send("/photos?name=again.jpg&brood=K2-2", "application/octet-stream", &sample("K2-1-tray-a.jpg"));
    assert!(known.status == 409 && known.body.contains("already, with brood K2-1 on 2026-03-07"), "{}", known.body);
    let no_day = server.send("/photos?name=x.jpg&brood=K2-2&day=soon", "application/octet-stream", b"");
    assert!(no_day.status == 400 && !foreign(&no_day.body), "{}", no_day.body);
}

#[test]
fn an_undo_says_what_stands_and_saves_nothing_where_nothing_is_left() {
    let dir = tempfile::tempdir().unwrap();
    let hash = seed::book(dir.path(), "K2-1");
    let server = Server::on(dir.path(), || date(2026, 6, 1));
    let saved = |path: &str, more: &Value| -> String {
        let answer = server.post(path, &ask(&hash, "Nell", more));
        let answer: Value = serde_json::from_str(&answer.body).unwrap();
        answer["saved"].as_str().unwrap().to_owned()
    };
    for (moved, sex) in [(2, json!("f")), (3, json!("f"))] {
        saved("/left", &json!({ "moved": moved, "died": 0, "on": "2026-03-08", "sex": sex }));
    }
    let late = saved("/left", &json!({ "moved": 0, "died": 1, "on": "2026-06-02", "sex": null }));
    assert!(late.contains("1 died unscored. Caution: 2026-06-02 is still to come"), "{late}");
    for wanted in ["0 died unscored (was 1)", "2 females moved unscored (was 5)", "0 females moved unscored (was 2)"] {
        let said = saved("/undo", &json!({}));
        assert!(said.contains(&format!("taken back, so that now brood K2-1: {wanted}")), "{said}");
    }
    assert_eq!(saved("/undo", &json!({})), "Nothing is left to undo for Nell in brood K2-1.");
}
