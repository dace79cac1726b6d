//! The standard error a calibration gives to a colour.

use super::ColourError;
use super::fit::{Explained, Unseen};
use super::residue::{REACH, likeness};
use crate::colour::{Lab, de00_frame};

/// Smallest standard error claimed of lightness, chroma or hue, in CIEDE2000: what 8-bit values and a printed card leave
/// (starting value).
const LEAST: f64 = 0.15;

/// How many patches' weight the mean over all patches has beside the patches near a colour (starting value): it steadies
/// colours with few neighbours.
const STEADY: f64 = 2.0;

/// Standard errors of lightness, chroma and hue, in CIEDE2000, where a grey card alone sets white balance and exposure: root
/// mean squares over the coloured patches of the 13 open chart photographs when only their greys are used.
const GREY_CARD: [f64; 3] = [4.1, 2.9, 3.9];

/// Standard errors without a card: root mean squares over the patches of the same photographs read by their profile alone.
pub(super) const NO_CARD: ColourError = ColourError { l: 8.4, a: 5.8, b: 8.8 };

/// How far each patch was off when read by a fit that had not seen it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Spread {
    at: Vec<[f64; 3]>,
    /// Squared differences of lightness, chroma and hue over their expected variance: the variance that neighbours share.
    /// What is peculiar to a patch (noise, dust, its print) is not the fish's; its own pixels' spread is counted elsewhere.
    squares: Vec<[f64; 3]>,
    mean: [f64; 3],
    least: [f64; 3],
}

impl Spread {
    /// From the patches of a card; `coloured` when it has more than greys.
    pub(super) fn of(outside: &[Unseen], coloured: bool) -> Self {
        let squares: Vec<[f64; 3]> = outside.iter().map(|u| u.difference.map(|d| d * d / u.variance)).collect();
        let n = squares.len().max(1) as f64;
        Self {
            at: outside.iter().map(|u| [u.wanted.l, u.wanted.a, u.wanted.b]).collect(),
            mean: std::array::from_fn(|axis| squares.iter().map(|s| s[axis]).sum::<f64>() / n),
            squares,
            least: if coloured { [LEAST; 3] } else { GREY_CARD },
        }
    }

    /// Standard errors at a colour: as large as leave-one-out found them around it, larger where patches are far, and
    /// growing with the distance beyond the patches' reach.
    pub(super) fn at(&self, lab: Lab, explained: &Explained) -> ColourError {
        let (remoteness, nearest) =
            explained.residue.as_ref().map_or((1.0, 0.0), |r| (r.remoteness(lab), r.nearest(lab)));
        let beyond = 1.0 + (nearest / REACH - 1.0).max(0.0);
        let here = self.around(lab);
        let [l, c, h] = std::array::from_fn(|axis| (here[axis] * remoteness).sqrt().max(self.least[axis]) * beyond);
        let frame = de00_frame(lab);
        // The frame is a block of 1 and a block of 2 × 2; its inverse takes the errors back to L*, a* and b*.
        let [along, across] = [[frame[1][1], frame[1][2]], [frame[2][1], frame[2][2]]];
        let determinant = (along[0] * across[1] - along[1] * across[0]).abs();
        ColourError {
            l: l / frame[0][0],
            a: (across[1] * c).hypot(along[1] * h) / determinant,
            b: (across[0] * c).hypot(along[0] * h) / determinant,
        }
    }

    /// Mean squares around a colour, the nearer patches counting more.
    fn around(&self, lab: Lab) -> [f64; 3] {
        let mut sum = self.mean.map(|m| STEADY * m);
        let mut weights = STEADY;
        for (at, squares) in self.at.iter().zip(&self.squares) {
            let weight = likeness(*at, [lab.l, lab.a, lab.b]);
            weights += weight;
            for (s, q) in sum.iter_mut().zip(squares) {
                *s += weight * q;
            }
        }
        sum.map(|s| s / weights)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn unseen(wanted: Lab, off: f64) -> Unseen {
        Unseen { index: 0, de00: off, wanted, read: wanted, difference: [off, 0.0, 0.0], variance: 0.5 }
    }

    #[test]
    fn errors_are_local() {
        let (pale, red) = (Lab::new(75.0, 0.0, 10.0), Lab::new(40.0, 60.0, 40.0));
        let spread = Spread::of(&[unseen(pale, 0.5), unseen(red, 3.0)], true);
        let (at_pale, at_red) = (spread.around(pale)[0], spread.around(red)[0]);
        // By hand: squares over 0.5 are 0.5 and 18, mean 9.25; with weights 1 and 2: (0.5 + 18.5)/3 and (18 + 18.5)/3.
        // The two are 2.5 reaches apart, so each weighs 4 % at the other's place.
        assert!((at_pale - 19.0 / 3.0).abs() < 0.2 && (at_red - 36.5 / 3.0).abs() < 0.2, "{at_pale} {at_red}");
    }
}
