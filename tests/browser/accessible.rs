//! Every view, light and dark, on a laptop and on a phone: axe-core finds nothing against WCAG 2.2 AA, and a picture is
//! kept where one is asked for.

use std::path::{Path, PathBuf};

use broodhue::book::photos::Subject;
use broodhue::book::{Book, scores};
use jiff::civil::date;
use serde_json::{Value, json};

use crate::brood::scored_by;
use crate::driver::{Browser, Screen, report};
use crate::phone::with_a_door;
use crate::seed;
use crate::serve::Confirm;

/// What is looked at, beside the breeder's names for it.
struct Views<'a> {
    browser: &'a Browser,
    axe: Option<String>,
    pictures: Option<PathBuf>,
    /// What axe-core found, a line each.
    found: Vec<String>,
    seen: usize,
}

/// axe-core by the tags of WCAG 2.0, 2.1 and 2.2 at levels A and AA, and its own good practice.
const AXE: &str = "
    const done = arguments[0];
    const tags = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22a', 'wcag22aa', 'best-practice'];
    axe.run(document, { runOnly: { type: 'tag', values: tags } }).then((result) =>
        done(result.violations.map((v) => v.id + ': ' + v.help + ' ' + v.nodes.slice(0, 3).map((n) => n.html + ' ' + n.failureSummary).join(' / '))));";

impl<'a> Views<'a> {
    /// `None` where neither a check nor pictures are asked for.
    fn of(browser: &'a Browser) -> Option<Self> {
        let axe = std::env::var_os("BROODHUE_AXE").map(|file| std::fs::read_to_string(file).unwrap());
        let pictures = std::env::var_os("BROODHUE_SCREENSHOTS").map(PathBuf::from);
        if axe.is_none() {
            report("skipped: BROODHUE_AXE does not name axe-core's axe.min.js, so accessibility is not checked");
        }
        (axe.is_some() || pictures.is_some()).then_some(Self { browser, axe, pictures, found: Vec::new(), seen: 0 })
    }

    /// Looks at the view that is open, light and dark.
    fn look(&mut self, name: &str) {
        for scheme in ["light", "dark"] {
            self.browser.prefer(scheme);
            self.seen += 1;
            if let Some(axe) = &self.axe {
                // Lines out of sight have no layout of their own yet; what is judged is how they look once they have.
                let all = "document.querySelectorAll('ol.notebook > li').forEach((l) => { l.style.contentVisibility = 'visible'; })";
                self.browser.run(all, &[]);
                self.browser.run(axe, &[]);
                let found = self.browser.run_async(AXE, &[]);
                self.found.extend(found.as_array().unwrap().iter().map(|v| format!("{name}, {scheme}: {v}")));
            }
            if let Some(folder) = &self.pictures {
                keep(&self.browser.screenshot(), &folder.join(format!("confirm-{name}-{scheme}.jpg")));
            }
        }
    }

    fn end(self) {
        if self.axe.is_some() {
            report(&format!("axe-core: {} views, {} violations", self.seen, self.found.len()));
        }
        assert!(self.found.is_empty(), "{}", self.found.join("\n"));
    }
}

/// Keeps a picture as a JPEG small enough to be kept with the sources.
fn keep(png: &[u8], to: &Path) {
    let picture = image::load_from_memory(png).unwrap().into_rgb8();
    let mut bytes = Vec::new();
    image::codecs::jpeg::JpegEncoder::new_with_quality(&mut bytes, 80).encode_image(&picture).unwrap();
    assert!(bytes.len() < 300_000, "{} has {} bytes", to.display(), bytes.len());
    std::fs::create_dir_all(to.parent().unwrap()).unwrap();
    std::fs::write(to, bytes).unwrap();
}

/// A brood of two sittings, the first scored and half of the second, one fish left since, some scored twice.
fn book(dir: &Path) -> [i64; 2] {
    let first = seed::book(dir, "K2-1");
    scored_by(dir, "Nell");
    let mut book = Book::open(dir).unwrap();
    let subject = Subject::Sitting { brood: "K2-1".into(), day: date(2026, 4, 4) };
    let second = seed::photo(&mut book, "K2-1-later.jpg", &subject);
    let (then, now) = (seed::fish(dir, &first), seed::fish(dir, &second));
    book.write(|w| {
        scores::accept(w, &scores::acceptable(&then, 0.0), None, &seed::by("Nell"))?;
        scores::set_gone(w, then[3].id, broodhue::book::fish::Gone::Moved, None, &seed::by("Nell"))?;
        scores::accept(w, &scores::acceptable(&now[..12], 0.5), None, &seed::by("Nell"))?;
        scores::set_aside(w, now[4].id, Some("deformed"), &seed::by("Nell"))?;
        for (fish, class) in
            now[..8].iter().zip(["full", "full", "absent", "full", "reduced", "full", "absent", "full"])
        {
            scores::opinion(w, fish.id, "red-body", class, &seed::by("Tove"))?;
        }
        Ok(())
    })
    .unwrap();
    [then[0].id.number(), now[1].id.number()]
}

#[test]
fn every_view_on_a_laptop_is_accessible() {
    let Some(browser) = Browser::open(Screen::Laptop) else { return };
    let Some(mut views) = Views::of(&browser) else { return };
    let dir = tempfile::tempdir().unwrap();
    let [a, b] = book(dir.path());
    let server = Confirm::start(dir.path());
    browser.goto(&server.address);
    browser.wait("document.querySelector('tbody a')");
    views.look("all-broods");
    browser.goto(&server.at("/brood/K2-1"));
    browser.wait("document.querySelector('li.here')");
    views.look("brood");
    browser.keys(&['?']);
    browser.wait("document.getElementById('help').open");
    views.look("keys");
    browser.click("#help button");
    browser.keys(&['x']);
    browser.wait("document.getElementById('aside').open");
    views.look("aside");
    browser.click("#aside button[type=button]");
    browser
        .run("document.querySelectorAll('main section:not(.strip) details').forEach((d) => { d.open = true; })", &[]);
    browser.click("button[data-do=card]");
    browser.wait("document.querySelector('.corner')");
    views.look("corners");
    browser.goto(&server.at("/brood/K2-1?by=Tove&blind=true"));
    browser.wait("document.querySelector('li.here')");
    views.look("blind");
    browser.goto(&server.at("/scorers"));
    browser.wait("document.querySelector('h2')");
    views.look("scorers");
    browser.goto(&server.at(&format!("/compare?a={a}&b={b}&anyway=true")));
    browser.wait("[...document.images].every((i) => i.complete && i.naturalWidth > 0)");
    views.look("side-by-side");
    views.end();
}

#[test]
fn every_view_on_a_phone_is_accessible() {
    let Some(browser) = Browser::open(Screen::Phone) else { return };
    let Some(mut views) = Views::of(&browser) else { return };
    let dir = tempfile::tempdir().unwrap();
    book(dir.path());
    let server = Confirm::start(dir.path());
    browser.goto(&server.address);
    browser.wait("document.querySelector('tbody a')");
    views.look("phone-all-broods");
    browser.goto(&server.at("/brood/K2-1"));
    browser.wait("document.querySelector('li.here')");
    views.look("phone-brood");
    browser.run("document.querySelector('li:nth-child(3)').scrollIntoView()", &[]);
    views.look("phone-fish");
    drop(server);
    let (_server, door) = with_a_door(dir.path());
    browser.goto(&door.address);
    browser.wait("document.getElementById('code')");
    views.look("phone-code");
    browser.goto(&door.both);
    browser.wait("document.getElementById('upload-brood')");
    views.look("phone-photos");
    views.end();
}

/// The check itself must be able to fail.
#[test]
fn axe_finds_a_planted_fault() {
    let Some(browser) = Browser::open(Screen::Laptop) else { return };
    let Some(views) = Views::of(&browser) else { return };
    let Some(axe) = &views.axe else { return };
    let dir = tempfile::tempdir().unwrap();
    seed::book(dir.path(), "K2-1");
    let server = Confirm::start(dir.path());
    browser.goto(&server.address);
    browser.run("document.body.append(document.createElement('button'))", &[]);
    browser.run(axe, &[]);
    let found = browser.run_async(AXE, &[]);
    assert_ne!(found, Value::Array(Vec::new()));
    assert!(found.to_string().contains(&json!("button-name").as_str().unwrap().to_owned()), "{found}");
}
