//! What a calibration says about itself.

use serde::{Deserialize, Serialize};

use crate::colour::{Lab, chroma};

/// How far a photo's colours can be trusted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Verdict {
    /// Measured, never scored unless asked.
    Poor,
    /// Scored, with wider error.
    Fair,
    /// As good as it gets.
    Good,
}

/// The fit's own figures, in CIEDE2000.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FitReport {
    /// Name of the model chosen by leave-one-out.
    pub model: String,
    /// Mean over the patches in the fit.
    pub mean_de00: f64,
    /// Largest over the patches in the fit.
    pub max_de00: f64,
    /// Leave-one-out mean over all unclipped patches.
    pub loo_mean_de00: f64,
    /// Leave-one-out maximum over all unclipped patches.
    pub loo_max_de00: f64,
}

/// Standard errors of a colour in CIELAB units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ColourError {
    /// Of L*.
    pub l: f64,
    /// Of a*.
    pub a: f64,
    /// Of b*.
    pub b: f64,
}

/// What the light does on its way between card and fish beyond the lighting field (height over the floor, a flank's own
/// shade, stray light): standard errors that all fish of a photo share. From the spread of drawn trays of the tuning
/// seeds around their truth, once the calibration's and the pixels' own errors are taken off (`docs/validation.md`).
const BETWEEN_CARD_AND_FISH: ColourError = ColourError { l: 0.45, a: 0.5, b: 0.5 };

impl ColourError {
    /// The error of a card file's colours, which states one figure for L*, a* and b* together: shared evenly.
    pub(super) fn shared(stated: f64) -> Self {
        let each = stated / 3f64.sqrt();
        Self { l: each, a: each, b: each }
    }

    /// This error of a colour at the card's place as that of the same colour on a fish.
    pub(super) fn on_a_fish(self) -> Self {
        self.and(BETWEEN_CARD_AND_FISH)
    }

    /// This error and another one that has nothing to do with it.
    pub(super) fn and(self, more: Self) -> Self {
        Self { l: self.l.hypot(more.l), a: self.a.hypot(more.a), b: self.b.hypot(more.b) }
    }

    /// Standard error of the chroma of `lab`, by propagation; near grey, where that breaks down, the larger of a*'s and b*'s.
    pub fn chroma(&self, lab: Lab) -> f64 {
        let c = chroma(lab);
        if c < self.a.max(self.b) { self.a.max(self.b) } else { (lab.a * self.a).hypot(lab.b * self.b) / c }
    }

    /// Standard error of the hue angle of `lab` in degrees, by propagation; at most that of a hue that could be any,
    /// 360/√12 (grey has no hue).
    pub fn hue(&self, lab: Lab) -> f64 {
        const ANY: f64 = 103.923;
        let c2 = lab.a * lab.a + lab.b * lab.b;
        let radians = (lab.b * self.a).hypot(lab.a * self.b) / c2;
        if radians.is_finite() { radians.to_degrees().min(ANY) } else { ANY }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ERROR: ColourError = ColourError { l: 1.0, a: 2.0, b: 1.0 };

    #[test]
    fn chroma_and_hue_errors_follow_the_axes() {
        // On the a* axis chroma is a* and the hue turns by b*/a*.
        let red = Lab::new(50.0, 40.0, 0.0);
        assert!((ERROR.chroma(red) - 2.0).abs() < 1e-12);
        assert!((ERROR.hue(red) - (1.0f64 / 40.0).to_degrees()).abs() < 1e-12);
        // On the b* axis the two change places.
        let yellow = Lab::new(80.0, 0.0, 40.0);
        assert!((ERROR.chroma(yellow) - 1.0).abs() < 1e-12);
        assert!((ERROR.hue(yellow) - (2.0f64 / 40.0).to_degrees()).abs() < 1e-12);
    }

    #[test]
    fn grey_has_no_hue_and_a_finite_chroma_error() {
        let grey = Lab::new(50.0, 0.0, 0.0);
        assert!((ERROR.hue(grey) - 360.0 / 12f64.sqrt()).abs() < 1e-3);
        assert!((ERROR.chroma(grey) - 2.0).abs() < 1e-12);
    }
}
