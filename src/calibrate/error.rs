//! The standard error a calibration gives to a colour.

use super::ColourError;
use super::fit::{Explained, Unseen};
use super::residue::{PECULIAR, REACH};
use crate::colour::{Lab, de00_frame};

/// Smallest standard deviation claimed of lightness, chroma or hue, in CIEDE2000: what 8-bit values and a printed card leave
/// (starting value).
const LEAST: f64 = 0.15;

/// Standard deviations of lightness, chroma and hue, in CIEDE2000, where a grey card alone sets white balance and exposure:
/// the root mean squares over the open chart photographs so treated.
const GREY_CARD: [f64; 3] = [4.0, 6.0, 6.0];

/// Standard errors without a card: the root mean squares over the open chart photographs read by their profile alone.
pub(super) const NO_CARD: ColourError = ColourError { l: 10.0, a: 8.0, b: 8.0 };

/// Standard deviations of lightness, chroma and hue in CIEDE2000 per unit of the expected spread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Spread([f64; 3]);

impl Spread {
    /// From how far patches were off when read by a fit that had not seen them.
    pub(super) fn of(outside: &[Unseen], coloured: bool) -> Self {
        let n = outside.len().max(1) as f64;
        let rms: [f64; 3] = std::array::from_fn(|axis| {
            (outside.iter().map(|u| u.difference[axis].powi(2) / u.variance).sum::<f64>() / n).sqrt()
        });
        let least = if coloured { [LEAST; 3] } else { GREY_CARD.map(|v| v / PECULIAR.sqrt()) };
        Self(std::array::from_fn(|axis| rms[axis].max(least[axis])))
    }

    /// Standard errors at a colour: as large as leave-one-out found them, larger where patches are far, and growing with
    /// the distance beyond the patches' reach.
    pub(super) fn at(&self, lab: Lab, explained: &Explained) -> ColourError {
        let (remoteness, nearest) =
            explained.residue.as_ref().map_or((0.0, 0.0), |r| (r.remoteness(lab), r.nearest(lab)));
        let beyond = 1.0 + (nearest / REACH - 1.0).max(0.0);
        let k = (PECULIAR + remoteness).sqrt() * beyond;
        let frame = de00_frame(lab);
        // The frame is a block of 1 and a block of 2 × 2; its inverse takes the spread back to L*, a* and b*.
        let [along, across] = [[frame[1][1], frame[1][2]], [frame[2][1], frame[2][2]]];
        let determinant = along[0] * across[1] - along[1] * across[0];
        let [l, c, h] = self.0.map(|v| v * k);
        ColourError {
            l: l / frame[0][0],
            a: (across[1] * c).hypot(along[1] * h) / determinant.abs(),
            b: (across[0] * c).hypot(along[0] * h) / determinant.abs(),
        }
    }
}
