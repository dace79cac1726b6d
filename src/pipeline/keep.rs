//! A measured photo becomes records of the book.

use jiff::civil::Date;

use super::{FishReport, Given, MeasureOptions, Measured, PhotoReport, line, preview};
use crate::book::measurements::{self, Difference, MeasuredFish};
use crate::book::photos::{self, NewPhoto, Subject};
use crate::book::{Write, broods, fish};
use crate::calibrate::CalibratedPhoto;
use crate::command_line::to_type;
use crate::error::{Error, Result};
use crate::fish::{Asked, Unmet};
use crate::geometry::PixelBox;
use crate::photo::{self, Limits};
use crate::sheet::{self, Sheet};
use crate::units::{Sex, View, age_days};

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
    /// Whether it is a portrait, which has no sitting.
    pub portrait: bool,
}

/// What the book knows of the fish of a brood or of a portrait.
///
/// # Errors
/// An unknown brood or fish.
pub fn known(book: &crate::book::Read<'_>, subject: &Whose<'_>) -> Result<Known> {
    match subject {
        Whose::Brood(name) => {
            let brood = broods::known(book, name)?;
            Ok(Known { born: brood.dropped_to.or(brood.dropped_from), ..Known::default() })
        }
        Whose::Fish(name) => {
            let one = fish::get(book, name)?;
            Ok(Known { born: one.born, sex: one.sex, portrait: true })
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
    /// The day it counts for: as a person said, else by the camera's clock, else today.
    pub day: Date,
    /// What is said where neither said a day; it stands among the report's warnings too.
    pub undated: Option<String>,
    /// Which of its boxes and corrections met nothing; unknown, and empty, for one measured elsewhere.
    pub unmet: Vec<Unmet>,
}

impl Ready {
    /// Takes back that correction `i` met nothing: what it speaks of stands in the book.
    pub fn forget_unmet(&mut self, i: usize) {
        let Some(place) = self.unmet.iter().position(|unmet| unmet.asked == Asked::Correction(i)) else { return };
        let said = self.unmet.remove(place).to_string();
        if let Some(warning) = self.report.warnings.iter().position(|w| *w == said) {
            self.report.warnings.remove(warning);
        }
    }
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
    days: (Option<Date>, Date),
) -> Result<Ready> {
    let photo = photo::read(name, bytes, Limits::default())?;
    ready(super::measure(&photo, given, options)?, given.sheet, known, days)
}

/// Makes a measured photo ready to be kept; the days are that of the sitting where a person said so, and the one to take
/// when neither person nor camera says.
///
/// # Errors
/// The preview cannot be made.
pub fn ready(measured: Measured<'_>, sheet: &Sheet, known: &Known, days: (Option<Date>, Date)) -> Result<Ready> {
    let preview = preview(&measured.calibrated)?;
    Ok(Ready { unmet: measured.unmet, ..settle(measured.report, Some(preview), sheet, known, days)? })
}

/// As [`ready`], for a photo that is in the book with these very colours: its preview stays.
///
/// # Errors
/// None in practice.
pub fn same_colours(measured: Measured<'_>, sheet: &Sheet, known: &Known, days: (Option<Date>, Date)) -> Result<Ready> {
    Ok(Ready { unmet: measured.unmet, ..settle(measured.report, None, sheet, known, days)? })
}

/// Makes a photo ready that was measured elsewhere, from its line and the bytes of its file: only the colours of the
/// preview are worked out again.
///
/// # Errors
/// Another file than the one that was measured; another sheet than the one it was measured with; a photo that cannot be
/// read.
pub fn ready_from_line(
    report: PhotoReport,
    bytes: &[u8],
    given: Given<'_>,
    known: &Known,
    days: (Option<Date>, Date),
) -> Result<Ready> {
    if photo::identity(bytes) != report.hash {
        let said = "the file is not the one that was measured: its hash differs";
        return Err(Error::failed(&report.photo, said, "name the folder of the photos as they were, or measure again"));
    }
    if report.sheet != given.sheet.hash {
        let said = format!("was measured with another sheet ({})", report.sheet);
        return Err(Error::failed(&report.photo, said, "name that sheet with --sheet FILE, or measure again"));
    }
    if report.options.empty.is_some() && report.options.empty.as_ref() != given.empty.map(|e| &e.hash) {
        let said = "was measured with a photo of the empty tray, and with another than is named now";
        return Err(Error::failed(&report.photo, said, "name the same one as then with --empty PHOTO"));
    }
    let photo = photo::read(&report.photo, bytes, Limits::default())?;
    let (_, calibrated) = super::calibrate(&photo, given.empty, &report.options)?;
    let preview = preview(&calibrated)?;
    settle(report, Some(preview), given.sheet, known, days)
}

fn preview(calibrated: &CalibratedPhoto<'_>) -> Result<Vec<u8>> {
    let photo = calibrated.photo;
    let all = PixelBox { x0: 0.0, y0: 0.0, x1: f64::from(photo.width), y1: f64::from(photo.height) };
    preview::jpeg(&preview::picture(calibrated, all, PREVIEW_PX))
}

/// What is kept is what the line says, digit for digit, so that a book does not tell where its photos were measured.
fn settle(
    measured: PhotoReport,
    preview: Option<Vec<u8>>,
    sheet: &Sheet,
    known: &Known,
    (day, otherwise): (Option<Date>, Date),
) -> Result<Ready> {
    let text = measured.line().map_err(|e| Error::failed(&measured.photo, e, "please report this"))?;
    let mut report = line::read(&text).map_err(|e| Error::failed(&measured.photo, e, "please report this"))?;
    let taken = report.taken.as_deref().and_then(|t| t.get(..10)).and_then(|d| d.parse().ok());
    let view = report.options.fish.view.unwrap_or_default();
    let dated = day.or(taken);
    let undated = if dated.is_none() { undated(&report.photo, known, otherwise) } else { None };
    report.warnings.extend(undated.clone());
    let day = dated.unwrap_or(otherwise);
    let age_days = known.born.and_then(|born| age_days(born, day));
    for one in report.fish.iter_mut().filter(|f| !f.proposals.is_empty()) {
        one.sex = known.sex;
        let subject = sheet::Subject { sex: known.sex, age_days, flags: one.flags.clone() };
        one.proposals = sheet::propose(sheet, &one.features, &subject);
    }
    Ok(Ready { report, preview, view, day, undated, unmet: Vec::new() })
}

/// What is said of a photo whose day nobody knows, where the day matters: which sitting it is, or how old the fish of a portrait.
fn undated(photo: &str, known: &Known, today: Date) -> Option<String> {
    let (said, photo) = (format!("the photo carries no day, so today, {today}, is taken"), to_type(photo));
    match known {
        Known { portrait: false, .. } => Some(format!(
            "{said} for its sitting; if that is wrong, say the day with `broodhue score {photo} --sitting DAY --instead`, or on \
             the photo’s own page under “Wrong brood or day?”"
        )),
        Known { born: Some(_), .. } => Some(format!(
            "{said} for the age of the fish; if that is wrong, say the day with `broodhue score {photo} --again --sitting DAY`"
        )),
        Known { .. } => None,
    }
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
    // The fish stand in rows of their own, the options in a column of their own.
    summary["fish"] = serde_json::Value::Null;
    let options = summary["options"].take();
    let measured = measurements::Measured {
        program: &report.program,
        sheet: with.sheet,
        card_layout: layout.as_deref(),
        card_edition: edition.as_deref(),
        options: &options,
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fish::FishOptions;

    #[test]
    fn the_view_is_what_was_said_also_where_nothing_is_found() {
        let bytes = include_bytes!("../../tests/fixtures/grey.jpg");
        let sheet = Sheet::starting().unwrap();
        let day = (None, jiff::civil::date(2026, 5, 2));
        for view in [View::Above, View::Side] {
            let options = MeasureOptions {
                fish: FishOptions { view: Some(view), ..FishOptions::default() },
                ..MeasureOptions::default()
            };
            let given = Given { sheet: &sheet, empty: None };
            let ready = read_ready("grey.jpg", bytes, given, &options, &Known::default(), day).unwrap();
            assert_eq!((ready.view, ready.report.fish.len()), (view, 0));
        }
    }
}
