//! What a person corrected by hand, as values that are stored and replayed.

use serde::{Deserialize, Serialize};

use crate::geometry::Point;

/// One correction. Numbers are those shown after the corrections before it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "do", rename_all = "lowercase")]
pub enum Correction {
    /// There is a fish at this place.
    Add {
        /// A place on the fish, in pixels.
        at: Point,
    },
    /// Region `n` is not a fish.
    Drop {
        /// Its number.
        n: u32,
    },
    /// Region `n` is several fish.
    Split {
        /// Its number.
        n: u32,
        /// One place on each fish, two or more; or, where the first two lie outside the region, the line that cuts it.
        points: Vec<Point>,
    },
    /// Regions `a` and `b` are one fish.
    Merge {
        /// The one whose place in the order is kept.
        a: u32,
        /// The other.
        b: u32,
    },
}
