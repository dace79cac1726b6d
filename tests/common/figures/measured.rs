//! The program's report of one photo, read back by its published contract, so that the figures judge what users get.

use broodhue::colour::Lab;
use broodhue::geometry::{PixelBox, Point};
use serde::Deserialize;

/// One line of `measure --json`.
#[derive(Debug, Clone, Deserialize)]
pub struct Measured {
    /// The card.
    pub card: CardSeen,
    /// The fish.
    pub fish: Vec<FishSeen>,
    /// Warnings, as they come.
    #[serde(default)]
    pub warnings: Vec<serde_json::Value>,
}

/// What it says of the card.
#[derive(Debug, Clone, Deserialize)]
pub struct CardSeen {
    /// Whether one was found.
    pub found: bool,
    /// Corners as printed.
    pub corners: Option<[Point; 4]>,
    /// Patch centres.
    pub patches: Option<Vec<Point>>,
    /// `good`, `fair` or `poor`.
    pub verdict: String,
    /// Figures of the fit.
    pub fit: Option<FitSeen>,
}

/// Figures of the fit.
#[derive(Debug, Clone, Deserialize)]
pub struct FitSeen {
    /// Leave-one-out mean CIEDE2000.
    pub loo_mean_de00: f64,
}

/// What it says of one fish.
#[derive(Debug, Clone, Deserialize)]
pub struct FishSeen {
    /// Centre.
    pub centre: Point,
    /// Box.
    #[serde(rename = "box")]
    pub bounds: PixelBox,
    /// Area of its mask.
    pub area_px: f64,
    /// Total length.
    pub length_mm: Option<f64>,
    /// Standard length.
    pub standard_length_mm: Option<f64>,
    /// The trunk.
    pub trunk: Option<ColourSeen>,
    /// The finnage.
    pub finnage: Option<ColourSeen>,
    /// The ground.
    pub ground: Option<ColourSeen>,
    /// Red shares.
    pub red_share: Option<SharesSeen>,
    /// Direction from tail to head, degrees from the right, growing downwards.
    pub heading: Option<f64>,
    /// Flags.
    pub flags: Vec<String>,
    /// Proposals.
    #[serde(default)]
    pub proposals: Vec<ProposalSeen>,
}

/// A part's colour.
#[derive(Debug, Clone, Copy, Deserialize)]
pub struct ColourSeen {
    /// L*.
    pub lightness: f64,
    /// a*.
    pub a: f64,
    /// b*.
    pub b: f64,
    /// Standard error of L*.
    pub lightness_se: f64,
}

impl ColourSeen {
    /// As CIELAB.
    pub fn lab(&self) -> Lab {
        Lab::new(self.lightness, self.a, self.b)
    }
}

/// Shares by part.
#[derive(Debug, Clone, Copy, Deserialize)]
pub struct SharesSeen {
    /// Of the trunk.
    pub trunk: Option<f64>,
    /// Of the finnage.
    pub finnage: Option<f64>,
}

/// A proposed class.
#[derive(Debug, Clone, Deserialize)]
pub struct ProposalSeen {
    /// Axis.
    pub axis: String,
    /// Class.
    pub class: String,
}
