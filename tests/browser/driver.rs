//! One browser at a time behind a WebDriver client: started on a free port with a profile of its own, ended on drop.

use std::io::{Read as _, Write as _};
use std::net::{TcpListener, TcpStream};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use fantoccini::actions::{
    InputSource, KeyAction, KeyActions, MOUSE_BUTTON_LEFT, MouseActions, PointerAction, TouchActions,
};
use fantoccini::key::Key;
use fantoccini::{Client, ClientBuilder, Locator};
use serde_json::{Value, json};
use tempfile::TempDir;
use tokio::runtime::Runtime;

/// Browsers take turns: two on a small machine would only slow each other down.
static TURN: Mutex<()> = Mutex::new(());

/// Longest wait for anything that the page should do.
const PATIENCE: Duration = Duration::from_secs(20);

/// What the browser is seen on.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Screen {
    /// A laptop's window of 1280 × 900 pixels.
    Laptop,
    /// A phone of 390 × 844 pixels with a touch screen.
    Phone,
}

/// Writes a line that `cargo test` does not hold back.
pub(super) fn report(line: &str) {
    let _closed = writeln!(std::io::stderr().lock(), "{line}");
}

/// A running browser.
pub(super) struct Browser {
    runtime: Runtime,
    client: Option<Client>,
    driver: Child,
    port: u16,
    session: String,
    profile: TempDir,
    screen: Screen,
    _turn: MutexGuard<'static, ()>,
}

impl Browser {
    /// Starts one; `None`, with a word why, where chromium or chromedriver is missing.
    pub(super) fn open(screen: Screen) -> Option<Self> {
        for program in ["chromium", "chromedriver"] {
            if !on_path(program) {
                report(&format!("skipped: {program} is not on PATH (Debian: chromium, chromium-driver)"));
                return None;
            }
        }
        let turn = TURN.lock().unwrap_or_else(PoisonError::into_inner);
        let port = TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
        let mut command = Command::new("chromedriver");
        command.arg(format!("--port={port}")).stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
        let driver = command.spawn().unwrap();
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
        let profile = tempfile::tempdir().unwrap();
        let mut browser =
            Self { runtime, client: None, driver, port, session: String::new(), profile, screen, _turn: turn };
        browser.connect();
        Some(browser)
    }

    fn connect(&mut self) {
        let mut args = vec![
            "--headless=new".to_owned(),
            "--no-sandbox".to_owned(),
            "--disable-gpu".to_owned(),
            "--disable-dev-shm-usage".to_owned(),
            "--window-size=1280,900".to_owned(),
            "--hide-scrollbars".to_owned(),
        ];
        args.push(format!("--user-data-dir={}", self.profile.path().display()));
        let mut options = json!({ "args": args });
        if self.screen == Screen::Phone {
            let metrics = json!({ "width": 390, "height": 844, "pixelRatio": 2.0, "touch": true });
            options["mobileEmulation"] = json!({ "deviceMetrics": metrics });
        }
        let capabilities = json!({ "goog:chromeOptions": options, "unhandledPromptBehavior": "accept" });
        let Value::Object(capabilities) = capabilities else { return };
        let address = format!("http://127.0.0.1:{}", self.port);
        let started = Instant::now();
        let client = loop {
            let mut builder = ClientBuilder::new(hyper_util::client::legacy::connect::HttpConnector::new());
            builder.capabilities(capabilities.clone());
            match self.runtime.block_on(builder.connect(&address)) {
                Ok(client) => break client,
                Err(e) if started.elapsed() > PATIENCE => panic!("chromedriver: {e}"),
                Err(_) => std::thread::sleep(Duration::from_millis(50)),
            }
        };
        self.session = self.runtime.block_on(client.session_id()).unwrap().unwrap();
        self.client = Some(client);
    }

    fn client(&self) -> &Client {
        self.client.as_ref().unwrap()
    }

    pub(super) fn goto(&self, address: &str) {
        self.runtime.block_on(self.client().goto(address)).unwrap();
    }

    /// Runs a script in the page; `arguments` are `args`.
    pub(super) fn run(&self, script: &str, args: &[Value]) -> Value {
        self.runtime.block_on(self.client().execute(script, args.to_vec())).unwrap()
    }

    /// Runs a script that calls the last of its arguments when it has an answer.
    pub(super) fn run_async(&self, script: &str, args: &[Value]) -> Value {
        self.runtime.block_on(self.client().execute_async(script, args.to_vec())).unwrap()
    }

    /// The value of an expression, as text.
    pub(super) fn text(&self, expression: &str) -> String {
        self.run(&format!("return String({expression})"), &[]).as_str().unwrap().to_owned()
    }

    /// The value of an expression, as a number.
    pub(super) fn number(&self, expression: &str) -> f64 {
        self.run(&format!("return Number({expression})"), &[]).as_f64().unwrap()
    }

    /// Waits until an expression holds.
    pub(super) fn wait(&self, expression: &str) {
        let started = Instant::now();
        let script = format!("return document.readyState === 'complete' && Boolean({expression})");
        while self.run(&script, &[]) != Value::Bool(true) {
            assert!(
                started.elapsed() < PATIENCE,
                "never came true: {expression}\n{}",
                self.text("document.body.innerText")
            );
            std::thread::sleep(Duration::from_millis(10));
        }
    }

    /// Waits until the page says that the last decision is in the book, and hands back its words.
    pub(super) fn saved(&self) -> String {
        self.wait("/^(Saved|NOT)/.test(document.getElementById('saved')?.textContent)");
        let said = self.text("document.getElementById('saved').textContent");
        assert!(said.starts_with("Saved"), "{said}");
        said
    }

    /// Presses and lets go of each key in turn: a character, or a code of the WebDriver standard such as `Key::Enter`.
    pub(super) fn keys(&self, keys: &[char]) {
        let mut actions = KeyActions::new("keys".to_owned());
        for &value in keys {
            actions = actions.then(KeyAction::Down { value }).then(KeyAction::Up { value });
        }
        self.runtime.block_on(self.client().perform_actions(actions)).unwrap();
    }

    /// Presses one key with Shift held.
    pub(super) fn keys_with_shift(&self, value: char) {
        let shift = char::from(Key::Shift);
        let actions = KeyActions::new("keys".to_owned())
            .then(KeyAction::Down { value: shift })
            .then(KeyAction::Down { value })
            .then(KeyAction::Up { value })
            .then(KeyAction::Up { value: shift });
        self.runtime.block_on(self.client().perform_actions(actions)).unwrap();
    }

    /// Types a text.
    pub(super) fn type_in(&self, text: &str) {
        self.keys(&text.chars().collect::<Vec<_>>());
    }

    /// Scrolls to the first element that fits, and clicks (or on a phone taps) its middle, once nothing lies over it: lines
    /// are laid out as they come into view, so what was scrolled to may still move.
    pub(super) fn click(&self, selector: &str) {
        let script = "const e = document.querySelector(arguments[0]);
            e.scrollIntoView({ block: 'center', inline: 'nearest', behavior: 'instant' });
            const r = e.getBoundingClientRect();
            const [x, y] = [r.x + r.width / 2, r.y + r.height / 2];
            const at = document.elementFromPoint(x, y);
            return at && (e === at || e.contains(at)) ? [x, y] : null;";
        let started = Instant::now();
        let place = loop {
            let place = self.run(script, &[json!(selector)]);
            if !place.is_null() {
                break place;
            }
            assert!(started.elapsed() < PATIENCE, "something lies over {selector}");
            std::thread::sleep(Duration::from_millis(20));
        };
        self.point(&[(place[0].as_f64().unwrap(), place[1].as_f64().unwrap())]);
    }

    /// Unfolds the line of one fish, where it is folded.
    pub(super) fn open_row(&self, id: i64) {
        if self.text(&format!("document.getElementById('fish-{id}').classList.contains('here')")) == "false" {
            self.click(&format!("#fish-{id} .row-number"));
        }
    }

    /// Presses at the first place of the window, moves to the others, and lets go.
    pub(super) fn point(&self, places: &[(f64, f64)]) {
        let (x, y) = places[0];
        let mut moves = vec![PointerAction::MoveTo { duration: None, x, y }];
        moves.push(PointerAction::Down { button: MOUSE_BUTTON_LEFT });
        for &(x, y) in &places[1..] {
            moves.push(PointerAction::MoveTo { duration: Some(Duration::from_millis(60)), x, y });
        }
        moves.push(PointerAction::Up { button: MOUSE_BUTTON_LEFT });
        let done = if self.screen == Screen::Phone {
            let touch = moves.into_iter().fold(TouchActions::new("finger".to_owned()), |all, one| all.then(one));
            self.runtime.block_on(self.client().perform_actions(touch))
        } else {
            let mouse = moves.into_iter().fold(MouseActions::new("mouse".to_owned()), |all, one| all.then(one));
            self.runtime.block_on(self.client().perform_actions(mouse))
        };
        done.unwrap();
    }

    /// Puts files into a file field, as a person's picker does.
    pub(super) fn pick_file(&self, selector: &str, file: &Path) {
        let found = self.runtime.block_on(self.client().find(Locator::Css(selector))).unwrap();
        self.runtime.block_on(found.send_keys(&file.display().to_string())).unwrap();
    }

    /// Light or dark, as the system asks for it.
    pub(super) fn prefer(&self, scheme: &str) {
        let features = json!([{ "name": "prefers-color-scheme", "value": scheme }]);
        self.devtools("Emulation.setEmulatedMedia", &json!({ "features": features }));
    }

    pub(super) fn screenshot(&self) -> Vec<u8> {
        self.runtime.block_on(self.client().screenshot()).unwrap()
    }

    /// A command that WebDriver has no words for; chromedriver passes it on.
    fn devtools(&self, command: &str, parameters: &Value) {
        let body = json!({ "cmd": command, "params": parameters }).to_string();
        let path = format!("/session/{}/goog/cdp/execute", self.session);
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        let head = format!(
            "POST {path} HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nConnection: close\r\nContent-Length: {}\r\n\r\n",
            self.port,
            body.len()
        );
        stream.write_all((head + &body).as_bytes()).unwrap();
        // The connection stays open; the first piece of the answer says whether the command was carried out.
        let mut answer = [0; 4096];
        let length = stream.read(&mut answer).unwrap();
        let answer = String::from_utf8_lossy(&answer[..length]);
        assert!(answer.starts_with("HTTP/1.1 200"), "{answer}");
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        if let Some(client) = self.client.take() {
            let _ended =
                self.runtime.block_on(async { tokio::time::timeout(Duration::from_secs(5), client.close()).await });
        }
        let _gone = self.driver.kill();
        let _reaped = self.driver.wait();
        end_all_of(self.profile.path());
    }
}

/// Ends what is left of a browser with this profile, if closing it has not.
fn end_all_of(profile: &Path) {
    let Ok(processes) = std::fs::read_dir("/proc") else { return };
    let mark = format!("--user-data-dir={}", profile.display());
    for process in processes.flatten() {
        let Ok(line) = std::fs::read(process.path().join("cmdline")) else { continue };
        if line.split(|b| *b == 0).any(|argument| argument == mark.as_bytes()) {
            let id = process.file_name();
            let _gone = Command::new("kill").arg("-9").arg(id).stderr(Stdio::null()).status();
        }
    }
}

fn on_path(program: &str) -> bool {
    std::env::var_os("PATH").is_some_and(|all| std::env::split_paths(&all).any(|dir| dir.join(program).is_file()))
}
