//! `fixed`: does a line breed true, and how many young would show it?

use serde_json::json;

use super::Done;
use super::desk;
use super::question::ReadingArgs;
use super::table::aligned;
use crate::book::fish;
use crate::error::{Error, Result};
use crate::inherit::fixed::{Fixed, FixedCross, fixed};
use crate::inherit::fixed_together::{Together, TogetherCross, together};
use crate::units::{counted, percent};

/// Arguments of `fixed`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example: broodhue fixed \"Lowmere Pale\" --axis red-body --class absent")]
pub(super) struct Args {
    /// The line.
    line: String,
    /// An axis; several, each with its --class, are looked at one by one and all at once.
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
        let message = format!(
            "{} with {}",
            counted(args.axis.len(), "axis", "axes"),
            counted(args.class.len(), "class", "classes")
        );
        return Err(Error::usage("fixed", message, "give each --axis its --class"));
    }
    let book = args.reading.book.open()?;
    let all = fish::list(&book.read())?;
    let of_line = |f: &&fish::Fish| f.line.as_ref() == Some(&args.line);
    let names: Vec<&str> = all.iter().filter(of_line).map(|f| f.name.as_str()).collect();
    if names.is_empty() {
        return Err(fish::no_such_line(&args.line, &all));
    }
    let mut results: Vec<Fixed> = vec![];
    for (axis, class) in args.axis.iter().zip(&args.class) {
        let asked = args.reading.ask(&book, &args.reading.question(axis, class, None))?;
        let breeders = &asked.evidence.breeders;
        let members: Vec<usize> = (0..breeders.len()).filter(|i| names.contains(&breeders[*i].fish.as_str())).collect();
        results.push(fixed(&args.line, &asked.evidence, &members, &asked.options));
    }
    let at_once = (results.len() > 1).then(|| together(&args.line, &results));
    if args.json {
        let all = results.iter().all(Fixed::unbroken);
        desk::print_json(&json!({
            "schema": "broodhue.fixed/1", "line": args.line, "axes": results, "no_exception_on_any_axis": all,
            "together": at_once,
        }))?;
        return Ok(Done::All);
    }
    results.iter().try_for_each(print)?;
    at_once.iter().try_for_each(print_together)?;
    Ok(Done::All)
}

fn print(one: &Fixed) -> Result<()> {
    desk::print(format_args!("{}\n", one.verdict))?;
    let row = |c: &FixedCross| {
        let [shown, more_95, more_99] =
            [percent(c.would_have_shown), c.more_for_95.to_string(), c.more_for_99.to_string()];
        vec![c.cross.clone(), c.young.to_string(), c.of_class.to_string(), shown, more_95, more_99]
    };
    let head =
        ["cross", "young", "of the class", "a hidden recessive would have shown", "more for 95 %", "more for 99 %"];
    desk::print(aligned(&head, one.crosses.iter().map(row).collect(), &[1, 2, 3, 4, 5]))
}

fn print_together(found: &Together) -> Result<()> {
    desk::print(format_args!("\nAll axes at once. {}\n", found.verdict))?;
    let row = |c: &TogetherCross| {
        let young: Vec<String> = c.young.iter().map(u32::to_string).collect();
        let shares = [c.would_have_shown, c.at_least].map(percent);
        let more = [c.more_for_95, c.more_for_99].map(|n| n.to_string());
        [c.cross.clone(), young.join(", ")].into_iter().chain(shares).chain(more).collect()
    };
    let head = [
        "cross",
        "young on each axis",
        "all would have shown",
        "if linked, at least",
        "more for 95 %",
        "more for 99 %",
    ];
    desk::print(aligned(&head, found.crosses.iter().map(row).collect(), &[1, 2, 3, 4, 5]))
}
