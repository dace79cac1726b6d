//! Fish regions and their parts: from a photo and its floor to every fish with outline, axis, parts and flags.
//!
//! The mask works on linear light relative to the floor, so it needs no calibrated colour.

mod body;
mod boxed;
mod by_shape;
mod correct;
mod differ;
mod doubts;
#[cfg(test)]
mod drawn;
mod evidence;
mod explain;
mod eyes;
mod fan;
mod fin;
mod find;
mod glare;
mod grid;
mod group;
mod head;
mod heads;
mod hidden;
mod judge;
mod limits;
mod local;
mod mask;
mod nearby;
mod outline;
mod parted;
mod parts;
mod peel;
mod region;
mod seek;
mod shape;
mod share;
mod spindle;
mod spine;
mod split;
mod spot;
mod stand_out;
mod tail;
mod unmet;
mod worth;

pub use correct::{Correction, correct};
pub use differ::differences;
pub use find::find;
pub use mask::{Mask, Run};
pub use spot::Spot;
pub use unmet::{Asked, Unmet, Why};

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::calibrate::CalibratedPhoto;
use crate::card::Card;
use crate::colour::LinearRgb;
use crate::error::Warning;
use crate::floor::Floor;
use crate::geometry::{Homography, PixelBox, Point};
use crate::photo::Photo;
use crate::units::View;

/// Everything the search for fish looks at.
#[derive(Debug, Clone, Copy)]
pub struct Scene<'a> {
    /// The photo.
    pub photo: &'a Photo,
    /// Its floor.
    pub floor: &'a Floor,
    /// The card, which is not a fish.
    pub card: Option<&'a Card>,
    /// From pixels to millimetres on the tray's plane, where the card's size is known.
    pub plane: Option<&'a Homography>,
}

impl<'a> Scene<'a> {
    /// What a calibrated photo holds of it.
    pub fn of(photo: &'a CalibratedPhoto<'a>) -> Self {
        Self { photo: photo.photo, floor: &photo.floor, card: photo.card.as_ref(), plane: photo.plane.as_ref() }
    }

    /// Millimetres a pixel at `p`, where the card's size is known.
    pub fn mm_per_px(&self, p: Point) -> Option<f64> {
        self.plane.map(|h| h.magnification(p)).filter(|m| m.is_finite() && *m > 0.0)
    }
}

/// What a person may say about the fish.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct FishOptions {
    /// From where the camera saw them; from above when not said, but then few large things may be a portrait and keep their long fins.
    pub view: Option<View>,
    /// Boxes a person drew around fish, one fish each: nothing is sought elsewhere.
    pub boxes: Vec<PixelBox>,
    /// What a person corrected, in the order it was done.
    pub corrections: Vec<Correction>,
}

/// What makes a fish's measurements or its very outline doubtful.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Flag {
    /// It touches or crosses another fish, and where one ends is not sure.
    Touching,
    /// Several fish that could not be told apart; see [`Region::number`].
    Cluster,
    /// Cut by the edge of the picture or hidden behind the tray's rim.
    Cut,
    /// It lies in a shadow.
    Shaded,
    /// Out of focus or moving.
    Blurred,
    /// Too few pixels for its colours to be read.
    TooSmall,
    /// The lamp's mirror image covers much of it.
    Glare,
    /// A person pointed it out or changed its outline.
    ByHand,
}

impl Flag {
    /// Its name in every file, table and sheet.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Touching => "touching",
            Self::Cluster => "cluster",
            Self::Cut => "cut",
            Self::Shaded => "shaded",
            Self::Blurred => "blurred",
            Self::TooSmall => "too-small",
            Self::Glare => "glare",
            Self::ByHand => "by-hand",
        }
    }

    /// The flag that goes by a name.
    pub fn from_name(name: &str) -> Option<Self> {
        serde_json::from_value(name.into()).ok()
    }
}

/// The middle line of a fish.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    /// From the snout to the tip of the tail, in pixels.
    pub midline: Vec<Point>,
    /// Length along the midline from the snout to the end of the tail stalk, in pixels; `None` where that cannot be told.
    pub stalk_px: Option<f64>,
    /// How sure it is which end is the head, 0.5 (a guess) … 1.
    pub head_confidence: f64,
}

impl Axis {
    /// Tells where a place of the photo lies: pixels along the midline from the snout, and to its right.
    pub fn locator(&self) -> impl Fn(Point) -> (f64, f64) {
        let stretches = spine::stretches(&self.midline);
        move |place| spine::locate(&stretches, place)
    }
}

/// The parts of one fish. A part that cannot be seen is `None`.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Parts {
    /// Snout to the end of the tail stalk, without eyes, gill cover, belly and gravid spot.
    pub trunk: Option<Mask>,
    /// The tail and other fins that stand out from the trunk.
    pub finnage: Option<Mask>,
    /// The eyes.
    pub eyes: Mask,
    /// Gill cover, belly and gravid spot: fish, but in no part's colour.
    pub left_out: Mask,
    /// Pixels of the other parts that the lamp's mirror image covers, where it lies on the floor beside the fish as well: their colours
    /// say nothing.
    pub glare: Mask,
    /// Share of the finnage's light that comes from the fin itself and not through it from the floor, 0…1: the least that
    /// explains its darkest channel. `None` without finnage, and where no channel is darker than the floor.
    pub fin_opacity: Option<f64>,
}

/// One fish, or one cluster of fish that could not be told apart.
#[derive(Debug, Clone, PartialEq)]
pub struct Region {
    /// Its number in the photo, from 1 in reading order; corrections never use a number again.
    pub n: u32,
    /// All its pixels.
    pub mask: Mask,
    /// Mean place of its pixels.
    pub centre: Point,
    /// The box around it.
    pub bounds: PixelBox,
    /// Its outline as a closed polygon, clockwise on the screen, in pixels.
    pub outline: Vec<Point>,
    /// Area in pixels.
    pub area_px: f64,
    /// Its middle line; `None` for a cluster.
    pub axis: Option<Axis>,
    /// Snout to tail tip along the midline, in pixels; for a cluster its longest extent.
    pub length_px: f64,
    /// Snout to the end of the tail stalk, in pixels.
    pub standard_length_px: Option<f64>,
    /// [`Region::length_px`] in millimetres on the tray's plane.
    pub length_mm: Option<f64>,
    /// [`Region::standard_length_px`] in millimetres on the tray's plane.
    pub standard_length_mm: Option<f64>,
    /// Direction from tail to head, degrees in [0, 360), 0 to the right, 90 downwards on the screen.
    pub heading_degrees: Option<f64>,
    /// Its parts; all empty for a cluster.
    pub parts: Parts,
    /// From where the camera saw it.
    pub view: View,
    /// What makes it doubtful.
    pub flags: BTreeSet<Flag>,
    /// Number of fish in it: 1, or for a cluster the estimate from area and shape.
    pub number: u32,
}

/// What was found in one photo.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Found {
    /// The fish in order of their numbers.
    pub regions: Vec<Region>,
    /// No fish, no plain floor, a correction that met nothing.
    pub warnings: Vec<Warning>,
    /// The corrections as they were asked for, each that met something with where that was.
    pub corrections: Vec<Correction>,
    /// Boxes and corrections that met nothing; each is among the warnings, too.
    pub unmet: Vec<Unmet>,
}

impl Found {
    /// Writes down that something met nothing.
    fn miss(&mut self, unmet: Unmet) {
        self.warnings.push(unmet.warning());
        self.unmet.push(unmet);
    }
}

/// The light of a see-through fin itself: what is left of `seen` when the floor's share is taken away.
///
/// The fin is taken as a layer that lets 1 − `opacity` of the floor's light through: seen = opacity·own + (1 − opacity)·floor.
/// The result is not below zero. With an opacity of 0 nothing of the fin is seen, and `seen` itself comes back.
pub fn without_floor(seen: LinearRgb, floor: LinearRgb, opacity: f32) -> LinearRgb {
    if opacity <= 0.0 {
        return seen;
    }
    let own = |s: f32, f: f32| ((s - (1.0 - opacity) * f) / opacity).max(0.0);
    LinearRgb::new(own(seen.red, floor.red), own(seen.green, floor.green), own(seen.blue, floor.blue))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_floor_comes_off_a_half_clear_fin() {
        let (own, floor) = (LinearRgb::new(0.4, 0.1, 0.1), LinearRgb::new(0.8, 0.8, 0.8));
        let seen = own * 0.5 + floor * 0.5;
        let back = without_floor(seen, floor, 0.5);
        assert!((back.red - 0.4).abs() < 1e-6 && (back.green - 0.1).abs() < 1e-6);
        assert_eq!(without_floor(seen, floor, 0.0), seen);
    }
}
