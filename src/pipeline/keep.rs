//! A measured photo becomes records of the book.

use jiff::civil::Date;

use super::{FishReport, Given, MeasureOptions, Measured, PhotoReport, preview};
use crate::book::measurements::{self, Difference, MeasuredFish};
use crate::book::photos::{self, NewPhoto, Subject};
use crate::book::{Write, broods, fish};
use crate::error::{Error, Result};
use crate::geometry::PixelBox;
use crate::photo::{self, Limits};
use crate::sheet::{self, Sheet};
use crate::units::{Sex, View};

/// Longer side of a preview in pixels: a screen's width, some hundred kilobytes a photo.
const PREVIEW_PX: u32 = 1200;

/// Name and version of this program, as its measurements are signed.
pub const PROGRAM: &str = concat!("broodhue ", env!("CARGO_PKG_VERSION"));

/// What the book knows of the fish in a photo before it is measured.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Known {
    /// The first day on which none of them can be younger: the last day of the drop, or the fish's own birth.
    pub born: Option<Date>,
    /// The sex of the one named fish it shows.
    pub sex: Option<Sex>,
}

/// What the book knows of the fish of a brood or of a portrait.
///
/// # Errors
/// An unknown brood or fish.
pub fn known(book: &crate::book::Read<'_>, subject: &Whose<'_>) -> Result<Known> {
    match subject {
        Whose::Brood(name) => {
            let brood = broods::known(book, name)?;
            Ok(Known { born: brood.dropped_to.or(brood.dropped_from), sex: None })
        }
        Whose::Fish(name) => {
            let one = fish::get(book, name)?;
            Ok(Known { born: one.born, sex: one.sex })
        }
    }
}

/// Whose photo it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Whose<'a> {
    /// A brood's.
    Brood(&'a str),
    /// A named fish's.
    Fish(&'a str),
}

/// A measured photo that no longer holds its pixels: the report with proposals that know age and sex, and the preview.
#[derive(Debug, Clone)]
pub struct Ready {
    /// The report.
    pub report: PhotoReport,
    /// The calibrated preview as JPEG; `None` leaves the one that the book has.
    pub preview: Option<Vec<u8>>,
    /// From where the camera saw the fish.
    pub view: View,
    /// The day it was taken, by the camera's clock.
    pub taken: Option<Date>,
}

/// Reads, measures and makes ready; see [`ready`].
///
/// # Errors
/// A photo that cannot be read; options that do not fit it.
pub fn read_ready(
    name: &str,
    bytes: &[u8],
    given: Given<'_>,
    options: &MeasureOptions,
    known: &Known,
    (day, otherwise): (Option<Date>, Date),
) -> Result<Ready> {
    let photo = photo::read(name, bytes, Limits::default())?;
    ready(super::measure(&photo, given, options)?, given.sheet, known, day, otherwise)
}

/// Makes a measured photo ready to be kept; `day` is the day of the sitting where a person said so, and `otherwise` the
/// day to take when neither person nor camera says.
///
/// # Errors
/// The preview cannot be made.
pub fn ready(
    measured: Measured<'_>,
    sheet: &Sheet,
    known: &Known,
    day: Option<Date>,
    otherwise: Date,
) -> Result<Ready> {
    let photo = measured.calibrated.photo;
    let all = PixelBox { x0: 0.0, y0: 0.0, x1: f64::from(photo.width), y1: f64::from(photo.height) };
    let preview = preview::jpeg(&preview::picture(&measured.calibrated, all, PREVIEW_PX))?;
    Ok(Ready { preview: Some(preview), ..same_colours(measured, sheet, known, day, otherwise) })
}

/// As [`ready`], for a photo that is in the book with these very colours: its preview stays.
pub fn same_colours(measured: Measured<'_>, sheet: &Sheet, known: &Known, day: Option<Date>, otherwise: Date) -> Ready {
    let taken = measured.calibrated.photo.taken.map(|t| t.at.date());
    let view = measured.regions.first().map_or_else(View::default, |r| r.view);
    let mut report = measured.report;
    let on = day.or(taken).unwrap_or(otherwise);
    let age_days = known.born.and_then(|b| u32::try_from(b.until(on).ok()?.get_days()).ok());
    for one in report.fish.iter_mut().filter(|f| !f.proposals.is_empty()) {
        one.sex = known.sex;
        let subject = sheet::Subject { sex: known.sex, age_days, flags: one.flags.clone() };
        one.proposals = sheet::propose(sheet, &one.features, &subject);
    }
    Ready { report, preview: None, view, taken }
}

/// What a photo is kept with.
#[derive(Debug, Clone, Copy)]
pub struct Keeping<'a> {
    /// The file's name as a person knows it.
    pub name: &'a str,
    /// The file, byte for byte.
    pub bytes: &'a [u8],
    /// What it shows.
    pub subject: &'a Subject,
    /// The sheet behind the proposals.
    pub sheet: &'a Sheet,
    /// The options it was measured with.
    pub options: &'a MeasureOptions,
    /// The moment.
    pub at: jiff::Timestamp,
}

/// Keeps a photo and its measurement, and says what that changed.
///
/// # Errors
/// A photo that already shows something else; a full disk.
pub fn keep(book: &Write<'_>, ready: &Ready, with: &Keeping<'_>) -> Result<Difference> {
    let report = &ready.report;
    let json = |e: serde_json::Error| Error::failed(with.name, e, "this is a fault of the program: please report it");
    photos::keep(
        book,
        &NewPhoto {
            name: with.name,
            hash: &report.hash,
            bytes: with.bytes,
            width: report.width,
            height: report.height,
            taken: report.taken.clone(),
            view: ready.view,
            preview: ready.preview.as_deref(),
            subject: with.subject,
        },
        with.at,
    )?;
    let fish: Vec<MeasuredFish> = report.fish.iter().map(measured_fish).collect();
    let card = &report.card;
    let word = |v: serde_json::Result<serde_json::Value>| Ok::<_, Error>(v.map_err(json)?.as_str().map(str::to_owned));
    let layout = word(serde_json::to_value(&card.layout))?;
    let edition = word(serde_json::to_value(card.edition))?;
    let verdict = word(serde_json::to_value(card.verdict))?;
    let mut summary = serde_json::to_value(report).map_err(json)?;
    // The fish stand in rows of their own.
    summary["fish"] = serde_json::Value::Null;
    let measured = measurements::Measured {
        program: PROGRAM,
        sheet: with.sheet,
        card_layout: layout.as_deref(),
        card_edition: edition.as_deref(),
        options: &serde_json::to_value(with.options).map_err(json)?,
        verdict: verdict.as_deref().unwrap_or_default(),
        report: &summary,
        fish: &fish,
    };
    measurements::add(book, &report.hash, &measured, with.at)
}

fn measured_fish(one: &FishReport) -> MeasuredFish {
    MeasuredFish {
        n: one.n,
        centre: one.centre,
        bounds: one.bounds,
        outline: one.outline.clone(),
        area_px: one.area_px,
        length_mm: one.length_mm,
        standard_length_mm: one.standard_length_mm,
        number: one.number,
        flags: one.flags.iter().map(|f| f.name().to_owned()).collect(),
        features: one.features.clone(),
        proposals: one.proposals.clone(),
    }
}
