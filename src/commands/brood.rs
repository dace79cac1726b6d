//! `brood`: young dropped between two days.

use clap::Subcommand;
use jiff::civil::Date;
use serde_json::json;

use super::Done;
use super::desk::{self, BookArg, ByArg, ReadArgs, or_dash};
use super::table::aligned;
use crate::book::broods::{self, Brood, EarlierSire, MOST_YOUNG, NewBrood};
use crate::book::crosses::Dam;
use crate::book::revise::{self, BroodChange, To};
use crate::book::{Book, aside, odd_days};
use crate::error::{Error, Result};

/// Arguments of `brood`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example: broodhue brood add K2-1 --cross K2 --dropped 2026-01-10..2026-01-11 --young 31")]
pub(super) struct Args {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Write down a brood.
    #[command(after_help = "Example: broodhue brood add K2-1 --cross K2 --dropped 2026-01-10..2026-01-11 --young 31")]
    Add(Add),
    /// Mend what was written down of a brood, or add to it; what stood there stays in the log.
    /// `none` in the place of a value takes it out: --earlier-sire none, --young none.
    #[command(after_help = "Example: broodhue brood set K2-1 --young 29\n\
                            Of another cross than was written down: broodhue brood set K2-1 --cross K3\n\
                            Now that it is known whose it was: broodhue brood set K2-1 --dam K1-d\n\
                            Its name mistyped: broodhue brood set K2-11 --name K2-1")]
    Set(Set),
    /// Set a brood aside that was written down by mistake, with the reason: it is counted nowhere. Or bring it back.
    #[command(after_help = "Example: broodhue brood set-aside K2-9 --why \"is K2-8\"")]
    SetAside(desk::AsideArgs),
    /// List all broods.
    #[command(after_help = "Example: broodhue brood list --json")]
    List(ReadArgs),
}

#[derive(Debug, clap::Args)]
struct Add {
    /// Its name, kept exactly as typed.
    name: String,
    /// The cross under which it is counted.
    #[arg(long)]
    cross: String,
    /// The day of the drop, or the first and last possible one: 2026-01-10..2026-01-12.
    #[arg(long, value_name = "DAY[..DAY]", value_parser = desk::days)]
    dropped: Option<(Date, Date)>,
    /// A dam that may have dropped it, of this cross or of another in the same tank; without any: every dam of the cross.
    #[arg(long)]
    dam: Vec<String>,
    /// As --dam, for an unnamed sister out of this cross.
    #[arg(long, value_name = "CROSS")]
    sister_of: Vec<String>,
    /// A male whose stored sperm may have fathered some of it; ? for a male of unknown class.
    #[arg(long, value_name = "FISH")]
    earlier_sire: Option<String>,
    /// How many young were dropped, where somebody counted.
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = young())]
    young: Option<u32>,
    /// Anything else.
    #[arg(long, value_parser = desk::remark)]
    note: Option<String>,
    #[command(flatten)]
    book: BookArg,
}

#[derive(Debug, clap::Args)]
struct Set {
    /// Its name, or CROSS/NAME.
    name: String,
    /// Its right name, without the cross; all that speaks of it goes by that from now on.
    #[arg(long = "name", value_name = "NEW")]
    new_name: Option<String>,
    /// The cross under which it is counted; fish written down as out of it go along.
    #[arg(long)]
    cross: Option<String>,
    /// A dam that may have dropped it; none: every dam of its cross. May be given several times, and takes the place of those before.
    #[arg(long)]
    dam: Vec<String>,
    /// As --dam, for an unnamed sister out of this cross.
    #[arg(long, value_name = "CROSS")]
    sister_of: Vec<String>,
    /// The day of the drop, or the first and last possible one.
    #[arg(long, value_name = "DAY[..DAY]", value_parser = desk::or_none(desk::days))]
    dropped: Option<To<(Date, Date)>>,
    /// How many young were dropped.
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = desk::or_none(young()))]
    young: Option<To<u32>>,
    /// A male whose stored sperm may have fathered some of it; ? for a male of unknown class.
    #[arg(long, value_name = "FISH", value_parser = desk::or_none(desk::text))]
    earlier_sire: Option<To<String>>,
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
        What::Add(typed) => {
            let new = meant(typed);
            let mut book = typed.book.open()?;
            book.write(|w| broods::add(w, &new))?;
            desk::note(format_args!("brood {}: written down", new.name));
            desk::note_future("dropped", new.dropped_from);
            let written = broods::in_cross(&book.read(), &new.cross, &new.name)?;
            written.iter().try_for_each(|brood| note_odd(&book, brood))?;
        }
        What::Set(typed) => {
            let change = BroodChange {
                name: typed.new_name.clone(),
                cross: typed.cross.clone(),
                dams: dams(&typed.dam, &typed.sister_of)?,
                dropped: typed.dropped.clone().unwrap_or_default(),
                young: typed.young.clone().unwrap_or_default(),
                earlier_sire: typed.earlier_sire.clone().unwrap_or_default().map(|name| EarlierSire::named(&name)),
                note: typed.note.clone().unwrap_or_default(),
            };
            let mut book = typed.book.open()?;
            let by = typed.by.decide(&book)?;
            let old = broods::known(&book.read(), &typed.name)?;
            let said = book.write(|w| revise::brood(w, &typed.name, &change, &by))?;
            desk::note_changes(&format!("brood {}", typed.name), &said);
            let cross = typed.cross.as_ref().unwrap_or(&old.cross);
            let written = broods::in_cross(&book.read(), cross, typed.new_name.as_ref().unwrap_or(&old.name))?;
            written.iter().try_for_each(|brood| note_odd(&book, brood))?;
        }
        What::SetAside(typed) => typed.run(aside::brood)?,
        What::List(read) => {
            let all = broods::all(&read.open()?.read())?;
            if read.json {
                desk::print_json(
                    &json!({ "schema": "broodhue.broods/1", "broods": all.iter().map(plain).collect::<Vec<_>>() }),
                )?;
            } else {
                desk::print(table(&all))?;
            }
        }
    }
    Ok(Done::All)
}

fn meant(typed: &Add) -> NewBrood {
    let named = typed.dam.iter().map(|d| Dam::Fish(d.clone()));
    let sisters = typed.sister_of.iter().map(|c| Dam::SisterOf(c.clone()));
    NewBrood {
        name: typed.name.clone(),
        cross: typed.cross.clone(),
        dropped_from: typed.dropped.map(|(from, _)| from),
        dropped_to: typed.dropped.map(|(_, to)| to),
        young: typed.young,
        dams: named.chain(sisters).collect(),
        earlier_sire: typed.earlier_sire.as_deref().map(EarlierSire::named),
        note: typed.note.clone(),
    }
}

/// The dams as typed.
fn dams(named: &[String], sisters: &[String]) -> Result<To<Vec<Dam>>> {
    let all: Vec<Dam> =
        named.iter().map(|d| Dam::Fish(d.clone())).chain(sisters.iter().map(|c| Dam::SisterOf(c.clone()))).collect();
    match all.as_slice() {
        [] => Ok(To::Same),
        [Dam::Fish(none)] if none == desk::NONE => Ok(To::Nothing),
        _ if named.iter().any(|d| d == desk::NONE) => {
            Err(Error::usage("--dam", "none and another dam", "name the dams, or none alone"))
        }
        _ => Ok(To::Is(all)),
    }
}

/// A number of young that one entry may speak of.
fn young() -> impl Fn(&str) -> std::result::Result<u32, String> + Clone + Send + Sync + 'static {
    desk::whole(0, Some(u64::from(MOST_YOUNG)))
}

/// Says what the days in the crosses tell about who fathered a brood, and what contradicts them.
fn note_odd(book: &Book, brood: &Brood) -> Result<()> {
    desk::note_each(&odd_days::of_brood(&book.read(), brood)?);
    Ok(())
}

fn earlier(brood: &Brood) -> Option<&str> {
    brood.earlier_sire.as_ref().map(EarlierSire::name)
}

fn plain(brood: &Brood) -> serde_json::Value {
    let dams = brood.dams.iter().map(|d| {
        let with = d.with.iter().map(|(s, t)| json!({ "sire": s, "in": t.day_in, "out": t.day_out }));
        json!({ "dam": d.dam.to_string(), "cross": d.cross, "in": d.stay.day_in, "out": d.stay.day_out,
                "with": with.collect::<Vec<_>>() })
    });
    json!({ "brood": brood.name, "cross": brood.cross, "dropped_from": brood.dropped_from,
            "dropped_to": brood.dropped_to, "young": brood.young, "possible_dams": dams.collect::<Vec<_>>(),
            "earlier_sire": earlier(brood), "set_aside": brood.set_aside, "note": brood.note })
}

fn table(all: &[Brood]) -> String {
    let some_aside = all.iter().any(|b| b.set_aside.is_some());
    let row = |b: &Brood| {
        let dropped = match (b.dropped_from, b.dropped_to) {
            (Some(from), Some(to)) if from != to => format!("{from} to {to}"),
            (from, _) => or_dash(from),
        };
        let dams: Vec<String> = b.dams.iter().map(|d| d.dam.to_string()).collect();
        let mut row =
            vec![b.name.clone(), b.cross.clone(), dropped, or_dash(b.young), dams.join(", "), or_dash(earlier(b))];
        row.extend(some_aside.then(|| desk::state_aside(b.set_aside.as_deref())));
        row
    };
    let mut head = vec!["brood", "cross", "dropped", "young", "possible dams", "earlier sire"];
    head.extend(some_aside.then_some("state"));
    aligned(&head, all.iter().map(row).collect(), &[3])
}
