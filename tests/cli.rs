//! The program as a person runs it: arguments in, output, messages and exit codes out.
#![allow(clippy::unwrap_used, reason = "a test may panic")]
#![allow(clippy::cast_possible_truncation, reason = "pixel places inside a picture")]
#![allow(clippy::print_stdout, reason = "says what was skipped")]

#[path = "cli/card.rs"]
mod card;
#[path = "cli/demo.rs"]
mod demo;
#[path = "cli/kept.rs"]
mod kept;
#[path = "cli/lightness.rs"]
mod lightness;
#[path = "cli/lines.rs"]
mod lines;
#[path = "cli/measure.rs"]
mod measure;
#[path = "cli/records.rs"]
mod records;
#[path = "cli/renamed.rs"]
mod renamed;
#[path = "cli/report.rs"]
mod report;
#[path = "cli/score.rs"]
mod score;
#[path = "cli/sheet.rs"]
mod sheet;
#[path = "cli/shell.rs"]
mod shell;
#[path = "cli/short_sheet.rs"]
mod short_sheet;
#[path = "cli/slips.rs"]
mod slips;
#[path = "cli/unmet.rs"]
mod unmet;

use assert_cmd::Command;

/// The program, in a folder of its own.
fn broodhue(folder: &std::path::Path) -> Command {
    let mut command = Command::cargo_bin("broodhue").unwrap();
    command.current_dir(folder).env_remove("BROODHUE_BOOK");
    command
}

/// stdout, stderr and exit code of a run.
fn outcome(command: &mut Command) -> (String, String, i32) {
    let output = command.output().unwrap();
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (text(&output.stdout), text(&output.stderr), output.status.code().unwrap())
}
