//! Photos in: from the phone beside the tank behind its code, by the file picker, and dropped on the page.

use std::net::{IpAddr, Ipv4Addr};
use std::path::{Path, PathBuf};
use std::sync::mpsc;

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
    let options = Options { port: 0, lan, secrets, now: jiff::Timestamp::now, patience: Patience::default() };
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
    browser.pick_file("input[type=file]", &picture("K2-1-tray-b.jpg"));
    browser.wait("/kept with brood K2-1/.test(document.getElementById('uploads').textContent)");
    assert_eq!(names_of_photos(dir.path()), ["K2-1-tray-a.jpg", "K2-1-tray-b.jpg"]);
    assert!(browser.number("document.documentElement.scrollWidth") <= 390.0);
    let status = "const [path, done] = arguments; fetch(path).then((answer) => done(answer.status));";
    for path in ["/brood/K2-1", "/scorers", "/latest", "/page.js", "/picture/0"] {
        assert_eq!(browser.run_async(status, &[json!(path)]), json!(404), "{path}");
    }
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
    browser.pick_file("input[type=file]", &picture("K2-1-tray-b.jpg"));
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
