//! A whole brood by keyboard alone, by mouse alone, and by touch on a phone.

use std::path::Path;

use broodhue::book::{Book, settings};
use broodhue::sheet::{NOT_SHOWN, UNDECIDED};
use fantoccini::key::Key;

use crate::driver::{Browser, Screen};
use crate::seed;
use crate::serve::Confirm;

/// Writes the scorer's name into the book, for who has no keyboard at hand.
pub(super) fn scored_by(dir: &Path, name: &str) {
    Book::open(dir).unwrap().write(|w| settings::set(w, settings::SCORER, name)).unwrap();
}

/// Whether every fish of the photo has a class on each of the five axes, or is set aside.
fn all_settled(dir: &Path, hash: &str) -> bool {
    let fish = seed::fish(dir, hash);
    let settled = |r: &broodhue::book::regions::Region| {
        let hidden = r.proposals.iter().filter(|p| p.class == NOT_SHOWN && !r.classes.contains_key(&p.axis)).count();
        r.set_aside.is_some() || r.classes.len() + hidden == 5
    };
    fish.iter().all(settled)
}

/// How many axes of the row at hand are without a class or a proposal to agree to.
const OPEN: &str = "document.querySelectorAll('li.here .axis .state.undecided').length";

#[test]
fn a_whole_brood_by_keyboard_alone() {
    let Some(browser) = Browser::open(Screen::Laptop) else { return };
    let dir = tempfile::tempdir().unwrap();
    let hash = seed::book(dir.path(), "K2-1");
    let server = Confirm::start(dir.path());
    browser.goto(&server.address);
    while !browser.text("document.activeElement.href").contains("/brood/") {
        browser.keys(&[Key::Tab.into()]);
    }
    browser.keys(&[Key::Enter.into()]);
    browser.wait("document.querySelector('li.here')");
    // Nobody has said who scores: the page asks before anything is sent.
    browser.keys(&['m']);
    browser.wait("document.activeElement.id === 'by'");
    browser.type_in("Nell");
    browser.keys(&[Key::Enter.into(), '?']);
    browser.wait("document.getElementById('help').open");
    browser.keys(&[Key::Escape.into()]);
    browser.wait("!document.getElementById('help').open");
    let number = browser.number("document.querySelectorAll('ol.notebook > li').length");
    let mut done = 0.0;
    while done < number {
        settle_one(&browser);
        done += 1.0;
    }
    // The last one after all is not of this brood.
    browser.keys(&['x']);
    browser.wait("document.getElementById('aside').open");
    browser.type_in("not of this brood");
    browser.keys(&[Key::Enter.into()]);
    assert!(browser.saved().contains("set aside"));
    assert!(all_settled(dir.path(), &hash));
    let aside: Vec<_> = seed::fish(dir.path(), &hash).into_iter().filter_map(|r| r.set_aside).collect();
    assert_eq!(aside, ["not of this brood"]);
    browser.keys(&['u']);
    browser.wait("document.querySelectorAll('ol.notebook > li[data-state=aside]').length === 0");
    assert!(seed::fish(dir.path(), &hash).iter().all(|r| r.set_aside.is_none()));
}

/// Gives the row at hand a sex, the second class wherever the sheet could not tell, and agrees to the rest.
fn settle_one(browser: &Browser) {
    browser.keys(&['f']);
    browser.saved();
    while browser.number(OPEN) > 0.0 {
        let mut turns = 0;
        while browser.number("document.querySelectorAll('li.here .axis.here .state.undecided').length") < 1.0 {
            browser.keys(&[Key::Right.into()]);
            turns += 1;
            assert!(turns < 6, "the arrow does not reach the open axis");
        }
        browser.keys(&['2']);
        browser.saved();
    }
    browser.keys(&[Key::Enter.into()]);
    browser.saved();
}

#[test]
fn a_whole_brood_by_mouse_alone() {
    let Some(browser) = Browser::open(Screen::Laptop) else { return };
    let dir = tempfile::tempdir().unwrap();
    by_pointer(&browser, dir.path());
}

#[test]
fn a_whole_brood_by_touch_on_a_phone() {
    let Some(browser) = Browser::open(Screen::Phone) else { return };
    let dir = tempfile::tempdir().unwrap();
    by_pointer(&browser, dir.path());
    assert_eq!(browser.number("window.innerWidth"), 390.0);
    assert!(browser.number("document.documentElement.scrollWidth") <= 390.0, "the page is wider than the phone");
    // WCAG 2.2, 2.5.8 asks for 24 pixels; wet fingers want more, and 40 is this page's own starting value.
    let small = "[...document.querySelectorAll('button, select, input, summary')].filter((e) => e.checkVisibility())
        .filter((e) => e.getBoundingClientRect().height < 40).map((e) => e.outerHTML).join('\\n')";
    assert_eq!(browser.text(small), "");
}

/// The whole brood with nothing but a pointer: agree to what is sure, choose where the sheet could not tell, agree to the
/// rest, set one aside.
fn by_pointer(browser: &Browser, dir: &Path) {
    let hash = seed::book(dir, "K2-1");
    scored_by(dir, "Nell");
    let server = Confirm::start(dir);
    browser.goto(&server.address);
    browser.wait("document.documentElement.scrollWidth <= innerWidth");
    browser.click("tbody a");
    browser.wait("document.querySelector('li.here')");
    browser.click("button[data-do=accept-all]");
    browser.saved();
    let open: Vec<i64> = seed::fish(dir, &hash).iter().filter(|r| r.classes.len() < 5).map(|r| r.id.number()).collect();
    assert!(!open.is_empty(), "the picture has fish that want a look");
    for &id in &open {
        browser.open_row(id);
        let fish = seed::fish(dir, &hash).into_iter().find(|r| r.id.number() == id).unwrap();
        for p in fish.proposals.iter().filter(|p| p.class == UNDECIDED) {
            browser.click(&format!("#fish-{id} .axis[data-axis={}] button:nth-child(2)", p.axis));
            browser.saved();
        }
        browser.click(&format!("#fish-{id} button[data-sex=f]"));
        browser.saved();
        browser.click(&format!("#fish-{id} button[data-do=accept]"));
        browser.saved();
    }
    assert!(all_settled(dir, &hash));
    let id = open[0];
    browser.open_row(id);
    browser.click(&format!("#fish-{id} button[data-do=aside]"));
    browser.run("document.getElementById('aside-why').value = 'counted twice'", &[]);
    browser.click("#aside button[type=submit]");
    assert!(browser.saved().contains("set aside"));
    browser.click(&format!("#fish-{id} button[data-do=back]"));
    assert!(browser.saved().contains("brought back"));
    browser.click("button[data-do=undo]");
    browser.saved();
    let back = seed::fish(dir, &hash).into_iter().find(|r| r.id.number() == id).unwrap();
    assert_eq!(back.set_aside.as_deref(), Some("counted twice"));
}
