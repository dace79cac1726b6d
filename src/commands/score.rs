//! `score`: photos are measured, classes proposed, everything kept in the book. It never confirms.

use std::path::PathBuf;

use jiff::civil::Date;
use serde_json::json;

use super::desk::{self, BookArg, ByArg};
use super::photo_args::PhotoArgs;
use super::score_tasks::{Source, Task, tasks};
use super::{Done, measure, measure_table};
use crate::book::measurements::Difference;
use crate::book::photos::Subject;
use crate::book::{Book, By, corrections, empties, photos, sheets, twins};
use crate::error::{Error, Result};
use crate::fish::Correction;
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
    let empty = args.about.empty()?;
    if let (Some(empty), Some(bytes)) = (&empty, args.about.empty_bytes()?) {
        book.write(|w| empties::keep(w, &empty.hash, &bytes))?;
    }
    let given = Given { sheet: &sheet, empty: empty.as_ref() };
    let tasks = tasks(args, &book)?;
    let progress = measure::progress(tasks.len());
    let today = desk::today();
    let (mut failed, mut closed, mut sizeless) = (0, None, false);
    pipeline::in_order(
        &tasks,
        rayon::current_num_threads(),
        |task| work(task.as_ref().map_err(Clone::clone)?, given, today),
        |i, result| {
            let kept = result.and_then(|(mut ready, bytes)| {
                let task = tasks[i].as_ref().map_err(Clone::clone)?;
                let done = put(&mut book, task, &mut ready, &bytes, (&sheet, &by))?;
                Ok((ready, done))
            });
            progress.inc(1);
            match &kept {
                Ok((ready, _)) => sizeless |= is_sizeless(ready),
                Err(error) => {
                    failed += 1;
                    progress.suspend(|| super::say(error));
                }
            }
            if closed.is_none() {
                closed = progress.suspend(|| print(&tasks[i], &kept, args.json)).err();
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
    if failed < tasks.len() && !(args.json || args.again || args.instead) && args.from.is_empty() {
        desk::note_cautions();
    }
    match (closed, failed, tasks.len()) {
        (Some(error), ..) => Err(error),
        (None, 0, _) => Ok(Done::All),
        (None, _, 1) => Ok(Done::None),
        _ => Ok(Done::Some),
    }
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
    if !args.from.is_empty() && args.about.options()? != MeasureOptions::default() {
        let hint = "give such options to `measure`; --sheet and --empty are the same for both";
        return Err(Error::usage("--from", "the lines carry the options they were measured with", hint));
    }
    Ok(())
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
            let kept = empty.as_deref().map(|path| pipeline::kept_empty(&task.name, path)).transpose()?;
            let given = Given { empty: kept.as_ref().or(given.empty), ..given };
            keep::read_ready(&task.name, &bytes, given, options, &task.known, days)?
        }
        Source::Line(place) => keep::ready_from_line(place.read()?, &bytes, given, &task.known, days)?,
    };
    ready.report.photo.clone_from(&task.name);
    Ok((ready, bytes))
}

/// What a person mended by hand in this very measurement, as far as it met something: kept, the rest might meet another fish later.
fn mended(task: &Task, ready: &Ready) -> Vec<Correction> {
    let replayed = match &task.source {
        Source::Photo { replayed, .. } => *replayed,
        Source::Line(_) => 0,
    };
    let all = ready.report.options.fish.corrections.iter().enumerate().skip(replayed);
    all.filter(|(i, correction)| !ready.unmet.iter().any(|(at, _)| at == i) && correction.has_met())
        .map(|(_, correction)| correction.clone())
        .collect()
}

/// Numbers of fish that a person typed to be none, and that this measurement does not show: they may stand in the book with the outline
/// of an earlier one.
fn dropped_unmet(task: &Task, ready: &Ready) -> Vec<(usize, u32)> {
    let Source::Photo { replayed, .. } = &task.source else { return Vec::new() };
    let typed = ready.unmet.iter().map(|(i, _)| *i).filter(|i| i >= replayed);
    typed
        .filter_map(|i| match ready.report.options.fish.corrections.get(i) {
            Some(Correction::Drop { n, was: None }) => Some((i, *n)),
            _ => None,
        })
        .collect()
}

/// What keeping a photo did.
struct Kept {
    subject: Subject,
    difference: Difference,
    again: bool,
}

fn put(
    book: &mut Book,
    task: &Task,
    ready: &mut Ready,
    bytes: &[u8],
    (sheet, by): (&Sheet, &By),
) -> Result<Kept> {
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
        desk::note(format_args!("{said}; `broodhue confirm --photo {} --bring-back` counts it", task.name));
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

fn print(task: &Result<Task>, result: &Result<(Ready, Kept)>, json: bool) -> Result<()> {
    match (result, json) {
        (Ok((ready, kept)), true) => print_line(ready, kept),
        (Ok((ready, kept)), false) => desk::print(in_words(ready, kept)),
        (Err(error), true) => {
            // One of the book goes by its name, any other by the name it was given.
            let photo = match task {
                Ok(task) if task.kept.is_some() => task.name.clone(),
                Ok(task) => task.path.to_string_lossy().into_owned(),
                Err(error) => error.place.clone(),
            };
            desk::print(format_args!("{}\n", pipeline::failure_line(&photo, error)))
        }
        (Err(_), false) => Ok(()),
    }
}

fn print_line(ready: &Ready, kept: &Kept) -> Result<()> {
    let failed = |e: serde_json::Error| Error::failed(&ready.report.photo, e, "please report this");
    let line = ready.report.line().map_err(failed)?;
    let mut value: serde_json::Value = serde_json::from_str(&line).map_err(failed)?;
    let (brood, sitting, fish) = match &kept.subject {
        Subject::Sitting { brood, day } => (Some(brood), Some(day), None),
        Subject::Portrait(fish) => (None, None, Some(fish)),
    };
    value["kept"] = json!({ "brood": brood, "sitting": sitting, "fish": fish,
                            "changed": kept.again.then_some(&kept.difference) });
    desk::print_json(&value)
}

fn in_words(ready: &Ready, Kept { subject, difference, again }: &Kept) -> String {
    let mut text = measure_table::table(&ready.report);
    text += &format!("  kept with {subject}; ");
    if !again {
        return text + "nothing is confirmed yet\n";
    }
    let others = if difference.set_aside.is_empty() { "" } else { " of all others" };
    text += &format!("what was confirmed{others} stays\n");
    text += &format!(
        "  measured again: {} the same fish, {} new, {} gone\n",
        difference.same, difference.new, difference.lost
    );
    for gone in &difference.set_aside {
        let back = format!("broodhue confirm --photo {} --fish {} --bring-back", ready.report.photo, gone.n);
        let said = format!("set aside ({}), its score no longer counts; `{back}` brings it back", gone.why);
        text += &format!("  fish {}: {said}\n", gone.n);
    }
    for n in &difference.kept {
        text +=
            &format!("  fish {n} of before keeps its outline and its score: nothing found now is clearly that fish\n");
    }
    for line in &difference.proposals {
        text += &format!("  {line}\n");
    }
    text
}
