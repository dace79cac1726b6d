//! A server in this process and the plainest of HTTP clients, which can also lie about who it is.

use std::path::Path;
use std::sync::mpsc;

use broodhue::book::Book;
use broodhue::web::{self, Announced, Options, Patience, Secrets};
use jiff::civil::Date;

use super::http::{Answer, raw};

/// A running page; it ends when this is dropped.
pub(super) struct Server {
    pub(super) port: u16,
    pub(super) token: String,
    cookie: String,
    stop: Option<tokio::sync::oneshot::Sender<()>>,
    thread: Option<std::thread::JoinHandle<()>>,
}

impl Server {
    /// Serves the book in `dir`.
    pub(super) fn start(dir: &Path) -> Self {
        Self::patient(dir, Patience::default())
    }

    /// Serves the book in `dir`, waiting so long for others.
    pub(super) fn patient(dir: &Path, patience: Patience) -> Self {
        Self::with(dir, patience, || jiff::ZonedDateTime::now().date())
    }

    /// Serves the book in `dir` where the breeder's calendar shows this day.
    pub(super) fn on(dir: &Path, today: fn() -> Date) -> Self {
        Self::with(dir, Patience::default(), today)
    }

    fn with(dir: &Path, patience: Patience, today: fn() -> Date) -> Self {
        let book = Book::open(dir).unwrap();
        let token = "a1".repeat(32);
        let secrets = Secrets { token: token.clone(), session: "b2".repeat(32), code: [7; 8] };
        let options = Options { port: 0, lan: None, secrets, now: jiff::Timestamp::now, today, patience };
        let (tell, told) = mpsc::channel();
        let (stop, stopped) = tokio::sync::oneshot::channel::<()>();
        let thread = std::thread::spawn(move || {
            let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build().unwrap();
            let announce = move |said: &Announced| tell.send(said.address.clone()).unwrap();
            let end = async { drop(stopped.await) };
            runtime.block_on(web::serve(book, options, announce, end)).unwrap();
        });
        let address: String = told.recv().unwrap();
        let port = address.trim_start_matches("http://127.0.0.1:").split('/').next().unwrap().parse().unwrap();
        let mut server = Self { port, token, cookie: String::new(), stop: Some(stop), thread: Some(thread) };
        let entered = server.get(&format!("/enter?token={}", server.token));
        let line = entered.head.lines().find(|l| l.to_lowercase().starts_with("set-cookie:")).unwrap();
        server.cookie = line.split(':').nth(1).unwrap().split(';').next().unwrap().trim().to_owned();
        server
    }

    pub(super) fn host(&self) -> String {
        format!("127.0.0.1:{}", self.port)
    }

    /// A request with exactly these headers.
    pub(super) fn raw(&self, method: &str, path: &str, headers: &[(&str, &str)], body: &[u8]) -> Answer {
        raw(self.port, method, path, headers, body)
    }

    /// A page, as the breeder's browser asks for it.
    pub(super) fn get(&self, path: &str) -> Answer {
        self.raw("GET", path, &[("Host", &self.host()), ("Cookie", &self.cookie)], &[])
    }

    /// Something changed by the breeder's own page.
    pub(super) fn post(&self, path: &str, body: &serde_json::Value) -> Answer {
        self.send(path, "application/json", body.to_string().as_bytes())
    }

    /// A body of any kind.
    pub(super) fn send(&self, path: &str, kind: &str, body: &[u8]) -> Answer {
        let (host, origin) = (self.host(), format!("http://{}", self.host()));
        let headers = [("Host", host.as_str()), ("Origin", &origin), ("Cookie", &self.cookie), ("Content-Type", kind)];
        self.raw("POST", path, &headers, body)
    }

    pub(super) fn cookie(&self) -> &str {
        &self.cookie
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        drop(self.stop.take());
        if let Some(thread) = self.thread.take() {
            let _ended = thread.join();
        }
    }
}
