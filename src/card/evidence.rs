//! What the picture itself says about a grid: are its cells even, is there one frame around and between them, are its
//! colours many?
#![expect(clippy::cast_possible_truncation, reason = "rows and columns of a small grid")]

use super::Design;
use super::place::INNER;
use crate::geometry::{Homography, Point};
use crate::photo::EncodedImage;

/// A cell is even when its own spread is below this share of the spread between cells. On the open photographs and their
/// distorted copies nine of ten cells stay below 0.2, grids laid over texture have about 1.
const EVEN: f64 = 0.35;

/// A cell is parted when its spread is above this share of the spread between cells, and this many medians of all cells'
/// spreads: the edge of something that lies on it, or of glare, runs through it.
const PARTED: (f64, f64) = (0.15, 5.0);

/// How far two patches' colours must be apart to count as different, as a share of the spread between cells and in
/// encoded units: 6 levels are beyond the noise that is left in a reduced dim photo.
const APART: (f64, f64) = (0.3, 6.0);

/// What is seen of a grid.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Evidence {
    /// Number of even cells.
    pub(super) even: usize,
    /// Cells with an edge of something through them, in the design's order.
    pub(super) parted: Vec<bool>,
    /// Number of clearly different colours.
    pub(super) colours: usize,
    /// Number of hues, of six, among the cells of strong colour.
    pub(super) hues: usize,
    /// Crossings between four cells (15 on the chart) that have the frame's colour.
    pub(super) crossings: usize,
    /// Places just outside of the outer cells (20 on the chart) that have the frame's colour.
    pub(super) rim: usize,
}

/// Looks at a grid in reduced pixels.
pub(super) fn look(image: &EncodedImage, to_px: &Homography, design: &Design) -> Evidence {
    let read: Vec<(usize, [f64; 3], f64)> =
        design.places().enumerate().filter_map(|(i, p)| cell(image, to_px, p).map(|(m, s)| (i, m, s))).collect();
    let colours: Vec<[f64; 3]> = read.iter().map(|r| r.1).collect();
    let between = spread(&colours);
    let mut spreads: Vec<f64> = read.iter().map(|r| r.2).collect();
    spreads.sort_by(f64::total_cmp);
    let limit = (PARTED.0 * between).max(PARTED.1 * spreads.get(spreads.len() / 2).copied().unwrap_or(0.0));
    let mut parted = vec![false; design.count()];
    for (i, _, spread) in &read {
        parted[*i] = *spread > limit;
    }
    let frame_at = |points: &[Point]| -> Vec<[f64; 3]> {
        points.iter().filter_map(|p| image.value(to_px.apply(*p))).map(|v| v.map(f64::from)).collect()
    };
    let (columns, rows) = (design.columns as i32, design.rows as i32);
    let crossing = |c: i32, r: i32| Point::new(f64::from(c) + 0.5, f64::from(r) + 0.5);
    let inner: Vec<Point> = (0..rows - 1).flat_map(|r| (0..columns - 1).map(move |c| crossing(c, r))).collect();
    let rim: Vec<Point> = (-1..rows)
        .flat_map(|r| (-1..columns).map(move |c| (c, r)))
        .filter(|(c, r)| *c == -1 || *r == -1 || *c == columns - 1 || *r == rows - 1)
        .map(|(c, r)| crossing(c, r))
        .collect();
    let inside = frame_at(&inner);
    let frame = median(&inside);
    let like_frame = |points: &[[f64; 3]]| points.iter().filter(|c| distance(**c, frame) < 0.5 * between).count();
    Evidence {
        even: read.iter().filter(|r| r.2 < EVEN * between).count(),
        parted,
        colours: distinct(&colours, (APART.0 * between).max(APART.1)),
        hues: hues(&colours),
        crossings: like_frame(&inside),
        rim: like_frame(&frame_at(&rim)),
    }
}

/// Mean and spread of a cell's inside; `None` outside of the picture.
fn cell(image: &EncodedImage, to_px: &Homography, at: Point) -> Option<([f64; 3], f64)> {
    let offsets = [-1.0, -0.5, 0.0, 0.5, 1.0].map(|k| k * INNER);
    let mut seen = Vec::with_capacity(offsets.len() * offsets.len());
    for v in offsets {
        for u in offsets {
            seen.push(image.value(to_px.apply(Point::new(at.x + u, at.y + v)))?.map(f64::from));
        }
    }
    Some((mean(&seen), spread(&seen)))
}

fn mean(colours: &[[f64; 3]]) -> [f64; 3] {
    std::array::from_fn(|c| colours.iter().map(|v| v[c]).sum::<f64>() / colours.len().max(1) as f64)
}

/// Root mean square distance from the mean.
fn spread(colours: &[[f64; 3]]) -> f64 {
    let middle = mean(colours);
    (colours.iter().map(|c| distance(*c, middle).powi(2)).sum::<f64>() / colours.len().max(1) as f64).sqrt()
}

fn distance(a: [f64; 3], b: [f64; 3]) -> f64 {
    ((a[0] - b[0]).powi(2) + (a[1] - b[1]).powi(2) + (a[2] - b[2]).powi(2)).sqrt()
}

fn median(colours: &[[f64; 3]]) -> [f64; 3] {
    std::array::from_fn(|c| {
        let mut v: Vec<f64> = colours.iter().map(|x| x[c]).collect();
        v.sort_by(f64::total_cmp);
        v.get(v.len() / 2).copied().unwrap_or(0.0)
    })
}

/// Number of sixths of the hue circle with a colour of which the weakest channel has at most half of the strongest.
fn hues(colours: &[[f64; 3]]) -> usize {
    let mut seen = [false; 6];
    for [r, g, b] in colours {
        let (low, high) = (r.min(*g).min(*b), r.max(*g).max(*b));
        if low > 0.5 * high || high < APART.1 {
            continue;
        }
        let sixth = match (r >= g, g >= b, b >= r) {
            (true, true, _) => 0,
            (false, true, false) => 1,
            (false, true, true) => 2,
            (false, false, _) => 3,
            (true, false, true) => 4,
            (true, false, false) => 5,
        };
        seen[sixth] = true;
    }
    seen.iter().filter(|s| **s).count()
}

/// Number of colours of which each is at least `apart` from all counted before.
fn distinct(colours: &[[f64; 3]], apart: f64) -> usize {
    let mut kept: Vec<[f64; 3]> = Vec::new();
    for c in colours {
        if kept.iter().all(|k| distance(*k, *c) > apart) {
            kept.push(*c);
        }
    }
    kept.len()
}
