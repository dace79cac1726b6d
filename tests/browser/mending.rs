//! Mending in the photo: split, join, add, remove, and the card's corners, by mouse and by keys; the log takes it back.

use broodhue::book::regions::Region;
use broodhue::geometry::Point;
use fantoccini::key::Key;
use serde_json::json;

use crate::brood::scored_by;
use crate::driver::{Browser, Screen};
use crate::seed;
use crate::serve::Confirm;

/// Where a place of the photo lies in the window.
fn on_screen(browser: &Browser, p: Point) -> (f64, f64) {
    let script = "const m = document.querySelector('.tray svg').getScreenCTM();
        const p = new DOMPoint(arguments[0], arguments[1]).matrixTransform(m); return [p.x, p.y];";
    let at = browser.run(script, &[json!(p.x), json!(p.y)]);
    (at[0].as_f64().unwrap(), at[1].as_f64().unwrap())
}

/// The two places a quarter and three quarters along a fish, between the two farthest places of its outline.
fn halves(fish: &Region) -> [Point; 2] {
    let mut ends = (fish.outline[0], fish.outline[0]);
    for &a in &fish.outline {
        for &b in &fish.outline {
            if a.distance(b) > ends.0.distance(ends.1) {
                ends = (a, b);
            }
        }
    }
    [0.25, 0.75].map(|t| ends.0.lerp(ends.1, t))
}

/// The fish whose straight middle line surely lies inside it: the roundest of the long ones is of no use here.
fn straight(fish: &[Region]) -> &Region {
    let inside = |r: &&Region| halves(r).iter().all(|p| broodhue::geometry::polygon_contains(&r.outline, *p));
    fish.iter().filter(inside).max_by(|a, b| a.area_px.total_cmp(&b.area_px)).unwrap()
}

fn number_of_fish(browser: &Browser) -> f64 {
    browser.number("document.querySelectorAll('ol.notebook > li').length")
}

#[test]
fn a_fish_is_split_joined_again_and_the_log_takes_it_back() {
    let Some(browser) = Browser::open(Screen::Laptop) else { return };
    let dir = tempfile::tempdir().unwrap();
    let hash = seed::book(dir.path(), "K2-1");
    scored_by(dir.path(), "Nell");
    let server = Confirm::start(dir.path());
    browser.goto(&server.address);
    browser.goto(&server.at("/brood/K2-1"));
    browser.wait("document.querySelector('li.here')");
    let before = seed::fish(dir.path(), &hash);
    let whole = straight(&before);
    let id = whole.id.number();
    browser.open_row(id);
    browser.click(&format!("#fish-{id} details summary"));
    browser.click(&format!("#fish-{id} button[data-do=split]"));
    for p in halves(whole) {
        browser.point(&[on_screen(&browser, p)]);
    }
    assert!(browser.saved().contains("mended and measured again"));
    assert_eq!(number_of_fish(&browser), before.len() as f64 + 1.0);
    let parted = seed::fish(dir.path(), &hash);
    let new: Vec<&Region> = parted.iter().filter(|r| before.iter().all(|b| b.id != r.id)).collect();
    assert_eq!(new.len(), 2, "both halves are new fish: a score never moves to half a fish");
    assert!(new.iter().all(|r| r.flags.contains(&"by-hand".to_owned()) && r.area_px < whole.area_px));

    // By keys alone: the cross starts on the first half and is moved onto the second.
    browser.open_row(new[0].id.number());
    browser.keys(&['j']);
    browser.wait("document.querySelector('.aim')");
    let step = browser.number("document.querySelector('.tray svg').viewBox.baseVal.width") * 0.02;
    let middle = |r: &Region| Point::new((r.bounds.x0 + r.bounds.x1) / 2.0, (r.bounds.y0 + r.bounds.y1) / 2.0);
    let inside = |p: &Point| broodhue::geometry::polygon_contains(&new[1].outline, *p);
    let to = [new[1].centre].into_iter().chain(halves(new[1])).find(inside).unwrap();
    let from = middle(new[0]);
    for (way, key) in [(to.x - from.x, [Key::Left, Key::Right]), (to.y - from.y, [Key::Up, Key::Down])] {
        let key: char = key[usize::from(way > 0.0)].into();
        let coarse = (way.abs() / step).floor();
        let fine = ((way.abs() - coarse * step) / (step / 10.0)).round();
        browser.keys(&vec![key; coarse as usize]);
        for _ in 0..fine as usize {
            browser.keys_with_shift(key);
        }
    }
    // The cross may be set where nobody sees it.
    browser.run("document.querySelector('.tray svg').style.transform = 'translateX(-5000px)'", &[]);
    browser.keys(&[Key::Enter.into()]);
    assert!(browser.saved().contains("mended"));
    assert_eq!(number_of_fish(&browser), before.len() as f64);

    for left in [before.len() + 1, before.len()] {
        browser.keys(&['u']);
        browser.wait(&format!("document.querySelectorAll('ol.notebook > li').length === {left}"));
    }
    let after = seed::fish(dir.path(), &hash);
    assert!(after.iter().any(|r| r.centre.distance(whole.centre) < 1.0 && r.n == whole.n), "the whole fish is back");
}

#[test]
fn a_fish_is_removed_and_added_and_what_meets_nothing_is_refused() {
    let Some(browser) = Browser::open(Screen::Laptop) else { return };
    let dir = tempfile::tempdir().unwrap();
    let hash = seed::book(dir.path(), "K2-1");
    scored_by(dir.path(), "Nell");
    let server = Confirm::start(dir.path());
    browser.goto(&server.address);
    browser.goto(&server.at("/brood/K2-1"));
    let before = seed::fish(dir.path(), &hash);
    let gone = straight(&before).clone();
    browser.open_row(gone.id.number());
    browser.click(&format!("#fish-{} details summary", gone.id.number()));
    browser.click(&format!("#fish-{} button[data-do=remove]", gone.id.number()));
    browser.saved();
    assert_eq!(number_of_fish(&browser), before.len() as f64 - 1.0);
    browser.click("button[data-do=add]");
    browser.point(&[on_screen(&browser, gone.centre)]);
    browser.saved();
    assert_eq!(number_of_fish(&browser), before.len() as f64);
    let back = seed::fish(dir.path(), &hash);
    assert!(back.iter().any(|r| r.centre.distance(gone.centre) < 10.0), "the fish is found where it was pointed at");
    // Bare floor: nothing stands out there, so nothing is changed and the page says so.
    let bare = (1..40)
        .flat_map(|i| (1..30).map(move |j| Point::new(f64::from(i) * 50.0, f64::from(j) * 50.0)))
        .find(|p| back.iter().all(|r| r.centre.distance(*p) > 170.0) && p.x > 400.0 && p.x < 1500.0 && p.y > 900.0)
        .unwrap();
    browser.click("button[data-do=add]");
    browser.point(&[on_screen(&browser, bare)]);
    browser.wait("/^NOT saved.*nothing stands out/.test(document.getElementById('saved').textContent)");
    assert_eq!(seed::fish(dir.path(), &hash).len(), before.len());
}

#[test]
fn the_cards_corners_are_moved_and_moved_back() {
    let Some(browser) = Browser::open(Screen::Laptop) else { return };
    let dir = tempfile::tempdir().unwrap();
    let hash = seed::book(dir.path(), "K2-1");
    scored_by(dir.path(), "Nell");
    let server = Confirm::start(dir.path());
    browser.goto(&server.address);
    browser.goto(&server.at("/brood/K2-1"));
    let colour = || seed::fish(dir.path(), &hash)[0].features.trunk.unwrap().lightness;
    let (first, card) = (colour(), browser.text("document.querySelector('.desk').dataset.card"));
    let corner = |text: &str, i: usize| {
        let p: Vec<f64> = text.split(' ').nth(i).unwrap().split(',').map(|v| v.parse().unwrap()).collect();
        Point::new(p[0], p[1])
    };
    browser.click("button[data-do=card]");
    browser.wait("document.querySelectorAll('.corner.handle').length === 4");
    // Drag the first corner a little inwards, then choose another with a key and nudge it.
    let from = corner(&card, 0);
    let to = from.lerp(corner(&card, 2), 0.02);
    browser.point(&[on_screen(&browser, from), on_screen(&browser, to)]);
    browser.keys(&['2']);
    browser.keys_with_shift(Key::Down.into());
    browser.click("button[data-do=done]");
    assert!(browser.saved().contains("card moved"));
    let moved = browser.text("document.querySelector('.desk').dataset.card");
    assert!(corner(&moved, 0).distance(to) < 3.0, "{card} → {moved}");
    assert!(corner(&moved, 2).distance(corner(&card, 2)) < 0.2, "the corners that were left alone stay");
    assert!((colour() - first).abs() > 1e-6, "every fish is measured again");
    browser.keys(&['u']);
    browser.wait(&format!("document.querySelector('.desk').dataset.card === '{card}'"));
    assert!((colour() - first).abs() < 1e-6);
}
