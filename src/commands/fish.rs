//! `fish`: the named animals.

use clap::Subcommand;
use jiff::civil::Date;
use serde_json::json;

use super::Done;
use super::desk::{self, BookArg, ByArg, ReadArgs, or_dash};
use super::slips::Before;
use super::table::aligned;
use crate::book::fish::{self, Fish, Gone, NewFish};
use crate::book::revise::{self, FishChange, To};
use crate::book::{Book, odd_days};
use crate::error::Result;
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
    /// Mend what was written down of a fish, or add what became known since; what stood there stays in the log. `none` in the place of a
    /// value takes it out: --line none, --class AXIS=none, --cross none.
    #[command(after_help = "Example: broodhue fish set K1-d --isolated-since 2026-03-01\n\
                            Of another brood than was written down: broodhue fish set K1-d --brood K1-2\n\
                            Its name mistyped: broodhue fish set K1-dd --name K1-d")]
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
    SetAside(desk::AsideArgs),
    /// Record that a fish moved away or died, or is here after all.
    #[command(after_help = "Example: broodhue fish left K1-s --died --on 2026-03-01\n\
                            Written down by mistake: broodhue fish left K1-s --back")]
    Left(Left),
}

#[derive(Debug, clap::Args)]
#[command(group = clap::ArgGroup::new("how").required(true).args(["moved", "died", "back"]))]
struct Left {
    /// Its name.
    name: String,
    /// To another keeper.
    #[arg(long)]
    moved: bool,
    /// It died.
    #[arg(long)]
    died: bool,
    /// It is here after all.
    #[arg(long)]
    back: bool,
    /// The day, kept with it.
    #[arg(long, value_name = "DAY", value_parser = desk::day, conflicts_with = "back")]
    on: Option<Date>,
    #[command(flatten)]
    book: BookArg,
    #[command(flatten)]
    by: ByArg,
}

/// What may be known of a fish at once or later.
#[derive(Debug, clap::Args)]
struct Facts {
    /// The cross it came from; a fish without one is a founder.
    #[arg(long, value_parser = desk::or_none(desk::text))]
    cross: Option<To<String>>,
    /// The brood it came from, by which its cross is known.
    #[arg(long, value_parser = desk::or_none(desk::text))]
    brood: Option<To<String>>,
    /// m or f.
    #[arg(long, value_parser = desk::or_none(sex))]
    sex: Option<To<Sex>>,
    /// Its line.
    #[arg(long, value_parser = desk::or_none(desk::text))]
    line: Option<To<String>>,
    /// Its day of birth, YYYY-MM-DD.
    #[arg(long, value_name = "DAY", value_parser = desk::or_none(desk::day))]
    born: Option<To<Date>>,
    /// Its own class on an axis; may be given several times.
    #[arg(long = "class", value_name = "AXIS=CLASS", value_parser = desk::pair)]
    classes: Vec<(String, String)>,
    /// It is known to carry no hidden allele for the target.
    #[arg(long)]
    pure: bool,
    /// It was kept from every male from before it could mate until this day at least.
    #[arg(long, value_name = "DAY", value_parser = desk::or_none(desk::day))]
    virgin_on: Option<To<Date>>,
    /// It is kept from every male since this day.
    #[arg(long, value_name = "DAY", value_parser = desk::or_none(desk::day))]
    isolated_since: Option<To<Date>>,
    /// Anything else.
    #[arg(long, value_parser = desk::or_none(desk::remark))]
    note: Option<To<String>>,
}

#[derive(Debug, clap::Args)]
struct Add {
    /// Its name, kept exactly as typed.
    name: String,
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
    /// Its right name; all that speaks of it goes by that from now on.
    #[arg(long = "name", value_name = "NEW")]
    new_name: Option<String>,
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
        What::SetAside(typed) => typed.run(fish::set_aside)?,
        What::Left(typed) => left(typed)?,
    }
    Ok(Done::All)
}

fn left(typed: &Left) -> Result<()> {
    let mut book = typed.book.open()?;
    let by = typed.by.decide(&book)?;
    let what = match (typed.died, typed.moved) {
        (true, _) => Some(Gone::Died),
        (_, true) => Some(Gone::Moved),
        _ => None,
    };
    let changed = book.write(|w| fish::set_gone(w, &typed.name, what, typed.on, &by))?;
    let said = match (what, changed) {
        (Some(what), true) => what.word(),
        (Some(_), false) => "that is on record already",
        (None, true) => "here after all",
        (None, false) => "had not left",
    };
    desk::note(format_args!("{}: {said}", typed.name));
    desk::note_future("left", typed.on);
    desk::note_each(&odd_days::of_fish(&book.read(), &typed.name)?);
    Ok(())
}

fn add(typed: &Add) -> Result<()> {
    let facts = &typed.facts;
    let known = |text: &Option<To<String>>| text.clone().and_then(|text| text.over(None));
    let day = |day: &Option<To<Date>>| day.clone().and_then(|day| day.over(None));
    let new = NewFish {
        name: typed.name.clone(),
        sex: facts.sex.clone().and_then(|sex| sex.over(None)),
        line: known(&facts.line),
        cross: known(&facts.cross),
        brood: known(&facts.brood),
        born: day(&facts.born),
        classes: desk::classes(&facts.classes)?.into_iter().filter(|(_, class)| class != desk::NONE).collect(),
        pure: facts.pure,
        virgin_on: day(&facts.virgin_on),
        isolated_since: day(&facts.isolated_since),
        note: known(&facts.note),
    };
    let mut book = typed.book.open()?;
    let by = typed.by.decide(&book)?;
    let before = Before::of(&book)?;
    book.write(|w| fish::add(w, &new, &by))?;
    desk::note(format_args!("fish {}: written down", new.name));
    note_alike(&book, &new.name)?;
    desk::note_each(&odd_days::of_fish(&book.read(), &new.name)?);
    remarks(&book, &before, facts)
}

fn set(typed: &Set) -> Result<()> {
    let facts = &typed.facts;
    let classes = desk::classes(&facts.classes)?.into_iter();
    let change = FishChange {
        name: typed.new_name.clone(),
        cross: facts.cross.clone().unwrap_or_default(),
        brood: facts.brood.clone().unwrap_or_default(),
        sex: facts.sex.clone().unwrap_or_default(),
        line: facts.line.clone().unwrap_or_default(),
        born: facts.born.clone().unwrap_or_default(),
        classes: classes.map(|(axis, class)| (axis, Some(class).filter(|c| c != desk::NONE))).collect(),
        pure: (facts.pure || typed.not_pure).then_some(facts.pure),
        virgin_on: facts.virgin_on.clone().unwrap_or_default(),
        isolated_since: facts.isolated_since.clone().unwrap_or_default(),
        note: facts.note.clone().unwrap_or_default(),
    };
    let mut book = typed.book.open()?;
    let by = typed.by.decide(&book)?;
    let before = Before::of(&book)?;
    let said = book.write(|w| revise::fish(w, &typed.name, &change, &by))?;
    desk::note_changes(&format!("fish {}", typed.name), &said);
    let name = typed.new_name.as_deref().unwrap_or(&typed.name);
    desk::note_each(&odd_days::of_fish(&book.read(), name)?);
    typed.new_name.as_deref().map_or(Ok(()), |name| note_alike(&book, name))?;
    remarks(&book, &before, facts)
}

/// Names a fish whose name is hardly another one.
fn note_alike(book: &Book, name: &str) -> Result<()> {
    if let Some(other) = fish::alike(&book.read(), name)? {
        desk::note(format_args!("note: {other} is in the book as well; is it another fish?"));
    }
    Ok(())
}

/// What is kept, but may be a slip of the pen.
fn remarks(book: &Book, before: &Before, facts: &Facts) -> Result<()> {
    let days = [
        ("born", &facts.born),
        ("a virgin until", &facts.virgin_on),
        ("apart from males since", &facts.isolated_since),
    ];
    for (what, day) in days {
        desk::note_future(what, day.clone().and_then(|day| day.over(None)));
    }
    let named = facts.classes.iter().filter(|(_, class)| class != desk::NONE);
    before.note_strange(book, named.map(|(axis, class)| (axis.as_str(), class.as_str())))
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
    let on = fish.gone_on.map(|day| format!(" on {day}")).unwrap_or_default();
    [fish.gone.as_ref().map(|gone| format!("{gone}{on}")), aside].into_iter().flatten().collect::<Vec<_>>().join(", ")
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
