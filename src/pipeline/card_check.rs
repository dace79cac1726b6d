//! How good the card in a photo is: verdict, each patch's error, the spread of the light.

use serde::Serialize;

use super::{CardReport, MeasureOptions, calibrate, warnings};
use crate::calibrate::CalibratedPhoto;
use crate::card::reference::{self, Edition};
use crate::card::{Card, LeftOut};
use crate::error::Result;
use crate::geometry::{PixelBox, Point};
use crate::photo::Photo;

/// Name and version of the check's form.
pub const SCHEMA: &str = "broodhue.card-check/1";

/// Places along each side of the tray's box at which the light is looked at.
const PLACES: u32 = 40;

/// What a check of the card says.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CardCheck {
    /// [`SCHEMA`].
    pub schema: &'static str,
    /// The name the photo was given.
    pub photo: String,
    /// The card and what it gives, as `measure` reports it.
    pub card: CardReport,
    /// Every patch of the card in the layout's order; empty without a card.
    pub patches: Vec<PatchCheck>,
    /// The light over the tray.
    pub light: LightCheck,
    /// What a person should know although the work went on.
    pub warnings: Vec<String>,
}

/// One patch of the card.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PatchCheck {
    /// Its place in the layout's order, from 1.
    pub patch: usize,
    /// Its name.
    pub name: String,
    /// CIEDE2000 of the patch read by a fit that has not seen it; `None` when clipped, covered or of unknown colour.
    pub loo_de00: Option<f64>,
    /// Why it took no part in the fit.
    pub left_out: Option<LeftOut>,
}

/// The light over the tray, relative to the light at the card's centre.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LightCheck {
    /// Least ratio.
    pub lowest: f64,
    /// Greatest ratio.
    pub highest: f64,
    /// Relative standard error of the ratio between two places.
    pub relative_error: f64,
}

/// Checks the card of one photo; also gives the calibrated photo, for [`super::card_picture::draw`].
///
/// # Errors
/// As [`super::measure`].
pub fn check<'a>(
    photo: &'a Photo,
    empty: Option<&Photo>,
    options: &MeasureOptions,
) -> Result<(CardCheck, CalibratedPhoto<'a>)> {
    let (search, calibrated) = calibrate(photo, empty, options)?;
    let check = CardCheck {
        schema: SCHEMA,
        photo: photo.name.clone(),
        card: CardReport::new(search.card.as_ref(), &search.others, &calibrated.calibration),
        patches: calibrated.card.as_ref().map(|card| patches(&calibrated, card, options.edition)).unwrap_or_default(),
        light: light(&calibrated),
        warnings: warnings(&search, &calibrated).iter().map(ToString::to_string).collect(),
    };
    Ok((check, calibrated))
}

/// Every patch of the card with its error.
pub(super) fn patches(calibrated: &CalibratedPhoto<'_>, card: &Card, edition: Edition) -> Vec<PatchCheck> {
    let calibration = &calibrated.calibration;
    let names = reference::of_card(card, edition);
    let of = |i: usize| PatchCheck {
        patch: i + 1,
        name: names.get(i).map_or_else(|| format!("patch {}", i + 1), |r| r.name.clone()),
        loo_de00: calibration.leave_one_out.iter().find(|l| l.0 == i).map(|l| l.1),
        left_out: calibration.left_out.iter().find(|l| l.0 == i).map(|l| l.1),
    };
    (0..card.patches.len()).map(of).collect()
}

/// The range of the light inside the tray; even light without a tray.
pub(super) fn light(calibrated: &CalibratedPhoto<'_>) -> LightCheck {
    let (floor, field) = (&calibrated.floor, &calibrated.floor.field);
    let even = LightCheck { lowest: 1.0, highest: 1.0, relative_error: field.relative_error };
    let Some(around) = PixelBox::around(&floor.tray) else { return even };
    let at = |k: u32, from: f64, to: f64| from + (to - from) * (f64::from(k) + 0.5) / f64::from(PLACES);
    (0..PLACES * PLACES)
        .map(|k| Point::new(at(k % PLACES, around.x0, around.x1), at(k / PLACES, around.y0, around.y1)))
        .filter(|p| floor.contains(*p))
        .map(|p| f64::from(field.ratio(p)))
        .map(|ratio| LightCheck { lowest: ratio, highest: ratio, ..even })
        .reduce(|s, r| LightCheck { lowest: s.lowest.min(r.lowest), highest: s.highest.max(r.highest), ..even })
        .unwrap_or(even)
}
