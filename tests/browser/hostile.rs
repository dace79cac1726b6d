//! A hostile name of fish, brood, photo and scorer: shown as text, run by nobody.

use broodhue::book::photos::Subject;
use broodhue::book::{Book, fish};

use crate::brood::scored_by;
use crate::driver::{Browser, Screen};
use crate::seed::{self, HOSTILE};
use crate::serve::Confirm;

/// Writes down a fish of the hostile name with a portrait, and says the number of one region in it.
fn portrait(dir: &std::path::Path) -> i64 {
    let mut book = Book::open(dir).unwrap();
    let new = fish::NewFish { name: HOSTILE.into(), ..fish::NewFish::default() };
    book.write(|w| fish::add(w, &new, &seed::by("Nell"))).unwrap();
    let hash = seed::photo(&mut book, "K2-1-tray-b.jpg", &Subject::Portrait(HOSTILE.to_owned()));
    seed::fish(dir, &hash)[0].id.number()
}

#[test]
fn hostile_names_are_text() {
    let Some(browser) = Browser::open(Screen::Laptop) else { return };
    let dir = tempfile::tempdir().unwrap();
    let hash = seed::book(dir.path(), HOSTILE);
    let one = seed::fish(dir.path(), &hash)[0].id.number();
    let other = portrait(dir.path());
    scored_by(dir.path(), HOSTILE);
    let server = Confirm::start(dir.path());
    let shown = format!("document.body.innerText.includes({})", serde_json::Value::from(HOSTILE));
    let harmless = |place: &str| {
        assert_eq!(browser.text("document.querySelectorAll('img[src=\"x\"], [onerror]').length"), "0", "{place}");
        // The mark that turns the writing around stays inside its own element.
        let turned = "[...document.querySelectorAll('*')].filter((e) => [...e.childNodes].some((n) =>
            n.nodeType === 3 && n.data.includes('\\u202e'))).every((e) => ['BDI', 'OPTION', 'H1', 'TITLE'].includes(e.tagName))";
        assert_eq!(browser.text(turned), "true", "{place}");
    };
    browser.goto(&server.address);
    browser.wait(&shown);
    harmless("all broods");
    browser.click("tbody a");
    browser.wait("document.querySelector('li.here')");
    harmless("brood");
    browser.click("li button[data-do=accept]");
    assert!(browser.saved().contains("accepted"));
    browser.wait(&shown);
    harmless("scored by a hostile name");
    browser.goto(&server.at(&format!("/compare?a={one}&b={other}")));
    browser.wait(&shown);
    harmless("side by side");
}
