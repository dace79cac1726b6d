//! `confirm`: the local page, or in the terminal agree to proposals, correct a fish, set aside, moved, died, undo.

use jiff::civil::Date;

use super::desk::{self, BookArg, ByArg};
use super::table::aligned;
use super::{Done, confirm_page, fish};
use crate::book::fish::Gone;
use crate::book::regions::{self, Region};
use crate::book::scores::{self, Acceptable, Said};
use crate::book::{Book, By, broods, decisions, departures, photos, sheets, tallies};
use crate::error::{Error, Result};
use crate::units::{Sex, counted};

/// Arguments of `confirm`.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  broodhue confirm\n  broodhue confirm --brood K2-1 --accept --at-least 0.9 --by Ann\n  \
                        broodhue confirm --photo tray.jpg --fish 3 --class red-body=absent --sex m --why \"seen by eye\"\n  \
                        broodhue confirm --brood K2-1 --moved 5 --sex m --on 2026-03-01\n  \
                        broodhue confirm --undo"
)]
pub(super) struct Args {
    /// All photos of this brood.
    #[arg(long, conflicts_with = "photo")]
    brood: Option<String>,
    /// One photo: its name, or the first digits of its hash.
    #[arg(long)]
    photo: Option<String>,
    /// One fish of the photo, by its number.
    #[arg(long, value_name = "N", requires = "photo")]
    fish: Option<u32>,
    /// Agree to the proposals at or above the confidence, after showing them.
    #[arg(long)]
    accept: bool,
    /// Least confidence of a proposal to agree to, 0 to 1.
    #[arg(long, value_name = "C", default_value_t = 0.9, requires = "accept", allow_negative_numbers = true, value_parser = desk::number)]
    at_least: f64,
    /// Agree on this axis alone.
    #[arg(long, requires = "accept")]
    axis: Option<String>,
    /// The fish's class on an axis; may be given several times.
    #[arg(long = "class", value_name = "AXIS=CLASS", value_parser = desk::pair, requires = "fish")]
    classes: Vec<(String, String)>,
    /// The fish's sex, m or f; with --brood and --moved or --died the sex of those that left.
    #[arg(long, value_parser = fish::sex)]
    sex: Option<Sex>,
    /// The reason, kept with the decision.
    #[arg(long)]
    why: Option<String>,
    /// Set the fish (or without --fish the whole photo) aside, with the reason.
    #[arg(long, value_name = "REASON", requires = "photo", conflicts_with = "accept")]
    set_aside: Option<String>,
    /// Bring the fish or the photo back.
    #[arg(long, requires = "photo", conflicts_with = "set_aside")]
    bring_back: bool,
    /// The fish has since moved out; with --brood: N young left unscored.
    #[arg(long, value_name = "N", num_args = 0..=1, default_missing_value = "1", allow_negative_numbers = true)]
    moved: Option<i32>,
    /// The fish has since died; with --brood: N young died unscored.
    #[arg(long, value_name = "N", num_args = 0..=1, default_missing_value = "1", allow_negative_numbers = true)]
    died: Option<i32>,
    /// With --brood: the day on which they left; without it today.
    #[arg(long, value_name = "DAY", value_parser = desk::day)]
    on: Option<Date>,
    /// Take back your latest decision; again for the one before it.
    #[arg(long, conflicts_with_all = ["brood", "photo", "accept"])]
    undo: bool,
    #[command(flatten)]
    page: confirm_page::PageArgs,
    #[command(flatten)]
    book: BookArg,
    #[command(flatten)]
    by: ByArg,
}

/// Runs what was asked for; with nothing asked for, the page.
pub(super) fn run(args: &Args) -> Result<Done> {
    let mut book = args.book.open()?;
    if !args.undo && !args.accept && args.brood.is_none() && args.photo.is_none() {
        return confirm_page::serve(book, &args.page);
    }
    let by = args.by.decide(&book)?;
    if args.undo {
        return undo(&mut book, &by);
    }
    match (&args.photo, args.fish, &args.brood) {
        _ if args.accept => accept(&mut book, args, &by)?,
        (Some(photo), Some(n), _) => one(&mut book, photo, n, args, &by)?,
        (Some(photo), None, _) if args.set_aside.is_some() || args.bring_back => {
            book.write(|w| photos::set_aside(w, photo, args.set_aside.as_deref(), &by))?;
            desk::note(format_args!("{photo}: {}", if args.bring_back { "back again" } else { "set aside" }));
        }
        (None, _, Some(brood)) if args.moved.is_some() || args.died.is_some() => {
            left(&mut book, brood, args, &by)?;
        }
        _ => return Err(nothing_asked()),
    }
    Ok(Done::All)
}

fn nothing_asked() -> Error {
    Error::usage(
        "confirm",
        "nothing was asked for about it",
        "confirm --brood B --accept, or --photo P --fish N --class AXIS=CLASS; without --brood and --photo the page opens",
    )
}

fn undo(book: &mut Book, by: &By) -> Result<Done> {
    match book.write(|w| decisions::undo(w, by))? {
        Some(undo) => {
            let undone = undo.undoes.map(|id| decisions::get(&book.read(), id)).transpose()?.flatten();
            let of = undone.map_or(String::new(), |d| {
                format!(" of '{}'", [Some(d.what), d.why].into_iter().flatten().collect::<Vec<_>>().join(": "))
            });
            let what = format!("{} took back {}{of}", undo.by, counted(undo.entries, "entry", "entries"));
            desk::print(format_args!("{what}; what was said before holds again\n"))?;
            Ok(Done::All)
        }
        None => Err(Error::failed(&by.name, "has nothing left to take back", "name who decided with --by NAME")),
    }
}

fn regions_meant(book: &Book, args: &Args) -> Result<Vec<Region>> {
    match (&args.photo, &args.brood) {
        (Some(photo), _) => {
            let photo = photos::named(&book.read(), photo)?;
            let all = regions::of_photo(&book.read(), &photo)?;
            Ok(all.into_iter().filter(|r| args.fish.is_none_or(|n| r.n == n)).collect())
        }
        (None, Some(brood)) => regions::of_brood(&book.read(), &broods::known(&book.read(), brood)?),
        (None, None) => Err(Error::usage("--accept", "of which fish?", "name --brood B or --photo P")),
    }
}

fn accept(book: &mut Book, args: &Args, by: &By) -> Result<()> {
    if !(0.0..=1.0).contains(&args.at_least) {
        return Err(Error::usage(
            "--at-least",
            format!("{} is no confidence", args.at_least),
            "give a number from 0 to 1",
        ));
    }
    if let Some(axis) = &args.axis {
        tallies::check_axis(&book.read(), &sheets::latest(&book.read())?, axis)?;
    }
    let mut proposed = scores::acceptable(&regions_meant(book, args)?, 0.0);
    proposed.retain(|a| args.axis.as_ref().is_none_or(|axis| a.proposal.axis == *axis));
    let (chosen, rest): (Vec<_>, Vec<_>) = proposed.into_iter().partition(|a| a.proposal.confidence >= args.at_least);
    desk::print(table(book, &chosen)?)?;
    book.write(|w| scores::accept(w, &chosen, args.why.as_deref(), by))?;
    desk::print(format_args!(
        "{} confirmed by {}; {} below {} left open\n",
        counted(chosen.len(), "score", "scores"),
        by.name,
        counted(rest.len(), "proposal", "proposals"),
        args.at_least
    ))
}

fn one(book: &mut Book, photo: &str, n: u32, args: &Args, by: &By) -> Result<()> {
    let photo = photos::named(&book.read(), photo)?;
    let region = regions::numbered(&book.read(), &photo, n)?;
    let said = Said { classes: desk::classes(&args.classes)?.into_iter().collect(), sex: args.sex };
    let why = args.why.as_deref();
    if args.on.is_some() {
        let hint = "one that moved or died counts as gone after its photo's sitting";
        return Err(Error::usage("--on", "goes with --brood alone", hint));
    }
    let gone = match (args.moved, args.died) {
        (Some(_), Some(_)) => {
            return Err(Error::usage("--moved --died", "one fish cannot do both", "give one of the two"));
        }
        (Some(n), None) | (None, Some(n)) if n != 1 => {
            return Err(Error::usage("--fish", format!("{n} is no number of one fish"), "numbers go with --brood"));
        }
        (moved, died) => moved.map(|_| Gone::Moved).or(died.map(|_| Gone::Died)),
    };
    if said == Said::default() && gone.is_none() && args.set_aside.is_none() && !args.bring_back {
        return Err(nothing_asked());
    }
    book.write(|w| {
        if said != Said::default() {
            scores::correct(w, region.id, &said, why, by)?;
        }
        if let Some(gone) = gone {
            scores::set_gone(w, region.id, gone, why, by)?;
        }
        if args.set_aside.is_some() || args.bring_back {
            scores::set_aside(w, region.id, args.set_aside.as_deref(), by)?;
        }
        Ok(())
    })?;
    let after = regions::get(&book.read(), region.id)?;
    let classes = after.classes.values().map(|c| format!("{}={}", c.axis(), c.class()));
    let sex = after.sex.map(|s| format!("sex {}", s.letter()));
    let aside = after.set_aside.map(|r| format!("set aside: {r}"));
    let state: Vec<String> = classes.chain(sex).chain(aside).chain(after.gone).collect();
    desk::print(format_args!("{} fish {n}: {} (by {})\n", photo.name, state.join(", "), by.name))
}

fn left(book: &mut Book, brood: &str, args: &Args, by: &By) -> Result<()> {
    let on = args.on.unwrap_or_else(desk::today);
    let each = [(Gone::Moved, args.moved), (Gone::Died, args.died)];
    book.write(|w| {
        each.into_iter()
            .filter_map(|(what, number)| Some((what, number?)))
            .try_for_each(|(what, number)| departures::record(w, brood, what, args.sex, number, on, by))
    })?;
    let said = each.into_iter().filter_map(|(what, number)| Some(format!("{} {}", number?, what.word())));
    let said = said.collect::<Vec<_>>().join(", ");
    desk::note(format_args!("brood {brood}: {said} unscored on {on} (by {})", by.name));
    Ok(())
}

fn table(book: &Book, chosen: &[Acceptable]) -> Result<String> {
    let mut rows = Vec::new();
    for one in chosen {
        let photo = photos::find(&book.read(), &one.photo)?.map_or_else(|| one.photo.clone(), |p| p.name);
        let p = &one.proposal;
        let because = p.because.join("; ");
        rows.push(vec![
            photo,
            one.n.to_string(),
            p.axis.clone(),
            p.class.clone(),
            format!("{:.2}", p.confidence),
            because,
        ]);
    }
    Ok(aligned(&["photo", "fish", "axis", "class", "confidence", "because"], rows, &[1, 4]))
}
