//! What `score` is to do with each photo, made out before any pixel is read: whose photo it is, whether the book has it,
//! how it is to be measured.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use jiff::civil::Date;

use super::desk;
use super::score::Args;
use super::score_lines::{self, Place, Whose as Asked};
use crate::book::photos::{self, Photo, Subject};
use crate::book::{Book, corrections, empties, measurements, settings};
use crate::error::{Error, Result};
use crate::photo::{Limits, identity};
use crate::pipeline::keep::{self, Known, Whose};
use crate::pipeline::{self, MeasureOptions};

/// What is to be done about one photo.
pub(super) enum Job {
    /// Measure and keep it.
    Score(Box<Task>),
    /// Nothing: the book has it just so.
    Settled {
        /// The name it was given now.
        name: String,
        /// As the book has it.
        photo: Box<Photo>,
    },
}

impl Job {
    fn score(task: Result<Task>) -> Result<Self> {
        task.map(|task| Self::Score(Box::new(task)))
    }
}

/// One photo to be scored.
pub(super) struct Task {
    pub(super) name: String,
    pub(super) path: PathBuf,
    /// As the book has it, if it does.
    pub(super) kept: Option<Photo>,
    pub(super) known: Known,
    pub(super) asked: Asked,
    /// Whether it shows what is said now instead of what was said before.
    pub(super) instead: bool,
    pub(super) source: Source,
}

/// Where the measurement comes from.
pub(super) enum Source {
    /// The photo itself.
    Photo {
        /// How it is measured.
        options: Box<MeasureOptions>,
        /// How many of the corrections among them are in the book already.
        replayed: usize,
        /// Whether the boxes among them were typed now.
        boxed: bool,
        /// The photo of the empty tray that the book keeps with it, where no other was named.
        empty: Option<empties::Kept>,
    },
    /// A line that was measured elsewhere.
    Line(Place),
}

impl Task {
    /// The day of the sitting, where a person said so or the book knows.
    pub(super) fn day(&self) -> Option<Date> {
        match self.kept.as_ref().map(|p| &p.subject) {
            Some(Subject::Sitting { day, .. }) => self.asked.sitting.or(Some(*day)),
            _ => self.asked.sitting,
        }
    }
}

/// The photos that were named, or stand in lines, or are in the book; each that fails fails alone.
pub(super) fn jobs(args: &Args, book: &Book) -> Result<Vec<Result<Job>>> {
    let asked = Asked { brood: args.brood.clone(), fish: args.fish.clone(), sitting: args.sitting };
    if let Some(whose) = asked.whose() {
        keep::known(&book.read(), &whose)?;
    }
    if !args.from.is_empty() {
        return of_lines(args, book, &asked);
    }
    if args.photos.is_empty() {
        let all = photos::list(&book.read())?.into_iter().filter(|p| p.set_aside.is_none() && asked.fits(p));
        return Ok(all
            .map(|photo| of_photo(book, args, photo.name.clone(), photo.original.clone(), Some(photo), asked.clone()))
            .map(Job::score)
            .collect());
    }
    let (mut all, mut met) = (Vec::new(), BTreeSet::new());
    for path in &args.photos {
        let name = last_part(path);
        if let Some(photo) = by_its_name(book, args, path)? {
            let (name, original) = (photo.name.clone(), photo.original.clone());
            if first(&mut met, &name, photo.hash.clone()) {
                all.push(Job::score(of_photo(book, args, name, original, Some(photo), asked.clone())));
            }
            continue;
        }
        let found = pipeline::bytes(path, Limits::default()).and_then(|bytes| {
            let hash = identity(&bytes);
            Ok((photos::find(&book.read(), &hash)?, hash))
        });
        match found {
            Ok((kept, hash)) => {
                if !first(&mut met, &name, hash) {
                    continue;
                }
                match settled(book, args, &name, kept.as_ref(), &asked)? {
                    Some(photo) => all.push(Ok(Job::Settled { name, photo: Box::new(photo) })),
                    None => all.push(Job::score(of_photo(book, args, name, path.clone(), kept, asked.clone()))),
                }
            }
            Err(error) => all.push(Err(error)),
        }
    }
    Ok(all)
}

/// A photo of the book that is to be measured again and was named as the book names it, its file lying elsewhere or nowhere.
fn by_its_name(book: &Book, args: &Args, path: &Path) -> Result<Option<Photo>> {
    if path.exists() || !(args.again || args.instead) {
        return Ok(None);
    }
    let name = path.to_string_lossy();
    if photos::fitting(&book.read(), &name)?.is_empty() {
        return Ok(None);
    }
    photos::named(&book.read(), &name).map(Some)
}

fn of_lines(args: &Args, book: &Book, typed: &Asked) -> Result<Vec<Result<Job>>> {
    let (mut all, mut met) = (Vec::new(), BTreeSet::new());
    for file in &args.from {
        for found in score_lines::index(file)? {
            let (place, head) = match found {
                Ok(found) => found,
                Err(error) => {
                    all.push(Err(error));
                    continue;
                }
            };
            let path = PathBuf::from(&head.photo);
            let name = last_part(&path);
            let kept = photos::find(&book.read(), &head.hash)?;
            let asked = typed.or(head.kept);
            if !first(&mut met, &name, head.hash) {
                continue;
            }
            if let Some(photo) = settled(book, args, &name, kept.as_ref(), &asked)? {
                all.push(Ok(Job::Settled { name, photo: Box::new(photo) }));
                continue;
            }
            let known = known(book, &name, kept.as_ref(), &asked);
            let source = Source::Line(place);
            all.push(Job::score(known.map(|known| Task { name, path, kept, known, asked, instead: false, source })));
        }
    }
    Ok(all)
}

fn last_part(path: &Path) -> String {
    path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned()
}

/// The photo as the book has it, where it shows what it is said to show, was measured, and nothing new is asked of it.
fn settled(book: &Book, args: &Args, name: &str, kept: Option<&Photo>, asked: &Asked) -> Result<Option<Photo>> {
    let Some(photo) = kept else { return Ok(None) };
    let measured = measurements::latest(&book.read(), &photo.hash)?.is_some();
    let done = measured
        && !args.again
        && !args.instead
        && asked.fits(photo)
        && asked.is_of_the_day(photo)
        && args.about.options()?.fish.corrections.is_empty();
    if done {
        // Another name of the file may be that of another photo.
        let known = if *name == photo.name { String::new() } else { format!(" as {}", photo.name) };
        let said = format!("{name}: is in the book already{known} with {}", photo.subject);
        desk::note(format_args!("{said}; --again measures it again, confirmed scores stay"));
    }
    Ok(done.then(|| photo.clone()))
}

/// Whether this is the first of the same photo in one go.
fn first(met: &mut BTreeSet<String>, name: &str, hash: String) -> bool {
    let new = met.insert(hash);
    if !new {
        desk::note(format_args!("{name}: is named twice; the same file counts once"));
    }
    new
}

impl Asked {
    /// What was typed, else what the line says.
    fn or(&self, line: Self) -> Self {
        let said = self.brood.is_some() || self.fish.is_some();
        let (brood, fish) = if said { (self.brood.clone(), self.fish.clone()) } else { (line.brood, line.fish) };
        Self { brood, fish, sitting: self.sitting.or(line.sitting) }
    }

    fn whose(&self) -> Option<Whose<'_>> {
        self.brood.as_deref().map(Whose::Brood).or(self.fish.as_deref().map(Whose::Fish))
    }

    /// Whether a photo of the book is one of those.
    fn fits(&self, photo: &Photo) -> bool {
        match &photo.subject {
            Subject::Sitting { brood, .. } => self.fish.is_none() && self.brood.as_ref().is_none_or(|b| b == brood),
            Subject::Portrait(fish) => self.brood.is_none() && self.fish.as_ref().is_none_or(|f| f == fish),
        }
    }

    /// Whether no other day is named than the book has of a photo.
    fn is_of_the_day(&self, photo: &Photo) -> bool {
        match &photo.subject {
            Subject::Sitting { day, .. } => self.sitting.is_none_or(|said| said == *day),
            Subject::Portrait(_) => true,
        }
    }
}

/// What the book knows of the fish that a photo is said to show.
fn known(book: &Book, name: &str, kept: Option<&Photo>, asked: &Asked) -> Result<Known> {
    let whose = match (asked.whose(), kept.map(|p| &p.subject)) {
        (Some(whose), _) => whose,
        (None, Some(Subject::Sitting { brood, .. })) => Whose::Brood(brood),
        (None, Some(Subject::Portrait(fish))) => Whose::Fish(fish),
        (None, None) => {
            return Err(Error::usage(name, "is not in the book yet", "say what it shows: --brood B or --fish F"));
        }
    };
    keep::known(&book.read(), &whose)
}

/// How a photo is measured: as typed, in all else as it was before; what was mended by hand stays mended.
fn of_photo(book: &Book, args: &Args, name: String, path: PathBuf, kept: Option<Photo>, asked: Asked) -> Result<Task> {
    let read = book.read();
    let mut before = MeasureOptions::default();
    if let Some(photo) = &kept {
        if let Some(last) = measurements::latest(&read, &photo.hash)?.filter(|_| !args.afresh) {
            before = serde_json::from_value(last.options).unwrap_or_default();
        }
        before.card_corners = corrections::card_of_photo(&read, &photo.hash, before.card_corners)?;
        before.fish.corrections = corrections::of_photo(&read, &photo.hash)?;
    }
    let replayed = before.fish.corrections.len();
    let mut options = args.about.options_over(before)?;
    match (options.card_pitch_mm, settings::card_pitch_mm(&read)?) {
        (None, of_book) => options.card_pitch_mm = of_book,
        (Some(before), Some(of_book))
            if (before - of_book).abs() > 1e-9 && args.about.options()?.card_pitch_mm.is_none() =>
        {
            let said =
                format!("{name}: is measured with a card pitch of {before} mm as before, the book's is {of_book}");
            desk::note(format_args!("{said}; --card-pitch-mm {of_book} measures it with that"));
        }
        _ => {}
    }
    let kept_empty = options.empty.as_deref().filter(|_| !args.about.names_an_empty_tray());
    let empty = kept_empty.map(|hash| empties::kept(&read, hash));
    let known = known(book, &name, kept.as_ref(), &asked)?;
    let boxed = !args.about.options()?.fish.boxes.is_empty();
    let source = Source::Photo { options: Box::new(options), replayed, boxed, empty };
    Ok(Task { name, path, kept, known, asked, instead: args.instead, source })
}
