//! `cross`: which sire was with which dams, and when.

use clap::Subcommand;
use jiff::civil::Date;
use serde_json::json;

use super::Done;
use super::desk::{self, BookArg, ByArg, ReadArgs, or_dash};
use super::table::aligned;
use crate::book::crosses::{self, Cross, Dam, NewCross, Stay};
use crate::book::revise::{self, CrossChange, To};
use crate::book::{Book, aside, odd_days};
use crate::error::Result;

/// Arguments of `cross`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example: broodhue cross add K2 --sire K1-s --dam K1-d --from 2025-11-29")]
pub(super) struct Args {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Write down a cross, or with --more further sires and dams of one that is there.
    #[command(after_help = "Example: broodhue cross add K2 --sire K1-s --dam K1-d --from 2025-11-29 --to 2026-02-14\n\
                            An unnamed sister who joined later: broodhue cross add K2 --more --sister-of K1 --from 2025-12-20")]
    Add(Add),
    /// Mend the parents or days of a cross, or say when it ended; what stood there stays in the log. `none` in the place of a value takes
    /// it out.
    #[command(after_help = "Example: broodhue cross set K2 --to 2026-02-14\n\
                            Of one parent alone: broodhue cross set K2 --of K1-d --from 2025-12-01\n\
                            Another sire or dam than was written down: broodhue cross set K2 --replace K1-d=K1-e\n\
                            One that was never in it: broodhue cross set K2 --replace K1-d=none\n\
                            Its name mistyped: broodhue cross set K22 --name K2")]
    Set(Set),
    /// Set a cross aside that was written down by mistake, with the reason: it is counted nowhere. Or bring it back.
    #[command(after_help = "Example: broodhue cross set-aside K9 --why \"is K8\"")]
    SetAside(desk::AsideArgs),
    /// List all crosses.
    #[command(after_help = "Example: broodhue cross list --json")]
    List(ReadArgs),
}

#[derive(Debug, clap::Args)]
struct Add {
    /// Its name, kept exactly as typed.
    name: String,
    /// A sire; several over time come one call each, with their days.
    #[arg(long)]
    sire: Vec<String>,
    /// A dam; may be given several times.
    #[arg(long)]
    dam: Vec<String>,
    /// A dam without a name: a sister out of this cross; may be given several times.
    #[arg(long, value_name = "CROSS")]
    sister_of: Vec<String>,
    /// Day on which those named here were put in.
    #[arg(long, value_name = "DAY", value_parser = desk::day)]
    from: Option<Date>,
    /// Day on which they were taken out.
    #[arg(long, value_name = "DAY", value_parser = desk::day)]
    to: Option<Date>,
    /// The cross is in the book already.
    #[arg(long)]
    more: bool,
    /// Anything else.
    #[arg(long, value_parser = desk::remark)]
    note: Option<String>,
    #[command(flatten)]
    book: BookArg,
}

#[derive(Debug, clap::Args)]
struct Set {
    /// Its name.
    name: String,
    /// Its right name; all that speaks of it goes by that from now on.
    #[arg(long = "name", value_name = "NEW")]
    new_name: Option<String>,
    /// A sire or dam as it was written down, and who it was: another fish, or `a sister of cross K1` for a dam without a name.
    #[arg(long, value_name = "OLD=NEW", value_parser = desk::pair)]
    replace: Vec<(String, String)>,
    /// Day on which they were put in.
    #[arg(long, value_name = "DAY", value_parser = desk::or_none(desk::day))]
    from: Option<To<Date>>,
    /// Day on which they were taken out.
    #[arg(long, value_name = "DAY", value_parser = desk::or_none(desk::day))]
    to: Option<To<Date>>,
    /// The parent whose days are meant; without it those of the cross and of all that came and went with it.
    #[arg(long, value_name = "FISH", conflicts_with = "note")]
    of: Vec<String>,
    /// Anything else.
    #[arg(long, value_parser = desk::or_none(desk::remark))]
    note: Option<To<String>>,
    #[command(flatten)]
    book: BookArg,
    #[command(flatten)]
    by: ByArg,
}

/// Runs the subcommand.
pub(super) fn run(args: &Args) -> Result<Done> {
    match &args.what {
        What::Add(typed) => add(typed)?,
        What::Set(typed) => {
            let replaced = typed.replace.iter().cloned();
            let change = CrossChange {
                name: typed.new_name.clone(),
                replace: replaced.map(|(old, new)| (old, Some(new).filter(|new| new != desk::NONE))).collect(),
                day_in: typed.from.clone().unwrap_or_default(),
                day_out: typed.to.clone().unwrap_or_default(),
                of: typed.of.clone(),
                note: typed.note.clone().unwrap_or_default(),
            };
            let mut book = typed.book.open()?;
            let by = typed.by.decide(&book)?;
            let before = odd_days::of_cross(&book.read(), &typed.name)?;
            let said = book.write(|w| revise::cross(w, &typed.name, &change, &by))?;
            desk::note_changes(&format!("cross {}", typed.name), &said);
            note_new(&book, &typed.name, &before)?;
        }
        What::SetAside(typed) => typed.run(aside::cross)?,
        What::List(read) => {
            let all = crosses::all(&read.open()?.read())?;
            if read.json {
                desk::print_json(
                    &json!({ "schema": "broodhue.crosses/1", "crosses": all.iter().map(plain).collect::<Vec<_>>() }),
                )?;
            } else {
                desk::print(table(&all))?;
            }
        }
    }
    Ok(Done::All)
}

fn add(typed: &Add) -> Result<()> {
    let stay = Stay { day_in: typed.from, day_out: typed.to };
    let parents = || typed.sire.iter().chain(&typed.dam).map(|name| (name.as_str(), stay));
    let named = typed.dam.iter().map(|d| Dam::Fish(d.clone()));
    let sisters = typed.sister_of.iter().map(|c| Dam::SisterOf(c.clone()));
    let sires: Vec<_> = typed.sire.iter().map(|s| (s.clone(), stay)).collect();
    let dams: Vec<_> = named.chain(sisters).map(|d| (d, stay)).collect();
    let mut book = typed.book.open()?;
    let before = odd_days::of_cross(&book.read(), &typed.name)?;
    if typed.more {
        book.write(|w| crosses::add_parents(w, &typed.name, &sires, &dams))?;
        desk::note(format_args!("cross {}: its further parents are written down", typed.name));
    } else {
        let new = NewCross {
            name: typed.name.clone(),
            sires,
            dams,
            started: typed.from,
            ended: typed.to,
            note: typed.note.clone(),
        };
        book.write(|w| crosses::add(w, &new))?;
        desk::note(format_args!("cross {}: written down", new.name));
    }
    desk::note_each(&odd_days::gone_already(&book.read(), &typed.name, parents())?);
    note_new(&book, &typed.name, &before)
}

/// Says what of a cross contradicts other records, or leaves the fathers of its broods open, that did not before.
fn note_new(book: &Book, cross: &str, before: &[String]) -> Result<()> {
    let mut odd = odd_days::of_cross(&book.read(), cross)?;
    odd.retain(|one| !before.contains(one));
    desk::note_each(&odd);
    Ok(())
}

fn plain(cross: &Cross) -> serde_json::Value {
    let sires = cross.sires.iter().map(|(name, stay)| json!({ "sire": name, "in": stay.day_in, "out": stay.day_out }));
    let dams = cross.dams.iter().map(|(dam, stay)| {
        let (name, sister_of) = match dam {
            Dam::Fish(name) => (Some(name), None),
            Dam::SisterOf(origin) => (None, Some(origin)),
        };
        json!({ "dam": name, "sister_of": sister_of, "in": stay.day_in, "out": stay.day_out })
    });
    json!({ "cross": cross.name, "sires": sires.collect::<Vec<_>>(), "dams": dams.collect::<Vec<_>>(),
            "started": cross.started, "ended": cross.ended, "set_aside": cross.set_aside, "note": cross.note })
}

fn table(all: &[Cross]) -> String {
    let some_aside = all.iter().any(|c| c.set_aside.is_some());
    let mut rows = Vec::new();
    for cross in all {
        let sires = cross.sires.iter().map(|(name, stay)| ("sire", name.clone(), *stay));
        let dams = cross.dams.iter().map(|(dam, stay)| ("dam", dam.to_string(), *stay));
        let mut parents: Vec<_> = sires.chain(dams).collect();
        if parents.is_empty() {
            parents.push(("open", String::new(), Stay { day_in: cross.started, day_out: cross.ended }));
        }
        rows.extend(parents.into_iter().map(|(role, name, stay)| {
            let mut row = vec![cross.name.clone(), role.to_owned(), name, or_dash(stay.day_in), or_dash(stay.day_out)];
            row.extend(some_aside.then(|| desk::state_aside(cross.set_aside.as_deref())));
            row
        }));
    }
    let mut head = vec!["cross", "role", "fish", "in", "out"];
    head.extend(some_aside.then_some("state"));
    aligned(&head, rows, &[])
}
