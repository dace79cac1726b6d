//! Three hundred fish in one brood: how long a person waits, measured in the browser.

use broodhue::book::broods::{self, NewBrood};
use broodhue::book::crosses::{self, NewCross};
use broodhue::book::photos::Subject;
use broodhue::book::{Book, settings};
use broodhue::geometry::Point;
use broodhue::pipeline::keep::{self, Keeping, Known};
use broodhue::pipeline::{FishReport, Given, MeasureOptions};
use broodhue::sheet::Sheet;
use serde_json::json;

use crate::driver::{Browser, Screen, report};
use crate::seed;
use crate::serve::Confirm;

/// Fish of the brood.
const FISH: u32 = 300;

/// A book with a brood of [`FISH`] fish in one photo: the thirteen of the drawn tray again and again, each a little aside.
fn book(dir: &std::path::Path) -> String {
    let mut book = Book::create(dir).unwrap();
    let picture = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-images/K2-1-tray-a.jpg");
    let bytes = std::fs::read(picture).unwrap();
    let sheet = Sheet::starting().unwrap();
    let options = MeasureOptions { card_pitch_mm: Some(12.4), ..MeasureOptions::default() };
    let day = jiff::civil::date(2026, 3, 7);
    let given = Given { sheet: &sheet, empty: None };
    let mut ready = keep::read_ready("tray.jpg", &bytes, given, &options, &Known::default(), (None, day)).unwrap();
    let seen = ready.report.fish.clone();
    ready.report.fish = (0..FISH).map(|i| copy(&seen[i as usize % seen.len()], i)).collect();
    let subject = Subject::Sitting { brood: "K2-1".into(), day };
    let with = Keeping { name: "tray.jpg", bytes: &bytes, subject: &subject, sheet: &sheet, at: seed::by("Nell").at };
    book.write(|w| {
        settings::set(w, settings::SCORER, "Nell")?;
        crosses::add(w, &NewCross { name: "K2".into(), ..NewCross::default() })?;
        broods::add(w, &NewBrood { name: "K2-1".into(), cross: "K2".into(), ..NewBrood::default() })?;
        keep::keep(w, &ready, &with)
    })
    .unwrap();
    ready.report.hash
}

/// The same fish again, moved aside so that no two outlines are one.
fn copy(fish: &FishReport, i: u32) -> FishReport {
    let by = Point::new(f64::from(i % 20) * 37.0, f64::from(i / 20) * 31.0);
    let mut new = fish.clone();
    new.n = i + 1;
    new.centre = fish.centre + by;
    new.outline = fish.outline.iter().map(|p| *p + by).collect();
    new.bounds.x0 += by.x;
    new.bounds.x1 += by.x;
    new.bounds.y0 += by.y;
    new.bounds.y1 += by.y;
    new
}

/// Clicks a button and says how many milliseconds later the page shows the decision as saved and has drawn it.
const DECIDE: &str = "
    const [selector, done] = arguments;
    const line = document.getElementById('saved');
    const button = document.querySelector(selector);
    const start = performance.now();
    new MutationObserver((_, watch) => {
        if (!line.textContent.startsWith('Saved')) return;
        watch.disconnect();
        requestAnimationFrame(() => done(performance.now() - start));
    }).observe(line, { childList: true });
    button.click();";

#[test]
fn three_hundred_fish_are_quick() {
    let Some(browser) = Browser::open(Screen::Laptop) else { return };
    let dir = tempfile::tempdir().unwrap();
    let hash = book(dir.path());
    let server = Confirm::start(dir.path());
    browser.goto(&server.address);
    browser.goto(&server.at("/brood/K2-1"));
    browser.wait("document.querySelector('li.here') && performance.getEntriesByName('first-contentful-paint').length");
    assert_eq!(browser.number("document.querySelectorAll('ol.notebook > li').length"), f64::from(FISH));
    let painted = browser.number("performance.getEntriesByName('first-contentful-paint')[0].startTime");
    let whole = browser.number("performance.getEntriesByType('navigation')[0].loadEventEnd");

    let fish = seed::fish(dir.path(), &hash);
    let mut times: Vec<f64> = fish[..40]
        .iter()
        .map(|r| {
            let button = format!("#fish-{} [data-axis=red-body] button[data-class=reduced]", r.id.number());
            browser.run_async(DECIDE, &[json!(button)]).as_f64().unwrap()
        })
        .collect();
    times.sort_by(f64::total_cmp);
    let (middle, longest) = (times[times.len() / 2], times[times.len() - 1]);
    report(&format!(
        "{FISH} fish in the browser: first paint {painted:.0} ms, whole page {whole:.0} ms; a decision until it shows as \
         saved {middle:.0} ms in the median of {}, {longest:.0} ms at most",
        times.len()
    ));
    // The limits asked for are 1000 ms and 50 ms by a release build on a quiet machine (docs/performance.md); a build for
    // tests on a busy one gets several times as much.
    assert!(whole < 6000.0 && middle < 600.0);
}
