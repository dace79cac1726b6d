//! `counts`: count tables with exact intervals, and who is in no class and why.

use super::Done;
use super::desk::{self, BookArg, ViewArg, or_dash};
use super::table::aligned;
use crate::book::sheets;
use crate::book::tallies::{self, Selection};
use crate::counts::{Counts, Row};
use crate::error::Result;
use crate::units::{Sex, percent_range, share_percent};

/// Arguments of `counts`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example: broodhue counts --axis red-body --cross K2 --json")]
pub(super) struct Args {
    /// Only this axis; without it every axis, one JSON line each with --json.
    #[arg(long)]
    axis: Option<String>,
    /// Only the broods of this cross.
    #[arg(long)]
    cross: Option<String>,
    /// Count proposals that nobody confirmed too, in a column of their own.
    #[arg(long)]
    include_proposed: bool,
    /// Photos from this view.
    #[arg(long, value_enum, default_value = "above")]
    view: ViewArg,
    /// As JSON lines.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    book: BookArg,
}

/// Prints the tables.
pub(super) fn run(args: &Args) -> Result<Done> {
    let book = args.book.open()?;
    let read = book.read();
    let sheet = sheets::rules(&read)?;
    let axes = match &args.axis {
        Some(axis) => vec![axis.clone()],
        None => tallies::axes(&read, &sheet)?,
    };
    let selection =
        Selection { cross: args.cross.as_deref(), view: args.view.into(), include_proposed: args.include_proposed };
    let mut silent = Vec::new();
    for (axis, counts) in axes.iter().zip(tallies::counts(&read, &sheet, &axes, &selection)?) {
        if args.json {
            desk::print_json(&counts)?;
        } else if args.axis.is_none() && counts.rows.is_empty() && counts.excluded.words().is_empty() {
            silent.push(axis.as_str());
        } else {
            desk::print(table(&counts))?;
        }
    }
    if !silent.is_empty() {
        desk::print(format_args!("nothing scored on {}\n", silent.join(", ")))?;
    }
    Ok(Done::All)
}

/// The counts of one axis as a person reads them.
pub(super) fn table(counts: &Counts) -> String {
    let mut text = counts.axis.clone();
    text += if counts.includes_proposed { " (unconfirmed proposals counted too, as asked)\n" } else { "\n" };
    if counts.rows.is_empty() {
        text += "  nothing confirmed yet\n";
    } else {
        text += &rows(counts);
    }
    for (why, number) in counts.excluded.words() {
        text += &format!("  not counted: {number} {why}\n");
    }
    for warning in &counts.warnings {
        text += &format!("  note: {warning}\n");
    }
    text + "\n"
}

fn rows(counts: &Counts) -> String {
    let open = counts.rows.iter().any(|r| r.open > 0);
    let mut head = vec!["cross", "brood", "sitting", "sex", "class", "confirmed"];
    if counts.includes_proposed {
        head.push("proposed");
    }
    head.extend(["of", "share", "95 % interval"]);
    if open {
        head.push("with the open ones");
    }
    let numbers: Vec<usize> = (5..head.len()).collect();
    let cells = |r: &Row| {
        let mut row = vec![
            r.place.cross.clone(),
            r.place.brood.clone(),
            r.place.sitting.map_or_else(|| "by hand".to_owned(), |d| d.to_string()),
            or_dash(r.place.sex.map(Sex::letter)),
            r.class.clone(),
            r.confirmed.to_string(),
        ];
        if counts.includes_proposed {
            row.push(r.proposed.to_string());
        }
        row.extend([r.of.to_string(), share_percent(r.share), percent_range(r.low, r.high)]);
        if open {
            row.push(if r.open > 0 { percent_range(r.least, r.most) } else { String::new() });
        }
        row
    };
    aligned(&head, counts.rows.iter().map(cells).collect(), &numbers)
}
