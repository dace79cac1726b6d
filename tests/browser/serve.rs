//! The program itself as a breeder starts it, and as a power cut ends it.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};

/// `broodhue confirm` in a process of its own; it ends when this is dropped.
pub(super) struct Confirm {
    child: Child,
    /// The address it printed.
    pub(super) address: String,
}

impl Confirm {
    /// Serves the book in `dir`.
    pub(super) fn start(dir: &Path) -> Self {
        let mut command = Command::new(env!("CARGO_BIN_EXE_broodhue"));
        command.args(["confirm", "--no-browser", "--book"]).arg(dir);
        Self::of(command)
    }

    /// Serves the book in `dir` where no file can grow beyond `kilobytes`: what a full disk comes to.
    pub(super) fn start_on_a_full_disk(dir: &Path, kilobytes: u32) -> Self {
        let mut command = Command::new("bash");
        // A write past the limit then fails instead of ending the program.
        let line = format!("trap '' XFSZ; ulimit -f {kilobytes}; exec \"$0\" confirm --no-browser --book \"$1\"");
        command.args(["-c", &line, env!("CARGO_BIN_EXE_broodhue")]).arg(dir);
        Self::of(command)
    }

    fn of(mut command: Command) -> Self {
        let mut child = command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
        let mut address = String::new();
        BufReader::new(child.stdout.take().unwrap()).read_line(&mut address).unwrap();
        assert!(address.starts_with("http://127.0.0.1:"), "{address:?}");
        Self { child, address: address.trim().to_owned() }
    }

    /// The address of a path of the page.
    pub(super) fn at(&self, path: &str) -> String {
        let (origin, _) = self.address.split_once("/enter").unwrap();
        format!("{origin}{path}")
    }

    /// Ends it at once, without a word of warning (SIGKILL).
    pub(super) fn kill(&mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }
}

impl Drop for Confirm {
    fn drop(&mut self) {
        let _gone = self.child.kill();
        let _reaped = self.child.wait();
    }
}
