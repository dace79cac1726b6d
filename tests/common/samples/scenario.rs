//! The invented breeder's records behind the sample pictures, written to `sample-images/scenario.json`.

use serde_json::{Value, json};

use super::record::PictureRecord;

/// The whole scenario: lines, founders and named young, crosses, broods, and each sitting's pictures with the
/// breeder's recorded answers.
pub fn scenario(pictures: &[PictureRecord]) -> Value {
    json!({
        "about": "Invented: no real breeder, line, fish or brood. Made for the demo, the documentation and the tests.",
        "goal": { "line": "Lowmere Pale", "axis": "red-body", "class": "absent" },
        "lines": ["Lowmere", "Tarnwick", "Farrow", "Lowmere Pale"],
        "fish": fish(),
        "crosses": crosses(),
        "broods": broods(),
        "sittings": sittings(pictures),
    })
}

fn fish() -> Value {
    let one =
        |fish: &str, sex: &str, line: Option<&str>, cross: Option<&str>, born: Option<&str>, red: &str, base: &str| {
            json!({ "fish": fish, "sex": sex, "line": line, "cross": cross, "born": born,
                "classes": { "red-body": red, "base": base } })
        };
    json!([
        one("Lowmere-1", "m", Some("Lowmere"), None, None, "full", "grey"),
        one("Tarnwick-1", "f", Some("Tarnwick"), None, None, "full", "blond"),
        one("Farrow-1", "m", Some("Farrow"), None, None, "full", "grey"),
        one("K1-s", "m", None, Some("K1"), Some("2025-08-09"), "full", "grey"),
        one("K1-d", "f", None, Some("K1"), Some("2025-08-09"), "full", "grey"),
        one("K2-p", "f", None, Some("K2"), Some("2026-01-10"), "absent", "grey"),
        one("K2-q", "m", Some("Lowmere Pale"), Some("K2"), Some("2026-01-10"), "absent", "blond"),
        one("K2-r", "f", Some("Lowmere Pale"), Some("K2"), Some("2026-01-10"), "absent", "blond"),
    ])
}

fn crosses() -> Value {
    let one = |cross: &str, sire: &str, dam: &str, from: &str, to: &str| json!({ "cross": cross, "sire": sire, "dams": [{ "dam": dam, "virgin": true, "from": from, "to": to }] });
    json!([
        one("K1", "Lowmere-1", "Tarnwick-1", "2025-07-05", "2025-08-16"),
        one("K2", "K1-s", "K1-d", "2025-11-29", "2026-02-14"),
        one("K3", "Farrow-1", "K2-p", "2026-04-25", "2026-06-06"),
        one("K4", "K2-q", "K2-r", "2026-04-25", "2026-06-06"),
    ])
}

fn broods() -> Value {
    let one = |brood: &str, cross: &str, from: &str, to: &str, dams: &[&str]| json!({ "brood": brood, "cross": cross, "dropped_from": from, "dropped_to": to, "possible_dams": dams });
    json!([
        one("K1-1", "K1", "2025-08-09", "2025-08-09", &["Tarnwick-1"]),
        one("K2-1", "K2", "2026-01-10", "2026-01-11", &["K1-d"]),
        one("K2-2", "K2", "2026-02-12", "2026-02-12", &["K1-d"]),
        one("K3-1", "K3", "2026-05-30", "2026-05-30", &["K2-p"]),
        one("K4-1", "K4", "2026-06-02", "2026-06-03", &["K2-r"]),
    ])
}

/// Pictures of one brood on one day are parts of one sitting.
fn sittings(pictures: &[PictureRecord]) -> Value {
    let mut all: Vec<(String, String, Vec<Value>)> = Vec::new();
    for p in pictures {
        let date = p.taken.split('T').next().unwrap_or_default().to_owned();
        let answers: Vec<Value> =
            p.fish.iter().map(|f| json!({ "centre": f.centre, "sex": f.sex, "classes": f.classes })).collect();
        let photo = json!({ "file": p.file, "card_pitch_mm": p.card_pitch_mm, "answers": answers });
        match all.iter_mut().find(|(b, d, _)| *b == p.brood && *d == date) {
            Some((.., photos)) => photos.push(photo),
            None => all.push((p.brood.clone(), date, vec![photo])),
        }
    }
    all.into_iter().map(|(brood, date, photos)| json!({ "brood": brood, "date": date, "photos": photos })).collect()
}
