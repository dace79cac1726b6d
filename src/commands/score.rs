//! `score`: photos are measured, classes proposed, everything kept in the book. It never confirms.

use std::path::PathBuf;

use jiff::civil::Date;

use super::desk::{self, BookArg, ByArg};
use super::photo_args::PhotoArgs;
use super::score_out::{Kept, Outcome, print};
use super::score_tasks::{Job, Source, Task, jobs};
use super::{Done, measure};
use crate::book::photos::Subject;
use crate::book::{Book, By, corrections, empties, photos, sheets, twins};
use crate::command_line::to_type;
use crate::error::{Error, Result};
use crate::fish::{Asked, Correction, Unmet};
use crate::photo::Limits;
use crate::pipeline::keep::{self, Keeping, Ready};
use crate::pipeline::{self, Given, MeasureOptions};
use crate::sheet::Sheet;

/// Arguments of `score`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  broodhue score tray-a.jpg tray-b.jpg --brood K2-1 --sitting 2026-03-07\n  \
                        broodhue score portrait.jpg --fish K1-s\n  \
                        broodhue score --again --brood K2-1 --sheet my-sheet.toml\n  \
                        broodhue score --from lines.jsonl --brood K2-1")]
pub(super) struct Args {
    /// Photos; with --again alone those of the book.
    #[arg(required_unless_present_any = ["again", "from"])]
    pub(super) photos: Vec<PathBuf>,
    /// The brood they show.
    #[arg(long, conflicts_with = "fish")]
    pub(super) brood: Option<String>,
    /// The one named fish they show.
    #[arg(long)]
    pub(super) fish: Option<String>,
    /// The day of the sitting; without it the day the photo was taken, else today. Photos of one day add up.
    #[arg(long, value_name = "DAY", value_parser = desk::day)]
    pub(super) sitting: Option<Date>,
    /// Measure photos of the book again with this program and sheet; confirmed scores stay.
    #[arg(long)]
    pub(super) again: bool,
    /// With --again: only what is typed now counts, and what was mended by hand; without it what is not typed stays as it was.
    #[arg(long, requires = "again")]
    pub(super) afresh: bool,
    /// The photos show what is said now, and not the brood, day or fish that was said before; confirmed scores go along.
    #[arg(long, requires = "photos", conflicts_with = "from")]
    pub(super) instead: bool,
    /// Take in what `measure --json` printed elsewhere, with the photos where the lines say; one that is in the book
    /// already is left as it is. A line may say whose photo it is: "kept":{"brood":"K2-1","sitting":"2026-03-07"}.
    #[arg(long, value_name = "LINES.jsonl", num_args = 1.., conflicts_with_all = ["photos", "again"])]
    pub(super) from: Vec<PathBuf>,
    /// One JSON line a photo.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    pub(super) about: PhotoArgs,
    #[command(flatten)]
    book: BookArg,
    #[command(flatten)]
    by: ByArg,
}

/// Scores each photo; one that fails does not stop the others.
pub(super) fn run(args: &Args) -> Result<Done> {
    check(args)?;
    let mut book = args.book.open()?;
    let by = args.by.decide(&book)?;
    let sheet = sheet(args, &book)?;
    note_lacking(args, &book, &sheet)?;
    let jobs = jobs(args, &book)?;
    refuse_several(args, jobs.len())?;
    let empty = args.about.empty()?;
    if let (Some(empty), Some(bytes)) = (&empty, args.about.empty_bytes()?) {
        book.write(|w| empties::keep(w, &empty.hash, &bytes))?;
    }
    let given = Given { sheet: &sheet, empty: empty.as_ref() };
    if jobs.is_empty() {
        desk::note(format_args!("note: {}: there is no photo to score", book.dir().display()));
    }
    let progress = measure::progress(jobs.len());
    let today = desk::today();
    let (mut failed, mut closed, mut sizeless) = (0, None, false);
    pipeline::in_order(
        &jobs,
        rayon::current_num_threads(),
        |job| match job {
            Ok(Job::Score(task)) => work(task, given, today).map(Some),
            Ok(Job::Settled { .. }) => Ok(None),
            Err(error) => Err(error.clone()),
        },
        |i, result| {
            let outcome = result.and_then(|measured| match (&jobs[i], measured) {
                (Ok(Job::Score(task)), Some((mut ready, bytes))) => {
                    let kept = put(&mut book, task, &mut ready, &bytes, (&sheet, &by))?;
                    Ok(Outcome::Measured(Box::new(ready), kept))
                }
                _ => Ok(Outcome::Settled),
            });
            progress.inc(1);
            let faults = faults(&jobs[i], &outcome);
            failed += usize::from(!faults.is_empty());
            progress.suspend(|| faults.iter().for_each(super::say));
            sizeless |= matches!(&outcome, Ok(Outcome::Measured(ready, _)) if is_sizeless(ready));
            if closed.is_none() {
                closed = progress.suspend(|| print(&book, &jobs[i], &outcome, args.json)).err();
            }
        },
    );
    progress.finish_and_clear();
    if sizeless {
        desk::note(
            "note: the pitch of the card is not known, so that lengths stay in pixels and crumbs may pass for fish; say it once with \
             `broodhue book set --card-pitch-mm MM`, then `broodhue score --again`",
        );
    }
    // Whoever reads lines or measures again stands at no tray.
    if failed < jobs.len() && !(args.json || args.again || args.instead) && args.from.is_empty() {
        desk::note_cautions();
    }
    closed.map_or_else(|| Ok(Done::of(failed, jobs.len())), Err)
}

/// Refuses what does not say enough, or says what does not go together.
fn check(args: &Args) -> Result<()> {
    if args.brood.is_none() && args.fish.is_none() && !args.again && !args.instead && args.from.is_empty() {
        let hint = "name the brood with --brood B, or for a portrait the fish with --fish F";
        return Err(Error::usage("score", "it is not said what the photos show", hint));
    }
    if args.instead && args.brood.is_none() && args.fish.is_none() && args.sitting.is_none() {
        let hint = "name the right brood, day or fish with --brood, --sitting or --fish";
        return Err(Error::usage("--instead", "it is not said what the photos show instead", hint));
    }
    let options = args.about.options()?;
    if !args.from.is_empty() && options != MeasureOptions::default() {
        let hint = "give such options to `measure`; --sheet and --empty are the same for both";
        return Err(Error::usage("--from", "the lines carry the options they were measured with", hint));
    }
    Ok(())
}

/// Refuses to do to several photos what can be meant of one alone.
fn refuse_several(args: &Args, photos: usize) -> Result<()> {
    let batch = !args.again && !args.instead;
    let Some(option) = args.about.of_one_photo(batch).filter(|_| photos > 1) else { return Ok(()) };
    let said = format!("goes with one photo, and {photos} are meant: fish have their numbers and places in one photo");
    Err(Error::usage(option, said, format!("name that photo alone: broodhue score PHOTO --again {option} …")))
}

/// Whether fish were found by a card whose size is not known.
fn is_sizeless(ready: &Ready) -> bool {
    let fish = &ready.report.fish;
    ready.report.card.found && !fish.is_empty() && fish.iter().all(|f| f.length_mm.is_none())
}

/// The sheet that was named; else the breeder's own of last time, else the starting sheet of this program.
fn sheet(args: &Args, book: &Book) -> Result<Sheet> {
    let starting = Sheet::starting()?;
    let typed = args.about.sheet()?;
    if typed.hash != starting.hash || args.about.names_a_sheet() {
        return Ok(typed);
    }
    let last = sheets::latest(&book.read())?;
    Ok(if last.name == starting.name { starting } else { last })
}

/// Says on which axes of the book a sheet that was named proposes nothing.
fn note_lacking(args: &Args, book: &Book, sheet: &Sheet) -> Result<()> {
    let lacking = if args.about.names_a_sheet() { sheets::lacking(&book.read(), sheet)? } else { Vec::new() };
    if !lacking.is_empty() {
        desk::note(format_args!(
            "note: the sheet has no axis {}: there it proposes nothing; what was confirmed there stays and counts by the rules of the \
             sheet before",
            lacking.join(", ")
        ));
    }
    Ok(())
}

fn work(task: &Task, given: Given<'_>, today: Date) -> Result<(Ready, Vec<u8>)> {
    // One of the book is known by its own name, not by that of its file there.
    let bytes = match task.kept.as_ref().filter(|kept| kept.original == task.path) {
        Some(kept) => pipeline::original(kept)?,
        None => pipeline::bytes(&task.path, Limits::default())?,
    };
    let days = (task.day(), today);
    let mut ready = match &task.source {
        Source::Photo { options, empty, .. } => {
            let kept = empty.as_ref().map(|kept| pipeline::kept_empty(&task.name, kept)).transpose()?;
            let given = Given { empty: kept.as_ref().or(given.empty), ..given };
            keep::read_ready(&task.name, &bytes, given, options, &task.known, days)?
        }
        Source::Line(place) => keep::ready_from_line(place.read()?, &bytes, given, &task.known, days)?,
    };
    ready.report.photo.clone_from(&task.name);
    // Measured by a box around nothing the photo would show none of the fish that the book may have of it.
    if let Some(unmet) = typed_unmet(task, &ready).find(|unmet| unmet.asked == Asked::Box) {
        return Err(unmet.failure(&task.name));
    }
    Ok((ready, bytes))
}

/// Why a photo counts as failed: it did altogether, or something typed met nothing in it. What was mended some time before and is not met
/// again is a warning of the photo alone.
fn faults(job: &Result<Job>, outcome: &Result<Outcome>) -> Vec<Error> {
    match (job, outcome) {
        (_, Err(error)) => vec![error.clone()],
        (Ok(Job::Score(task)), Ok(Outcome::Measured(ready, _))) => {
            typed_unmet(task, ready).map(|unmet| unmet.failure(&task.name)).collect()
        }
        _ => Vec::new(),
    }
}

/// What was typed of the fish and met nothing.
fn typed_unmet<'a>(task: &Task, ready: &'a Ready) -> impl Iterator<Item = &'a Unmet> {
    let (replayed, boxed) = match &task.source {
        Source::Photo { replayed, boxed, .. } => (*replayed, *boxed),
        Source::Line(_) => (0, false),
    };
    ready.unmet.iter().filter(move |unmet| match unmet.asked {
        Asked::Correction(i) => i >= replayed,
        Asked::Box => boxed,
    })
}

/// What a person mended by hand in this very measurement, as far as it met something: kept, the rest might meet another fish later.
fn mended(task: &Task, ready: &Ready) -> Vec<Correction> {
    let replayed = match &task.source {
        Source::Photo { replayed, .. } => *replayed,
        Source::Line(_) => 0,
    };
    let all = ready.report.options.fish.corrections.iter().enumerate().skip(replayed);
    let unmet = |i: usize| ready.unmet.iter().any(|unmet| unmet.asked == Asked::Correction(i));
    all.filter(|(i, correction)| !unmet(*i) && correction.has_met()).map(|(_, correction)| correction.clone()).collect()
}

/// Numbers of fish that a person typed to be none, and that this measurement does not show: they may stand in the book with the outline
/// of an earlier one.
fn dropped_unmet(task: &Task, ready: &Ready) -> Vec<(usize, u32)> {
    typed_unmet(task, ready)
        .filter_map(|unmet| match unmet.asked {
            Asked::Correction(i) => match ready.report.options.fish.corrections.get(i) {
                Some(Correction::Drop { n, was: None }) => Some((i, *n)),
                _ => None,
            },
            Asked::Box => None,
        })
        .collect()
}

fn put(book: &mut Book, task: &Task, ready: &mut Ready, bytes: &[u8], (sheet, by): (&Sheet, &By)) -> Result<Kept> {
    let subject = subject(task, ready)?;
    let (typed, unmet) = (mended(task, ready), dropped_unmet(task, ready));
    let difference = book.write(|w| {
        if let Some(old) = task.kept.as_ref().filter(|old| task.instead && old.subject != subject) {
            photos::shows_instead(w, old, &subject, by)?;
        }
        let mut aside = Vec::new();
        for (i, n) in unmet {
            let earlier = corrections::drop_earlier(w, &ready.report.hash, n, by)?;
            if earlier.is_some() {
                ready.forget_unmet(i);
            }
            aside.extend(earlier);
        }
        let with = Keeping { name: &task.name, bytes, subject: &subject, sheet, at: by.at };
        let mut difference = keep::keep(w, ready, &with)?;
        for correction in &typed {
            aside.extend(corrections::add(w, &ready.report.hash, correction, by)?);
        }
        difference.kept.retain(|n| !aside.iter().any(|gone| gone.n == *n));
        difference.set_aside = aside;
        Ok(difference)
    })?;
    ready.undated.iter().for_each(|said| desk::note(format_args!("note: {}: {said}", task.name)));
    if let Subject::Sitting { day, .. } = subject {
        desk::note_future(&format!("{}: the sitting's day", task.name), Some(day));
    }
    if let Some(why) = task.kept.as_ref().and_then(|old| old.set_aside.as_ref()) {
        let said = format!("{}: is set aside ({why}) and not counted", task.name);
        desk::note(format_args!("{said}; `broodhue confirm --photo {} --bring-back` counts it", to_type(&task.name)));
    }
    if let Some(photo) = photos::find(&book.read(), &ready.report.hash)? {
        desk::note_crowded(&book.read(), &photo)?;
        if task.kept.is_none() || task.instead {
            let twin = twins::caution(&book.read(), &photo)?;
            twin.iter().for_each(|said| desk::note(format_args!("note: {said}")));
        }
    }
    Ok(Kept { subject, difference, again: task.kept.is_some() })
}

/// What the photo shows: as typed, else as the book has it.
fn subject(task: &Task, ready: &Ready) -> Result<Subject> {
    Ok(match (&task.asked.brood, &task.asked.fish, &task.kept) {
        (Some(brood), ..) => Subject::Sitting { brood: brood.clone(), day: ready.day },
        (None, Some(fish), _) => Subject::Portrait(fish.clone()),
        (None, None, Some(photo)) => match (&photo.subject, task.asked.sitting) {
            (Subject::Sitting { brood, .. }, Some(day)) if task.instead => {
                Subject::Sitting { brood: brood.clone(), day }
            }
            (Subject::Portrait(fish), Some(_)) if task.instead => {
                let said = format!("is a portrait of {fish}, which has no sitting");
                return Err(Error::usage(&task.name, said, "name the brood too: --brood B --sitting DAY"));
            }
            (subject, _) => subject.clone(),
        },
        (None, None, None) => return Err(Error::usage(&task.name, "is not in the book yet", "name --brood or --fish")),
    })
}
