//! The features of one fish as plain values, named as in the output of `measure`.

use serde::{Deserialize, Serialize};

/// A value with its standard error, both in the value's own unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The value.
    pub value: f64,
    /// Its standard error.
    pub se: f64,
}

/// Colour of one part: the median over its pixels, glare left out, in CIELAB (D50, 2° observer).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PartColour {
    /// L*, 0…100.
    pub lightness: f64,
    /// a*, red above 0, green below.
    pub a: f64,
    /// b*, yellow above 0, blue below.
    pub b: f64,
    /// Chroma C*ab.
    pub chroma: f64,
    /// Hue angle h_ab in degrees, [0, 360).
    pub hue: f64,
    /// 100·C/√(C² + L²) (Lübbe 2010), 0…100.
    pub saturation: f64,
    /// Standard error of L*: pixel spread, calibration and lighting field together.
    pub lightness_se: f64,
    /// Standard error of a*.
    pub a_se: f64,
    /// Standard error of b*.
    pub b_se: f64,
    /// Standard error of the chroma.
    pub chroma_se: f64,
    /// Standard error of the hue in degrees; 104 (that of no hue at all, 360/√12) at most.
    pub hue_se: f64,
}

/// One kind of cover as a share of the pixels of each part, 0…1; `None` where the part cannot be read.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Shares {
    /// Of the trunk.
    pub trunk: Option<f64>,
    /// Of tail and other fins that stand out.
    pub finnage: Option<f64>,
    /// Of the whole fish.
    pub fish: Option<f64>,
}

/// Standard errors of the shares, one for one.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct ShareErrors {
    /// Of the red shares.
    pub red: Shares,
    /// Of the orange shares.
    pub orange: Shares,
    /// Of the yellow shares.
    pub yellow: Shares,
    /// Of the black shares.
    pub black: Shares,
    /// Of the reflective shares.
    pub reflective: Shares,
}

/// Mean chroma of a part's red pixels; `None` where none are red.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Strength {
    /// On the trunk.
    pub trunk: Option<f64>,
    /// On the finnage.
    pub finnage: Option<f64>,
}

/// Everything measured on one fish. What cannot be seen is `None`, never 0.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Features {
    /// Snout to end of the tail stalk without eye, gill cover and belly; cover included.
    pub trunk: Option<PartColour>,
    /// Fins as seen, whatever shines through them.
    pub finnage: Option<PartColour>,
    /// The trunk's pixels that no cover hides.
    pub ground: Option<PartColour>,
    /// Share of red pixels.
    pub red_share: Shares,
    /// Share of orange pixels.
    pub orange_share: Shares,
    /// Share of yellow pixels.
    pub yellow_share: Shares,
    /// Share of black pixels.
    pub black_share: Shares,
    /// Share of the fish's own shiny pigment.
    pub reflective_share: Shares,
    /// How strong the red is.
    pub red_strength: Strength,
    /// Share of the visible ground that fine dark points cover, 0…1; `None` without millimetres or where the photo is too coarse.
    pub net: Option<f64>,
    /// Share of the fish's pixels that the lamp's mirror image hides, 0…1.
    pub glare_share: Option<f64>,
    /// Colour of the reflective cover on the trunk.
    #[serde(default)]
    pub reflective: Option<PartColour>,
    /// Estimate of the fins' colour with the floor's share removed.
    #[serde(default)]
    pub finnage_without_floor: Option<PartColour>,
    /// Standard errors of the shares.
    #[serde(default)]
    pub share_se: ShareErrors,
    /// Standard error of the net.
    #[serde(default)]
    pub net_se: Option<f64>,
    /// Standard errors of the red's strength.
    #[serde(default)]
    pub red_strength_se: Strength,
}
