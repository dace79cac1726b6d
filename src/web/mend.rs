//! Mending what was found: the photo is measured again at once, and the state before stays in the log.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use serde::Deserialize;

use super::actions::{Answer, Answered, Of, Place, answer};
use super::state::{App, work};
use crate::book::photos::{self, Photo as Kept, Subject};
use crate::book::{By, corrections, measurements, settings, sheets};
use crate::error::Result;
use crate::fish::Correction;
use crate::geometry::Quad;
use crate::photo::Photo;
use crate::pipeline::keep::{self, Keeping, Whose};
use crate::pipeline::{self, Given, MeasureOptions};
use crate::sheet::Sheet;

#[derive(Debug, Deserialize)]
pub(super) struct Mended {
    correction: Correction,
}

/// A fish added, removed, split, or two halves made one.
pub(super) async fn mend(State(app): State<Arc<App>>, Json(asked): Json<Of<Mended>>) -> Answered {
    asked.place.first_scorer_only()?;
    again(app, asked.place, "mended and measured again", move |options| {
        options.fish.corrections.push(asked.what.correction.clone());
        Some(asked.what.correction)
    })
    .await
}

#[derive(Debug, Deserialize)]
pub(super) struct Corners {
    corners: Quad,
}

/// The card's corners as a person points them out.
pub(super) async fn corners(State(app): State<Arc<App>>, Json(asked): Json<Of<Corners>>) -> Answered {
    asked.place.first_scorer_only()?;
    again(app, asked.place, "card moved and photo measured again", move |options| {
        options.card_corners = Some(asked.what.corners);
        None
    })
    .await
}

async fn again(
    app: Arc<App>,
    place: Place,
    said: &'static str,
    change: impl FnOnce(&mut MeasureOptions) -> Option<Correction> + Send + 'static,
) -> Answered {
    work(&app, move |app| {
        let by = app.by(&place.by)?;
        measure_again(app, &place.photo, &by, change)?;
        Ok(Answer { reload: true, ..answer(app, &place, &[], said)? })
    })
    .await
    .map(Json)
}

/// Measures a photo of the book again with its own options, changed by `change`, and keeps the result; a correction that
/// `change` hands back is kept with it, in the same transaction.
///
/// # Errors
/// The original cannot be read; the correction does not fit; the book cannot be written to.
pub(super) fn measure_again(
    app: &App,
    hash: &str,
    by: &By,
    change: impl FnOnce(&mut MeasureOptions) -> Option<Correction>,
) -> Result<()> {
    let (kept, photo) = app.decoded(hash)?;
    let (mut options, sheet, known) = as_before(app, &kept)?;
    let correction = change(&mut options);
    let measured = pipeline::measure(&photo, Given { sheet: &sheet, empty: None }, &options)?;
    let (day, today) = (day(&kept.subject), super::utc_day(by.at));
    let ready = keep::ready(measured, &sheet, &known, day, today)?;
    let bytes = std::fs::read(&kept.original)
        .map_err(|e| crate::error::Error::failed(&kept.name, e, "is the book's folder still there?"))?;
    let with = Keeping {
        name: &kept.name,
        bytes: &bytes,
        subject: &kept.subject,
        sheet: &sheet,
        options: &options,
        at: by.at,
    };
    app.book().write(|book| {
        keep::keep(book, &ready, &with)?;
        photos::renew_preview(book, hash, &ready.preview)?;
        if let Some(correction) = &correction {
            corrections::add(book, hash, correction, by)?;
        }
        Ok(())
    })
}

/// The options, the sheet and what is known of the fish, as the photo was last measured.
pub(super) fn as_before(app: &App, kept: &Kept) -> Result<(MeasureOptions, Sheet, keep::Known)> {
    let book = app.book();
    let read = book.read();
    let last = measurements::latest(&read, &kept.hash)?;
    let mut options: MeasureOptions =
        last.map(|l| serde_json::from_value(l.options).unwrap_or_default()).unwrap_or_default();
    options.fish.corrections = corrections::of_photo(&read, &kept.hash)?;
    if options.card_pitch_mm.is_none() {
        options.card_pitch_mm = settings::get(&read, settings::CARD_PITCH_MM)?.and_then(|p| p.parse().ok());
    }
    let whose = match &kept.subject {
        Subject::Sitting { brood, .. } => Whose::Brood(brood),
        Subject::Portrait(fish) => Whose::Fish(fish),
    };
    Ok((options, sheets::latest(&read)?, keep::known(&read, &whose)?))
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
    look: impl FnOnce(&pipeline::Measured<'_>) -> Result<T>,
) -> Result<T> {
    let (kept, photo): (Kept, Arc<Photo>) = app.decoded(hash)?;
    let (options, sheet, _) = as_before(app, &kept)?;
    look(&pipeline::measure(&photo, Given { sheet: &sheet, empty: None }, &options)?)
}
