//! What counts as red, black or reflective: the limits of the scoring sheet.

use serde::{Deserialize, Serialize};

/// Hue angles from `.0` up to, not including, `.1`, in degrees of [0, 360); a range may run over 0.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct HueRange(pub f64, pub f64);

impl HueRange {
    /// Whether `hue` (degrees, [0, 360)) lies in the range.
    pub fn contains(self, hue: f64) -> bool {
        let Self(from, to) = self;
        if from <= to { (from..to).contains(&hue) } else { hue >= from || hue < to }
    }
}

/// The colour limits by which a pixel counts as cover. All of them stand in the sheet; these are its starting values.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Limits {
    /// Hues that are red.
    pub red_hue: HueRange,
    /// Hues that are orange.
    pub orange_hue: HueRange,
    /// Hues that are yellow.
    pub yellow_hue: HueRange,
    /// Least chroma C*ab of red, orange and yellow.
    pub chroma: f64,
    /// How far their chroma stands above the ground's where a ground is visible.
    pub chroma_above_ground: f64,
    /// Greatest lightness L* of black.
    pub black_lightness: f64,
    /// Greatest chroma of black.
    pub black_chroma: f64,
    /// How far in L* reflective cover is brighter than the ground, beyond what the lighting field leaves open.
    pub reflective_above_ground: f64,
    /// Greatest chroma of reflective cover that is not iridescent.
    pub reflective_chroma: f64,
    /// Width in millimetres over which the ground is smoothed before a net point must stand out from it.
    pub net_scale_mm: f64,
    /// How far in L* a net point is darker than the ground around it.
    pub net_depth: f64,
}

impl Limits {
    /// The first limit that is no colour's: a hue outside the circle, anything else below 0 or without end.
    pub fn unfit(&self) -> Option<(&'static str, f64)> {
        let hues = [("red_hue", self.red_hue), ("orange_hue", self.orange_hue), ("yellow_hue", self.yellow_hue)];
        let others = [
            ("chroma", self.chroma),
            ("chroma_above_ground", self.chroma_above_ground),
            ("black_lightness", self.black_lightness),
            ("black_chroma", self.black_chroma),
            ("reflective_above_ground", self.reflective_above_ground),
            ("reflective_chroma", self.reflective_chroma),
            ("net_scale_mm", self.net_scale_mm),
            ("net_depth", self.net_depth),
        ];
        let ends = hues.into_iter().flat_map(|(name, HueRange(from, to))| [(name, from), (name, to)]);
        let no_hue = ends.into_iter().find(|(_, hue)| !(0.0..=360.0).contains(hue));
        no_hue.or_else(|| others.into_iter().find(|(_, value)| !(value.is_finite() && *value >= 0.0)))
    }
}

impl Default for Limits {
    /// Starting values of the scoring sheet, invented, to be tuned.
    fn default() -> Self {
        Self {
            red_hue: HueRange(345.0, 50.0),
            orange_hue: HueRange(50.0, 78.0),
            yellow_hue: HueRange(78.0, 110.0),
            chroma: 20.0,
            chroma_above_ground: 8.0,
            black_lightness: 30.0,
            black_chroma: 15.0,
            reflective_above_ground: 10.0,
            reflective_chroma: 12.0,
            net_scale_mm: 0.6,
            net_depth: 4.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_range_over_zero_holds_both_ends_of_the_circle() {
        let red = Limits::default().red_hue;
        assert!(red.contains(345.0) && red.contains(359.9) && red.contains(0.0) && red.contains(49.9));
        assert!(!red.contains(50.0) && !red.contains(344.9));
    }
}
