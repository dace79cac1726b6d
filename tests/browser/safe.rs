//! Nothing lost: a restart, a killed server, a disk that takes no more, a second tab.

use std::collections::BTreeMap;
use std::path::Path;

use serde_json::{Value, json};

use crate::brood::scored_by;
use crate::driver::{Browser, Screen};
use crate::seed;
use crate::serve::Confirm;

/// Opens the brood of a fresh book.
fn opened(browser: &Browser, dir: &Path, start: impl FnOnce(&Path) -> Confirm) -> (String, Confirm) {
    let hash = seed::book(dir, "K2-1");
    scored_by(dir, "Nell");
    let server = start(dir);
    browser.goto(&server.address);
    browser.goto(&server.at("/brood/K2-1"));
    browser.wait("document.querySelector('li.here')");
    (hash, server)
}

/// The class of each fish on one axis, as another program reads it from the book.
fn classes(dir: &Path, hash: &str, axis: &str) -> BTreeMap<i64, Option<String>> {
    let of = |r: &broodhue::book::regions::Region| r.classes.get(axis).map(|c| c.class().to_owned());
    seed::fish(dir, hash).iter().map(|r| (r.id.number(), of(r))).collect()
}

#[test]
fn undo_reaches_across_a_restart() {
    let Some(browser) = Browser::open(Screen::Laptop) else { return };
    let dir = tempfile::tempdir().unwrap();
    let (hash, mut server) = opened(&browser, dir.path(), Confirm::start);
    let id = seed::fish(dir.path(), &hash)[0].id.number();
    browser.open_row(id);
    for class in ["full", "reduced", "absent"] {
        browser.click(&format!("#fish-{id} [data-axis=red-body] button[data-class={class}]"));
        browser.saved();
    }
    server.kill();
    // The tab that stayed open says so when it is looked at again.
    browser.run("window.dispatchEvent(new Event('focus'))", &[]);
    browser.wait("/does not answer/.test(document.getElementById('saved').textContent)");
    let server = Confirm::start(dir.path());
    browser.goto(&server.address);
    browser.goto(&server.at("/brood/K2-1"));
    for left in [Some("reduced"), Some("full"), None] {
        browser.wait("document.querySelector('li.here')");
        browser.click("button[data-do=undo]");
        browser.saved();
        assert_eq!(classes(dir.path(), &hash, "red-body")[&id].as_deref(), left);
    }
    browser.click("button[data-do=undo]");
    browser.wait("/^Nothing is left to undo/.test(document.getElementById('saved').textContent)");
}

/// Presses one class button after another, as fast as they are answered, and keeps what the page said was saved.
const FIFTY: &str = "
    const [buttons, done] = [[...document.querySelectorAll('li .axis[data-axis] button[data-class]')], arguments[0]];
    window.acknowledged = [];
    const line = document.getElementById('saved');
    new MutationObserver(() => window.acknowledged.push(line.textContent)).observe(line, { childList: true });
    const chosen = buttons.filter((b) => !['undecided', 'not shown'].includes(b.dataset.class)).slice(0, 50);
    window.asked = chosen.map((b) => [Number(b.closest('li').dataset.number), b.dataset.axis, b.dataset.class]);
    const names = chosen.map((b) => `#${b.closest('li').id} button[data-axis='${b.dataset.axis}'][data-class='${b.dataset.class}']`);
    for (const name of names) document.querySelector(name).click();
    done();";

#[test]
fn a_server_killed_amid_fifty_decisions_loses_none_that_was_acknowledged() {
    let Some(browser) = Browser::open(Screen::Laptop) else { return };
    let dir = tempfile::tempdir().unwrap();
    let (hash, mut server) = opened(&browser, dir.path(), Confirm::start);
    browser.run_async(FIFTY, &[]);
    browser.wait("window.acknowledged.filter((t) => t.startsWith('Saved')).length >= 12");
    server.kill();
    browser.wait("/^NOT saved/.test(document.getElementById('saved').textContent)");
    browser.wait("window.acknowledged.filter((t) => /^(Saved|NOT)/.test(t)).length >= 50");
    let saved: Vec<String> =
        lines(&browser.run("return window.acknowledged.filter((t) => t.startsWith('Saved'))", &[]));
    assert!((12..50).contains(&saved.len()), "killed in the middle: {} of 50 saved", saved.len());
    assert!(browser.text("document.getElementById('saved').textContent").contains("broodhue does not answer"));

    // What the log holds, in order, by another connection.
    let log = rusqlite::Connection::open(dir.path().join("book.sqlite")).unwrap();
    let mut statement = log
        .prepare("SELECT r.n, c.axis, c.new FROM change c JOIN region r ON r.id = c.region_id WHERE c.field = 'class' ORDER BY c.id")
        .unwrap();
    let rows = statement.query_map([], |row| {
        Ok(format!("fish {}, {} {}", row.get::<_, i64>(0)?, row.get::<_, String>(1)?, row.get::<_, String>(2)?))
    });
    let kept: Vec<String> = rows.unwrap().collect::<Result<_, _>>().unwrap();
    let asked: Vec<String> = lines(&browser.run("return window.asked.map(([n, a, c]) => `fish ${n}, ${a} ${c}`)", &[]));
    // One more may have been written without its answer coming through; nothing else, and nothing out of order.
    assert!(kept.len() == saved.len() || kept.len() == saved.len() + 1, "{} saved, {} kept", saved.len(), kept.len());
    assert_eq!(kept, asked[..kept.len()]);
    for (said, kept) in saved.iter().zip(&kept) {
        assert!(said.contains(kept), "{said} stands in the log as {kept}");
    }
    assert_eq!(seed::fish(dir.path(), &hash).len(), 13);
}

fn lines(value: &Value) -> Vec<String> {
    value.as_array().unwrap().iter().map(|v| v.as_str().unwrap().to_owned()).collect()
}

#[test]
fn a_disk_that_takes_no_more_says_so_and_shows_nothing_as_saved() {
    let Some(browser) = Browser::open(Screen::Laptop) else { return };
    let dir = tempfile::tempdir().unwrap();
    let (hash, server) = opened(&browser, dir.path(), |dir| Confirm::start_on_a_full_disk(dir, 48));
    let fish: Vec<i64> = seed::fish(dir.path(), &hash).iter().map(|r| r.id.number()).collect();
    let mut saved = Vec::new();
    for id in &fish {
        browser.open_row(*id);
        browser.click(&format!("#fish-{id} [data-axis=red-body] button[data-class=reduced]"));
        browser.wait("/^(Saved|NOT)/.test(document.getElementById('saved').textContent)");
        if browser.text("document.getElementById('saved').textContent").starts_with("NOT saved") {
            let shown = format!("document.querySelector('#fish-{id} button[aria-pressed=true][data-class=reduced]')");
            assert_eq!(browser.text(&shown), "null", "what is not in the book does not show as chosen");
            break;
        }
        saved.push(*id);
    }
    assert!(!saved.is_empty() && saved.len() < fish.len(), "{} of {} fitted", saved.len(), fish.len());
    drop(server);
    let kept = classes(dir.path(), &hash, "red-body");
    for id in &fish {
        assert_eq!(kept[id].as_deref(), saved.contains(id).then_some("reduced"), "fish {id}");
    }
}

#[test]
fn a_second_tab_notices_what_the_first_decided() {
    let Some(browser) = Browser::open(Screen::Laptop) else { return };
    let dir = tempfile::tempdir().unwrap();
    let (hash, _server) = opened(&browser, dir.path(), Confirm::start);
    let fish = seed::fish(dir.path(), &hash);
    let [a, b, c] = [0, 1, 2].map(|i| fish[i].id.number());
    // Another tab, seen from the server: the same browser sends decisions that this page knows nothing of.
    let other = "const [body, done] = arguments;
        fetch(body.path, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) })
            .then((answer) => done(answer.status));";
    let place = json!({ "brood": "K2-1", "sitting": "2026-03-07", "photo": hash, "blind": false, "by": "Tove" });
    let send = |more: Value| {
        let mut body = place.clone();
        body.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        assert_eq!(browser.run_async(other, &[body]), json!(200));
    };
    send(json!({ "path": "/decide", "region": a, "axis": "red-body", "class": "absent" }));
    // The next decision here is kept, and the page is drawn again with both.
    browser.run("window.old = true", &[]);
    browser.open_row(b);
    browser.click(&format!("#fish-{b} [data-axis=red-body] button[data-class=full]"));
    browser.wait("!window.old && document.querySelector('li.here')");
    browser.saved();
    let pressed = |id: i64, class: &str| {
        browser.text(&format!(
            "document.querySelector('#fish-{id} [data-axis=red-body] [data-class={class}]').ariaPressed"
        ))
    };
    assert_eq!((pressed(a, "absent"), pressed(b, "full")), ("true".into(), "true".into()));
    // An outline that the other tab removed can no longer be scored here; nothing else happens.
    let n = fish[2].n;
    send(json!({ "path": "/mend", "correction": { "do": "drop", "n": n } }));
    browser.open_row(c);
    browser.click(&format!("#fish-{c} [data-axis=red-body] button[data-class=full]"));
    browser.wait("/^NOT saved.*no such fish/.test(document.getElementById('saved').textContent)");
    // Coming back to the tab is enough to see it as it is.
    browser.run("window.dispatchEvent(new Event('focus'))", &[]);
    browser.wait(&format!("document.querySelector('li.here') && !document.getElementById('fish-{c}')"));
    assert!(browser.text("document.getElementById('saved').textContent").contains("changed elsewhere"));
}
