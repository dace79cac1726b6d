//! `fish`: the named animals.

use clap::Subcommand;
use jiff::civil::Date;
use serde_json::json;

use super::Done;
use super::desk::{self, BookArg, ByArg, ReadArgs, or_dash};
use super::table::aligned;
use crate::book::fish::{self, Fish, Gone, NewFish};
use crate::book::revise::{self, FishChange};
use crate::book::{Book, sheets};
use crate::error::Result;
use crate::sheet::{NOT_SHOWN, Sheet, UNDECIDED};
use crate::units::Sex;

/// Arguments of `fish`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example: broodhue fish add K1-s --sex m --cross K1 --class red-body=full")]
pub(super) struct Args {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Write down a fish.
    #[command(after_help = "Example: broodhue fish add K1-s --sex m --cross K1 --class red-body=full")]
    Add(Add),
    /// Mend what was written down of a fish, or add what became known since; what stood there stays in the log.
    #[command(after_help = "Example: broodhue fish set K1-d --isolated-since 2026-03-01")]
    Set(Set),
    /// List all fish.
    #[command(after_help = "Example: broodhue fish list --json")]
    List(ReadArgs),
    /// Show one fish.
    #[command(after_help = "Example: broodhue fish show K1-s")]
    Show {
        /// Its name.
        name: String,
        #[command(flatten)]
        read: ReadArgs,
    },
    /// Set a fish aside with a reason, or bring it back.
    #[command(after_help = "Example: broodhue fish set-aside K1-s --why \"bent spine\"")]
    SetAside {
        /// Its name.
        name: String,
        /// The reason.
        #[arg(long, required_unless_present = "bring_back")]
        why: Option<String>,
        /// Bring it back.
        #[arg(long, conflicts_with = "why")]
        bring_back: bool,
        #[command(flatten)]
        book: BookArg,
        #[command(flatten)]
        by: ByArg,
    },
    /// Record that a fish moved away or died.
    #[command(after_help = "Example: broodhue fish left K1-s --died")]
    Left {
        /// Its name.
        name: String,
        /// To another keeper.
        #[arg(long, required_unless_present = "died")]
        moved: bool,
        /// It died.
        #[arg(long, conflicts_with = "moved")]
        died: bool,
        #[command(flatten)]
        book: BookArg,
        #[command(flatten)]
        by: ByArg,
    },
}

/// What may be known of a fish at once or later.
#[derive(Debug, clap::Args)]
struct Facts {
    /// m or f.
    #[arg(long, value_parser = sex)]
    sex: Option<Sex>,
    /// Its line.
    #[arg(long)]
    line: Option<String>,
    /// Its day of birth, YYYY-MM-DD.
    #[arg(long, value_name = "DAY", value_parser = desk::day)]
    born: Option<Date>,
    /// Its own class on an axis; may be given several times.
    #[arg(long = "class", value_name = "AXIS=CLASS", value_parser = desk::pair)]
    classes: Vec<(String, String)>,
    /// It is known to carry no hidden allele for the target.
    #[arg(long)]
    pure: bool,
    /// It was kept from every male from before it could mate until this day at least.
    #[arg(long, value_name = "DAY", value_parser = desk::day)]
    virgin_on: Option<Date>,
    /// It is kept from every male since this day.
    #[arg(long, value_name = "DAY", value_parser = desk::day)]
    isolated_since: Option<Date>,
    /// Anything else.
    #[arg(long)]
    note: Option<String>,
}

#[derive(Debug, clap::Args)]
struct Add {
    /// Its name, kept exactly as typed.
    name: String,
    /// The cross it came from; without it the fish is a founder.
    #[arg(long)]
    cross: Option<String>,
    /// The brood it came from.
    #[arg(long)]
    brood: Option<String>,
    #[command(flatten)]
    facts: Facts,
    #[command(flatten)]
    book: BookArg,
    #[command(flatten)]
    by: ByArg,
}

#[derive(Debug, clap::Args)]
struct Set {
    /// Its name.
    name: String,
    #[command(flatten)]
    facts: Facts,
    /// It may carry a hidden allele after all.
    #[arg(long, conflicts_with = "pure")]
    not_pure: bool,
    #[command(flatten)]
    book: BookArg,
    #[command(flatten)]
    by: ByArg,
}

/// `m` or `f`.
pub(super) fn sex(text: &str) -> std::result::Result<Sex, String> {
    match text {
        "m" => Ok(Sex::Male),
        "f" => Ok(Sex::Female),
        _ => Err("write m or f".to_owned()),
    }
}

/// Runs the subcommand.
pub(super) fn run(args: &Args) -> Result<Done> {
    match &args.what {
        What::Add(typed) => add(typed)?,
        What::Set(typed) => set(typed)?,
        What::List(read) => {
            let all = fish::list(&read.open()?.read())?;
            if read.json {
                desk::print_json(&json!({ "schema": "broodhue.fish/1", "fish": all }))?;
            } else {
                desk::print(table(&all))?;
            }
        }
        What::Show { name, read } => {
            let one = fish::get(&read.open()?.read(), name)?;
            if read.json {
                desk::print_json(&one)?;
            } else {
                desk::print(describe(&one))?;
            }
        }
        What::SetAside { name, why, book, by, .. } => {
            let mut book = book.open()?;
            let by = by.decide(&book)?;
            book.write(|w| fish::set_aside(w, name, why.as_deref(), &by))?;
            desk::note(format_args!("{name}: {}", if why.is_some() { "set aside" } else { "back again" }));
        }
        What::Left { name, died, book, by, .. } => {
            let mut book = book.open()?;
            let by = by.decide(&book)?;
            let what = if *died { Gone::Died } else { Gone::Moved };
            book.write(|w| fish::set_gone(w, name, Some(what), &by))?;
            desk::note(format_args!("{name}: {}", if *died { "died" } else { "moved" }));
        }
    }
    Ok(Done::All)
}

fn add(typed: &Add) -> Result<()> {
    let facts = &typed.facts;
    let new = NewFish {
        name: typed.name.clone(),
        sex: facts.sex,
        line: facts.line.clone(),
        cross: typed.cross.clone(),
        brood: typed.brood.clone(),
        born: facts.born,
        classes: desk::classes(&facts.classes)?,
        pure: facts.pure,
        virgin_on: facts.virgin_on,
        isolated_since: facts.isolated_since,
        note: facts.note.clone(),
    };
    let mut book = typed.book.open()?;
    let by = typed.by.decide(&book)?;
    book.write(|w| fish::add(w, &new, &by))?;
    desk::note(format_args!("fish {}: written down", new.name));
    if let Some(other) = fish::alike(&book.read(), &new.name)? {
        desk::note(format_args!("note: {other} is in the book as well; is it another fish?"));
    }
    remarks(&book, facts)
}

fn set(typed: &Set) -> Result<()> {
    let facts = &typed.facts;
    let change = FishChange {
        sex: facts.sex,
        line: facts.line.clone(),
        born: facts.born,
        classes: desk::classes(&facts.classes)?,
        pure: (facts.pure || typed.not_pure).then_some(facts.pure),
        virgin_on: facts.virgin_on,
        isolated_since: facts.isolated_since,
        note: facts.note.clone(),
    };
    let mut book = typed.book.open()?;
    let by = typed.by.decide(&book)?;
    let said = book.write(|w| revise::fish(w, &typed.name, &change, &by))?;
    desk::note_changes(&format!("fish {}", typed.name), &said);
    remarks(&book, facts)
}

/// What is kept, but may be a slip of the pen.
fn remarks(book: &Book, facts: &Facts) -> Result<()> {
    desk::note_future("born", facts.born);
    let sheet = sheets::latest(&book.read())?;
    facts.classes.iter().filter_map(|(axis, class)| strange(&sheet, axis, class)).for_each(desk::note);
    Ok(())
}

/// A class that is not on the sheet is kept, since a breeder may score more than photos show; a slip of the pen looks the same.
pub(super) fn strange(sheet: &Sheet, axis: &str, class: &str) -> Option<String> {
    let Some(known) = sheet.axis(axis) else {
        return Some(format!("note: the sheet has no axis {axis}; kept as typed"));
    };
    let classes: Vec<&str> = known.classes.iter().map(|c| c.name.as_str()).collect();
    let is_known = classes.contains(&class);
    (!is_known && class != UNDECIDED && class != NOT_SHOWN)
        .then(|| format!("note: {axis} has no class {class} on the sheet ({}); kept as typed", classes.join(", ")))
}

fn table(all: &[Fish]) -> String {
    let row = |f: &Fish| {
        vec![
            f.name.clone(),
            or_dash(f.sex.map(Sex::letter)),
            or_dash(f.line.as_ref()),
            f.cross.clone().unwrap_or_else(|| "founder".to_owned()),
            or_dash(f.born),
            classes(f),
            state(f),
        ]
    };
    aligned(&["fish", "sex", "line", "cross", "born", "classes", "state"], all.iter().map(row).collect(), &[])
}

fn classes(fish: &Fish) -> String {
    fish.classes.iter().map(|(axis, class)| format!("{axis}={class}")).collect::<Vec<_>>().join(" ")
}

fn state(fish: &Fish) -> String {
    let aside = fish.set_aside.as_ref().map(|why| format!("set aside: {why}"));
    [fish.gone.clone(), aside].into_iter().flatten().collect::<Vec<_>>().join(", ")
}

fn describe(fish: &Fish) -> String {
    let pure = if fish.pure { "known to carry no hidden allele" } else { "" };
    let lines = [
        ("sex", or_dash(fish.sex.map(Sex::letter))),
        ("line", or_dash(fish.line.as_ref())),
        ("cross", fish.cross.clone().unwrap_or_else(|| "founder".to_owned())),
        ("brood", or_dash(fish.brood.as_ref())),
        ("born", or_dash(fish.born)),
        ("classes", classes(fish)),
        ("pure", pure.to_owned()),
        ("virgin on", or_dash(fish.virgin_on)),
        ("isolated since", or_dash(fish.isolated_since)),
        ("state", state(fish)),
        ("note", or_dash(fish.note.as_ref())),
    ];
    let mut text = format!("{}\n", fish.name);
    for (what, value) in lines.iter().filter(|(_, v)| !v.is_empty()) {
        text += &format!("  {what:<15} {value}\n");
    }
    text
}
