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

/// How far, in encoded values of 8 bits, a channel may be off for a place to be of the frame's colour; a table hardly lighter than
/// a dark frame is told from it by the smaller ones (starting values).
const SAME_COLOUR: [f64; 3] = [10.0, 20.0, 40.0];

/// Shares of the walks that are on the frame just before a sharp edge and for so many steps beyond it (starting values: lettering is as
/// deep as 0.2 pitches and leaves gaps).
const SHARP: (f64, f64, usize) = (0.85, 0.15, 12);

/// Steps beyond a sharp edge at which the colour beyond is looked at.
const BEYOND: usize = 5;

/// Distance from the outer patch centres to the edge of one side.
///
/// The frame is what lies between the patches. Walking out from it, the edge is where at least half of the walks leave the
/// frame's colour for good; letters and marks on the frame are left again. Where a smaller difference of colour shows a sharp edge,
/// that is it, whatever lies farther out: light that falls off slowly shows none.
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
    let off = |c: [f64; 3]| (0..3).map(|i| (c[i] - frame[i]).abs()).fold(0.0, f64::max);
    let walked = |k: usize| places.clone().filter_map(|t| sample(t, distance(k))).map(off).collect::<Vec<f64>>();
    let steps: Vec<Vec<f64>> = (0..count).map(walked).collect();
    let shares = |same: f64| -> Vec<f64> {
        steps.iter().map(|seen| seen.iter().filter(|off| **off < same).count() as f64 / WALKS as f64).collect()
    };
    let sharp = SAME_COLOUR.into_iter().find_map(|same| sharp_edge(&shares(same)));
    // Blur spreads the edge over some steps: its middle is where half of the way to the colour beyond is gone.
    let middle = |k: usize| {
        let mut beyond = steps.get(k + BEYOND)?.clone();
        beyond.sort_by(f64::total_cmp);
        let half = beyond.get(beyond.len() / 2)? / 2.0;
        shares(half).iter().take(k + BEYOND).rposition(|s| *s >= 0.5)
    };
    let sharp = sharp.map(|k| middle(k).unwrap_or(k));
    let last = sharp.or_else(|| shares(SAME_COLOUR[2]).iter().rposition(|s| *s >= 0.5))?;
    (last + 2 < count).then(|| distance(last) + 0.5 / STEPS as f64)
}

/// The last step on the frame where nearly all walks leave it together, and stay away for a while.
fn sharp_edge(shares: &[f64]) -> Option<usize> {
    let (on, off, away) = SHARP;
    let left = |k: usize| shares[k + 2..].len() >= away && shares[k + 2..k + 2 + away].iter().all(|s| *s <= off);
    (1..shares.len().saturating_sub(2))
        .find(|&k| shares[k - 1] >= on && shares[k] >= 0.5 && shares[k + 1] < 0.5 && left(k))
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_edge_is_where_all_walks_leave_together_whatever_lies_beyond() {
        let on = |pattern: &[(usize, f64)]| pattern.iter().flat_map(|&(n, s)| vec![s; n]).collect::<Vec<f64>>();
        // A frame of 4 steps, a table, and a shadow of the frame's colour behind it.
        assert_eq!(sharp_edge(&on(&[(4, 1.0), (1, 0.4), (30, 0.0), (10, 0.9)])), Some(3));
        // Lettering is left by some walks and comes to an end; the edge lies behind it.
        assert_eq!(sharp_edge(&on(&[(10, 1.0), (8, 0.3), (6, 1.0), (20, 0.0)])), Some(23));
        // Light that falls off slowly shows no edge.
        let fading: Vec<f64> = (0..40).map(|k| 1.0 - f64::from(k) / 40.0).collect();
        assert_eq!(sharp_edge(&fading), None);
        assert_eq!(sharp_edge(&[]), None);
    }
}
