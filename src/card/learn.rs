//! A home-printed card's colours, as a calibrated photo shows them, become the card's known colours.

use super::{Card, Design, KnownColour, Layout};
use crate::colour::{Lab, LinearRgb};
use crate::error::{Error, Result};

/// The learned card: each patch's colour through `lab` (the chart's calibration), its error from `error` (that
/// calibration's own, as one figure in CIELAB) and the spread over the patch.
///
/// # Errors
/// A card with clipped or covered patches, named; a card that needs no learning.
pub fn learn(place: &str, card: &Card, lab: impl Fn(LinearRgb) -> Lab, error: impl Fn(Lab) -> f64) -> Result<Design> {
    let base = match card.layout {
        Layout::Tray => Design::tray(),
        Layout::Unknown24 => Design { layout: Layout::Described, pitch_mm: card.unit_mm, ..Design::chart() },
        Layout::Chart24 | Layout::Described => {
            return Err(Error::failed(place, "the colours of this card are known", "learn a home-printed card"));
        }
    };
    let unreadable: Vec<String> = card
        .patches
        .iter()
        .enumerate()
        .filter(|(_, p)| p.left_out.is_some() || p.clipped_share > 0.0)
        .map(|(i, _)| (i + 1).to_string())
        .collect();
    if !unreadable.is_empty() {
        let what = format!("patches {} of the card to be learned are covered or too bright", unreadable.join(", "));
        return Err(Error::failed(place, what, "expose less, keep glare and fingers off, and take the photo again"));
    }
    let known: Vec<KnownColour> = card
        .patches
        .iter()
        .map(|p| {
            let colour = lab(p.linear);
            let [r, g, b] = p.spread;
            // One standard deviation of the patch's own pixels, seen through the calibration, on the mean of them all.
            #[expect(clippy::cast_possible_truncation, reason = "light is kept as f32")]
            let shifted = lab(p.linear + LinearRgb::new(r as f32, g as f32, b as f32));
            let apart = (shifted.l - colour.l).hypot(shifted.a - colour.a).hypot(shifted.b - colour.b);
            KnownColour { lab: colour, error: error(colour).hypot(apart / f64::from(p.pixels.max(1)).sqrt()) }
        })
        .collect();
    Ok(Design { colours: known.iter().map(|k| k.lab).collect(), known, ..base })
}
