//! The plainest of HTTP clients, which sends exactly what it is told to.

use std::io::{Read, Write};
use std::net::TcpStream;

/// Status, head and body of an answer; status 0 when the connection ended without one.
pub(crate) struct Answer {
    pub(crate) status: u16,
    pub(crate) head: String,
    pub(crate) body: String,
}

/// A request with exactly these headers to a port of this machine.
pub(crate) fn raw(port: u16, method: &str, path: &str, headers: &[(&str, &str)], body: &[u8]) -> Answer {
    let mut bytes = Vec::new();
    if let Ok(mut stream) = TcpStream::connect(("127.0.0.1", port)) {
        let mut head = format!("{method} {path} HTTP/1.1\r\nConnection: close\r\nContent-Length: {}\r\n", body.len());
        for (name, value) in headers {
            head += &format!("{name}: {value}\r\n");
        }
        // A server that refuses early, or is killed, may close before the body is through.
        let _refused = stream.write_all(format!("{head}\r\n").as_bytes()).and_then(|()| stream.write_all(body));
        let _reset = stream.read_to_end(&mut bytes);
    }
    let text = String::from_utf8_lossy(&bytes).into_owned();
    let (head, body) = text.split_once("\r\n\r\n").unwrap_or((&text, ""));
    let status = head.split(' ').nth(1).and_then(|s| s.parse().ok()).unwrap_or(0);
    Answer { status, head: head.to_owned(), body: body.to_owned() }
}
