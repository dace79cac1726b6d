//! `export`: the book's tables for spreadsheets and statistics programs.

use clap::ValueEnum;
use serde_json::json;

use super::Done;
use super::desk::{self, BookArg, ViewArg};
use crate::book::export::{self, Table};
use crate::book::sheets;
use crate::error::{Error, Result};
use crate::units::View;

/// Arguments of `export`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example: broodhue export counts --csv > counts.csv\n\n\
    A table holds what it is about and no more; a whole book moves with `broodhue book backup`.")]
pub(super) struct Args {
    /// Which table.
    #[arg(value_enum)]
    table: What,
    /// Counts from photos of this view, beside those by hand; from above when not given.
    #[arg(long, value_enum)]
    view: Option<ViewArg>,
    /// As CSV, names of columns and cells made harmless for spreadsheets. This is the default.
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
        What::Counts => (Table::Counts(args.view.map(View::from).unwrap_or_default()), "counts"),
        _ if args.view.is_some() => {
            let hint = "leave it out; `export measurements` has the view of each fish in a column";
            return Err(Error::usage("--view", "only counts are taken from one view", hint));
        }
        What::Fish => (Table::Fish, "fish"),
        What::Measurements => (Table::Measurements, "measurements"),
        What::Scores => (Table::Scores, "scores"),
    };
    let book = args.book.open()?;
    let export::Exported { rows, notes } = export::table(&book.read(), &sheets::rules(&book.read())?, table)?;
    notes.iter().for_each(|text| desk::note(format_args!("note: {text}")));
    if rows.is_empty() {
        desk::note(format_args!("{name}: the book holds none yet"));
    }
    if args.json {
        desk::print_json(&json!({ "schema": format!("broodhue.export-{name}/1"), "rows": rows }))?;
    } else {
        desk::print(export::csv(&rows))?;
    }
    Ok(Done::All)
}
