//! Photos in: with the breeder's own day, with the day that is said, put right where brood or day were wrong, and with a caution where a
//! new sitting takes the place of a confirmed one.

use std::path::Path;

use broodhue::book::broods::{self, NewBrood};
use broodhue::book::photos::{self, Subject};
use broodhue::book::{Book, scores};
use broodhue::sheet::{self, Sheet};
use jiff::civil::{Date, date};
use serde_json::{Value, json};

use super::client::Server;
use super::decisions::ask;
use super::http::Answer;
use super::seed;

/// A photo without the camera's own day.
const GREY: &[u8] = include_bytes!("../fixtures/grey.jpg");

fn send(server: &Server, query: &str, bytes: &[u8]) -> Answer {
    server.send(&format!("/photos?{query}"), "application/octet-stream", bytes)
}

fn sample(name: &str) -> Vec<u8> {
    std::fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-images").join(name)).unwrap()
}

fn add_brood(dir: &Path, name: &str, dropped: Option<Date>) {
    let new = NewBrood { name: name.into(), cross: "K2".into(), dropped_from: dropped, ..NewBrood::default() };
    Book::open(dir).unwrap().write(|w| broods::add(w, &new)).unwrap();
}

/// On Kiritimati the ninth has begun while it is still the eighth by universal time.
#[test]
fn today_is_the_breeder_s_own_day() {
    let dir = tempfile::tempdir().unwrap();
    seed::book(dir.path(), "K2-1");
    add_brood(dir.path(), "K2-2", Some(date(2226, 3, 9)));
    let server = Server::on(dir.path(), || date(2226, 3, 9));
    let kept = send(&server, "name=grey.jpg&brood=K2-2", GREY);
    assert_eq!(kept.status, 200, "{}", kept.body);
    assert!(kept.body.starts_with("kept with brood K2-2 on 2226-03-09: "), "{}", kept.body);
}

#[test]
fn the_day_that_is_said_comes_before_the_photo_s_own() {
    let dir = tempfile::tempdir().unwrap();
    seed::book(dir.path(), "K2-1");
    let server = Server::on(dir.path(), || date(2026, 6, 1));
    // Its camera says 7 March.
    let kept = send(&server, "name=tray.jpg&brood=K2-1&day=2026-03-05", &sample("K2-1-tray-b.jpg"));
    assert!(kept.body.starts_with("kept with brood K2-1 on 2026-03-05: "), "{}", kept.body);
    assert!(!kept.body.contains("Caution"), "an earlier sitting takes no later one's place: {}", kept.body);
    // Where the page leads from there: to this sitting, and not to the brood's latest.
    let address = kept.head.lines().find_map(|line| line.strip_prefix("content-location: ")).unwrap().trim();
    assert_eq!(address, "/brood/K2-1?sitting=2026-03-05");
    let (there, latest) = (server.get(address).body, server.get("/brood/K2-1").body);
    assert!(
        there.contains("data-sitting=\"2026-03-05\"") && !latest.contains("data-sitting=\"2026-03-05\""),
        "{there}"
    );
    let later = send(&server, "name=grey.jpg&brood=K2-1&day=2026-06-02", GREY);
    assert!(later.body.contains("\nCaution: 2026-06-02 is still to come"), "{}", later.body);
    assert_eq!(send(&server, "name=grey.jpg&brood=K2-1&day=soon", GREY).status, 400);
}

#[test]
fn a_photo_without_any_day_is_said_to_be_taken_for_today_s() {
    let dir = tempfile::tempdir().unwrap();
    seed::book(dir.path(), "K2-1");
    let server = Server::on(dir.path(), || date(2026, 6, 1));
    let undated = "the photo carries no day, so today, 2026-06-01, is taken for its sitting";
    let kept = send(&server, "name=grey.jpg&brood=K2-1", GREY);
    assert!(kept.body.contains(undated) && kept.body.contains("“Wrong brood or day?”"), "{}", kept.body);
    // The sample is in the book under the day that its camera gave it.
    let picture = image::load_from_memory(&sample("K2-1-tray-a.jpg")).unwrap();
    let mut stripped = std::io::Cursor::new(Vec::new());
    picture.write_to(&mut stripped, image::ImageFormat::Png).unwrap();
    let copy = send(&server, "name=copy.png&brood=K2-1", &stripped.into_inner());
    let caution = "\nCaution: copy.png looks like the photo K2-1-tray-a.jpg, which has its fish in the same places";
    assert!(copy.body.contains(undated) && copy.body.contains(caution), "{}", copy.body);
    let said = send(&server, "name=tray.jpg&brood=K2-1&day=2026-03-05", &sample("K2-1-tray-b.jpg"));
    assert!(!said.body.contains("carries no day"), "{}", said.body);
}

#[test]
fn who_takes_the_place_of_a_confirmed_sitting_is_told_and_can_be_put_right() {
    let dir = tempfile::tempdir().unwrap();
    let hash = seed::book(dir.path(), "K2-1");
    add_brood(dir.path(), "K2-2", None);
    let fish = seed::fish(dir.path(), &hash);
    let all = scores::acceptable(&fish, 0.0);
    Book::open(dir.path()).unwrap().write(|w| scores::accept(w, &all, None, &seed::by("Nell"))).unwrap();
    let server = Server::on(dir.path(), || date(2026, 11, 26));
    let kept = send(&server, "name=tray.jpg&brood=K2-1&day=2026-11-26", &sample("K2-1-tray-b.jpg"));
    let caution = "this sitting of 2026-11-26 takes the place of 2026-03-07, which is confirmed";
    assert!(kept.body.contains(caution), "{}", kept.body);
    let page = server.get("/brood/K2-1").body;
    assert!(page.contains("Wrong brood or day?") && page.contains("<option value=\"K2-2\">"), "{page}");
    let book = || Book::open(dir.path()).unwrap();
    let [wrong] = &photos::fitting(&book().read(), "tray.jpg").unwrap()[..] else { panic!("not one") };
    let region = seed::fish(dir.path(), &wrong.hash)[0].id.number();
    let place = |more: Value| {
        let mut all = ask(&wrong.hash, "Nell", &more);
        all["sitting"] = json!("2026-11-26");
        all
    };
    let said = json!({ "region": region, "axis": "red-body", "class": "full" });
    assert_eq!(server.post("/decide", &place(said)).status, 200);
    let there = json!({ "to_brood": "K2-2", "to_day": "2026-11-25" });
    let moved = server.post("/shows", &place(there.clone()));
    assert_eq!(moved.status, 200, "{}", moved.body);
    let moved: Value = serde_json::from_str(&moved.body).unwrap();
    assert!(moved["saved"].as_str().unwrap().contains("tray.jpg shows brood K2-2 on 2026-11-25"), "{moved}");
    let at = moved["at"].as_str().unwrap();
    let page = server.get(at).body;
    assert!(at.contains("K2-2") && page.contains("confirmed full") && page.contains(&wrong.hash), "{at}");
    let now = photos::find(&book().read(), &wrong.hash).unwrap().unwrap();
    assert_eq!(now.subject, Subject::Sitting { brood: "K2-2".into(), day: date(2026, 11, 25) });
    // What it was is in the log, and there once more is no move.
    let logged = broodhue::book::decisions::latest(&book().read(), 1).unwrap();
    assert!(logged[0].why.as_deref().unwrap().contains("was brood K2-1 on 2026-11-26"), "{logged:?}");
    assert_eq!(server.post("/shows", &place(there)).status, 400);
    let nowhere = json!({ "to_brood": "K9", "to_day": "2026-11-25" });
    assert_eq!(server.post("/shows", &place(nowhere)).status, 409);
    let blind = json!({ "to_brood": "K2-1", "to_day": "2026-11-25", "blind": true });
    assert_eq!(server.post("/shows", &place(blind)).status, 400);
    // Back again it stands over the confirmed sitting once more, now with a fish of its own that counts on one axis.
    let back = json!({ "to_brood": "K2-1", "to_day": "2026-11-26" });
    assert_eq!(server.post("/shows", &place(back)).status, 200);
}

/// Fry too young to show an axis are proposed nothing on it, wherever their photo was first put.
#[test]
fn a_photo_that_is_put_elsewhere_is_proposed_at_its_age_there() {
    let dir = tempfile::tempdir().unwrap();
    seed::book(dir.path(), "K2-1");
    add_brood(dir.path(), "K2-2", Some(date(2026, 3, 6)));
    add_brood(dir.path(), "K2-3", Some(date(2025, 6, 1)));
    let text = Sheet::starting().unwrap().text.replacen("settled_age_days", "from_age_days = 10\nsettled_age_days", 1);
    let sheet = sheet::parse("from-ten-days.toml", &text).unwrap();
    let mut book = Book::open(dir.path()).unwrap();
    let subject = Subject::Sitting { brood: "K2-1".into(), day: date(2026, 3, 7) };
    let hash = seed::photo_by(&mut book, "K2-1-tray-b.jpg", &subject, &sheet);
    drop(book);
    let server = Server::start(dir.path());
    let hidden_once_put_to = |brood: &str| {
        let there = json!({ "to_brood": brood, "to_day": "2026-03-07" });
        let answer = server.post("/shows", &ask(&hash, "Nell", &there));
        assert_eq!(answer.status, 200, "{}", answer.body);
        let fish = seed::fish(dir.path(), &hash);
        let hidden = |r: &broodhue::book::regions::Region| r.proposals.iter().any(|p| p.class == sheet::NOT_SHOWN);
        (fish.iter().filter(|r| hidden(r)).count(), fish.len())
    };
    let (of_the_old, fish) = hidden_once_put_to("K2-3");
    assert_eq!((of_the_old, fish > 0), (0, true));
    assert_eq!(hidden_once_put_to("K2-2"), (fish, fish));
}

#[test]
fn no_brood_is_chosen_beforehand_and_the_cautions_stand_beside_it() {
    let dir = tempfile::tempdir().unwrap();
    seed::book(dir.path(), "K2-1");
    let page = Server::start(dir.path()).get("/").body;
    let select = page.split("id=\"upload-brood\"").nth(1).unwrap().split("</select>").next().unwrap();
    let first = select.split("<option ").nth(1).unwrap();
    assert!(first.starts_with("value=\"\" selected"), "{select}");
    for wanted in ["id=\"upload-day\"", "for a few minutes only", "drip into the water", "fish vet"] {
        assert!(page.contains(wanted), "{wanted}");
    }
    // The page writes the name before it.
    let empty = send(&Server::start(dir.path()), "name=zero.jpg&brood=K2-1", b"");
    assert!(empty.body.starts_with("the file is empty"), "{}", empty.body);
    let none = send(&Server::start(dir.path()), "name=grey.jpg&brood=", GREY);
    assert_eq!(none.status, 409, "{}", none.body);
}

/// The same picture with a byte behind its end is another file, and its fish would count twice.
#[test]
fn a_picture_that_comes_in_again_as_another_file_is_said_to_look_alike() {
    let dir = tempfile::tempdir().unwrap();
    seed::book(dir.path(), "K2-1");
    let server = Server::start(dir.path());
    let mut again = sample("K2-1-tray-a.jpg");
    again.push(0);
    let kept = send(&server, "name=again.jpg&brood=K2-1", &again);
    let caution = "\nCaution: again.jpg looks like the photo K2-1-tray-a.jpg, which was taken in the same second";
    assert!(kept.status == 200 && kept.body.contains(caution), "{}", kept.body);
    let other = send(&server, "name=tray-b.jpg&brood=K2-1", &sample("K2-1-tray-b.jpg"));
    assert!(other.status == 200 && !other.body.contains("Caution"), "{}", other.body);
}
