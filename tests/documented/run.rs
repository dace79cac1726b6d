//! Runs the commands of one document in a folder of its own.

use std::fs;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::LazyLock;

use tempfile::TempDir;

use super::blocks::words;
use super::{names, root};

/// The demo's book, made once for all documents.
static DEMO: LazyLock<TempDir> = LazyLock::new(|| {
    let folder = tempfile::tempdir().unwrap();
    let output = program().arg("demo").current_dir(folder.path()).output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    folder
});

/// The program that is tested, with nothing of this machine's settings.
pub(crate) fn program() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_broodhue"));
    command.env_remove("BROODHUE_BOOK").env("USER", "Nell");
    command
}

fn copy_folder(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap().map(|e| e.unwrap().path()) {
        let target = to.join(entry.file_name().unwrap());
        if entry.is_dir() {
            copy_folder(&entry, &target);
        } else {
            fs::copy(&entry, &target).unwrap();
        }
    }
}

/// A reader's folder: the checkout's pictures, and what the commands leave there.
pub(crate) struct Desk(TempDir);

impl Desk {
    pub(crate) fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        for pictures in ["sample-images", "docs/guide/pictures"] {
            copy_folder(&root().join(pictures), &folder.path().join(pictures));
        }
        Self(folder)
    }

    /// Writes a file as the reader is told to.
    pub(crate) fn save(&self, name: &str, text: &str) {
        fs::write(self.0.path().join(name), text).unwrap();
    }

    /// Runs one line; what it printed, stdout before stderr.
    pub(crate) fn run(&self, line: &str, needs_demo: bool, until_stopped: bool) -> Result<String, String> {
        let mut words = words(line);
        let run_by_cargo = ["cargo", "run", "--release", "--"];
        if words.starts_with(&run_by_cargo.map(str::to_owned)) {
            words.splice(..run_by_cargo.len(), ["broodhue".to_owned()]);
        }
        // The demo goes on with a book that is there, so that it is measured once and not in every document.
        if needs_demo || words == ["broodhue", "demo"] {
            self.bring_demo();
        }
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        match words.as_slice() {
            ["cargo", rest @ ..] => {
                let rest: Vec<String> = rest.iter().map(|w| (*w).to_owned()).collect();
                names::cargo(&rest).map(|()| String::new())
            }
            ["cp", from, to] => {
                fs::copy(self.0.path().join(from), self.0.path().join(to)).map_err(|e| format!("{from}: {e}"))?;
                Ok(String::new())
            }
            ["broodhue", args @ ..] if until_stopped => self.first_line(args),
            ["broodhue", args @ .., ">", file] => self.finish(args, Some(file)),
            ["broodhue", args @ ..] => self.finish(args, None),
            _ => Err("cannot be run here; say `<!-- not run: why -->` before the block".to_owned()),
        }
    }

    fn bring_demo(&self) {
        let target = self.0.path().join("broodhue-demo");
        if !target.exists() {
            copy_folder(&DEMO.path().join("broodhue-demo"), &target);
        }
    }

    fn finish(&self, args: &[&str], into: Option<&str>) -> Result<String, String> {
        let output = program().args(args).current_dir(self.0.path()).output().map_err(|e| e.to_string())?;
        let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
        let (out, message) = (text(&output.stdout), text(&output.stderr));
        if !output.status.success() {
            return Err(format!("{}: {message}", output.status));
        }
        match into {
            None => Ok(out + &message),
            Some(file) => fs::write(self.0.path().join(file), out).map(|()| message).map_err(|e| e.to_string()),
        }
    }

    /// The first line that a command prints which would run on; it is stopped then.
    fn first_line(&self, args: &[&str]) -> Result<String, String> {
        let mut child = program()
            .args(args)
            .arg("--no-browser")
            .current_dir(self.0.path())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .map_err(|e| e.to_string())?;
        let mut line = String::new();
        let read = BufReader::new(child.stdout.take().unwrap()).read_line(&mut line);
        child.kill().and_then(|()| child.wait().map(|_| ())).map_err(|e| e.to_string())?;
        match read {
            Ok(n) if n > 0 => Ok(line),
            _ => Err("ended without a word".to_owned()),
        }
    }
}
