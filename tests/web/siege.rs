//! The page under siege: many uploads at once, guessed tokens, requests that never end or are far too large. All of it is
//! refused or waits its turn, memory stays flat, and the breeder's own tab goes on.
//!
//! A plain run sends 200 photos; `BROODHUE_UPLOADS=1000 cargo test --test web siege -- --nocapture` a thousand.

use std::collections::BTreeMap;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::sync::Mutex;
use std::time::{Duration, Instant};

use broodhue::book::broods::{self, NewBrood};
use broodhue::book::crosses::{self, NewCross};
use broodhue::book::{Book, check};
use broodhue::web::Patience;

use super::client::Server;

/// Longest that the breeder's own tab may wait while others press in, on a busy machine.
const PATIENCE: Duration = Duration::from_secs(10);

/// Most memory that a siege may add, in MiB: two photos under work, and what their requests hold.
const MEMORY: u64 = 200;

fn book(dir: &Path) {
    let mut book = Book::create(dir).unwrap();
    book.write(|w| {
        crosses::add(w, &NewCross { name: "K2".into(), ..NewCross::default() })?;
        broods::add(w, &NewBrood { name: "K2-1".into(), cross: "K2".into(), ..NewBrood::default() })
    })
    .unwrap();
}

/// Memory of this process now, in MiB; 0 where the system does not say.
fn memory() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|l| l.strip_prefix("VmRSS:"));
    line.and_then(|l| l.trim().trim_end_matches(" kB").parse::<u64>().ok()).unwrap_or(0) / 1024
}

/// A small photo that is like no other.
fn photo(number: usize) -> Vec<u8> {
    let plain = include_bytes!("../fixtures/grey.jpg");
    let words = format!("{number:08}");
    [&plain[..2], &[0xff, 0xfe, 0, 10], words.as_bytes(), &plain[2..]].concat()
}

fn tab_goes_on(server: &Server) {
    let start = Instant::now();
    assert_eq!(server.get("/").status, 200);
    assert!(start.elapsed() < PATIENCE, "the breeder waited {:?}", start.elapsed());
}

#[test]
fn a_thousand_uploads_at_once_wait_their_turn() {
    let uploads: usize = std::env::var("BROODHUE_UPLOADS").map_or(200, |n| n.parse().unwrap());
    let dir = tempfile::tempdir().unwrap();
    book(dir.path());
    let server = Server::start(dir.path());
    tab_goes_on(&server);
    let (before, answers) = (memory(), Mutex::new(BTreeMap::<u16, usize>::new()));
    std::thread::scope(|scope| {
        for number in 0..uploads {
            let (server, answers) = (&server, &answers);
            let send = move || {
                let path = format!("/photos?name=tray-{number}.jpg&brood=K2-1");
                // One that finds no room is told so, and comes again.
                loop {
                    let answer = server.send(&path, "application/octet-stream", &photo(number));
                    *answers.lock().unwrap().entry(answer.status).or_default() += 1;
                    if answer.status != 503 {
                        break;
                    }
                    assert!(answer.head.to_lowercase().contains("\r\nretry-after: "), "{}", answer.head);
                    std::thread::sleep(Duration::from_millis(500));
                }
            };
            std::thread::Builder::new().stack_size(256 << 10).spawn_scoped(scope, send).unwrap();
        }
        (0..5).for_each(|_| tab_goes_on(&server));
    });
    let added = memory().saturating_sub(before);
    let answers = answers.into_inner().unwrap();
    println!("{uploads} uploads at once, answers by status {answers:?}, {added} MiB added");
    assert!(added < MEMORY, "{added} MiB");
    drop(server);
    let book = Book::open(dir.path()).unwrap();
    assert!(check::run(&book.read()).unwrap().faults.is_empty());
    let kept = check::info(&book.read()).unwrap().photos as usize;
    assert_eq!((kept, answers[&200]), (uploads, uploads), "all are kept in the end, none twice: {answers:?}");
    assert!(answers.keys().all(|status| [200, 503].contains(status)), "{answers:?}");
}

/// A connection that has begun a request and never ends it.
fn begun(server: &Server, text: &str) -> TcpStream {
    let mut stream = TcpStream::connect(("127.0.0.1", server.port)).unwrap();
    stream.write_all(text.as_bytes()).unwrap();
    stream
}

#[test]
fn whoever_never_ends_is_not_waited_for() {
    let dir = tempfile::tempdir().unwrap();
    book(dir.path());
    let moment = Duration::from_millis(300);
    let patience = Patience { head: moment, pause: moment, body: 2 * moment, photo: 2 * moment, ..Patience::default() };
    let server = Server::patient(dir.path(), patience);
    let (host, cookie) = (server.host(), server.cookie());
    let ours = format!("Host: {host}\r\nOrigin: http://{host}\r\nCookie: {cookie}\r\nContent-Length: 900\r\n\r\nabc");
    let head = begun(&server, &format!("POST /decide HTTP/1.1\r\nHost: {host}\r\nContent-Le"));
    let small = begun(&server, &format!("POST /decide HTTP/1.1\r\nContent-Type: application/json\r\n{ours}"));
    let photo = begun(&server, &format!("POST /photos?name=x.jpg&brood=K2-1 HTTP/1.1\r\n{ours}"));
    let drip = begun(&server, &format!("POST /photos?name=y.jpg&brood=K2-1 HTTP/1.1\r\n{ours}"));
    // One byte now and then keeps the pauses short, and yet the whole takes too long.
    let dripping = std::thread::spawn(move || {
        let mut out = drip.try_clone().unwrap();
        (0..30).for_each(|_| {
            std::thread::sleep(Duration::from_millis(60));
            let _closed = out.write_all(b"x");
        });
        drip
    });
    let start = Instant::now();
    for (mut stream, status) in [(head, ""), (small, "408"), (photo, "408"), (dripping.join().unwrap(), "408")] {
        let mut answer = Vec::new();
        let _reset = stream.read_to_end(&mut answer);
        let first = String::from_utf8_lossy(&answer).into_owned();
        assert!(first.split(' ').nth(1).unwrap_or_default().starts_with(status), "{status}: {first}");
    }
    assert!(start.elapsed() < PATIENCE);
    tab_goes_on(&server);
}

#[test]
fn guessed_tokens_and_cookies_open_nothing() {
    let dir = tempfile::tempdir().unwrap();
    book(dir.path());
    let server = Server::start(dir.path());
    let host = server.host();
    for guess in 0..300 {
        let token = format!("{guess:064x}");
        let entered = server.raw("GET", &format!("/enter?token={token}"), &[("Host", &host)], &[]);
        assert_eq!(entered.status, 403);
        let name = server.cookie().split('=').next().unwrap();
        let cookie = format!("{name}={token}");
        assert_eq!(server.raw("GET", "/", &[("Host", &host), ("Cookie", &cookie)], &[]).status, 403);
    }
    tab_goes_on(&server);
}

#[test]
fn requests_without_end_or_measure_hold_nobody_up() {
    let dir = tempfile::tempdir().unwrap();
    book(dir.path());
    let server = Server::start(dir.path());
    let before = memory();
    let text = format!("POST /decide HTTP/1.1\r\nHost: {}\r\nContent-Length: 9", server.host());
    let waiting: Vec<TcpStream> = (0..200).map(|_| begun(&server, &text)).collect();
    tab_goes_on(&server);
    let long = "x".repeat(2 << 20);
    for headers in [[("Host", server.host().as_str()), ("X", long.as_str())], [("Host", long.as_str()), ("X", "")]] {
        let answer = server.raw("GET", "/", &headers, &[]);
        assert!(answer.status == 0 || answer.status >= 400, "{}", answer.status);
    }
    let path = format!("/brood/{}", "a".repeat(100_000));
    assert!(server.get(&path).status != 200);
    // Far more than is read: the answer comes before the end.
    let body = vec![b'x'; 70 << 20];
    let answer = server.send("/photos?name=x.jpg&brood=K2-1", "application/octet-stream", &body);
    assert!([0, 413].contains(&answer.status), "{}", answer.status);
    drop(body);
    tab_goes_on(&server);
    drop(waiting);
    assert!(memory().saturating_sub(before) < MEMORY + 70, "{} MiB", memory().saturating_sub(before));
}
