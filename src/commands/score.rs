//! `score`: photos are measured, classes proposed, everything kept in the book. It never confirms.

use std::path::PathBuf;

use jiff::civil::Date;
use serde_json::json;
use sha2::{Digest, Sha256};

use super::desk::{self, BookArg, ByArg};
use super::photo_args::PhotoArgs;
use super::{Done, measure, measure_table};
use crate::book::measurements::{self, Difference};
use crate::book::photos::{self, Photo, Subject};
use crate::book::{Book, By, corrections, settings, sheets};
use crate::error::{Error, Result};
use crate::photo::Limits;
use crate::pipeline::keep::{self, Keeping, Known, Ready, Whose};
use crate::pipeline::{self, Given, MeasureOptions};
use crate::sheet::Sheet;

/// Arguments of `score`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  broodhue score tray-a.jpg tray-b.jpg --brood K2-1 --sitting 2026-03-07\n  \
                        broodhue score portrait.jpg --fish K1-s\n  \
                        broodhue score --again --brood K2-1 --sheet my-sheet.toml")]
pub(super) struct Args {
    /// Photos; with --again alone those of the book.
    #[arg(required_unless_present = "again")]
    photos: Vec<PathBuf>,
    /// The brood they show.
    #[arg(long, conflicts_with = "fish", required_unless_present_any = ["fish", "again"])]
    brood: Option<String>,
    /// The one named fish they show.
    #[arg(long)]
    fish: Option<String>,
    /// The day of the sitting; without it the day the photo was taken, else today. Photos of one day add up.
    #[arg(long, value_name = "DAY", value_parser = desk::day)]
    sitting: Option<Date>,
    /// Measure photos of the book again with this program and sheet; confirmed scores stay.
    #[arg(long)]
    again: bool,
    /// One JSON line a photo.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    about: PhotoArgs,
    #[command(flatten)]
    book: BookArg,
    #[command(flatten)]
    by: ByArg,
}

/// One photo to be scored.
struct Task {
    name: String,
    path: PathBuf,
    /// As the book has it, if it does.
    kept: Option<Photo>,
    known: Known,
    options: MeasureOptions,
}

/// Scores each photo; one that fails does not stop the others.
pub(super) fn run(args: &Args) -> Result<Done> {
    let mut book = args.book.open()?;
    let by = args.by.decide(&book)?;
    let sheet = sheet(args, &book)?;
    let empty = args.about.empty()?;
    let given = Given { sheet: &sheet, empty: empty.as_ref() };
    let tasks = tasks(args, &book)?;
    let progress = measure::progress(tasks.len());
    let today = desk::today();
    let (mut failed, mut closed) = (0, None);
    pipeline::in_order(
        &tasks,
        rayon::current_num_threads(),
        |task| work(task.as_ref().map_err(Clone::clone)?, args, given, today),
        |i, result| {
            let kept = result.and_then(|(ready, bytes)| {
                let task = tasks[i].as_ref().map_err(Clone::clone)?;
                let done = put(&mut book, args, task, &ready, &bytes, (&sheet, &by, today))?;
                Ok((ready, done))
            });
            progress.inc(1);
            match kept {
                Ok((ready, done)) if closed.is_none() => {
                    closed = progress.suspend(|| print(&ready, &done, args.json)).err()
                }
                Ok(_) => {}
                Err(error) => {
                    failed += 1;
                    progress.suspend(|| super::say(&error));
                }
            }
        },
    );
    progress.finish_and_clear();
    match (closed, failed, tasks.len()) {
        (Some(error), ..) => Err(error),
        (None, 0, _) => Ok(Done::All),
        (None, _, 1) => Ok(Done::None),
        _ => Ok(Done::Some),
    }
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

fn tasks(args: &Args, book: &Book) -> Result<Vec<Result<Task>>> {
    let read = book.read();
    let whose = args.brood.as_deref().map(Whose::Brood).or(args.fish.as_deref().map(Whose::Fish));
    if let Some(whose) = &whose {
        keep::known(&read, whose)?;
    }
    if args.photos.is_empty() {
        let all = photos::list(&read)?.into_iter().filter(|p| p.set_aside.is_none() && belongs(p, args));
        return Ok(all
            .map(|photo| task(book, args, photo.name.clone(), photo.original.clone(), Some(photo)))
            .collect());
    }
    let mut all = Vec::new();
    for path in &args.photos {
        let name = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned();
        let kept = pipeline::bytes(path, Limits::default()).and_then(|bytes| {
            let hash: String = Sha256::digest(&bytes).iter().map(|b| format!("{b:02x}")).collect();
            photos::find(&read, &hash)
        });
        match kept {
            Ok(Some(photo)) if measured_enough(book, args, &photo)? => {
                let said = format!("{name}: is in the book already with {}", photo.subject);
                desk::note(format_args!("{said}; --again measures it again, confirmed scores stay"));
            }
            Ok(kept) => all.push(task(book, args, name, path.clone(), kept)),
            Err(error) => all.push(Err(error)),
        }
    }
    Ok(all)
}

/// Whether a photo shows what it is said to show, was measured, and nothing new is asked of it.
fn measured_enough(book: &Book, args: &Args, photo: &Photo) -> Result<bool> {
    let measured = measurements::latest(&book.read(), &photo.hash)?.is_some();
    Ok(measured && !args.again && belongs(photo, args) && args.about.options()?.fish.corrections.is_empty())
}

fn belongs(photo: &Photo, args: &Args) -> bool {
    match &photo.subject {
        Subject::Sitting { brood, .. } => args.fish.is_none() && args.brood.as_ref().is_none_or(|b| b == brood),
        Subject::Portrait(fish) => args.brood.is_none() && args.fish.as_ref().is_none_or(|f| f == fish),
    }
}

/// What is known before the pixels are read: whose photo it is, how it was measured before, what was mended by hand.
fn task(book: &Book, args: &Args, name: String, path: PathBuf, kept: Option<Photo>) -> Result<Task> {
    let read = book.read();
    let mut options = args.about.options()?;
    let typed = std::mem::take(&mut options.fish.corrections);
    if let Some(photo) = &kept {
        let last = measurements::latest(&read, &photo.hash)?;
        if options == MeasureOptions::default()
            && let Some(last) = last
        {
            options = serde_json::from_value(last.options).unwrap_or_default();
            options.card_corners = corrections::card_of_photo(&read, &photo.hash, options.card_corners)?;
        }
        options.fish.corrections = corrections::of_photo(&read, &photo.hash)?;
    }
    options.fish.corrections.extend(typed);
    if options.card_pitch_mm.is_none() {
        let pitch = settings::get(&read, settings::CARD_PITCH_MM)?;
        options.card_pitch_mm = pitch.and_then(|p| p.parse().ok());
    }
    let whose = match (&kept, &args.brood, &args.fish) {
        (_, Some(brood), _) => Whose::Brood(brood),
        (_, None, Some(fish)) => Whose::Fish(fish),
        (Some(Photo { subject: Subject::Sitting { brood, .. }, .. }), None, None) => Whose::Brood(brood),
        (Some(Photo { subject: Subject::Portrait(fish), .. }), None, None) => Whose::Fish(fish),
        (None, None, None) => {
            return Err(Error::usage(&name, "is not in the book yet", "say what it shows: --brood B or --fish F"));
        }
    };
    let known = keep::known(&read, &whose)?;
    Ok(Task { name, path, kept, known, options })
}

fn day_of(task: &Task, args: &Args) -> Option<Date> {
    match task.kept.as_ref().map(|p| &p.subject) {
        Some(Subject::Sitting { day, .. }) => args.sitting.or(Some(*day)),
        _ => args.sitting,
    }
}

fn work(task: &Task, args: &Args, given: Given<'_>, today: Date) -> Result<(Ready, Vec<u8>)> {
    let bytes = pipeline::bytes(&task.path, Limits::default())?;
    let days = (day_of(task, args), today);
    let mut ready = keep::read_ready(&task.name, &bytes, given, &task.options, &task.known, days)?;
    ready.report.photo.clone_from(&task.name);
    Ok((ready, bytes))
}

/// What keeping a photo did.
struct Kept {
    subject: Subject,
    difference: Difference,
    again: bool,
}

fn put(
    book: &mut Book,
    args: &Args,
    task: &Task,
    ready: &Ready,
    bytes: &[u8],
    (sheet, by, today): (&Sheet, &By, Date),
) -> Result<Kept> {
    let subject = match (&args.brood, &args.fish, &task.kept) {
        (Some(brood), ..) => {
            let day = day_of(task, args).or(ready.taken).unwrap_or(today);
            Subject::Sitting { brood: brood.clone(), day }
        }
        (None, Some(fish), _) => Subject::Portrait(fish.clone()),
        (None, None, Some(photo)) => photo.subject.clone(),
        (None, None, None) => return Err(Error::usage(&task.name, "is not in the book yet", "name --brood or --fish")),
    };
    let typed = args.about.options()?.fish.corrections;
    let with = Keeping { name: &task.name, bytes, subject: &subject, sheet, options: &task.options, at: by.at };
    let difference = book.write(|w| {
        let difference = keep::keep(w, ready, &with)?;
        typed.iter().try_for_each(|c| corrections::add(w, &ready.report.hash, c, by).map(|_| ()))?;
        Ok(difference)
    })?;
    Ok(Kept { subject, difference, again: task.kept.is_some() })
}

fn print(ready: &Ready, kept: &Kept, json: bool) -> Result<()> {
    let (subject, difference) = (&kept.subject, &kept.difference);
    if json {
        let failed = |e: serde_json::Error| Error::failed(&ready.report.photo, e, "please report this");
        let line = ready.report.line().map_err(failed)?;
        let mut value: serde_json::Value = serde_json::from_str(&line).map_err(failed)?;
        let (brood, sitting, fish) = match subject {
            Subject::Sitting { brood, day } => (Some(brood), Some(day), None),
            Subject::Portrait(fish) => (None, None, Some(fish)),
        };
        value["kept"] = json!({ "brood": brood, "sitting": sitting, "fish": fish,
                                "changed": kept.again.then_some(difference) });
        return desk::print_json(&value);
    }
    let mut text = measure_table::table(&ready.report);
    text += &format!("  kept with {subject}; nothing is confirmed yet\n");
    if kept.again {
        text += &format!(
            "  measured again: {} the same fish, {} new, {} gone\n",
            difference.same, difference.new, difference.lost
        );
        for n in &difference.kept {
            text += &format!(
                "  fish {n} of before keeps its outline and its score: nothing found now is clearly that fish\n"
            );
        }
        for line in &difference.proposals {
            text += &format!("  {line}\n");
        }
    }
    desk::print(text)
}
