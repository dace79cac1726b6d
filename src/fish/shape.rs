//! How much a set of pixels is shaped like one fish.
#![expect(clippy::cast_possible_truncation, reason = "pixel places inside a block")]

use crate::geometry::{Point, polygon_area};

use super::grid::Grid;
use super::spine::Spine;

/// What tells a fish from two fish, a crumb or a piece of rim by shape alone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Shape {
    /// Number of pixels.
    pub(super) area: f64,
    /// Squared length along the middle line over area: a disc has 1.3, a fish with fins spread 4, a slender one 9, a thread 15
    /// and more.
    pub(super) slenderness: f64,
    /// Share of the convex hull that is filled: a straight fish 0.7, a bent one 0.55, two crossing 0.35.
    pub(super) solidity: f64,
    /// Distance between the ends of the middle line over its length: 1 for a straight fish, 0.8 for one that turns, below 0.5
    /// only for two that meet.
    pub(super) straightness: f64,
    /// Share of the pixels in the largest connected piece.
    pub(super) wholeness: f64,
}

/// The area that half of all area is at or above: small debris, however much, weighs little. `None` without any.
pub(super) fn holding_half(mut areas: Vec<f64>) -> Option<f64> {
    areas.sort_by(f64::total_cmp);
    let half = areas.iter().sum::<f64>() / 2.0;
    let mut sum = 0.0;
    areas.into_iter().rev().find(|a| {
        sum += a;
        sum >= half
    })
}

/// A fish as most of those in one photo are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Usual {
    /// Number of pixels.
    pub(super) area: f64,
    /// [`Shape::slenderness`].
    pub(super) slenderness: f64,
}

impl Usual {
    /// Length along the middle line, in pixels.
    pub(super) fn length(&self) -> f64 {
        (self.area * self.slenderness).sqrt()
    }

    /// Mean width, in pixels.
    pub(super) fn breadth(&self) -> f64 {
        (self.area / self.slenderness).sqrt()
    }
}

impl Shape {
    /// Measures a set along its middle line.
    pub(super) fn of(grid: &Grid, spine: &Spine) -> Self {
        let area = grid.count() as f64;
        let hull = hull(grid);
        let solidity = solidity(area, &hull);
        // Slices of a broad shape lie askew and make its middle line long; a filled hull has no bend to measure along.
        let bend = 1.0 + 1.1 * (0.75 - solidity).max(0.0);
        let length = spine.length().min(diameter(&hull) * bend);
        let straightness = spine.at(spine.span.0).distance(spine.at(spine.span.1)) / spine.length();
        Self { area, slenderness: length * length / area, solidity, straightness, wholeness: wholeness(grid, area) }
    }

    /// How fish-like, 0…1 (corner values: starting values, tuned on the renderer's tuning seeds); `usual` is what is
    /// usual in this photo, where known.
    pub(super) fn fishness(&self, usual: Option<Usual>) -> f64 {
        let slender = ramp(2.8, 4.4, self.slenderness) * ramp(14.0, 9.5, self.slenderness);
        let solid = ramp(0.30, 0.62, self.solidity);
        let whole = ramp(0.5, 0.9, self.wholeness);
        // Adults beside fry differ tenfold in area: two standard deviations of a factor of three.
        let size = usual.map_or(1.0, |u| {
            let ratio = (self.area / u.area).ln();
            let spread = if ratio > 0.0 { 0.6 } else { 1.2 };
            (-ratio * ratio / (2.0 * spread * spread)).exp()
        });
        slender * solid * whole * size * ramp(0.40, 0.75, self.straightness)
    }
}

/// Share of a set's pixels in its largest piece, times the share of its convex hull that they fill; 0 for an empty set.
pub(super) fn compactness(grid: &Grid) -> f64 {
    let area = grid.count() as f64;
    solidity(area, &hull(grid)) * wholeness(grid, area)
}

/// Share of a convex hull that so many pixels fill.
fn solidity(area: f64, hull: &[Point]) -> f64 {
    area / polygon_area(hull).abs().max(area).max(1.0)
}

/// Share of a set's pixels, so many in all, in its largest connected piece.
fn wholeness(grid: &Grid, area: f64) -> f64 {
    grid.pieces().iter().map(Vec::len).max().unwrap_or(0) as f64 / area.max(1.0)
}

/// 0 at `from`, 1 at `to`, straight between; `to` may lie below `from`.
fn ramp(from: f64, to: f64, x: f64) -> f64 {
    ((x - from) / (to - from)).clamp(0.0, 1.0)
}

/// Convex hull of the pixels' squares.
fn hull(grid: &Grid) -> Vec<Point> {
    let mut corners = Vec::new();
    for (y, row) in grid.on.chunks(grid.width.max(1)).enumerate() {
        let (Some(first), Some(last)) = (row.iter().position(|v| *v), row.iter().rposition(|v| *v)) else { continue };
        for (x, y) in [(first, y), (last + 1, y), (first, y + 1), (last + 1, y + 1)] {
            corners.push(imageproc::point::Point::new(x as i32, y as i32));
        }
    }
    let hull = if corners.is_empty() { Vec::new() } else { imageproc::geometry::convex_hull(corners) };
    hull.iter().map(|p| Point::new(f64::from(p.x), f64::from(p.y))).collect()
}

/// Largest distance between two points.
fn diameter(points: &[Point]) -> f64 {
    points.iter().flat_map(|p| points.iter().map(|q| p.distance(*q))).fold(0.0, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bars(bars: &[(f64, f64, f64)]) -> Grid {
        // Spindles of length 60 and width 12 with middle (x, y) and turn.
        let mut grid = Grid::empty(140, 140);
        for k in 0..grid.on.len() {
            let p = super::super::spine::centre(&grid, k);
            grid.on[k] = bars.iter().any(|&(x, y, turn)| {
                let (s, c) = turn.to_radians().sin_cos();
                let (u, v) = (c * (p.x - x) + s * (p.y - y), c * (p.y - y) - s * (p.x - x));
                (u / 30.0).powi(2) + (v / 6.0).powi(2) < 1.0
            });
        }
        grid
    }

    #[test]
    fn one_spindle_is_a_fish_and_a_cross_is_not() {
        let shape = |grid: &Grid| Shape::of(grid, &Spine::of(grid).unwrap());
        let one = shape(&bars(&[(70.0, 70.0, 20.0)]));
        let cross = shape(&bars(&[(70.0, 70.0, 0.0), (70.0, 70.0, 80.0)]));
        let usual = Some(Usual { area: one.area, slenderness: one.slenderness });
        assert!(one.fishness(None) > 0.9, "{one:?}");
        assert!(cross.fishness(usual) < 0.6 * one.fishness(usual), "{cross:?}");
        assert!((polygon_area(&hull(&bars(&[(70.0, 70.0, 0.0)]))).abs() / one.area - 1.0).abs() < 0.1);
    }
}
