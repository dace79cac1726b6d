//! Photos in: from the phone beside the tank behind its code, by the file picker, and dropped on the page.

use std::net::{IpAddr, Ipv4Addr};
use std::path::{Path, PathBuf};
use std::sync::mpsc;

use broodhue::book::broods::{self, NewBrood};
use broodhue::book::{Book, photos};
use broodhue::web::{self, Announced, Options, Patience, Phone, Secrets};
use serde_json::{Value, json};

use crate::driver::{Browser, Screen};
use crate::seed;
use crate::serve::Confirm;

fn picture(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-images").join(name)
}

fn names_of_photos(dir: &Path) -> Vec<String> {
    photos::list(&Book::open(dir).unwrap().read()).unwrap().into_iter().map(|p| p.name).collect()
}

/// Serves the book with the door for phones open on this machine alone; the runtime ends the server when it is dropped.
pub(super) fn with_a_door(dir: &Path) -> (tokio::runtime::Runtime, Phone) {
    let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build().unwrap();
    let secrets = Secrets { token: "a1".repeat(32), session: "b2".repeat(32), code: [7; 8] };
    let lan = Some(IpAddr::V4(Ipv4Addr::LOCALHOST));
    let (now, today, patience) = (jiff::Timestamp::now, || jiff::ZonedDateTime::now().date(), Patience::default());
    let options = Options { port: 0, lan, secrets, now, today, patience };
    let book = Book::open(dir).unwrap();
    let (tell, told) = mpsc::channel();
    let announce = move |said: &Announced| tell.send(said.phone.clone()).unwrap();
    runtime.spawn(web::serve(book, options, announce, std::future::pending()));
    let phone = told.recv().unwrap().unwrap();
    (runtime, phone)
}

#[test]
fn a_phone_uploads_behind_its_code_and_reaches_nothing_else() {
    let Some(browser) = Browser::open(Screen::Phone) else { return };
    let dir = tempfile::tempdir().unwrap();
    seed::book(dir.path(), "K2-1");
    let (_server, phone) = with_a_door(dir.path());
    browser.goto(&phone.address);
    browser.click("#code");
    browser.type_in("wrong");
    browser.click("button.main");
    browser.wait("document.body.innerText.includes('This code is wrong')");
    // As it is scanned from the terminal: address and code in one.
    browser.goto(&phone.both);
    choose(&browser, "K2-1");
    browser.pick_file("input[type=file]", &picture("K2-1-tray-b.jpg"));
    browser.wait("/kept with brood K2-1/.test(document.getElementById('uploads').textContent)");
    assert_eq!(names_of_photos(dir.path()), ["K2-1-tray-a.jpg", "K2-1-tray-b.jpg"]);
    assert!(browser.number("document.documentElement.scrollWidth") <= 390.0);
    let status = "const [path, done] = arguments; fetch(path).then((answer) => done(answer.status));";
    for path in ["/brood/K2-1", "/scorers", "/latest", "/page.js", "/picture/0"] {
        assert_eq!(browser.run_async(status, &[json!(path)]), json!(404), "{path}");
    }
}

/// Chooses a brood for the photos.
fn choose(browser: &Browser, brood: &str) {
    let script = "const s = document.getElementById('upload-brood'); s.value = arguments[0]; s.dispatchEvent(new Event('change'));";
    browser.run(script, &[json!(brood)]);
}

/// Drops a file on the page as a person does: the browser hands it over in a drop event.
const DROP: &str = "
    const [name, bytes] = arguments;
    const data = new DataTransfer();
    data.items.add(new File([Uint8Array.from(atob(bytes), (c) => c.charCodeAt(0))], name));
    const drop = document.querySelector('.drop');
    for (const kind of ['dragover', 'drop']) drop.dispatchEvent(new DragEvent(kind, { dataTransfer: data, bubbles: true, cancelable: true }));";

#[test]
fn photos_are_picked_and_dropped() {
    let Some(browser) = Browser::open(Screen::Laptop) else { return };
    let dir = tempfile::tempdir().unwrap();
    seed::book(dir.path(), "K2-1");
    let server = Confirm::start(dir.path());
    browser.goto(&server.address);
    browser.wait("document.querySelector('.drop')");
    // What is picked before its brood is chosen waits for that.
    browser.pick_file("input[type=file]", &picture("K2-1-tray-b.jpg"));
    browser.wait("/^NOT sent yet: choose the brood of K2-1-tray-b.jpg/.test(document.querySelector('#uploads .warn').textContent)");
    assert_eq!(names_of_photos(dir.path()), ["K2-1-tray-a.jpg"]);
    choose(&browser, "K2-1");
    browser.wait(
        "/K2-1-tray-b.jpg: kept with brood K2-1 on 2026-03-07/.test(document.getElementById('uploads').textContent)",
    );
    // No photo at all, with a name that would be a path.
    browser.run(DROP, &[json!("..\\x/<b>notes.txt"), Value::from("bm8gcGhvdG8=")]);
    browser.wait("document.querySelectorAll('#uploads .warn').length === 1");
    assert!(browser.text("document.querySelector('#uploads .warn').textContent").contains("hint"));
    assert_eq!(browser.text("document.querySelectorAll('#uploads b').length"), "0");
    assert_eq!(names_of_photos(dir.path()), ["K2-1-tray-a.jpg", "K2-1-tray-b.jpg"]);
    browser.click("#uploads a");
    browser.wait("document.querySelector('li.here') && document.body.innerText.includes('Photos of this sitting')");
}

/// Whoever goes on to the next brood while photos are still on their way finds each with the brood it was put in for, and the table as it
/// is by then.
#[test]
fn photos_go_to_the_brood_and_day_that_were_chosen_when_they_came() {
    let Some(browser) = Browser::open(Screen::Laptop) else { return };
    let dir = tempfile::tempdir().unwrap();
    seed::book(dir.path(), "K2-1");
    let new = NewBrood { name: "K2-2".into(), cross: "K2".into(), ..NewBrood::default() };
    Book::open(dir.path()).unwrap().write(|w| broods::add(w, &new)).unwrap();
    let server = Confirm::start(dir.path());
    browser.goto(&server.address);
    browser.wait("document.querySelector('.drop')");
    assert_eq!(browser.text("document.getElementById('upload-brood').value"), "");
    let before = browser.text("document.querySelector('#broods tbody').innerText");
    let put = |file: &str, brood: &str, day: &str| {
        choose(&browser, brood);
        browser.run("document.getElementById('upload-day').value = arguments[0]", &[json!(day)]);
        let bytes = base64(&std::fs::read(picture(file)).unwrap());
        browser.run(DROP, &[json!(file), Value::from(bytes)]);
    };
    // Both at once, and then another choice before anything can have arrived.
    put("K2-1-tray-b.jpg", "K2-2", "2026-03-05");
    put("K2-1-later.jpg", "K2-1", "");
    choose(&browser, "K2-1");
    browser.wait("document.querySelectorAll('#uploads a').length === 2");
    let of = |name: &str| photos::named(&Book::open(dir.path()).unwrap().read(), name).unwrap().subject.to_string();
    assert_eq!(of("K2-1-tray-b.jpg"), "brood K2-2 on 2026-03-05");
    assert_eq!(of("K2-1-later.jpg"), "brood K2-1 on 2026-04-04");
    browser.wait("document.querySelectorAll('#broods tbody a').length === 2");
    assert_ne!(browser.text("document.querySelector('#broods tbody').innerText"), before);
    // A photo of the wrong brood is put right on its own page.
    browser.click("#uploads li:last-child a");
    browser.wait("document.querySelector('li.here')");
    browser.run("document.getElementById('by').value = 'Nell'", &[]);
    browser.click("details summary");
    browser.run("document.getElementById('to-brood').value = 'K2-2'", &[]);
    browser.click("button[data-do=elsewhere]");
    browser.wait("document.title.startsWith('Brood K2-2') && document.querySelector('li.here')");
    assert!(browser.saved().contains("K2-1-later.jpg shows brood K2-2 on 2026-04-04"));
    assert_eq!(of("K2-1-later.jpg"), "brood K2-2 on 2026-04-04");
}

/// Base64 (RFC 4648, section 4).
fn base64(bytes: &[u8]) -> String {
    const SIGNS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let four = |chunk: &[u8]| {
        let bits = (0..3).fold(0_usize, |bits, i| bits << 8 | usize::from(*chunk.get(i).unwrap_or(&0)));
        (0..4)
            .map(move |i| if i > chunk.len() { '=' } else { char::from(SIGNS[bits >> (18 - 6 * i) & 63]) })
            .collect::<String>()
    };
    bytes.chunks(3).map(four).collect()
}
