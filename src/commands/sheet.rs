//! `sheet`: shows, checks and fits the scoring sheet.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use clap::Subcommand;

use super::desk::{self, BookArg};
use super::table::aligned;
use super::{Done, files};
use crate::book::{rules, sheets};
use crate::error::{Error, Result};
use crate::sheet::{self, AxisComparison, Confusion, Fit, Sheet};
use crate::units::{counted, percent};

/// Arguments of `sheet`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example: broodhue sheet show > my-sheet.toml")]
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
        /// One JSON line: its axes, classes and limits, and its text.
        #[arg(long)]
        json: bool,
    },
    /// Say whether a sheet can be read and what it scores; with two sheets, what they say differently about the book's fish.
    #[command(after_help = "Example: broodhue sheet check my-sheet.toml\n\
                            Example: broodhue sheet check my-sheet.toml other-sheet.toml --book DIR")]
    Check {
        /// The sheet.
        file: PathBuf,
        /// A second sheet, to be compared on the fish in the book.
        other: Option<PathBuf>,
        /// One JSON line.
        #[arg(long)]
        json: bool,
        #[command(flatten)]
        book: BookArg,
    },
    /// Propose limits from confirmed fish, with error rates from broods left out. Changes nothing.
    #[command(after_help = "Example: broodhue sheet fit --axis red-body")]
    Fit {
        /// The axis whose limits are fitted.
        #[arg(long)]
        axis: String,
        /// The sheet to start from; without it the one the book's latest photo was scored with.
        #[arg(long, value_name = "FILE")]
        sheet: Option<PathBuf>,
        /// One JSON line.
        #[arg(long)]
        json: bool,
        #[command(flatten)]
        book: BookArg,
    },
}

/// Runs the subcommand.
pub(super) fn run(args: &Args) -> Result<Done> {
    match &args.what {
        What::Show { file, json } => show(&file.as_deref().map_or_else(Sheet::starting, read)?, *json)?,
        What::Check { file, other: None, json, .. } => check(&read(file)?, *json)?,
        What::Check { file, other: Some(other), json, book } => compare(&read(file)?, &read(other)?, *json, book)?,
        What::Fit { axis, sheet, json, book } => fit(axis, sheet.as_deref(), *json, book)?,
    }
    Ok(Done::All)
}

/// Reads the sheet in a file.
pub(super) fn read(file: &Path) -> Result<Sheet> {
    let text = files::read_text(file, "`broodhue sheet show > FILE` writes a sheet to start from")?;
    sheet::parse(&file.display().to_string(), &text)
}

fn show(sheet: &Sheet, json: bool) -> Result<()> {
    if !json {
        return desk::print(&sheet.text);
    }
    let mut value = as_json(sheet);
    value["limits"] = serde_json::json!(sheet.limits);
    value["text"] = serde_json::json!(sheet.text);
    desk::print_json(&value)
}

fn check(sheet: &Sheet, json: bool) -> Result<()> {
    if json { desk::print_json(&as_json(sheet)) } else { desk::print(sheet::describe(sheet)) }
}

fn as_json(sheet: &Sheet) -> serde_json::Value {
    let axes: Vec<_> = sheet
        .axes
        .iter()
        .map(|a| {
            let classes: Vec<&str> = a.classes.iter().map(|c| c.name.as_str()).collect();
            serde_json::json!({ "axis": a.name, "classes": classes, "settled_age_days": a.settled_age_days })
        })
        .collect();
    serde_json::json!({ "schema": "broodhue.sheet/1", "name": sheet.name, "hash": sheet.hash, "axes": axes })
}

fn compare(a: &Sheet, b: &Sheet, json: bool, book: &BookArg) -> Result<()> {
    let fish = rules::stored(&book.open()?.read())?;
    let axes = sheet::compare(a, b, &fish);
    if !sheet::same_limits(a, b) {
        desk::note(
            "the sheets differ in [limits], which act when a photo is measured; only the conditions are compared",
        );
    }
    if json {
        return desk::print_json(&serde_json::json!({
            "schema": "broodhue.sheet-check/1", "a": a.hash, "b": b.hash, "fish": fish.len(), "axes": axes,
        }));
    }
    desk::print(format!("{} fish in the book\n{}", fish.len(), differences(&axes)))
}

fn differences(axes: &[AxisComparison]) -> String {
    let mut rows = Vec::new();
    for axis in axes {
        rows.push(vec![axis.axis.clone(), "the same".to_owned(), axis.same.to_string()]);
        rows.extend(axis.changes.iter().map(|(change, n)| vec![axis.axis.clone(), change.clone(), n.to_string()]));
    }
    let mut text = aligned(&["axis", "class", "fish"], rows, &[2]);
    for axis in axes {
        for (fish, from, to) in &axis.changed {
            text += &format!("  {fish}: {} {from} → {to}\n", axis.axis);
        }
    }
    text
}

fn fit(axis: &str, file: Option<&Path>, json: bool, book: &BookArg) -> Result<()> {
    let book = book.open()?;
    let sheet = file.map_or_else(|| sheets::latest(&book.read()), read)?;
    let fit = sheet::fit(&sheet, axis, &rules::examples(&book.read(), axis)?)?;
    if json {
        let mut line = serde_json::json!({ "schema": "broodhue.sheet-fit/1", "sheet": sheet.hash });
        let values = serde_json::to_value(&fit).map_err(|e| Error::failed("sheet fit", e, "please report this"))?;
        if let (Some(line), serde_json::Value::Object(values)) = (line.as_object_mut(), values) {
            line.extend(values);
        }
        return desk::print_json(&line);
    }
    desk::print(words(&fit))
}

fn words(fit: &Fit) -> String {
    let rate = |wrong: f64, undecided: f64| format!("{} wrong, {} undecided", percent(wrong), percent(undecided));
    let mut text = format!("{}: {} confirmed fish of {}\n", fit.axis, fit.fish, counted(fit.broods, "brood", "broods"));
    let limits = fit.limits.iter().map(|l| vec![l.feature.clone(), format!("{:.3}", l.from), format!("{:.3}", l.to)]);
    text += &aligned(&["limit on", "now", "proposed"], limits.collect(), &[1, 2]);
    text += &format!("the sheet as it is: {}\n{}", rate(fit.wrong_now, fit.undecided_now), confusion(&fit.now));
    match (&fit.cross_validated, fit.wrong_cross_validated, fit.undecided_cross_validated) {
        (Some(table), Some(wrong), Some(undecided)) => {
            let how = "each brood judged by limits fitted on the others";
            text += &format!("fitted, {how}: {}\n{}", rate(wrong, undecided), confusion(table));
        }
        _ => text += "fitted: no error rate, for that needs confirmed fish of two broods or more\n",
    }
    text +=
        &format!("under the proposed limits {} of {} fish would be proposed otherwise\n", fit.would_change, fit.fish);
    text + "nothing is changed; to use the limits, write them into your sheet and name it with --sheet\n"
}

fn confusion(table: &Confusion) -> String {
    let proposed: BTreeSet<&str> = table.values().flat_map(|row| row.keys().map(String::as_str)).collect();
    let head: Vec<&str> = std::iter::once("confirmed \\ proposed").chain(proposed.iter().copied()).collect();
    let rows = table.iter().map(|(confirmed, row)| {
        let cells = proposed.iter().map(|p| row.get(*p).copied().unwrap_or(0).to_string());
        std::iter::once(confirmed.clone()).chain(cells).collect()
    });
    aligned(&head, rows.collect(), &(1..head.len()).collect::<Vec<_>>())
}
