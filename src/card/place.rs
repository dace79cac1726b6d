//! Lays the chart's 4 × 6 grid over a lattice in every position and judges each.
#![expect(clippy::cast_possible_truncation, reason = "rows and columns of a small grid")]

use std::collections::HashMap;

use super::lattice::{Lattice, Node, at};
use super::order::{Chart, Colours, Match, PATCHES};
use super::reference::CHART_GRID;
use crate::geometry::{Homography, Point};
use crate::photo::EncodedImage;

/// Half the side of the square read in a patch, in units of the pitch: patches are 0.75 to 0.9 of it wide.
pub(super) const INNER: f64 = 0.22;

/// Share of a lattice's spots that must lie inside the grid: a lattice that goes on beyond it is something else.
const INSIDE_SHARE: f64 = 0.6;

/// One position of the chart on the picture.
#[derive(Debug, Clone)]
pub(super) struct Placement {
    /// From card units (column, row of the chart) to reduced pixels.
    pub(super) to_px: Homography,
    /// How well the chart explains the colours there.
    pub(super) matched: Match,
    /// Number of patches with a spot of the lattice.
    pub(super) spots: usize,
    /// Number of the lattice's spots beyond the grid.
    pub(super) beyond: usize,
    /// Whether it would be seen as in a mirror.
    pub(super) mirrored: bool,
}

impl Placement {
    /// What to choose among the positions on one lattice by, smaller is better: what is unexplained, and a little for every
    /// patch outside of the picture, since few patches are easily explained.
    pub(super) fn rank(&self) -> f64 {
        self.matched.unexplained + 0.02 * (PATCHES - self.matched.seen) as f64
    }
}

/// Every position in which the lattice carries a grid of 4 × 6, with its judgement.
pub(super) fn placements(image: &EncodedImage, lattice: &Lattice, chart: &Chart, thorough: bool) -> Vec<Placement> {
    let (lo, hi) = lattice.extent();
    let mut cells = Cells { image, to_px: lattice.to_px, read: HashMap::new() };
    let mut out = Vec::new();
    for (width, height) in [CHART_GRID, (CHART_GRID.1, CHART_GRID.0)].map(|(w, h)| (w as i32, h as i32)) {
        for j in lo.1 - height + 1..=hi.1 {
            for i in lo.0 - width + 1..=hi.0 {
                let inside = |n: &&Node| (i..i + width).contains(&n.0) && (j..j + height).contains(&n.1);
                let spots = lattice.nodes.keys().filter(inside).count();
                if (spots as f64) < INSIDE_SHARE * lattice.nodes.len() as f64 {
                    continue;
                }
                let beyond = lattice.nodes.len() - spots;
                for flip in 0..4 {
                    let node = |patch: usize| symmetric(patch, (i, j), (width, height), flip);
                    let colours: Colours = std::array::from_fn(|p| cells.colour(node(p)));
                    let Some(matched) = chart.explain(&colours, thorough) else { continue };
                    if let Some(to_px) = card_map(&lattice.to_px, node) {
                        let mirrored = to_px.mirrors(Point::new(2.5, 1.5));
                        out.push(Placement { to_px, matched, spots, beyond, mirrored });
                    }
                }
            }
        }
    }
    out
}

/// The lattice node of a patch when the grid's corner stands at `corner`: lying or standing, by `size`, and flipped along
/// either side by the two bits of `flip`. The eight symmetries are these four in both sizes.
fn symmetric(patch: usize, corner: Node, size: (i32, i32), flip: u8) -> Node {
    let (col, row) = ((patch % CHART_GRID.0) as i32, (patch / CHART_GRID.0) as i32);
    let (u, v) = if size.0 == CHART_GRID.0 as i32 { (col, row) } else { (row, col) };
    let u = if flip & 1 == 0 { u } else { size.0 - 1 - u };
    let v = if flip & 2 == 0 { v } else { size.1 - 1 - v };
    (corner.0 + u, corner.1 + v)
}

fn card_map(lattice_to_px: &Homography, node: impl Fn(usize) -> Node) -> Option<Homography> {
    let corners = [0, CHART_GRID.0 - 1, PATCHES - 1, PATCHES - CHART_GRID.0];
    let from = corners.map(|p| Point::new((p % CHART_GRID.0) as f64, (p / CHART_GRID.0) as f64));
    let to = corners.map(|p| at(node(p)));
    Some(lattice_to_px.after(&Homography::from_quads(&from, &to)?))
}

/// Colours of lattice cells, read once each.
struct Cells<'a> {
    image: &'a EncodedImage,
    to_px: Homography,
    read: HashMap<Node, Option<[f64; 3]>>,
}

impl Cells<'_> {
    fn colour(&mut self, node: Node) -> Option<[f64; 3]> {
        let (image, to_px) = (self.image, &self.to_px);
        *self.read.entry(node).or_insert_with(|| inner_mean(image, to_px, at(node)))
    }
}

/// Mean encoded colour around `p` (in units of `to_px`, one unit the pitch); `None` when part of it is not in the picture.
pub(super) fn inner_mean(image: &EncodedImage, to_px: &Homography, p: Point) -> Option<[f64; 3]> {
    let mut sum = [0.0; 3];
    let steps = 5;
    for v in 0..steps {
        for u in 0..steps {
            let offset = |k: i32| INNER * (2.0 * f64::from(k) / f64::from(steps - 1) - 1.0);
            let q = to_px.apply(Point::new(p.x + offset(u), p.y + offset(v)));
            let value = image.value(q)?;
            for (s, v) in sum.iter_mut().zip(value) {
                *s += f64::from(v);
            }
        }
    }
    Some(sum.map(|s| s / f64::from(steps * steps)))
}
