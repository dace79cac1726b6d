//! Mending what was found: the photo is measured again at once, and the state before stays in the log.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use serde::Deserialize;

use super::answer::{Answered, Of, Place, draw_again};
use super::fault::Fault;
use super::posted::Posted;
use super::state::{App, work};
use crate::book::photos::{self, Photo as Kept, Subject};
use crate::book::{By, corrections, measurements, settings, sheets};
use crate::calibrate::CalibratedPhoto;
use crate::error::{Error, Result};
use crate::fish::{Asked, Correction};
use crate::geometry::Quad;
use crate::pipeline::keep::{self, Keeping, Whose};
use crate::pipeline::{self, Given, MeasureOptions};
use crate::sheet::Sheet;

/// What is mended.
enum Change {
    /// A fish.
    Fish(Correction),
    /// The card's place.
    Card(Quad),
    /// Whose photo it is, and of which day: age and sex are part of what is proposed.
    Shows(Subject),
}

#[derive(Debug, Deserialize)]
pub(super) struct Mended {
    correction: Correction,
}

/// A fish added, removed, split, or two halves made one.
pub(super) async fn mend(State(app): State<Arc<App>>, Posted(asked): Posted<Of<Mended>>) -> Answered {
    again(app, asked.place, "mended and measured again", Change::Fish(asked.what.correction)).await
}

#[derive(Debug, Deserialize)]
pub(super) struct Corners {
    corners: Quad,
}

/// The card's corners as a person points them out.
pub(super) async fn corners(State(app): State<Arc<App>>, Posted(asked): Posted<Of<Corners>>) -> Answered {
    again(app, asked.place, "card moved and photo measured again", Change::Card(asked.what.corners)).await
}

/// Gets a photo ready, because somebody begins to mend it: the first correction is then as quick as the next.
pub(super) async fn begin(
    State(app): State<Arc<App>>,
    Posted(place): Posted<Place>,
) -> std::result::Result<Json<()>, Fault> {
    work(&app, move |app| with_colours(app, &place.photo, |_| Ok(()))).await.map(Json)
}

async fn again(app: Arc<App>, place: Place, said: &'static str, change: Change) -> Answered {
    place.first_scorer_only()?;
    work(&app, move |app| {
        let by = app.by(&place.by)?;
        measure_again(app, &place.photo, Some((change, &by)), by.at)?;
        Ok(draw_again(app, &place, said))
    })
    .await
    .map(Json)
}

/// Measures a photo again where what was mended is not what it was last measured with: something was taken back, here
/// or in the terminal, or the program was ended in between.
///
/// # Errors
/// The original cannot be read; the book cannot be written to.
pub(super) fn catch_up(app: &App, hash: &str) -> Result<()> {
    measure_again(app, hash, None, app.now())
}

/// Keeps that a photo shows something else than was said, and measures it again as what it shows.
///
/// # Errors
/// A sitting before the brood was dropped; the original cannot be read; the book cannot be written to.
pub(super) fn shows(app: &App, hash: &str, subject: Subject, by: &By) -> Result<()> {
    measure_again(app, hash, Some((Change::Shows(subject), by)), by.at)
}

/// Measures a photo of the book again with its own options and the change, and keeps both in one transaction.
fn measure_again(app: &App, hash: &str, change: Option<(Change, &By)>, at: jiff::Timestamp) -> Result<()> {
    let _turn = app.turn_to_mend();
    let before = app.photo(hash)?;
    let mut kept = before.clone();
    if let Some((Change::Shows(subject), _)) = &change {
        kept.subject.clone_from(subject);
    }
    let Before { mut options, last, same_program, sheet, known } = Before::of(app, &kept)?;
    if change.is_none() && options.as_said() == last.as_said() {
        return Ok(());
    }
    let found_with = options.card_corners;
    match &change {
        Some((Change::Fish(correction), _)) => options.fish.corrections.push(correction.as_said()),
        Some((Change::Card(corners), _)) => options.card_corners = Some(*corners),
        Some((Change::Shows(_), _)) | None => {}
    }
    let photo = app.decoded(&kept)?;
    let uncorrected = app.uncorrected((&kept.name, &photo), &sheet, &options)?;
    let measured = uncorrected.corrected(&photo, Given { sheet: &sheet, empty: None }, &options);
    if let (Some((Change::Fish(_), _)), Some(unmet)) = (&change, measured.unmet.last())
        && unmet.asked == Asked::Correction(options.fish.corrections.len() - 1)
    {
        let hint = "point at it again; if the page was mended in another tab, reload it";
        return Err(Error::failed(&kept.name, unmet, hint));
    }
    let met = measured.report.options.fish.corrections.last().cloned();
    let (day, today) = (day(&kept.subject), app.today());
    let ready = if same_program && last.card_corners == options.card_corners {
        keep::same_colours(measured, &sheet, &known, (day, today))?
    } else {
        keep::ready(measured, &sheet, &known, (day, today))?
    };
    let bytes = pipeline::original(&kept)?;
    let with = Keeping { name: &kept.name, bytes: &bytes, subject: &kept.subject, sheet: &sheet, at };
    app.book().write(|book| {
        if let Some((Change::Shows(subject), by)) = &change {
            photos::shows_instead(book, &before, subject, by)?;
        }
        keep::keep(book, &ready, &with)?;
        match &change {
            Some((Change::Fish(_), by)) => met.iter().try_for_each(|c| corrections::add(book, hash, c, by).map(drop)),
            Some((Change::Card(corners), by)) => corrections::move_card(book, hash, *corners, found_with, by).map(drop),
            Some((Change::Shows(_), _)) | None => Ok(()),
        }
    })
}

/// How a photo stands in the book before it is measured again.
struct Before {
    /// Its options, with all that was mended by hand and holds.
    options: MeasureOptions,
    /// The options of its latest measurement.
    last: MeasureOptions,
    /// Whether that was made by this very program.
    same_program: bool,
    sheet: Sheet,
    known: keep::Known,
}

impl Before {
    fn of(app: &App, kept: &Kept) -> Result<Self> {
        let book = app.book();
        let read = book.read();
        let measured = measurements::latest(&read, &kept.hash)?;
        let same_program = measured.as_ref().is_some_and(|m| m.program == keep::PROGRAM);
        let mut last: MeasureOptions =
            measured.map(|m| serde_json::from_value(m.options).unwrap_or_default()).unwrap_or_default();
        if last.card_pitch_mm.is_none() {
            last.card_pitch_mm = settings::card_pitch_mm(&read)?;
        }
        let mut options = last.clone();
        options.fish.corrections = corrections::of_photo(&read, &kept.hash)?;
        options.card_corners = corrections::card_of_photo(&read, &kept.hash, last.card_corners)?;
        let whose = match &kept.subject {
            Subject::Sitting { brood, .. } => Whose::Brood(brood),
            Subject::Portrait(fish) => Whose::Fish(fish),
        };
        let known = keep::known(&read, &whose)?;
        Ok(Self { options, last, same_program, sheet: sheets::latest(&read)?, known })
    }
}

const fn day(subject: &Subject) -> Option<jiff::civil::Date> {
    match subject {
        Subject::Sitting { day, .. } => Some(*day),
        Subject::Portrait(_) => None,
    }
}

/// A photo of the book with its colours, as it was last measured.
///
/// # Errors
/// The original cannot be read.
pub(super) fn with_colours<T>(
    app: &App,
    hash: &str,
    look: impl FnOnce(&CalibratedPhoto<'_>) -> Result<T>,
) -> Result<T> {
    let kept = app.photo(hash)?;
    let Before { options, sheet, .. } = Before::of(app, &kept)?;
    let photo = app.decoded(&kept)?;
    look(&app.uncorrected((&kept.name, &photo), &sheet, &options)?.calibrated(&photo))
}
