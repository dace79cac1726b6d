//! The card's outer edge: where the even frame around the patches ends.
#![expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "places are inside the picture")]

use super::Design;
use crate::geometry::{Homography, Point, Quad};
use crate::photo::Photo;

/// Distance from the centres of the outer patches at which the frame has certainly begun, in units of the pitch.
const BEGINS: f64 = 0.5;

/// How far out the edge is looked for: small charts carry a lettered margin of more than a pitch.
const ENDS: f64 = 1.9;

/// Steps a pitch when walking outwards.
const STEPS: usize = 40;

/// A side of the card: the point on the row of outer patch centres at `t` (0…1), and the way out, in card units.
#[derive(Debug, Clone, Copy)]
struct Side {
    from: Point,
    to: Point,
    out: Point,
}

/// Top, right, bottom, left of the card as printed.
const SIDES: [Side; 4] = [
    Side { from: Point::new(0.0, 0.0), to: Point::new(5.0, 0.0), out: Point::new(0.0, -1.0) },
    Side { from: Point::new(5.0, 0.0), to: Point::new(5.0, 3.0), out: Point::new(1.0, 0.0) },
    Side { from: Point::new(0.0, 3.0), to: Point::new(5.0, 3.0), out: Point::new(0.0, 1.0) },
    Side { from: Point::new(0.0, 0.0), to: Point::new(0.0, 3.0), out: Point::new(-1.0, 0.0) },
];

/// Corners of the outer edge in pixels, in the order of the card as printed.
pub(super) fn corners(photo: &Photo, to_px: &Homography, design: &Design) -> Quad {
    let found = SIDES.map(|s| edge(photo, to_px, s));
    let sides = std::array::from_fn(|i| found[i].unwrap_or(design.edge[i]));
    design.around(sides).map(|p| to_px.apply(p))
}

/// Places along a side at which the walk outwards is made.
const WALKS: usize = 24;

/// Distance from the outer patch centres to the edge of one side.
///
/// The frame is what lies between the patches. Walking out from it, the edge is where at least half of the walks leave the
/// frame's colour for good; letters and marks on the frame are left again.
fn edge(photo: &Photo, to_px: &Homography, side: Side) -> Option<f64> {
    let count = ((ENDS - BEGINS) * STEPS as f64) as usize;
    let distance = |k: usize| BEGINS + k as f64 / STEPS as f64;
    let sample = |t: f64, d: f64| {
        let p = side.from.lerp(side.to, t) + side.out * d;
        let q = to_px.apply(p);
        let inside = q.x >= 0.0 && q.y >= 0.0 && q.x < f64::from(photo.width) && q.y < f64::from(photo.height);
        inside.then(|| photo.encoded(q.x as u32, q.y as u32).map(f64::from))
    };
    let places = (0..WALKS).map(|i| (i as f64 + 0.5) / WALKS as f64);
    let frame = median(places.clone().filter_map(|t| sample(t, BEGINS + 0.02)))?;
    let share = |k: usize| {
        let seen: Vec<bool> = places
            .clone()
            .filter_map(|t| sample(t, distance(k)))
            .map(|c| (0..3).map(|i| (c[i] - frame[i]).abs()).fold(0.0, f64::max) < 40.0)
            .collect();
        seen.iter().filter(|s| **s).count() as f64 / WALKS as f64
    };
    let shares: Vec<f64> = (0..count).map(share).collect();
    let last = shares.iter().rposition(|s| *s >= 0.5)?;
    (last + 2 < count).then(|| distance(last) + 0.5 / STEPS as f64)
}

fn median(values: impl Iterator<Item = [f64; 3]>) -> Option<[f64; 3]> {
    let all: Vec<[f64; 3]> = values.collect();
    if all.is_empty() {
        return None;
    }
    Some(std::array::from_fn(|c| {
        let mut v: Vec<f64> = all.iter().map(|a| a[c]).collect();
        v.sort_by(f64::total_cmp);
        v[v.len() / 2]
    }))
}
