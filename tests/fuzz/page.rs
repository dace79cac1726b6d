//! The confirm page: spoilt requests by a browser that was let in, and plain nonsense by one that was not.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use broodhue::photo::identity;
use rand::seq::IndexedRandom;

use crate::client::Server;
use crate::mutate::Mutator;
use crate::records::{book, keep_photo, seen, sitting};
use crate::run::fuzz;

const PATHS: [&str; 23] = [
    "/",
    "/brood/K1-1",
    "/brood/K1-1?sitting=2026-05-02&photo=",
    "/scorers",
    "/picture/HASH",
    "/decide",
    "/accept",
    "/accept-all",
    "/sex",
    "/aside",
    "/back",
    "/undo",
    "/left",
    "/ratio",
    "/strip",
    "/shows",
    "/mend",
    "/corners",
    "/compare?a=1&b=2",
    "/crop/1?side=100",
    "/photos?name=x.jpg&brood=K1-1",
    "/page.js",
    "/enter?token=",
];

const WORDS: [&str; 26] = [
    "HTTP/1.1",
    "\r\n",
    "\r\n\r\n",
    "GET ",
    "POST ",
    "Host: ",
    "Cookie: ",
    "Origin: null",
    "Content-Length: 99999999",
    "Transfer-Encoding: chunked",
    "Content-Type: application/json",
    "%2e%2e%2f",
    "..\\",
    "%00",
    "%ff",
    "?",
    "&",
    "<script>",
    "{",
    "}",
    "[",
    "null",
    "-1",
    "1e400",
    "\"region\":",
    "\u{202e}",
];

/// What the page's own script sends.
const BODY: &str = r#"{"brood":"K1-1","sitting":"2026-05-02","photo":"HASH","blind":false,"by":"Nell","region":1,"axis":"red-body",
    "class":"full","sex":"m","why":"x","number":2,"what":"moved","at_least":0.9,"day":"2026-05-03","ratio":"3:1",
    "to_brood":"K1-1","to_day":"2026-05-03",
    "correction":{"do":"add","at":[10,10]},"corners":[[1,1],[9,1],[9,9],[1,9]]}"#;

/// A whole request as the page's own script would send it, of any kind to any place.
fn request(m: &mut Mutator, server: &Server, hash: &str) -> Vec<u8> {
    let path = PATHS.choose(&mut m.rng).unwrap().replace("HASH", hash);
    let method = ["GET", "POST"].choose(&mut m.rng).copied().unwrap();
    let body = m.spoil(&[BODY.replace("HASH", hash)], &WORDS);
    let path = String::from_utf8_lossy(&m.spoil(&[path.as_bytes()], &WORDS[11..16])).replace([' ', '\r', '\n'], "+");
    let (host, cookie) = (server.host(), server.cookie());
    let head = format!(
        "{method} {path} HTTP/1.1\r\nConnection: close\r\nHost: {host}\r\nOrigin: http://{host}\r\nCookie: {cookie}\r\n\
         Content-Type: application/json\r\nContent-Length: {}\r\n\r\n",
        body.len()
    );
    [head.as_bytes(), &body].concat()
}

/// Sends bytes as they are; whether an answer came.
fn sent(port: u16, bytes: &[u8]) -> bool {
    let mut stream = TcpStream::connect(("127.0.0.1", port)).unwrap();
    stream.set_read_timeout(Some(Duration::from_secs(5))).unwrap();
    let _refused = stream.write_all(bytes);
    let _half = stream.shutdown(std::net::Shutdown::Write);
    let mut answer = Vec::new();
    let _reset = stream.read_to_end(&mut answer);
    answer.starts_with(b"HTTP/1.1 ")
}

/// Panics in the server's own threads, which no request's answer tells of.
static PANICS: AtomicUsize = AtomicUsize::new(0);

#[test]
fn requests() {
    let (_dir, mut book) = book();
    let hash = identity(b"not a real photo");
    keep_photo(&mut book, &hash, &sitting(), &[seen(1, 0.0, 0.0, "full"), seen(2, 50.0, 0.0, "absent")]);
    let dir = book.dir().to_owned();
    drop(book);
    let server = Server::start(&dir);
    let before = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |info| {
        if info.location().is_some_and(|l| !l.file().starts_with("tests")) {
            PANICS.fetch_add(1, Ordering::Relaxed);
        }
        before(info);
    }));
    let port = server.port;
    let whole = request(&mut Mutator::new(0), &server, &hash);
    fuzz(
        "request",
        1,
        std::slice::from_ref(&whole),
        |m| {
            let good = request(m, &server, &hash);
            if rand::Rng::random_bool(&mut m.rng, 0.3) { m.spoil(&[good], &WORDS) } else { good }
        },
        |b| {
            let panics = PANICS.load(Ordering::Relaxed);
            let answered = sent(port, b);
            assert_eq!(PANICS.load(Ordering::Relaxed), panics, "the server panicked");
            answered
        },
    );
    assert_eq!(server.get("/").status, 200, "the breeder's own tab goes on");
}
