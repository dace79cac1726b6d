//! Entry and exit code.

use std::process::ExitCode;

fn main() -> ExitCode {
    broodhue::commands::run(std::env::args_os())
}
