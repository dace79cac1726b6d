//! From the names of a comparison to readings: fish of photos are measured, all else is looked up in the book.

use std::collections::BTreeMap;
use std::path::Path;

use super::Done;
use super::desk::{self, BookArg};
use super::photo_args::PhotoArgs;
use crate::book::Book;
use crate::book::lightness::{self as records, Album};
use crate::book::{broods, fish, photos, regions, settings};
use crate::command_line::to_type;
use crate::error::{Error, Result};
use crate::fish::FishOptions;
use crate::lightness::{Named, NamedReadings, Part, Reading, Seen, SetUp, card_readings, named_side, reading};
use crate::photo::{Limits, Photo, identity};
use crate::pipeline::{self, Given, MeasureOptions, Measured, PhotoReport};
use crate::sheet::Sheet;
use crate::units::View;

/// What names are looked up in: a book that is opened when first needed, and photos that are measured once.
pub(super) struct Sides<'a> {
    arg: &'a BookArg,
    book: Option<Book>,
    options: MeasureOptions,
    sheet: Sheet,
    empty: Option<Photo>,
    /// Whether anything was typed, beside the view, that only a measurement heeds.
    about_photos: bool,
    part: Part,
    album: Album,
    measured: BTreeMap<String, PhotoReport>,
    /// How many of them showed nothing where something typed of their fish points.
    failed: usize,
}

impl<'a> Sides<'a> {
    /// Nothing is opened yet.
    pub(super) fn new(book: &'a BookArg, about: &PhotoArgs, part: Part) -> Result<Self> {
        let (options, sheet, empty) = (about.options()?, about.sheet()?, about.empty()?);
        let (album, measured) = (Album::default(), BTreeMap::new());
        let from_anywhere = FishOptions { view: None, ..options.fish.clone() };
        let but_view = MeasureOptions { fish: from_anywhere, ..options.clone() };
        let about_photos = but_view != MeasureOptions::default() || empty.is_some() || about.names_a_sheet();
        Ok(Self { arg: book, book: None, options, sheet, empty, about_photos, part, album, measured, failed: 0 })
    }

    /// The book, opened.
    pub(super) fn book(&mut self) -> Result<&mut Book> {
        let book = match self.book.take() {
            Some(book) => book,
            None => self.arg.open()?,
        };
        Ok(self.book.insert(book))
    }

    /// How it ended: what was typed of a photo's fish and met nothing has been said, as `measure` says it.
    pub(super) fn done(&self) -> Done {
        Done::of(self.failed, self.measured.len())
    }

    /// Says that options about photos change nothing where no photo was measured, and the book's stay as they were.
    pub(super) fn say_unheeded(&self) {
        if self.about_photos && self.measured.is_empty() {
            desk::note(format_args!(
                "note: no photo is measured here, so the options about card, tray, fish or sheet change nothing; they hold for a fish of a \
                 photo, PHOTO#N"
            ));
        }
    }

    /// Those from the view asked for, where one is.
    fn as_seen(&self, mut found: Vec<Reading>) -> Vec<Reading> {
        found.retain(|r| self.options.fish.view.is_none_or(|view| r.view == view));
        found
    }

    /// The view asked for, else from above.
    fn view(&self) -> View {
        self.options.fish.view.unwrap_or(View::Above)
    }

    /// Opens the book if there is one: fish of photos need none, but where there is one it may know the photo, or the name.
    pub(super) fn open_where_there_is_one(&mut self) {
        if self.book.is_none() {
            self.book = self.arg.open().ok();
        }
    }

    /// The numbers of the fish in a photo, as the book has it or as it is measured.
    pub(super) fn numbers(&mut self, photo: &str) -> Result<Vec<u32>> {
        if let (Some(kept), Some(book)) = (self.kept(photo)?, &self.book) {
            return Ok(regions::of_photo(&book.read(), &kept)?.iter().map(|r| r.n).collect());
        }
        Ok(self.report(photo)?.fish.iter().map(|f| f.n).collect())
    }

    /// Readings of one side, by its names.
    pub(super) fn readings(&mut self, text: &str) -> Result<Vec<NamedReadings>> {
        self.open_where_there_is_one();
        let known = |name: &str| self.book.as_ref().is_some_and(|book| is_known(book, name));
        let mut out = Vec::new();
        for named in named_side(text, known)? {
            let readings = match &named {
                Named::OfPhoto { photo, n } => vec![self.of_photo(photo, *n, None)?],
                Named::OfClass { brood, axis, class } => self.of_brood(brood, Some((axis, class)))?,
                Named::OfBook(name) => self.of_book(name)?,
            };
            out.push(NamedReadings { name: named.to_string(), readings });
        }
        Ok(out)
    }

    /// Fish `n` of a photo file; `subject` names it where several photos show the same fish.
    pub(super) fn of_photo(&mut self, photo: &str, n: u32, subject: Option<&str>) -> Result<Reading> {
        let part = self.part;
        if let (Some(kept), Some(book)) = (self.kept(photo)?, &self.book) {
            let region = regions::numbered(&book.read(), &kept, n)?;
            let fish = subject.map_or_else(|| format!("{photo}#{n}"), str::to_owned);
            let brood = match kept.subject {
                photos::Subject::Sitting { brood, .. } => Some(brood),
                photos::Subject::Portrait(_) => None,
            };
            let found = records::of_region(&book.read(), &mut self.album, &region, fish, brood, part)?;
            return found.ok_or_else(|| unseen(photo, n, &region.flags));
        }
        let report = self.report(photo)?;
        let numbers: Vec<String> = report.fish.iter().map(|f| f.n.to_string()).collect();
        let found = report.fish.iter().find(|f| f.n == n).ok_or_else(|| {
            let has = if numbers.is_empty() { "none".to_owned() } else { numbers.join(", ") };
            let said = format!("there is no fish {n}; this photo has {has}");
            Error::failed(photo, said, "numbers are those `broodhue measure` prints")
        })?;
        let seen = Seen {
            fish: subject.map_or_else(|| format!("{} fish {n}", report.hash), str::to_owned),
            brood: None,
            photo: photo.to_owned(),
            n,
            view: found.view,
            conditions: &report.conditions,
        };
        reading(seen, &found.features, part).ok_or_else(|| {
            let flags: Vec<String> = found.flags.iter().map(|f| f.name().to_owned()).collect();
            unseen(photo, n, &flags)
        })
    }

    /// A photo as the book has it, where it does and no option asks for another measurement: its numbers are those of `score`.
    fn kept(&self, photo: &str) -> Result<Option<photos::Photo>> {
        let as_kept = !self.about_photos && self.options.fish.view.is_none();
        let Some(book) = self.book.as_ref().filter(|_| as_kept) else { return Ok(None) };
        let hash = identity(&pipeline::bytes(Path::new(photo), Limits::default())?);
        photos::find(&book.read(), &hash)
    }

    /// A photo measured, once.
    pub(super) fn report(&mut self, photo: &str) -> Result<&PhotoReport> {
        if !self.measured.contains_key(photo) {
            let picture = pipeline::open(Path::new(photo), Limits::default())?;
            let given = Given { sheet: &self.sheet, empty: self.empty.as_ref() };
            let mut options = self.options.clone();
            if let (None, Some(book)) = (options.card_pitch_mm, &self.book) {
                // As `score` would: what passes for a fish depends on its millimetres, and so do the numbers.
                options.card_pitch_mm = settings::card_pitch_mm(&book.read())?;
            }
            let Measured { report, unmet, .. } = pipeline::measure(&picture, given, &options)?;
            unmet.iter().for_each(|unmet| super::say(&unmet.failure(photo)));
            self.failed += usize::from(!unmet.is_empty());
            self.measured.insert(photo.to_owned(), report);
        }
        Ok(&self.measured[photo])
    }

    fn of_book(&mut self, name: &str) -> Result<Vec<Reading>> {
        let part = self.part;
        self.book()?;
        let (Some(book), album) = (&self.book, &mut self.album) else { return Ok(Vec::new()) };
        if fish::get(&book.read(), name).is_ok() {
            if let Ok(brood) = broods::known(&book.read(), name) {
                let other = format!("{}/{}", brood.cross, brood.name);
                desk::note(format_args!(
                    "note: {name} is a fish and a brood; the fish is compared, and {other} names the brood"
                ));
            }
            for photo in photos::list(&book.read())? {
                if photo.set_aside.is_none() && photo.subject == photos::Subject::Portrait(name.to_owned()) {
                    desk::note_crowded(&book.read(), &photo)?;
                }
            }
            let found = records::of_fish(&book.read(), album, name, part)?;
            let hint =
                format!("photograph it: broodhue score PHOTO --fish {}; or compare another --part", to_type(name));
            return some(self.as_seen(found), || Error::failed(name, "no portrait of this fish can be read", hint));
        }
        if broods::known(&book.read(), name).is_err() {
            let hint = "name a fish, a brood, BROOD/axis=class or PHOTO#N; names are matched exactly";
            return Err(Error::failed(name, "no fish and no single brood of this name is in the book", hint));
        }
        self.of_brood(name, None)
    }

    fn of_brood(&mut self, name: &str, class: Option<(&str, &str)>) -> Result<Vec<Reading>> {
        let (view, part) = (self.view(), self.part);
        self.book()?;
        let (Some(book), album) = (&self.book, &mut self.album) else { return Ok(Vec::new()) };
        let found = records::of_brood(&book.read(), album, name, class, view, part)?;
        let Some((axis, class)) = class else { return Ok(found) };
        let said = format!("no readable fish of the latest sitting is confirmed as {class} on {axis}");
        some(found, || Error::failed(name, said, "`broodhue counts` shows the classes; or compare another --part"))
    }

    /// The repeatability that applies to both sides: where all photos share a set-up that the book has repeats of.
    pub(super) fn set_up(&mut self, a: &[Reading], b: &[Reading]) -> Result<Option<SetUp>> {
        self.book.as_ref().map_or(Ok(None), |book| records::shared_set_up(&book.read(), a.iter().chain(b)))
    }

    /// The card in every photo of the book that is not set aside.
    pub(super) fn all_cards(&mut self) -> Result<Vec<Reading>> {
        self.book()?;
        let (Some(book), album) = (&self.book, &mut self.album) else { return Ok(Vec::new()) };
        let mut out = Vec::new();
        for photo in photos::list(&book.read())?.into_iter().filter(|p| p.set_aside.is_none()) {
            out.extend(card_readings(&photo.name, &album.get(&book.read(), &photo.hash)?.conditions));
        }
        Ok(out)
    }

    /// Readings of every named fish that has portraits.
    pub(super) fn all_portraits(&mut self) -> Result<Vec<Reading>> {
        let part = self.part;
        self.book()?;
        let (Some(book), album) = (&self.book, &mut self.album) else { return Ok(Vec::new()) };
        let mut out = Vec::new();
        for one in fish::list(&book.read())? {
            out.extend(records::of_fish(&book.read(), album, &one.name, part)?);
        }
        Ok(self.as_seen(out))
    }
}

fn unseen(photo: &str, n: u32, flags: &[String]) -> Error {
    let said = format!("this part of fish {n} cannot be read ({})", flags.join(", "));
    Error::failed(photo, said, "compare another --part, or photograph it again")
}

/// The readings, of which there must be some.
fn some(found: Vec<Reading>, none: impl FnOnce() -> Error) -> Result<Vec<Reading>> {
    if found.is_empty() { Err(none()) } else { Ok(found) }
}

fn is_known(book: &Book, name: &str) -> bool {
    let read = book.read();
    fish::get(&read, name).is_ok() || broods::known(&read, name).is_ok()
}
