//! Spots of similar size that stand in rows and columns become lattices, seen in any perspective.

use std::collections::{BTreeMap, HashSet};

use super::blobs::Blob;
use crate::geometry::{Homography, Point};

/// Column and row of a spot in its lattice; the seed is (0, 0), the turn and handedness are arbitrary.
pub(super) type Node = (i32, i32);

/// Fewest spots that make a lattice: two rows of three.
const LEAST_NODES: usize = 6;

/// Distance to a neighbour in units of the spot's own sides: touching patches have 1; a patch whose flat inside is only
/// 4 of 8 pixels beside a wide gap has 2.3.
const NEIGHBOUR: std::ops::Range<f64> = 0.95..2.4;

/// How far a spot may stand from where its neighbours lead one to expect it, in units of the step between them.
/// Starting value: strong perspective changes a step by a fifth from one to the next.
const STRAY: f64 = 0.25;

/// How much larger or smaller in area a neighbour may be. Shade and blur eat into the rim of small patches.
const AREA_RATIO: f64 = 2.5;

/// With so many nodes no other pair of steps is tried from the same seed: three quarters of a chart.
const ENOUGH_NODES: usize = 18;

/// Most lattices of one picture: a picture of noise has no end of them.
const MOST_LATTICES: usize = 200;

/// Most nodes followed; a larger lattice is tiling or cloth, not a card.
const MOST_NODES: usize = 300;

/// Spots in rows and columns, in an order of their own: where two spots may stand for one node, every run takes the same.
#[derive(Debug, Clone)]
pub(super) struct Lattice {
    /// The spots that belong to it.
    pub(super) nodes: BTreeMap<Node, Blob>,
    /// From lattice coordinates to reduced pixels.
    pub(super) to_px: Homography,
}

impl Lattice {
    /// The smallest and largest column and row among the nodes.
    pub(super) fn extent(&self) -> (Node, Node) {
        let start = ((i32::MAX, i32::MAX), (i32::MIN, i32::MIN));
        self.nodes.keys().fold(start, |(lo, hi), &(i, j)| ((lo.0.min(i), lo.1.min(j)), (hi.0.max(i), hi.1.max(j))))
    }
}

/// A node's place in lattice coordinates.
pub(super) fn at(node: Node) -> Point {
    Point::new(f64::from(node.0), f64::from(node.1))
}

/// All lattices of the picture, largest first. A spot that already belongs to one starts no other.
pub(super) fn lattices(blobs: &[Blob]) -> Vec<Lattice> {
    let field = Field::new(blobs);
    let mut taken = vec![false; field.blobs.len()];
    let mut out = Vec::new();
    for seed in 0..field.blobs.len() {
        if out.len() >= MOST_LATTICES {
            break;
        }
        if taken[seed] {
            continue;
        }
        let mut grown: Option<BTreeMap<Node, usize>> = None;
        for basis in field.bases(seed) {
            let next = field.grow(seed, basis);
            if grown.as_ref().is_none_or(|g| next.len() > g.len()) {
                grown = Some(next);
            }
            if grown.as_ref().is_some_and(|g| g.len() >= ENOUGH_NODES) {
                break;
            }
        }
        let Some(lattice) = grown.filter(|g| g.len() >= LEAST_NODES).and_then(|g| field.settle(g)) else { continue };
        for &i in lattice.values() {
            taken[i] = true;
        }
        out.extend(field.finish(lattice));
    }
    out.sort_by_key(|l: &Lattice| std::cmp::Reverse(l.nodes.len()));
    out
}

/// The spots sorted by column, for finding them by place.
struct Field {
    blobs: Vec<Blob>,
}

/// One step along the lattice's columns and one along its rows, in pixels.
type Basis = [Point; 2];

impl Field {
    fn new(blobs: &[Blob]) -> Self {
        let mut blobs = blobs.to_vec();
        blobs.sort_by(|a, b| a.centre.x.total_cmp(&b.centre.x));
        Self { blobs }
    }

    /// Indices of spots within `radius` of `p`, and a few beyond in the corners of the square around it.
    fn near(&self, p: Point, radius: f64) -> impl Iterator<Item = usize> + '_ {
        let from = self.blobs.partition_point(|b| b.centre.x < p.x - radius);
        (from..self.blobs.len())
            .take_while(move |&i| self.blobs[i].centre.x <= p.x + radius)
            .filter(move |&i| (self.blobs[i].centre.y - p.y).abs() <= radius)
    }

    fn alike(&self, a: usize, b: usize) -> bool {
        let ratio = self.blobs[a].area / self.blobs[b].area;
        (1.0 / AREA_RATIO..AREA_RATIO).contains(&ratio)
    }

    /// Pairs of steps from a spot to two neighbours at a right angle and of like length once the slant is undone.
    fn bases(&self, seed: usize) -> Vec<Basis> {
        let spot = &self.blobs[seed];
        // The longest side of a spot three times as long as wide is 1.7 times that of the square of its area.
        let reach = NEIGHBOUR.end * 1.75 * spot.side();
        let mut steps: Vec<(Point, Point)> = self
            .near(spot.centre, reach)
            .filter(|&i| i != seed && self.alike(i, seed))
            .map(|i| self.blobs[i].centre - spot.centre)
            .map(|d| (spot.in_sides(d), d))
            .filter(|(w, _)| NEIGHBOUR.contains(&w.distance(Point::default())))
            .collect();
        steps.sort_by(|a, b| a.0.distance(Point::default()).total_cmp(&b.0.distance(Point::default())));
        steps.truncate(8);
        let mut out = Vec::new();
        for (k, (w, d)) in steps.iter().enumerate() {
            for (v, e) in &steps[k + 1..] {
                let (m, n) = (w.distance(Point::default()), v.distance(Point::default()));
                let cosine = (w.x * v.x + w.y * v.y) / (m * n);
                if cosine.abs() < 0.3 && n / m < 1.3 {
                    out.push([*d, *e]);
                }
            }
        }
        out.truncate(6);
        out
    }

    /// Follows the steps from spot to spot, letting them bend with the perspective.
    fn grow(&self, seed: usize, basis: Basis) -> BTreeMap<Node, usize> {
        let mut nodes = BTreeMap::from([((0, 0), seed)]);
        let mut used = HashSet::from([seed]);
        let mut queue = vec![((0, 0), basis)];
        let mut next = 0;
        while next < queue.len() && nodes.len() < MOST_NODES {
            let (node, basis) = queue[next];
            next += 1;
            for (axis, sign) in [(0, 1), (0, -1), (1, 1), (1, -1)] {
                let to = if axis == 0 { (node.0 + sign, node.1) } else { (node.0, node.1 + sign) };
                if nodes.contains_key(&to) {
                    continue;
                }
                let from = nodes[&node];
                let step = basis[axis] * f64::from(sign);
                let Some(found) = self.closest(self.blobs[from].centre + step, STRAY * length(step), from) else {
                    continue;
                };
                if !used.insert(found) {
                    continue;
                }
                let taken = self.blobs[found].centre - self.blobs[from].centre;
                let mut bent = basis;
                bent[axis] = (basis[axis] + taken * f64::from(sign)) * 0.5;
                nodes.insert(to, found);
                queue.push((to, bent));
            }
        }
        nodes
    }

    fn closest(&self, p: Point, radius: f64, like: usize) -> Option<usize> {
        let distance = |i: usize| self.blobs[i].centre.distance(p);
        self.near(p, radius)
            .filter(|&i| i != like && distance(i) <= radius && self.alike(i, like))
            .min_by(|&a, &b| distance(a).total_cmp(&distance(b)))
    }

    /// Takes spots out that the common perspective does not explain, and takes in those it points to.
    fn settle(&self, mut nodes: BTreeMap<Node, usize>) -> Option<BTreeMap<Node, usize>> {
        for _ in 0..3 {
            let map = self.map(&nodes)?;
            nodes.retain(|&node, &mut i| {
                map.apply(at(node)).distance(self.blobs[i].centre) < STRAY * map.magnification(at(node))
            });
            if nodes.len() < LEAST_NODES {
                return None;
            }
            let map = self.map(&nodes)?;
            let keys: Vec<Node> = nodes.keys().copied().collect();
            for (i, j) in keys {
                let like = nodes[&(i, j)];
                // One missing spot may be jumped.
                for to in
                    [(i + 1, j), (i - 1, j), (i, j + 1), (i, j - 1), (i + 2, j), (i - 2, j), (i, j + 2), (i, j - 2)]
                {
                    if nodes.contains_key(&to) {
                        continue;
                    }
                    let radius = 0.6 * STRAY * map.magnification(at(to));
                    if let Some(found) = self.closest(map.apply(at(to)), radius, like)
                        && !nodes.values().any(|&k| k == found)
                    {
                        nodes.insert(to, found);
                    }
                }
            }
        }
        Some(nodes)
    }

    fn map(&self, nodes: &BTreeMap<Node, usize>) -> Option<Homography> {
        let from: Vec<Point> = nodes.keys().map(|n| at(*n)).collect();
        let to: Vec<Point> = nodes.values().map(|i| self.blobs[*i].centre).collect();
        // Few spots fix a slant but not a vanishing line.
        if nodes.len() < 9 { Homography::fit_affine(&from, &to) } else { Homography::fit(&from, &to) }
    }

    fn finish(&self, nodes: BTreeMap<Node, usize>) -> Option<Lattice> {
        let to_px = self.map(&nodes)?;
        Some(Lattice { nodes: nodes.into_iter().map(|(n, i)| (n, self.blobs[i])).collect(), to_px })
    }
}

fn length(d: Point) -> f64 {
    d.distance(Point::default())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Five by five spots whose area grows from left to right; in the middle a small one, which only the first column is like, and a
    /// large one, which only the last is like.
    fn spots() -> Vec<Blob> {
        let spot = |x: f64, y: f64, area: f64| Blob {
            centre: Point::new(x, y),
            area,
            moments: [area / 12.0, 0.0, area / 12.0],
        };
        let areas = [100.0, 200.0, 200.0, 200.0, 300.0];
        let mut all = vec![spot(39.0, 40.0, 60.0), spot(41.0, 40.0, 600.0)];
        for k in (0..25u8).filter(|k| *k != 12) {
            let (column, row) = (k % 5, k / 5);
            all.push(spot(20.0 * f64::from(column), 20.0 * f64::from(row), areas[usize::from(column)]));
        }
        all
    }

    #[test]
    fn of_two_spots_for_one_node_every_run_takes_the_same() {
        let spots = spots();
        let run = || {
            let mut nodes: Vec<(Node, f64)> = lattices(&spots)[0].nodes.iter().map(|(n, b)| (*n, b.area)).collect();
            nodes.sort_by_key(|n| n.0);
            nodes
        };
        let first = run();
        assert_eq!(first.len(), 25, "the middle is taken in");
        assert!((0..32).all(|_| run() == first));
    }
}
