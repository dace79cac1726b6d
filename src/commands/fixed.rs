//! `fixed`: does a line breed true, and how many young would show it?

use serde_json::json;

use super::Done;
use super::desk;
use super::question::ReadingArgs;
use super::table::aligned;
use crate::book::fish;
use crate::error::{Error, Result};
use crate::inherit::fixed::{Fixed, fixed};
use crate::units::percent;

/// Arguments of `fixed`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example: broodhue fixed \"Lowmere Pale\" --axis red-body --class absent")]
pub(super) struct Args {
    /// The line.
    line: String,
    /// An axis; several, each with its --class, are looked at one after the other.
    #[arg(long, required = true)]
    axis: Vec<String>,
    /// The class the line should breed true for, one for each axis.
    #[arg(long, value_name = "CLASS", required = true)]
    class: Vec<String>,
    #[command(flatten)]
    reading: ReadingArgs,
    /// As one JSON object.
    #[arg(long)]
    json: bool,
}

/// Looks and prints.
pub(super) fn run(args: &Args) -> Result<Done> {
    if args.axis.len() != args.class.len() {
        let message = format!("{} axes with {} classes", args.axis.len(), args.class.len());
        return Err(Error::usage("fixed", message, "give each --axis its --class"));
    }
    let book = args.reading.book.open()?;
    let names: Vec<String> =
        fish::list(&book.read())?.into_iter().filter(|f| f.line.as_ref() == Some(&args.line)).map(|f| f.name).collect();
    if names.is_empty() {
        return Err(Error::failed(
            format!("line {}", args.line),
            "has no fish in the book",
            "`fish list` shows the lines",
        ));
    }
    let mut results: Vec<Fixed> = vec![];
    for (axis, class) in args.axis.iter().zip(&args.class) {
        let asked = args.reading.ask(&book, &args.reading.question(axis, class, None))?;
        let breeders = &asked.evidence.breeders;
        let members: Vec<usize> = (0..breeders.len()).filter(|i| names.contains(&breeders[*i].fish)).collect();
        results.push(fixed(&args.line, &asked.evidence, &members));
    }
    let all = results.iter().all(|f| f.young > 0 && f.exceptions == 0);
    if args.json {
        desk::print_json(&json!({
            "schema": "broodhue.fixed/1", "line": args.line, "axes": results, "no_exception_on_any_axis": all,
        }))?;
        return Ok(Done::All);
    }
    for one in &results {
        desk::print(format_args!("{}\n", one.verdict))?;
        let rows = one
            .crosses
            .iter()
            .map(|c| vec![c.cross.clone(), c.young.to_string(), c.of_class.to_string(), percent(c.would_have_shown)]);
        desk::print(aligned(
            &["cross", "young", "of the class", "a hidden recessive would have shown"],
            rows.collect(),
            &[1, 2, 3],
        ))?;
    }
    Ok(Done::All)
}
