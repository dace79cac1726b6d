//! Who gets in, and what hostile requests and names come to.

use super::client::Server;
use super::seed;

#[test]
fn only_the_printed_address_lets_a_browser_in_and_only_once() {
    let dir = tempfile::tempdir().unwrap();
    seed::book(dir.path(), "K2-1");
    let server = Server::start(dir.path());
    assert_eq!(server.get("/").status, 200);
    let host = server.host();
    let again = server.raw("GET", &format!("/enter?token={}", server.token), &[("Host", &host)], &[]);
    assert_eq!((again.status, again.body.contains("used already")), (403, true));
    assert_eq!(server.raw("GET", "/", &[("Host", &host)], &[]).status, 403, "no cookie");
    let cookie = ("Cookie", server.cookie());
    assert_eq!(server.raw("GET", "/", &[("Host", "evil.example"), cookie], &[]).status, 403, "a foreign host");
    let foreign =
        [("Host", host.as_str()), cookie, ("Origin", "http://evil.example"), ("Content-Type", "application/json")];
    assert_eq!(server.raw("POST", "/undo", &foreign, b"{}").status, 403, "a foreign origin");
    let without = [("Host", host.as_str()), cookie, ("Content-Type", "application/json")];
    assert_eq!(server.raw("POST", "/undo", &without, b"{}").status, 403, "no origin");
}

#[test]
fn every_answer_carries_the_strict_headers() {
    let dir = tempfile::tempdir().unwrap();
    seed::book(dir.path(), "K2-1");
    let server = Server::start(dir.path());
    for path in ["/", "/brood/K2-1", "/nowhere", "/page.js", "/brood/none"] {
        let head = server.get(path).head.to_lowercase();
        for wanted in
            ["content-security-policy: default-src 'none'; script-src 'self'", "x-content-type-options: nosniff"]
        {
            assert!(head.contains(wanted), "{path}: {head}");
        }
        assert!(!head.contains("access-control"), "{path}: {head}");
    }
}

#[test]
fn a_hostile_name_is_shown_as_text() {
    let dir = tempfile::tempdir().unwrap();
    seed::book(dir.path(), seed::HOSTILE);
    let server = Server::start(dir.path());
    let first = server.get("/").body;
    assert!(!first.contains("<img src=x"), "{first}");
    let link = first.split("href=\"/brood/").nth(1).unwrap().split('"').next().unwrap();
    let page = server.get(&format!("/brood/{link}"));
    assert_eq!(page.status, 200);
    assert!(page.body.contains("&lt;img src=x onerror=alert(1)&gt;&quot;") && !page.body.contains("<img src=x"));
}

#[test]
fn no_request_reaches_the_file_system() {
    let dir = tempfile::tempdir().unwrap();
    seed::book(dir.path(), "K2-1");
    let server = Server::start(dir.path());
    for path in [
        "/picture/..%2F..%2Fbook.sqlite",
        "/picture/book.sqlite",
        "/../Cargo.toml",
        "/crop/1e9?mm=1&px=0",
        "/brood/..%2F",
    ] {
        let answer = server.get(path);
        assert!(answer.status >= 400 && !answer.body.contains("SQLite"), "{path}: {}", answer.status);
    }
}

#[test]
fn what_is_no_photo_is_refused_with_a_hint_and_keeps_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let hash = seed::book(dir.path(), "K2-1");
    let server = Server::start(dir.path());
    let text = server.send("/photos?name=..%2Fx.jpg&brood=K2-1", "application/octet-stream", b"no photo at all");
    assert_eq!((text.status, text.body.contains("hint")), (409, true), "{}", text.body);
    let none = server.send("/photos?name=x.jpg&brood=none", "application/octet-stream", b"x");
    assert_eq!(none.status, 409, "{}", none.body);
    let large = vec![b' '; 100 * 1024];
    assert_eq!(server.send("/decide", "application/json", &large).status, 413);
    assert_eq!(seed::fish(dir.path(), &hash).len(), 13);
}
