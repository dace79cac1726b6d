//! The colour card: its layouts and published values, and finding it in a photo.

mod blobs;
mod by_hand;
mod candidate;
mod design;
mod evidence;
pub mod file;
mod find;
mod fourier;
mod frame;
mod lattice;
mod learn;
mod likeness;
mod order;
mod place;
pub mod print;
mod raster;
mod read;
pub mod reference;
mod robust;
mod runs;
pub mod tray;

pub use by_hand::check as check_corners;
pub use design::Design;
pub use find::find;
pub use learn::learn;

use serde::{Deserialize, Serialize};

use crate::colour::{Lab, LinearRgb};
use crate::geometry::{Homography, Point, Quad, mean_point};

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
    /// Broodhue's own printable tray card.
    Tray,
    /// A card described in a text file.
    Described,
}

/// The colour of a patch as a card file states it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KnownColour {
    /// CIELAB under D50.
    pub lab: Lab,
    /// Standard error of that colour in CIELAB units, L*, a* and b* together; 0 when the file states none.
    pub error: f64,
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
    /// Set when the finder already saw that the patch cannot be read: covered, or cut by the picture's edge.
    pub left_out: Option<LeftOut>,
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
    /// From card units to pixels. In card units patch (row r, column c) of a grid stands at (c, r): one unit is the pitch.
    pub to_px: Homography,
    /// Millimetres per card unit; `None` when nobody said how large the card is.
    pub unit_mm: Option<f64>,
    /// The patches' colours in the layout's order where a card file states them; empty otherwise.
    pub known: Vec<KnownColour>,
    /// What a person should know about the card as it was found: mirrored, partly covered, perhaps a screen.
    pub notes: Vec<String>,
}

/// What is asked of the finder.
#[derive(Debug, Clone, Default)]
pub struct FindOptions {
    /// Corners of the card's outer edge pointed out by hand, in the order of the card as printed.
    pub corners: Option<Quad>,
    /// Millimetres between neighbouring patch centres.
    pub pitch_mm: Option<f64>,
    /// The card to look for, from a card file; without it the 24-patch chart and the tray card.
    pub design: Option<Design>,
}

/// What the finder has to say about a photo.
#[derive(Debug, Clone, PartialEq)]
pub struct Search {
    /// The best card, if one was found.
    pub card: Option<Card>,
    /// Further cards in the picture, best first.
    pub others: Vec<Card>,
    /// When no card was found: which stage failed and what to do about it. Empty otherwise.
    pub reason: String,
}

impl Card {
    /// The map from pixels to millimetres on the card's plane; `None` when its size is not known.
    pub fn plane(&self) -> Option<Homography> {
        let mm = self.unit_mm?;
        let scale = Homography([[mm, 0.0, 0.0], [0.0, mm, 0.0], [0.0, 0.0, 1.0]]);
        Some(scale.after(&self.to_px.inverse()?))
    }

    /// Whether anybody knows what its patches should look like.
    pub fn has_known_colours(&self) -> bool {
        !reference::of_card(self, reference::Edition::default()).is_empty()
    }

    /// Centre of the card in the picture: where the lighting field is 1.
    pub fn centre(&self) -> Point {
        mean_point(self.patches.iter().map(|p| p.centre))
    }
}
