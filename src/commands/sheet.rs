//! `sheet`: shows, checks and fits the scoring sheet.

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::Subcommand;

use super::Done;
use crate::error::{Error, Result};
use crate::sheet::{self, Sheet};

/// Arguments of `sheet`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Print a sheet: the starting sheet, or the one in a file.
    #[command(after_help = "Example: broodhue sheet show > my-sheet.toml")]
    Show {
        /// The sheet; without it the starting sheet.
        file: Option<PathBuf>,
    },
    /// Say whether a sheet can be read, and what it scores.
    #[command(after_help = "Example: broodhue sheet check my-sheet.toml")]
    Check {
        /// The sheet.
        file: PathBuf,
    },
}

/// Runs the subcommand.
pub(super) fn run(args: &Args) -> Result<Done> {
    match &args.what {
        What::Show { file } => print(&file.as_deref().map_or_else(Sheet::starting, read)?.text)?,
        What::Check { file } => print(&sheet::describe(&read(file)?))?,
    }
    Ok(Done::All)
}

/// Reads the sheet in a file.
pub(super) fn read(file: &Path) -> Result<Sheet> {
    let text = std::fs::read_to_string(file)
        .map_err(|e| Error::failed(file.display(), e, "`broodhue sheet show > FILE` writes a sheet to start from"))?;
    sheet::parse(&file.display().to_string(), &text)
}

fn print(text: &str) -> Result<()> {
    std::io::stdout().write_all(text.as_bytes()).map_err(|e| Error::failed("stdout", e, "is the disk full?"))
}
