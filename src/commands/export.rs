//! `export`: the book's tables for spreadsheets and statistics programs.

use clap::ValueEnum;
use serde_json::json;

use super::Done;
use super::desk::{self, BookArg};
use crate::book::export::{self, Table};
use crate::book::sheets;
use crate::error::Result;

/// Arguments of `export`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example: broodhue export counts --csv > counts.csv")]
pub(super) struct Args {
    /// Which table.
    #[arg(value_enum)]
    table: What,
    /// As CSV, cells made harmless for spreadsheets. This is the default.
    #[arg(long, conflicts_with = "json")]
    csv: bool,
    /// As one JSON line.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    book: BookArg,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum What {
    /// Confirmed counts, one row a class, brood, sitting and sex.
    Counts,
    /// The named fish.
    Fish,
    /// One row a fish of a photo with all that was measured.
    Measurements,
    /// The log of scores: who, when, from what to what, why.
    Scores,
}

/// Prints the table.
pub(super) fn run(args: &Args) -> Result<Done> {
    let (table, name) = match args.table {
        What::Counts => (Table::Counts, "counts"),
        What::Fish => (Table::Fish, "fish"),
        What::Measurements => (Table::Measurements, "measurements"),
        What::Scores => (Table::Scores, "scores"),
    };
    let book = args.book.open()?;
    let records = export::records(&book.read(), &sheets::latest(&book.read())?, table)?;
    if records.is_empty() {
        desk::note(format_args!("{name}: the book holds none yet"));
    }
    if args.json {
        desk::print_json(&json!({ "schema": format!("broodhue.export-{name}/1"), "rows": records }))?;
    } else {
        desk::print(export::csv(&records)?)?;
    }
    Ok(Done::All)
}
