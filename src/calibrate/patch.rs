//! A card's patches as the fit sees them.

use crate::card::reference::Reference;
use crate::card::{Card, LeftOut, PatchReading};
use crate::colour::{Lab, de00_frame, srgb_encode};
use crate::floor::LightField;
use crate::geometry::Point;

/// Share of a patch's pixels at the clipping limit from which the patch tells nothing: single sparkling pixels are left
/// out by the reading itself, beyond a tenth the rest is biased too (starting value).
const CLIPPED_SHARE: f64 = 0.1;

/// One readable patch.
#[derive(Debug, Clone)]
pub(super) struct Patch {
    /// Its place in the card's order.
    pub(super) index: usize,
    /// The file's linear light, relit to the card's centre, sRGB-encoded: 0…1, above 1 where relighting brightens it.
    pub(super) encoded: [f64; 3],
    /// Where it stands: −1…1 across and down the card, 0 at the card's centre.
    pub(super) place: [f64; 2],
    /// What it should look like.
    pub(super) lab: Lab,
    /// Turns a small CIELAB difference at `lab` into CIEDE2000 differences of lightness, chroma and hue.
    pub(super) frame: [[f64; 3]; 3],
    /// Standard error of `lab`, in CIELAB units.
    pub(super) error: f64,
    /// Whether it is one of the greys.
    pub(super) neutral: bool,
}

/// The readable patches of a card, and those that are not, with the reason.
pub(super) fn readable(
    card: &Card,
    references: &[Reference],
    field: &LightField,
) -> (Vec<Patch>, Vec<(usize, LeftOut)>) {
    let places = places(card);
    let (mut patches, mut left_out) = (Vec::new(), Vec::new());
    for (index, ((reading, reference), place)) in card.patches.iter().zip(references).zip(places).enumerate() {
        match unreadable(reading) {
            Some(why) => left_out.push((index, why)),
            None => patches.push(patch(index, reading, reference, place, field)),
        }
    }
    (patches, left_out)
}

fn unreadable(reading: &PatchReading) -> Option<LeftOut> {
    if reading.pixels == 0 {
        return Some(LeftOut::Covered);
    }
    let clipped = (reading.clipped_share > CLIPPED_SHARE).then_some(LeftOut::Clipped);
    reading.left_out.or(clipped)
}

fn patch(index: usize, reading: &PatchReading, reference: &Reference, place: [f64; 2], field: &LightField) -> Patch {
    let relit = field.relight(reading.centre, reading.linear);
    // Below zero lie dark patches by their noise, and colours of wide-gamut files outside of sRGB.
    let encoded = |v: f32| srgb_encode(f64::from(v.abs())).copysign(f64::from(v));
    Patch {
        index,
        encoded: [relit.red, relit.green, relit.blue].map(encoded),
        place,
        lab: reference.lab,
        frame: de00_frame(reference.lab),
        error: reference.error,
        neutral: reference.neutral,
    }
}

/// Each patch's place on the card, −1…1 across and down, each over the patches' own spread, 0 at their middle.
fn places(card: &Card) -> Vec<[f64; 2]> {
    let flat = card.to_px.inverse();
    let unit: Vec<Point> = card.patches.iter().map(|p| flat.map_or(p.centre, |h| h.apply(p.centre))).collect();
    let range = |axis: fn(&Point) -> f64| {
        let (low, high) = unit.iter().map(axis).fold((f64::MAX, f64::MIN), |(l, h), v| (l.min(v), h.max(v)));
        ((low + high) / 2.0, ((high - low) / 2.0).max(1e-9))
    };
    let ((x, half_x), (y, half_y)) = (range(|p| p.x), range(|p| p.y));
    unit.iter().map(|p| [(p.x - x) / half_x, (p.y - y) / half_y]).collect()
}
