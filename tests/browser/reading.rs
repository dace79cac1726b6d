//! What a person reads off the page and types into it: numbers in the tray, the broods on a phone, names, the scorer, how sure is sure enough.

use broodhue::book::broods::{self, NewBrood};
use broodhue::book::{Book, decisions};
use jiff::civil::date;
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

/// Numbers that are not wholly in the picture, that lie on each other, or over which something is drawn.
const HIDDEN: &str = "
    const picture = document.querySelector('.tray svg').getBoundingClientRect();
    const all = [...document.querySelectorAll('.tray .numbers text')];
    const box = (e) => e.getBoundingClientRect();
    const out = all.filter((e) => box(e).left < picture.left || box(e).right > picture.right
        || box(e).top < picture.top - 1 || box(e).bottom > picture.bottom + 1);
    const over = (a, b) => Math.min(a.right, b.right) - Math.max(a.left, b.left) > 1
        && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 4;
    const on = all.filter((e) => all.some((o) => o !== e && over(box(e), box(o))));
    const last = [...document.querySelectorAll('.tray svg polygon')].pop();
    const below = all.filter((e) => !(last.compareDocumentPosition(e) & Node.DOCUMENT_POSITION_FOLLOWING));
    return [...out, ...on, ...below].map((e) => e.textContent);";

#[test]
fn every_number_in_the_tray_can_be_read_on_any_screen() {
    for screen in [Screen::Laptop, Screen::Phone] {
        let Some(browser) = Browser::open(screen) else { return };
        let dir = tempfile::tempdir().unwrap();
        let (hash, _server) = opened(&browser, dir.path());
        let fish = seed::fish(dir.path(), &hash);
        assert_eq!(browser.number("document.querySelectorAll('.tray .numbers text').length"), fish.len() as f64);
        // Also once another fish is chosen, whose outline is drawn over the others.
        for id in [fish[0].id.number(), fish[7].id.number()] {
            browser.open_row(id);
            assert_eq!(browser.run(HIDDEN, &[]), json!([]));
        }
        // Each is nearer to its own fish than the fish is long.
        let far = "return [...document.querySelectorAll('g[data-region]')].filter((g) => {
            const n = [...document.querySelectorAll('.tray .numbers text')].find((t) => t.textContent === g.dataset.number);
            const [b, t] = [g.querySelector('polygon').getBBox(), n.getBBox()];
            const gap = (a, al, c, cl) => Math.max(0, a - c - cl, c - a - al);
            return Math.hypot(gap(b.x, b.width, t.x, t.width), gap(b.y, b.height, t.y, t.height)) > Math.max(b.width, b.height);
        }).length";
        assert_eq!(browser.run(far, &[]), json!(0));
        browser.run("document.querySelectorAll('details').forEach((d) => { d.open = true; })", &[]);
        assert_eq!(browser.text("document.documentElement.scrollWidth <= innerWidth"), "true");
    }
}

#[test]
fn all_broods_are_read_on_a_phone_without_moving_sideways() {
    let Some(browser) = Browser::open(Screen::Phone) else { return };
    let dir = tempfile::tempdir().unwrap();
    seed::book(dir.path(), "K2-1");
    let dropped = Some(date(2026, 1, 10));
    let new = NewBrood {
        name: "K2-2 of the second dam".into(),
        cross: "K2".into(),
        dropped_from: dropped,
        ..NewBrood::default()
    };
    Book::open(dir.path()).unwrap().write(|w| broods::add(w, &new)).unwrap();
    let server = Confirm::start(dir.path());
    browser.goto(&server.address);
    browser.wait("document.querySelector('#broods')");
    assert_eq!(
        browser.text("document.getElementById('broods').scrollWidth <= document.getElementById('broods').clientWidth"),
        "true"
    );
    let off = "[...document.querySelectorAll('#broods caption, #broods tbody th, #broods td')].filter((e) =>
        e.getBoundingClientRect().left < 0 || e.getBoundingClientRect().right > innerWidth || e.scrollWidth > e.clientWidth + 1)
        .map((e) => e.textContent)";
    assert_eq!(browser.text(off), "");
    let words = "[...document.querySelectorAll('#broods tbody td.number')].map((e) => getComputedStyle(e, '::before').content).join()";
    assert!(browser.text(words).contains("Undecided ◇") && browser.text(words).contains("Set aside ▬"));
    let lines = "document.createRange && (() => { const r = document.createRange();
        r.selectNodeContents([...document.querySelectorAll('#broods td.day')].pop()); return r.getClientRects().length; })()";
    assert_eq!(browser.number(lines), 1.0, "a day stays on one line");
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
