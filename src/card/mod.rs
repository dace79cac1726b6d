//! The colour card: its layouts and published values, and finding it in a photo.

use serde::{Deserialize, Serialize};

use crate::colour::LinearRgb;
use crate::geometry::{Point, Quad};

/// Which kind of card it is.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Layout {
    /// The common 24-patch chart, 4 rows of 6.
    #[serde(rename = "chart-24")]
    Chart24,
    /// A card of 4 × 6 patches whose colours are not the chart's.
    #[serde(rename = "unknown-24")]
    Unknown24,
}

/// Why a patch does not take part in the fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum LeftOut {
    /// A channel at or above the clipping limit.
    Clipped,
    /// Darker than its neighbours' lighting explains.
    Shaded,
    /// Covered by the lamp's mirror image.
    Glare,
    /// Covered by something, or cut by the picture's edge.
    Covered,
}

/// What was read on one patch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PatchReading {
    /// Centre of the patch in the picture.
    pub centre: Point,
    /// Mean linear light over the patch's inner area, from unclipped pixels where there are any.
    pub linear: LinearRgb,
    /// Standard deviation of the linear light over the inner area, a channel.
    pub spread: [f64; 3],
    /// Number of pixels read.
    pub pixels: u32,
    /// Share of those pixels with a channel at or above the clipping limit, 0…1.
    pub clipped_share: f64,
}

/// A card found in (or pointed out on) a photo.
#[derive(Debug, Clone, PartialEq)]
pub struct Card {
    /// Which layout it is.
    pub layout: Layout,
    /// Corners of the outer edge (for the 24-patch chart: of its dark frame), in the order of the card as printed.
    pub corners: Quad,
    /// One reading a patch in the layout's order (24-patch chart: row by row from dark skin to black).
    pub patches: Vec<PatchReading>,
    /// Distance between neighbouring patch centres in pixels, mean over the card.
    pub pitch_px: f64,
    /// Whether the picture shows the card as in a mirror.
    pub mirrored: bool,
}

impl Card {
    /// Centre of the card in the picture: where the lighting field is 1.
    pub fn centre(&self) -> Point {
        let n = self.patches.len().max(1) as f64;
        let sum = self.patches.iter().fold(Point::default(), |s, p| s + p.centre);
        sum * (1.0 / n)
    }
}
