//! Small sets of pixels on a rectangle: connected pieces, holes, distances. The workbench of everything about shape.

use image::{GrayImage, Luma};

use crate::geometry::Point;

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
        let mut label = vec![u32::MAX; self.on.len()];
        let mut parent: Vec<u32> = Vec::new();
        for k in self.indices() {
            let (x, w) = (k % self.width, self.width);
            let before = [
                (x > 0).then(|| k - 1),
                (k >= w && x > 0).then(|| k - w - 1),
                k.checked_sub(w),
                (k >= w && x + 1 < w).then(|| k + 1 - w),
            ];
            let mut own = u32::MAX;
            for q in before.into_iter().flatten().filter(|&q| label[q] != u32::MAX) {
                let r = root(&mut parent, label[q]);
                if own == u32::MAX {
                    own = r;
                } else if r != own {
                    let (low, high) = (own.min(r), own.max(r));
                    parent[high as usize] = low;
                    own = low;
                }
            }
            if own == u32::MAX {
                own = u32::try_from(parent.len()).unwrap_or(u32::MAX);
                parent.push(own);
            }
            label[k] = own;
        }
        let mut slot = vec![usize::MAX; parent.len()];
        let mut out: Vec<Vec<usize>> = Vec::new();
        for k in self.indices() {
            let r = root(&mut parent, label[k]) as usize;
            if slot[r] == usize::MAX {
                slot[r] = out.len();
                out.push(Vec::new());
            }
            out[slot[r]].push(k);
        }
        out
    }

    /// The set with every hole of at most `most` pixels filled.
    pub(super) fn filled(&self, most: usize) -> Self {
        let outside = Self { width: self.width, height: self.height, on: self.on.iter().map(|v| !v).collect() };
        let mut out = self.clone();
        for hole in outside.pieces_by_four() {
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

    /// Pieces by the four nearest neighbours: what a hole is made of.
    fn pieces_by_four(&self) -> Vec<Vec<usize>> {
        let mut seen = vec![false; self.on.len()];
        let mut out = Vec::new();
        for start in self.indices() {
            if seen[start] {
                continue;
            }
            seen[start] = true;
            let mut piece = vec![start];
            let mut next = 0;
            while next < piece.len() {
                for q in self.neighbours(piece[next]) {
                    if self.on[q] && !seen[q] {
                        seen[q] = true;
                        piece.push(q);
                    }
                }
                next += 1;
            }
            out.push(piece);
        }
        out
    }

    /// Radius of the largest disc in it, at most 255 pixels.
    pub(super) fn thickness(&self) -> f64 {
        let mut outside = self.image();
        outside.pixels_mut().for_each(|p| p.0[0] = 255 - p.0[0]);
        let far = imageproc::distance_transform::distance_transform(&outside, imageproc::distance_transform::Norm::L2);
        f64::from(far.as_raw().iter().copied().max().unwrap_or(0))
    }

    /// The set as a grey image, 255 inside.
    pub(super) fn image(&self) -> GrayImage {
        GrayImage::from_fn(coordinate(self.width), coordinate(self.height), |x, y| {
            Luma([if self.on[y as usize * self.width + x as usize] { 255 } else { 0 }])
        })
    }

    /// The set of a grey image's pixels above zero.
    pub(super) fn from_image(image: &GrayImage) -> Self {
        Self {
            width: image.width() as usize,
            height: image.height() as usize,
            on: image.as_raw().iter().map(|v| *v > 0).collect(),
        }
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

fn root(parent: &mut [u32], mut k: u32) -> u32 {
    while parent[k as usize] != k {
        parent[k as usize] = parent[parent[k as usize] as usize];
        k = parent[k as usize];
    }
    k
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
