//! `book`: makes, describes, checks, copies and restores the records.

use std::path::{Path, PathBuf};

use clap::Subcommand;

use super::Done;
use super::desk::{self, BookArg, ReadArgs};
use super::photo_args::check_pitch;
use crate::book::{Book, backup, check, photo_tally, settings};
use crate::error::{Error, Result};
use crate::units::counted;

/// Arguments of `book`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example: broodhue book new --by Ann --card-pitch-mm 12.4")]
pub(super) struct Args {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Make an empty book.
    #[command(after_help = "Example: broodhue book new --by Ann --card-pitch-mm 12.4")]
    New(Settings),
    /// Change what the book knows of you and your card.
    #[command(after_help = "Example: broodhue book set --card-pitch-mm 12.4")]
    Set(Settings),
    /// Say what is in the book.
    #[command(after_help = "Example: broodhue book info --json")]
    Info(ReadArgs),
    /// Check that the records are sound and every original is the photo that was taken in.
    #[command(after_help = "Example: broodhue book check")]
    Check(ReadArgs),
    /// Sort and add up the fish of every photo anew out of the log; `book check` says when that is needed.
    #[command(after_help = "Example: broodhue book recount")]
    Recount(BookArg),
    /// Copy everything, originals included, into one new file; works while another program writes.
    #[command(after_help = "Example: broodhue book backup book-2026-05-31.backup")]
    Backup {
        /// The file to write.
        file: PathBuf,
        #[command(flatten)]
        book: BookArg,
    },
    /// Make a book out of a backup, in a folder that holds none yet.
    #[command(after_help = "Example: broodhue book restore book-2026-05-31.backup --book restored")]
    Restore {
        /// The backup.
        file: PathBuf,
        #[command(flatten)]
        book: BookArg,
    },
}

#[derive(Debug, clap::Args)]
struct Settings {
    #[command(flatten)]
    book: BookArg,
    /// Your name: it is kept with what is decided in this book where no other --by is given.
    #[arg(long, value_name = "NAME")]
    by: Option<String>,
    /// Millimetres between neighbouring patch centres of your 24-patch chart, for lengths in millimetres.
    #[arg(long, value_name = "MM", allow_negative_numbers = true, value_parser = desk::number)]
    card_pitch_mm: Option<f64>,
}

impl Settings {
    fn check(&self) -> Result<()> {
        if self.by.as_ref().is_some_and(|name| name.trim().is_empty()) {
            return Err(Error::usage("--by", "is empty", "give your name, or leave it out"));
        }
        check_pitch(self.card_pitch_mm)
    }
}

/// Runs the subcommand.
pub(super) fn run(args: &Args) -> Result<Done> {
    match &args.what {
        What::New(typed) => {
            typed.check()?;
            let mut book = Book::create(&typed.book.dir())?;
            keep(&mut book, typed)?;
            desk::print(format_args!("{}: a new book\n", book.dir().display()))?;
            Ok(Done::All)
        }
        What::Set(typed) => {
            typed.check()?;
            if typed.by.is_none() && typed.card_pitch_mm.is_none() {
                return Err(Error::usage("book set", "nothing to set", "give --by NAME, --card-pitch-mm MM or both"));
            }
            let mut book = typed.book.open()?;
            keep(&mut book, typed)?;
            let info = check::info(&book.read())?;
            desk::note(format_args!("{}: {}", info.book, settings_in_words(&info)));
            Ok(Done::All)
        }
        What::Info(read) => info(read),
        What::Check(read) => run_check(read),
        What::Recount(book) => {
            let mut book = book.open()?;
            let photos = book.write(photo_tally::recount)?;
            let photos = counted(photos, "photo", "photos");
            desk::print(format_args!("{}: the fish of {photos} sorted anew\n", book.dir().display()))?;
            Ok(Done::All)
        }
        What::Backup { file, book } => {
            let copied = backup::write(&book.open()?, file)?;
            desk::print(format_args!(
                "{}: {}, {} bytes\n",
                file.display(),
                counted(copied.files, "file", "files"),
                copied.bytes
            ))?;
            let hint = format!("{PUT_BACK}; then write another backup");
            spoilt(file, "all that can be read is in it", &copied, &hint)
        }
        What::Restore { file, book } => {
            let copied = backup::restore(file, &book.dir())?;
            desk::print(format_args!(
                "{}: the book and {}\n",
                book.dir().display(),
                counted(copied.files, "file", "files")
            ))?;
            spoilt(&book.dir(), "all that the backup holds is there", &copied, PUT_BACK)
        }
    }
}

/// How an original comes back into the book.
const PUT_BACK: &str = "put each file back, as it came from the camera: broodhue score FOLDER/PHOTO --again";

/// Fails where originals are not as they were taken in, and names their photos.
fn spoilt(place: &Path, done: &str, copied: &backup::Copied, hint: &str) -> Result<Done> {
    if copied.spoilt.is_empty() {
        return Ok(Done::All);
    }
    let each: Vec<String> =
        copied.spoilt.iter().map(|one| format!("the original of {} {}", one.photo, one.wrong)).collect();
    Err(Error::failed(place.display(), format!("{done}, but {}", each.join("; ")), hint))
}

fn keep(book: &mut Book, typed: &Settings) -> Result<()> {
    book.write(|w| {
        if let Some(name) = &typed.by {
            settings::set(w, settings::SCORER, name)?;
        }
        if let Some(pitch) = typed.card_pitch_mm {
            settings::set(w, settings::CARD_PITCH_MM, &pitch.to_string())?;
        }
        Ok(())
    })
}

fn info(args: &ReadArgs) -> Result<Done> {
    let info = check::info(&args.open()?.read())?;
    if args.json {
        desk::print_json(&info)?;
        return Ok(Done::All);
    }
    let rows = [
        ("fish", info.fish),
        ("crosses", info.crosses),
        ("broods", info.broods),
        ("sittings", info.sittings),
        ("photos", info.photos),
        ("fish in photos", info.regions),
        ("confirmed scores", info.scores),
        ("counts by hand", info.hand_counts),
        ("entries in the log", info.decisions),
    ];
    let mut text = format!("{} (layout {}), {}\n", info.book, info.layout, settings_in_words(&info));
    for (what, number) in rows {
        text += &format!("  {what:<20}{number:>8}\n");
    }
    desk::print(text)?;
    Ok(Done::All)
}

fn settings_in_words(info: &check::Info) -> String {
    let scorer = info.scorer.as_deref().map_or("no name set".to_owned(), |name| format!("kept by {name}"));
    let pitch = info.card_pitch_mm.map_or("no card pitch".to_owned(), |mm| format!("card pitch {mm} mm"));
    format!("{scorer}, {pitch}")
}

fn run_check(args: &ReadArgs) -> Result<Done> {
    let book = args.open()?;
    let found = check::run(&book.read())?;
    if args.json {
        desk::print_json(&found)?;
    } else {
        for line in found.faults.iter().chain(&found.remarks) {
            desk::print(format_args!("{line}\n"))?;
        }
    }
    if found.faults.is_empty() {
        desk::note(format_args!(
            "{}: sound, {} compared with their hash",
            book.dir().display(),
            counted(found.photos, "original", "originals")
        ));
        return Ok(Done::All);
    }
    let said = format!("{} found", counted(found.faults.len(), "fault", "faults"));
    Err(Error::failed(book.dir().display(), said, "keep the folder as it is and restore the last backup elsewhere"))
}
