//! Where a corrected region was, so that the correction meets the same thing or nothing when the photo is measured again.
#![expect(clippy::cast_possible_truncation, reason = "places are clamped to the picture before the cast")]

use serde::{Deserialize, Serialize};

use crate::geometry::Point;

use super::Region;
use super::unmet::Why;

/// What tells a region from others when the photo is measured again.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Spot {
    /// A place on it, in pixels.
    pub at: Point,
    /// Its area in pixels.
    pub area_px: f64,
}

/// Factor by which a region's area may differ for it to be the same (as large as a tail fin that is seen once and not again).
const SAME_AREA: f64 = 2.0;

impl Spot {
    pub(super) fn of(region: &Region) -> Self {
        let off =
            |&(x, y): &(u32, u32)| (f64::from(x) + 0.5 - region.centre.x).hypot(f64::from(y) + 0.5 - region.centre.y);
        let nearest = region.mask.pixels().min_by(|a, b| off(a).total_cmp(&off(b)));
        let at = nearest.map_or(region.centre, |(x, y)| Point::new(f64::from(x) + 0.5, f64::from(y) + 0.5));
        Self { at, area_px: region.area_px }
    }

    fn is_on(&self, region: &Region) -> bool {
        region.mask.contains(self.at.x.max(0.0) as u32, self.at.y.max(0.0) as u32) && self.is_of(region.area_px)
    }

    /// Whether a region of this many pixels may be the same.
    pub fn is_of(&self, area_px: f64) -> bool {
        (1.0 / SAME_AREA..=SAME_AREA).contains(&(area_px / self.area_px.max(1.0)))
    }

    /// How far a region's middle lies from the place and how its area differs, in its own lengths and as a factor.
    fn unlike(&self, region: &Region) -> f64 {
        let area = (region.area_px / self.area_px.max(1.0)).ln().abs();
        self.at.distance(region.centre) / region.length_px.max(1.0) + area
    }
}

/// The region that is meant: where it was, once that is known, the one that lies there most alike; else the one of this number.
pub(super) fn meant(regions: &[Region], n: u32, was: Option<Spot>) -> Result<&Region, Why> {
    let Some(spot) = was else {
        let none =
            || Why::new(format!("there is no fish {n} to correct"), "take a number from the list of this photo's fish");
        return regions.iter().find(|r| r.n == n).ok_or_else(none);
    };
    // Fish that cross share places: that of the other one's middle may lie on both.
    let there = regions.iter().filter(|r| spot.is_on(r));
    let nearest = there.min_by(|a, b| spot.unlike(a).total_cmp(&spot.unlike(b)));
    nearest.ok_or_else(|| {
        let said = format!("what was fish {n} is not found again at {:.0},{:.0}", spot.at.x, spot.at.y);
        Why::new(said, "mend it anew if it is still wrong")
    })
}
