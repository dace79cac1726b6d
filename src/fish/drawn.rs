//! Fish drawn by a plain formula, for the tests of what tells fish apart.

use crate::geometry::Point;

/// Whether a place lies in one of the fish with a tail fan, 60 long and 12 wide, each from its head (x, y) in the
/// direction `turn` (degrees).
pub(super) fn in_fish(heads: &[(f64, f64, f64)], p: Point) -> bool {
    heads.iter().any(|&(x, y, turn)| {
        let (s, c) = f64::to_radians(turn).sin_cos();
        let (u, v) = (c * (p.x - x) + s * (p.y - y), c * (p.y - y) - s * (p.x - x));
        let half = match u {
            u if (0.0..46.0).contains(&u) => 6.0 * (1.0 - ((u - 16.0) / 32.0).powi(2)).max(0.08).sqrt(),
            u if (46.0..60.0).contains(&u) => 2.0 + (u - 46.0) * 0.3,
            _ => 0.0,
        };
        v.abs() < half
    })
}
