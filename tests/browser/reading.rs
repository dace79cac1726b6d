//! What a person reads off the page and types into it: names, the scorer, how sure is sure enough.

use broodhue::book::{Book, decisions};
use serde_json::json;

use crate::brood::scored_by;
use crate::driver::{Browser, Screen};
use crate::seed;
use crate::serve::Confirm;

fn opened(browser: &Browser, dir: &std::path::Path) -> (String, Confirm) {
    let hash = seed::book(dir, "K2-1");
    scored_by(dir, "Nell");
    let server = Confirm::start(dir);
    browser.goto(&server.address);
    browser.goto(&server.at("/brood/K2-1"));
    browser.wait("document.querySelector('li.here')");
    (hash, server)
}

fn type_into(browser: &Browser, id: &str, text: &str) {
    let script = "const e = document.getElementById(arguments[0]); e.focus(); e.select();";
    browser.run(script, &[json!(id)]);
    browser.type_in(text);
}

#[test]
fn the_scorer_and_how_sure_is_sure_enough_outlive_a_page_that_is_drawn_again() {
    let Some(browser) = Browser::open(Screen::Laptop) else { return };
    let dir = tempfile::tempdir().unwrap();
    let (hash, server) = opened(&browser, dir.path());
    type_into(&browser, "by", "Tom");
    type_into(&browser, "at-least", "97");
    browser.run("window.old = true", &[]);
    browser.click("button[data-do=accept-all]");
    browser.wait("!window.old && document.querySelector('li.here')");
    assert!(browser.saved().contains("accepted"));
    let typed = || {
        (browser.text("document.getElementById('by').value"), browser.text("document.getElementById('at-least').value"))
    };
    assert_eq!(typed(), ("Tom".to_owned(), "97".to_owned()));
    // On another page of the same tab too.
    browser.goto(&server.at("/"));
    browser.goto(&server.at("/brood/K2-1"));
    browser.wait("document.querySelector('li.here')");
    assert_eq!(typed().0, "Tom");
    let id = seed::fish(dir.path(), &hash)[0].id.number();
    browser.open_row(id);
    browser.click(&format!("#fish-{id} [data-axis=red-body] button[data-class=reduced]"));
    browser.saved();
    let log = decisions::latest(&Book::open(dir.path()).unwrap().read(), 9).unwrap();
    assert!(log.iter().filter(|d| ["accept", "correct"].contains(&d.what.as_str())).all(|d| d.by == "Tom"), "{log:?}");
}

#[test]
fn an_emptied_or_small_number_accepts_nothing() {
    let Some(browser) = Browser::open(Screen::Laptop) else { return };
    let dir = tempfile::tempdir().unwrap();
    let (hash, _server) = opened(&browser, dir.path());
    for typed in ["", "0.9", "0", "101", "-90"] {
        browser.run("document.getElementById('at-least').value = arguments[0]", &[json!(typed)]);
        browser.run("document.getElementById('saved').textContent = ''", &[]);
        browser.click("button[data-do=accept-all]");
        browser.wait("/^NOT accepted: .*from 50 to 100/.test(document.getElementById('saved').textContent)");
        assert_eq!(browser.text("document.activeElement.id"), "at-least", "{typed:?}");
    }
    assert!(seed::fish(dir.path(), &hash).iter().all(|r| r.classes.is_empty()));
}

#[test]
fn a_brood_keeps_its_name_as_it_was_given() {
    let Some(browser) = Browser::open(Screen::Laptop) else { return };
    let dir = tempfile::tempdir().unwrap();
    let (_hash, _server) = opened(&browser, dir.path());
    browser.keys(&['c']);
    browser.wait("/^A is fish \\d+ of brood K2-1\\./.test(document.getElementById('saved').textContent)");
}
