//! Small sets of pixels on a rectangle: connected pieces, holes, distances. The workbench of everything about shape.

use image::{GrayImage, Luma};

use crate::geometry::Point;
use crate::geometry::linked::root;

use super::nearby::largest_nearby;

/// Which pixels of a `width` × `height` rectangle belong.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Grid {
    /// Pixels across.
    pub(super) width: usize,
    /// Pixels down.
    pub(super) height: usize,
    /// Row by row.
    pub(super) on: Vec<bool>,
}

/// Pixels `from..to` of row `y`.
#[derive(Debug, Clone, Copy)]
struct Run {
    y: usize,
    from: usize,
    to: usize,
}

impl Grid {
    /// Nothing.
    pub(super) fn empty(width: usize, height: usize) -> Self {
        Self { width, height, on: vec![false; width * height] }
    }

    /// The pixels whose centres lie in a closed polygon (even-odd rule), given in pixels of this rectangle.
    pub(super) fn polygon(width: usize, height: usize, points: &[Point]) -> Self {
        let mut out = Self::empty(width, height);
        for (y, row) in out.on.chunks_mut(width.max(1)).enumerate() {
            let at = y as f64 + 0.5;
            let mut crossings: Vec<f64> = points
                .iter()
                .zip(points.iter().cycle().skip(1))
                .filter(|(a, b)| (a.y > at) != (b.y > at))
                .map(|(a, b)| a.x + (b.x - a.x) * (at - a.y) / (b.y - a.y))
                .collect();
            crossings.sort_by(f64::total_cmp);
            for pair in crossings.chunks_exact(2) {
                let from = pixel_from(pair[0]).min(width);
                let to = pixel_from(pair[1]).min(width);
                row[from..to].iter_mut().for_each(|v| *v = true);
            }
        }
        out
    }

    /// Number of pixels.
    pub(super) fn count(&self) -> usize {
        self.on.iter().filter(|v| **v).count()
    }

    /// Indices of the pixels, ascending.
    pub(super) fn indices(&self) -> impl Iterator<Item = usize> + '_ {
        self.on.iter().enumerate().filter_map(|(k, &v)| v.then_some(k))
    }

    /// The set with those pixels as well that `more` says.
    pub(super) fn with(mut self, more: impl Fn(usize) -> bool) -> Self {
        self.on.iter_mut().enumerate().for_each(|(k, on)| *on |= more(k));
        self
    }

    /// The four nearest neighbours of `k`.
    pub(super) fn neighbours(&self, k: usize) -> impl Iterator<Item = usize> + use<> {
        let (w, h) = (self.width, self.height);
        let (x, y) = (k % w, k / w);
        [(x > 0).then(|| k - 1), (x + 1 < w).then(|| k + 1), (y > 0).then(|| k - w), (y + 1 < h).then(|| k + w)]
            .into_iter()
            .flatten()
    }

    /// The four diagonal neighbours of `k`.
    pub(super) fn diagonals(&self, k: usize) -> impl Iterator<Item = usize> + use<> {
        let (w, h) = (self.width, self.height);
        let (x, y) = (k % w, k / w);
        [
            (x > 0 && y > 0).then(|| k - w - 1),
            (x + 1 < w && y > 0).then(|| k + 1 - w),
            (x > 0 && y + 1 < h).then(|| k + w - 1),
            (x + 1 < w && y + 1 < h).then(|| k + w + 1),
        ]
        .into_iter()
        .flatten()
    }

    /// Its connected pieces (by all eight neighbours) as ascending index lists, in reading order of their first pixel.
    pub(super) fn pieces(&self) -> Vec<Vec<usize>> {
        self.connected(true)
    }

    /// Connected pieces by the four nearest neighbours, where `corners` join by all eight; as [`Grid::pieces`].
    fn connected(&self, corners: bool) -> Vec<Vec<usize>> {
        let runs = self.runs();
        let reach = usize::from(corners);
        // Links lead to the run that comes first in reading order.
        let mut parent: Vec<usize> = (0..runs.len()).collect();
        let mut above = 0;
        for (i, run) in runs.iter().enumerate() {
            let past = |r: &Run| r.y + 1 < run.y || r.y + 1 == run.y && r.to + reach <= run.from;
            while past(&runs[above]) {
                above += 1;
            }
            let touching = runs[above..i].iter().take_while(|r| r.y < run.y && r.from < run.to + reach).count();
            for j in above..above + touching {
                let (a, b) = (root(&mut parent, i), root(&mut parent, j));
                parent[a.max(b)] = a.min(b);
            }
        }
        let mut slot = vec![usize::MAX; runs.len()];
        let mut out: Vec<Vec<usize>> = Vec::new();
        for (i, run) in runs.iter().enumerate() {
            let first = root(&mut parent, i);
            if first == i {
                slot[i] = out.len();
                out.push(Vec::new());
            }
            out[slot[first]].extend(run.y * self.width + run.from..run.y * self.width + run.to);
        }
        out
    }

    /// The pixels row by row, as many as lie side by side in one.
    fn runs(&self) -> Vec<Run> {
        let mut out = Vec::new();
        for (y, row) in self.on.chunks(self.width.max(1)).enumerate() {
            let mut from = 0;
            for same in row.chunk_by(|a, b| a == b) {
                let to = from + same.len();
                if same[0] {
                    out.push(Run { y, from, to });
                }
                from = to;
            }
        }
        out
    }

    /// The set with every hole of at most `most` pixels filled.
    pub(super) fn filled(&self, most: usize) -> Self {
        let mut out = self.clone();
        for hole in self.inverted().connected(false) {
            let edge = |&k: &usize| {
                let (x, y) = (k % self.width, k / self.width);
                x == 0 || y == 0 || x + 1 == self.width || y + 1 == self.height
            };
            if hole.len() <= most && !hole.iter().any(edge) {
                hole.iter().for_each(|&k| out.on[k] = true);
            }
        }
        out
    }

    /// The pixels and all within `reach` of one, across, down and aslant.
    pub(super) fn dilated(&self, reach: usize) -> Self {
        Self { on: largest_nearby(&self.on, self.width, reach), ..*self }
    }

    /// The pixels with no other than their own kind within `reach`; beyond the rectangle there is nothing.
    pub(super) fn eroded(&self, reach: usize) -> Self {
        self.inverted().dilated(reach).inverted()
    }

    fn inverted(&self) -> Self {
        Self { on: self.on.iter().map(|v| !v).collect(), ..*self }
    }

    /// Radius of the largest disc in it, at most 255 pixels.
    pub(super) fn thickness(&self) -> f64 {
        let (width, height) = (coordinate(self.width), coordinate(self.height));
        let outside = GrayImage::from_fn(width, height, |x, y| {
            Luma([if self.on[y as usize * self.width + x as usize] { 0 } else { 255 }])
        });
        let far = imageproc::distance_transform::distance_transform(&outside, imageproc::distance_transform::Norm::L2);
        f64::from(far.as_raw().iter().copied().max().unwrap_or(0))
    }
}

/// The first pixel whose centre is at or right of `x`.
#[expect(clippy::cast_possible_truncation, reason = "negative places saturate at zero")]
fn pixel_from(x: f64) -> usize {
    (x - 0.5).ceil().max(0.0) as usize
}

fn coordinate(n: usize) -> u32 {
    u32::try_from(n).unwrap_or(u32::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    pub(super) fn picture(rows: &[&str]) -> Grid {
        let on = rows.iter().flat_map(|r| r.bytes().map(|b| b == b'#')).collect();
        Grid { width: rows[0].len(), height: rows.len(), on }
    }

    #[test]
    fn diagonal_neighbours_are_one_piece() {
        let grid = picture(&["#..#", ".#.#", "...."]);
        let pieces = grid.pieces();
        assert_eq!(pieces, vec![vec![0, 5], vec![3, 7]]);
    }

    #[test]
    fn arms_that_meet_late_are_one_piece() {
        assert_eq!(picture(&["#.#.#", "#.#.#", "#####"]).pieces().len(), 1);
    }

    #[test]
    fn a_triangle_is_filled_by_pixel_centres() {
        let points = [Point::new(0.0, 0.0), Point::new(4.0, 0.0), Point::new(0.0, 4.0)];
        let grid = Grid::polygon(5, 4, &points);
        // Centres on the slanted edge itself (x + y = 4) stay outside.
        assert_eq!(grid, picture(&["###..", "##...", "#....", "....."]));
    }

    #[test]
    fn small_holes_fill_large_ones_and_bays_stay() {
        let grid = picture(&["########.", "#.##...#.", "####...#.", "########."]);
        let filled = grid.filled(2);
        assert!(filled.on[10] && !filled.on[9 + 4] && !filled.on[8]);
    }
}
