//! `confirm`: the local page, or in the terminal agree to proposals, correct a fish, set aside, moved, died, undo.

use jiff::civil::Date;

use super::desk::{self, BookArg, ByArg};
use super::table::aligned;
use super::{Done, confirm_page, fish};
use crate::book::decisions::Within;
use crate::book::fish::Gone;
use crate::book::regions::{self, Region};
use crate::book::scores::{self, Acceptable, Said};
use crate::book::{
    Book, By, Read, Write, broods, decisions, departures, photos, sheets, sittings, taken_back, tallies,
};
use crate::error::{Error, Result};
use crate::units::{Sex, counted};

/// Arguments of `confirm`.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  broodhue confirm\n  broodhue confirm --brood K2-1 --accept --at-least 0.9 --by Ann\n  \
                        broodhue confirm --photo tray.jpg --fish 3 --class red-body=absent --sex m --why \"seen by eye\"\n  \
                        broodhue confirm --brood K2-1 --moved 5 --sex m --on 2026-03-01\n  \
                        broodhue confirm --undo\n  broodhue confirm --brood K2-1 --undo"
)]
pub(super) struct Args {
    /// All photos of this brood.
    #[arg(long, conflicts_with = "photo")]
    brood: Option<String>,
    /// One photo: its name, or the first digits of its hash.
    #[arg(long)]
    photo: Option<String>,
    /// One fish of the photo, by its number.
    #[arg(long, value_name = "N", requires = "photo", allow_negative_numbers = true, value_parser = desk::whole::<u32>(1, None))]
    fish: Option<u32>,
    /// Agree to the proposals at or above the confidence, and show them; what is said of a fish beside it holds first.
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
    /// The reason, kept with the decision; one that changes nothing is none.
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
    /// With --brood: the day on which they left; without it the day of the latest sitting, else today.
    #[arg(long, value_name = "DAY", value_parser = desk::day)]
    on: Option<Date>,
    /// Take back your latest decision; again for the one before it. With --brood or --photo the latest about that.
    #[arg(long, conflicts_with_all = ["fish", "accept", "sex", "why", "set_aside", "bring_back", "moved", "died", "on"])]
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
    refuse_leftovers(args)?;
    let mut book = args.book.open()?;
    if !args.undo && args.brood.is_none() && args.photo.is_none() {
        return confirm_page::serve(book, &args.page);
    }
    let by = args.by.decide(&book)?;
    match (&args.photo, args.fish, &args.brood) {
        _ if args.undo => undo(&mut book, args, &by)?,
        (Some(photo), Some(n), _) => one(&mut book, photo, n, args, &by)?,
        (Some(photo), None, _) => whole(&mut book, photo, args, &by)?,
        (None, _, Some(brood)) if args.moved.is_some() || args.died.is_some() => left(&mut book, brood, args, &by)?,
        (None, ..) => {
            let accepted = book.write(|w| accept(w, args, &by))?;
            show(&book, accepted, args, &by)?;
        }
    }
    Ok(Done::All)
}

/// Refuses what would go by unheard, before anything is written.
fn refuse_leftovers(args: &Args) -> Result<()> {
    let (fish, brood) = (args.fish.is_some(), args.brood.is_some());
    let left = args.moved.is_some() || args.died.is_some();
    let said = !args.classes.is_empty() || args.sex.is_some() || left;
    let refuse = |flag: &str, said: &str, hint: &str| Err(Error::usage(flag, said, hint));
    if args.accept && args.photo.is_none() && !brood {
        return refuse("--accept", "of which fish?", "name --brood B or --photo P");
    }
    if left && !fish && !brood {
        let hint = "name --brood B for young that left unscored, or --photo P --fish N for one of its fish";
        return refuse("--moved, --died", "of which brood or fish?", hint);
    }
    if args.on.is_some() && !(brood && left) {
        let hint = "one that moved or died counts as gone after its photo's sitting";
        return refuse("--on", "goes with --brood and --moved or --died alone", hint);
    }
    if args.sex.is_some() && !fish && !(brood && left) {
        return refuse("--sex", "of which fish?", "name --photo P --fish N, or --brood B with --moved or --died");
    }
    if args.why.is_some() && !args.accept && !(fish && said) {
        return refuse("--why", "goes with --accept, or with what is said of one fish", "leave it out");
    }
    if !(0.0..=1.0).contains(&args.at_least) {
        return refuse("--at-least", &format!("{} is no confidence", args.at_least), "give a number from 0 to 1");
    }
    let asked = said || args.accept || args.undo || args.set_aside.is_some() || args.bring_back;
    if (brood || args.photo.is_some()) && !asked { Err(nothing_asked()) } else { Ok(()) }
}

fn nothing_asked() -> Error {
    Error::usage(
        "confirm",
        "nothing was asked for about it",
        "confirm --brood B --accept, or --photo P --fish N --class AXIS=CLASS; without --brood and --photo the page opens",
    )
}

fn undo(book: &mut Book, args: &Args, by: &By) -> Result<()> {
    let undone = book.write(|w| match (&args.brood, &args.photo) {
        (Some(brood), _) => decisions::undo_within(w, by, Within::Brood(&broods::known(w, brood)?)),
        (None, Some(photo)) => decisions::undo_within(w, by, Within::Photo(&photos::named(w, photo)?)),
        (None, None) => decisions::undo(w, by),
    })?;
    let Some(undo) = undone else {
        let of = [&args.brood, &args.photo].into_iter().flatten().map(|name| format!(" of {name}")).collect::<String>();
        let said = format!("has nothing left to take back{of}");
        return Err(Error::failed(&by.name, said, "name who decided with --by NAME"));
    };
    let undone = undo.undoes.map(|id| decisions::get(&book.read(), id)).transpose()?.flatten();
    let of = undone.map_or(String::new(), |d| {
        format!(" of '{}'", [Some(d.what), d.why].into_iter().flatten().collect::<Vec<_>>().join(": "))
    });
    let lines = taken_back::lines(&book.read(), undo.id)?;
    let after = if lines.is_empty() { "what others have said since holds" } else { "what was said before holds again" };
    let mut text = format!("{} took back {}{of}; {after}\n", undo.by, counted(undo.entries, "entry", "entries"));
    lines.iter().for_each(|line| text += &format!("  {line}\n"));
    desk::print(text)
}

fn regions_meant(book: &Read<'_>, args: &Args) -> Result<Vec<Region>> {
    match (&args.photo, &args.brood) {
        (Some(photo), _) => {
            let photo = photos::named(book, photo)?;
            match args.fish {
                Some(n) => Ok(vec![regions::numbered(book, &photo, n)?]),
                None => regions::of_photo(book, &photo),
            }
        }
        (None, Some(brood)) => regions::of_brood(book, &broods::known(book, brood)?),
        (None, None) => Ok(Vec::new()),
    }
}

/// What came of agreeing to proposals.
struct Agreed {
    /// Those agreed to.
    chosen: Vec<Acceptable>,
    /// How many were too unsure.
    below: usize,
    /// How often the sheet proposes no class, and nobody has said one.
    undecided: usize,
}

type Accepted = Option<Agreed>;

/// Agrees to proposals, if that was asked for, as they stand at the moment of writing: what somebody said meanwhile stays said.
fn accept(book: &Write<'_>, args: &Args, by: &By) -> Result<Accepted> {
    if !args.accept {
        return Ok(None);
    }
    if let Some(axis) = &args.axis {
        tallies::check_axis(book, &sheets::rules(book)?, axis)?;
    }
    if let Some(photo) = &args.photo {
        regions::crowded(book, &photos::named(book, photo)?)?.map_or(Ok(()), Err)?;
    }
    let regions = regions_meant(book, args)?;
    let mut proposed = scores::acceptable(&regions, 0.0);
    proposed.retain(|a| args.axis.as_ref().is_none_or(|axis| a.proposal.axis == *axis));
    let (chosen, rest): (Vec<_>, Vec<_>) = proposed.into_iter().partition(|a| a.proposal.confidence >= args.at_least);
    scores::accept(book, &chosen, args.why.as_deref(), by)?;
    let undecided = scores::undecided(&regions, args.axis.as_deref());
    Ok(Some(Agreed { chosen, below: rest.len(), undecided }))
}

fn show(book: &Book, accepted: Accepted, args: &Args, by: &By) -> Result<()> {
    let Some(Agreed { chosen, below, undecided }) = accepted else { return Ok(()) };
    let undecided = if undecided > 0 { format!("; {undecided} undecided: look at them") } else { String::new() };
    if !chosen.is_empty() {
        desk::print(table(book, &chosen)?)?;
    } else if below == 0 {
        return desk::print(format_args!("nothing is left to accept{undecided}\n"));
    }
    desk::print(format_args!(
        "{} confirmed by {}; {} below {} left open{undecided}\n",
        counted(chosen.len(), "score", "scores"),
        by.name,
        counted(below, "proposal", "proposals"),
        args.at_least,
    ))
}

/// A whole photo set aside or brought back, and its proposals agreed to.
fn whole(book: &mut Book, photo: &str, args: &Args, by: &By) -> Result<()> {
    let moved = args.set_aside.is_some() || args.bring_back;
    let (changed, accepted) = book.write(|w| {
        let changed = moved.then(|| photos::set_aside(w, photo, args.set_aside.as_deref(), by)).transpose()?;
        Ok((changed, accept(w, args, by)?))
    })?;
    if let Some(changed) = changed {
        desk::note_aside(photo, args.bring_back, changed);
    }
    show(book, accepted, args, by)
}

fn one(book: &mut Book, photo: &str, n: u32, args: &Args, by: &By) -> Result<()> {
    let said = Said { classes: desk::classes(&args.classes)?.into_iter().collect(), sex: args.sex };
    let why = args.why.as_deref();
    let gone = match (args.moved, args.died) {
        (Some(_), Some(_)) => {
            return Err(Error::usage("--moved --died", "one fish cannot do both", "give one of the two"));
        }
        (Some(n), None) | (None, Some(n)) if n != 1 => {
            return Err(Error::usage("--fish", format!("{n} is no number of one fish"), "numbers go with --brood"));
        }
        (moved, died) => moved.map(|_| Gone::Moved).or(died.map(|_| Gone::Died)),
    };
    let (photo, before, mut changed, accepted) = book.write(|w| {
        let photo = photos::named(w, photo)?;
        let before = regions::numbered(w, &photo, n)?;
        let id = before.id;
        let mut changed = said != Said::default() && scores::correct(w, id, &said, why, by)?;
        if let Some(gone) = gone {
            changed |= scores::set_gone(w, id, gone, why, by)?;
        }
        if args.set_aside.is_some() || args.bring_back {
            changed |= scores::set_aside(w, id, args.set_aside.as_deref(), by)?;
        }
        let accepted = accept(w, args, by)?;
        Ok((photo, before, changed, accepted))
    })?;
    let asked = said != Said::default() || gone.is_some() || args.set_aside.is_some() || args.bring_back;
    if asked && !changed {
        note_unchanged(&format!("{} fish {n}", photo.name), &before, &said, why.is_some());
    }
    let id = before.id;
    changed |= accepted.as_ref().is_some_and(|agreed| !agreed.chosen.is_empty());
    show(book, accepted, args, by)?;
    desk::note_crowded(&book.read(), &photo)?;
    let after = regions::get(&book.read(), id)?;
    let classes = after.classes.values().map(|c| format!("{}={}", c.axis(), c.class()));
    let sex = after.sex.map(|s| format!("sex {}", s.letter()));
    let aside = after.set_aside.map(|r| format!("set aside: {r}"));
    let state: Vec<String> = classes.chain(sex).chain(aside).chain(after.gone).collect();
    let by = if changed { format!(" (by {})", by.name) } else { String::new() };
    desk::print(format_args!("{} fish {n}: {}{by}\n", photo.name, state.join(", ")))
}

/// Says that all that was said of a fish stood there already, and of whom.
fn note_unchanged(fish: &str, before: &Region, said: &Said, with_reason: bool) {
    let stands = said.classes.iter().filter_map(|(axis, _)| before.classes.get(axis));
    let stands: Vec<String> = stands.map(|c| format!("{} is {} already, by {}", c.axis(), c.class(), c.by())).collect();
    let stands = if stands.is_empty() { "all of it stands already".to_owned() } else { stands.join("; ") };
    let reason = if with_reason { "; the reason is not kept" } else { "" };
    desk::note(format_args!("{fish}: nothing changed: {stands}{reason}"));
}

fn left(book: &mut Book, name: &str, args: &Args, by: &By) -> Result<()> {
    let each = [(Gone::Moved, args.moved), (Gone::Died, args.died)];
    let (on, heard, accepted) = book.write(|w| {
        let brood = broods::known(w, name)?;
        let on = match args.on {
            Some(on) => on,
            None => sittings::latest(w, &brood)?.unwrap_or_else(desk::today),
        };
        let before = tallies::of_one(w, &brood)?;
        each.into_iter()
            .filter_map(|(what, number)| Some((what, number?)))
            .try_for_each(|(what, number)| departures::record(w, name, what, args.sex, number, on, by))?;
        let heard = before != tallies::of_one(w, &brood)?;
        Ok((on, heard, accept(w, args, by)?))
    })?;
    let said = each.into_iter().filter_map(|(what, number)| Some(format!("{} {}", number?, what.word())));
    let said = said.collect::<Vec<_>>().join(", ");
    desk::note(format_args!("brood {name}: {said} unscored on {on} (by {})", by.name));
    desk::note_future("left", args.on);
    if !heard {
        desk::note(
            "note: nothing changes in the counts, since all young that are known of were seen at a sitting before that day; one of those \
             is marked with `broodhue confirm --photo P --fish N --moved`, or --died",
        );
    }
    show(book, accepted, args, by)
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
