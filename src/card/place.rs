//! Lays a card's grid over a lattice in every position and judges each.
#![expect(clippy::cast_possible_truncation, reason = "rows and columns of a small grid")]

use std::collections::HashMap;

use super::lattice::{Lattice, Node, at};
use super::order::{Match, Pattern};
use super::{Design, Layout, tray};
use crate::geometry::{Homography, Point};
use crate::photo::EncodedImage;

/// Half the side of the square read in a patch, in units of the pitch: patches are 0.75 to 0.9 of it wide.
pub(super) const INNER: f64 = 0.22;

/// Share of a lattice's spots that must lie inside the grid: a lattice that goes on beyond it is something else.
const INSIDE_SHARE: f64 = 0.6;

/// How much the marks of a marked card count against its colours when positions are ranked.
const MARKS_COUNT: f64 = 0.5;

/// One position of a card on the picture.
#[derive(Debug, Clone)]
pub(super) struct Placement {
    /// From card units (column, row of the card) to reduced pixels.
    pub(super) to_px: Homography,
    /// How well the design explains the colours there.
    pub(super) matched: Match,
    /// Number of patches with a spot of the lattice.
    pub(super) spots: usize,
    /// Number of the lattice's spots beyond the grid.
    pub(super) beyond: usize,
    /// Whether it would be seen as in a mirror.
    pub(super) mirrored: bool,
    /// How well a marked card's marks are seen, -1…1.
    pub(super) marks: Option<f64>,
    pose: Pose,
}

impl Placement {
    /// What to choose among the positions on one lattice by, smaller is better: what is unexplained, and a little for every
    /// patch outside of the picture, since few patches are easily explained.
    pub(super) fn rank(&self) -> f64 {
        let outside = self.matched.odd.len() - self.matched.seen;
        self.matched.unexplained + 0.02 * outside as f64 - MARKS_COUNT * self.marks.unwrap_or(0.0)
    }
}

/// Fewest spots for fitting the place anew: a homography's four points three times over.
const LEAST_REFIT: usize = 12;

/// How far a spot may be from the place fitted, in units of the pitch: what is further is a glare spot or half a patch.
const REFIT_STRAY: f64 = 0.12;

impl Placement {
    /// The place fitted anew to the spots on the card alone: what the lattice took in around it pulls no more.
    pub(super) fn refit(mut self, lattice: &Lattice, design: &Design) -> Self {
        let mut pairs: Vec<(Point, Point)> = design
            .places()
            .enumerate()
            .filter_map(|(i, p)| lattice.nodes.get(&self.pose.node(design, i)).map(|b| (p, b.centre)))
            .collect();
        for _ in 0..2 {
            let (from, to): (Vec<Point>, Vec<Point>) = pairs.iter().copied().unzip();
            let fitted = (pairs.len() >= LEAST_REFIT).then(|| Homography::fit(&from, &to)).flatten();
            let Some(map) = fitted else { break };
            self.to_px = map;
            pairs.retain(|(p, q)| map.apply(*p).distance(*q) < REFIT_STRAY * map.magnification(*p));
        }
        self
    }
}

/// Every position in which the lattice carries the pattern's grid, with its judgement.
pub(super) fn placements(image: &EncodedImage, lattice: &Lattice, pattern: &Pattern, thorough: bool) -> Vec<Placement> {
    let (lo, hi) = lattice.extent();
    let design = &pattern.design;
    let mut cells = Cells { image, to_px: lattice.to_px, read: HashMap::new() };
    let mut out = Vec::new();
    for standing in [false, true] {
        let (width, height) = size(design, standing);
        for j in lo.1 - height + 1..=hi.1 {
            for i in lo.0 - width + 1..=hi.0 {
                let inside = |n: &&Node| (i..i + width).contains(&n.0) && (j..j + height).contains(&n.1);
                let spots = lattice.nodes.keys().filter(inside).count();
                if (spots as f64) < INSIDE_SHARE * lattice.nodes.len() as f64 {
                    continue;
                }
                for flip in 0..4 {
                    let pose = Pose { corner: (i, j), standing, flip };
                    let colours: Vec<_> = (0..design.count()).map(|p| cells.colour(pose.node(design, p))).collect();
                    let Some(matched) = pattern.explain(&colours, thorough) else { continue };
                    let Some(to_px) = pose.card_map(design, &lattice.to_px) else { continue };
                    let marks = (design.layout == Layout::Tray).then(|| tray::marks(image, &to_px)).flatten();
                    let mirrored = to_px.mirrors(design.middle());
                    let beyond = lattice.nodes.len() - spots;
                    out.push(Placement { to_px, matched, spots, beyond, mirrored, marks, pose });
                }
            }
        }
    }
    out
}

/// Columns and rows of the lattice that a lying or standing card takes up.
fn size(design: &Design, standing: bool) -> (i32, i32) {
    let (w, h) = (design.columns as i32, design.rows as i32);
    if standing { (h, w) } else { (w, h) }
}

/// How a card lies on a lattice: where its lowest node is, whether its rows run along the lattice's columns, and whether
/// it is flipped along either axis (the two bits of `flip`). The eight symmetries are these four flips, lying and standing.
#[derive(Debug, Clone, Copy)]
struct Pose {
    corner: Node,
    standing: bool,
    flip: u8,
}

impl Pose {
    fn node(self, design: &Design, patch: usize) -> Node {
        let (col, row) = ((patch % design.columns) as i32, (patch / design.columns) as i32);
        let (u, v) = if self.standing { (row, col) } else { (col, row) };
        let (width, height) = size(design, self.standing);
        let u = if self.flip & 1 == 0 { u } else { width - 1 - u };
        let v = if self.flip & 2 == 0 { v } else { height - 1 - v };
        (self.corner.0 + u, self.corner.1 + v)
    }

    fn card_map(self, design: &Design, lattice_to_px: &Homography) -> Option<Homography> {
        let (columns, count) = (design.columns, design.count());
        let to = [0, columns - 1, count - 1, count - columns].map(|p| at(self.node(design, p)));
        Some(lattice_to_px.after(&Homography::from_quads(&design.around([0.0; 4]), &to)?))
    }
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
