//! What a measurement says, as the lines of `measure --json` (schema `broodhue.photo/1`).

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::MeasureOptions;
use super::keep::PROGRAM;
use crate::calibrate::{Calibration, FitReport, Verdict};
use crate::card::reference::Edition;
use crate::card::{Card, Layout, LeftOut};
use crate::error::{Error, Warning};
use crate::features::Features;
use crate::fish::{Flag, Region};
use crate::geometry::{PixelBox, Point, Quad};
use crate::lightness::Conditions;
use crate::photo::Photo;
use crate::sheet::{Proposal, Sheet};
use crate::units::{Sex, View, tidy};

/// Name and version of the line's form.
pub const SCHEMA: &str = "broodhue.photo/1";

/// One measured photo. Coordinates are continuous pixels of the upright picture.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PhotoReport {
    /// [`SCHEMA`].
    pub schema: String,
    /// The name the photo was given.
    pub photo: String,
    /// SHA-256 of the file, in hex.
    pub hash: String,
    /// Width in pixels.
    pub width: u32,
    /// Height in pixels.
    pub height: u32,
    /// Capture time on the camera's clock: `2026-05-02T10:30:00`.
    pub taken: Option<String>,
    /// The clock's offset from UTC, where the file tells it: `+02`.
    pub taken_offset: Option<String>,
    /// The colour card and what it gives.
    pub card: CardReport,
    /// The fish, in the order of their numbers.
    pub fish: Vec<FishReport>,
    /// What a comparison with another photo has to know.
    #[serde(default)]
    pub conditions: Conditions,
    /// What a person should know although the work went on.
    pub warnings: Vec<String>,
    /// Name and version of the program that measured.
    pub program: String,
    /// Hash of the sheet whose limits and rules were used.
    pub sheet: String,
    /// What a person said about the photo.
    pub options: MeasureOptions,
}

/// The card of a photo. Without one only `found`, `verdict` and `reasons` say something.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CardReport {
    /// Whether there is a card.
    pub found: bool,
    /// Which kind.
    pub layout: Option<Layout>,
    /// Corners of its outer edge, in the order of the card as printed.
    pub corners: Option<Quad>,
    /// Patch centres in the layout's order.
    pub patches: Option<Vec<Point>>,
    /// Whether it is seen as in a mirror.
    pub mirrored: Option<bool>,
    /// The fit's figures; `None` when the card cannot be read as colours.
    pub fit: Option<FitReport>,
    /// How far the colours can be trusted.
    pub verdict: Verdict,
    /// Why not further, and what to do.
    pub reasons: Vec<String>,
    /// Which published table was used.
    pub edition: Option<Edition>,
    /// Patches that took no part in the fit.
    pub left_out: Vec<PatchLeftOut>,
    /// Pixels between neighbouring patch centres.
    pub pitch_px: Option<f64>,
    /// Corners of further cards in the picture.
    pub others: Vec<Quad>,
}

/// A patch that took no part in the fit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PatchLeftOut {
    /// Its place in the layout's order, from 1.
    pub patch: usize,
    /// Why.
    pub why: LeftOut,
}

/// One fish of a photo.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FishReport {
    /// Its number in the photo.
    pub n: u32,
    /// Mean place of its pixels.
    pub centre: Point,
    /// The box around it.
    #[serde(rename = "box")]
    pub bounds: PixelBox,
    /// Number of its pixels.
    pub area_px: f64,
    /// Snout to tail tip in millimetres.
    pub length_mm: Option<f64>,
    /// Snout to the end of the tail stalk in millimetres.
    pub standard_length_mm: Option<f64>,
    /// Its colours, shares, net.
    #[serde(flatten)]
    pub features: Features,
    /// From where it was seen.
    pub view: View,
    /// Its sex, once a person has said so; `None` in a measurement.
    pub sex: Option<Sex>,
    /// What makes it doubtful.
    pub flags: BTreeSet<Flag>,
    /// What the sheet suggests.
    pub proposals: Vec<Proposal>,
    /// Snout to tail tip in pixels.
    pub length_px: f64,
    /// Snout to the end of the tail stalk in pixels.
    pub standard_length_px: Option<f64>,
    /// Direction from tail to head in degrees, 0 to the right, 90 downwards.
    pub heading: Option<f64>,
    /// Number of fish in it: 1, or the estimate for a cluster.
    pub number: u32,
    /// Outline as a closed polygon.
    pub outline: Vec<Point>,
}

impl PhotoReport {
    pub(super) fn new(
        photo: &Photo,
        card: CardReport,
        fish: Vec<FishReport>,
        conditions: Conditions,
        warnings: &[Warning],
        (sheet, options): (&Sheet, &MeasureOptions),
    ) -> Self {
        Self {
            schema: SCHEMA.to_owned(),
            photo: photo.name.clone(),
            hash: photo.hash.clone(),
            width: photo.width,
            height: photo.height,
            taken: photo.taken.map(|t| t.at.to_string()),
            taken_offset: photo.taken.and_then(|t| t.offset).map(|o| o.to_string()),
            card,
            fish,
            conditions,
            warnings: warnings.iter().map(ToString::to_string).collect(),
            program: PROGRAM.to_owned(),
            sheet: sheet.hash.clone(),
            options: options.clone(),
        }
    }

    /// The report as one line of JSON without line end, numbers with at most four decimals.
    ///
    /// # Errors
    /// None in practice: every key is a string.
    pub fn line(&self) -> serde_json::Result<String> {
        let mut value = serde_json::to_value(self)?;
        tidy(&mut value);
        serde_json::to_string(&value)
    }
}

impl CardReport {
    pub(super) fn new(card: Option<&Card>, others: &[Card], calibration: &Calibration) -> Self {
        let left_out = calibration.left_out.iter().map(|(i, why)| PatchLeftOut { patch: i + 1, why: *why }).collect();
        Self {
            found: card.is_some(),
            layout: card.map(|c| c.layout.clone()),
            corners: card.map(|c| c.corners),
            patches: card.map(|c| c.patches.iter().map(|p| p.centre).collect()),
            mirrored: card.map(|c| c.mirrored),
            fit: calibration.fit.clone(),
            verdict: calibration.verdict,
            reasons: calibration.reasons.clone(),
            edition: calibration.edition,
            left_out,
            pitch_px: card.map(|c| c.pitch_px),
            others: others.iter().map(|c| c.corners).collect(),
        }
    }
}

impl FishReport {
    pub(super) fn new(region: &Region, features: Features, proposals: Vec<Proposal>) -> Self {
        Self {
            n: region.n,
            centre: region.centre,
            bounds: region.bounds,
            area_px: region.area_px,
            length_mm: region.length_mm,
            standard_length_mm: region.standard_length_mm,
            features,
            view: region.view,
            sex: None,
            flags: region.flags.clone(),
            proposals,
            length_px: region.length_px,
            standard_length_px: region.standard_length_px,
            heading: region.heading_degrees,
            number: region.number,
            outline: region.outline.clone(),
        }
    }
}

/// The line of a photo that failed.
pub fn failure_line(photo: &str, error: &Error) -> String {
    serde_json::json!({ "schema": SCHEMA, "photo": photo, "error": error.message, "hint": error.hint }).to_string()
}
