//! The picture as coarse cells, and the smooth patches they link up to.
#![expect(clippy::cast_possible_truncation, reason = "cell indices fit 32 bits")]

use rayon::prelude::*;

use crate::colour::LinearRgb;
use crate::geometry::linked::root;
use crate::geometry::{Point, polygon_area};
use crate::photo::LinearImage;

use super::perceive::perceived;

/// Reduced pixels per cell, along each side: cells of about 12 photo pixels, small against a tray, large against noise.
const CELL: usize = 4;
/// Fewest photo pixels per cell: a block of JPEG (ITU-T T.81), within which a small, hard compressed picture shows one value.
const BLOCK: usize = 8;

/// The picture as coarse cells.
#[derive(Debug, Clone)]
pub(super) struct Cells {
    /// Cells across.
    pub(super) width: usize,
    /// Cells down.
    pub(super) height: usize,
    /// Photo pixels per cell, along each side.
    pub(super) step: f64,
    /// Mean linear light a cell.
    pub(super) light: Vec<LinearRgb>,
    /// The same as approximate L*, a*, b*.
    pub(super) lab: Vec<[f32; 3]>,
}

impl Cells {
    /// Averages the reduced picture over blocks; incomplete blocks at the right and lower edge are left out.
    pub(super) fn of(image: &LinearImage) -> Self {
        let side = CELL.max(BLOCK.div_ceil(image.factor as usize)).min(image.width).min(image.height).max(1);
        let (width, height) = (image.width / side, image.height / side);
        let mean = |i: usize, j: usize| {
            let mut sum = LinearRgb::new(0.0, 0.0, 0.0);
            for y in j * side..(j + 1) * side {
                for x in i * side..(i + 1) * side {
                    sum += image.at(x, y);
                }
            }
            sum / (side * side) as f32
        };
        let light: Vec<LinearRgb> = (0..width * height).into_par_iter().map(|k| mean(k % width, k / width)).collect();
        let lab = light.par_iter().map(|&v| perceived(v)).collect();
        Self { width, height, step: side as f64 * f64::from(image.factor), light, lab }
    }

    /// Centre of cell `k` in the photo's continuous pixels.
    pub(super) fn place(&self, k: usize) -> Point {
        let (i, j) = (k % self.width, k / self.width);
        Point::new((i as f64 + 0.5) * self.step, (j as f64 + 0.5) * self.step)
    }

    /// The largest connected piece of some cells (ascending), ascending.
    pub(super) fn largest_piece(&self, members: &[usize]) -> Vec<usize> {
        let mut open = vec![false; self.lab.len()];
        members.iter().for_each(|&k| open[k] = true);
        let mut best = Vec::new();
        for &start in members {
            if !std::mem::take(&mut open[start]) {
                continue;
            }
            let mut piece = vec![start];
            let mut next = 0;
            while let Some(&k) = piece.get(next) {
                next += 1;
                let x = k % self.width;
                let beside = [
                    (x > 0).then(|| k - 1),
                    (x + 1 < self.width).then(|| k + 1),
                    k.checked_sub(self.width),
                    Some(k + self.width).filter(|&q| q < self.lab.len()),
                ];
                piece.extend(beside.into_iter().flatten().filter(|&q| std::mem::take(&mut open[q])));
            }
            if piece.len() > best.len() {
                best = piece;
            }
        }
        best.sort_unstable();
        best
    }

    /// The cells among some (ascending) that have all others within `reach` of them among them too, ascending.
    pub(super) fn inner(&self, members: &[usize], reach: usize) -> Vec<usize> {
        let mut inside = vec![false; self.lab.len()];
        members.iter().for_each(|&k| inside[k] = true);
        // First along the rows, then along the columns.
        let mut row_clear = vec![false; inside.len()];
        for (line, clear) in inside.chunks(self.width).zip(row_clear.chunks_mut(self.width)) {
            for (i, c) in clear.iter_mut().enumerate() {
                *c = line[i.saturating_sub(reach)..(i + reach + 1).min(line.len())].iter().all(|v| *v);
            }
        }
        let clear = |k: usize| {
            let (i, j) = (k % self.width, k / self.width);
            (j.saturating_sub(reach)..(j + reach + 1).min(self.height)).all(|y| row_clear[y * self.width + i])
        };
        members.iter().copied().filter(|&k| clear(k)).collect()
    }

    /// Perceived difference between two cells.
    pub(super) fn difference(&self, p: usize, q: usize) -> f32 {
        let (a, b) = (self.lab[p], self.lab[q]);
        ((a[0] - b[0]).powi(2) + (a[1] - b[1]).powi(2) + (a[2] - b[2]).powi(2)).sqrt()
    }
}

/// A patch of cells over which the picture changes only slowly.
#[derive(Debug, Clone)]
pub(super) struct Patch {
    /// Its cells, ascending.
    pub(super) cells: Vec<usize>,
    /// Its convex hull in photo pixels, around whole cells.
    pub(super) hull: Vec<Point>,
}

/// Smallest and largest difference that still links neighbouring cells (in L*a*b* units): starting values; a lamp
/// gradient of one half across a tray is below 0.1 a cell, a rim or a table edge above 3.
const LINK: (f32, f32) = (0.8, 2.0);
/// The link limit in medians of all neighbour differences, so that noise and grain do not tear a floor apart.
const LINK_MEDIANS: f32 = 4.0;
/// The link limit in their 80 % quantiles: where compression leaves steps between even blocks, the median is zero.
const LINK_STEPS: f32 = 2.0;
/// Share of the 80 % quantile below which the median tells such even blocks, and the largest limit then: the steps reach the 90 %
/// quantile, while noise hides no edge (starting values, tuned on drawn trays under-exposed and compressed hard).
const STEPPED: f32 = 0.25;
/// See [`STEPPED`].
const LINK_STEPPED: f32 = 4.0;

/// Links cells into smooth patches of at least `least` cells, largest first; cells where `barred` holds are left out. `link` is the
/// share of the usual limit up to which neighbours are linked.
pub(super) fn smooth_patches(cells: &Cells, least: usize, barred: &[bool], link: f32) -> Vec<Patch> {
    let limit = link * link_limit(cells);
    let n = cells.lab.len();
    let mut parent: Vec<usize> = (0..n).collect();
    for k in (0..n).filter(|&k| !barred[k]) {
        for q in [(k % cells.width > 0).then(|| k - 1), k.checked_sub(cells.width)].into_iter().flatten() {
            if !barred[q] && cells.difference(k, q) < limit {
                let (a, b) = (root(&mut parent, k), root(&mut parent, q));
                parent[a.max(b)] = a.min(b);
            }
        }
    }
    let roots: Vec<usize> = (0..n).map(|k| root(&mut parent, k)).collect();
    let mut sizes = vec![0; n];
    roots.iter().for_each(|&r| sizes[r] += 1);
    // Few are large enough, so that each may look through all cells for its own.
    let mut patches: Vec<Patch> = (0..n)
        .filter(|&r| !barred[r] && sizes[r] >= least.max(1))
        .map(|r| (0..n).filter(|&k| roots[k] == r).collect::<Vec<_>>())
        .map(|cells_of| Patch { hull: hull_of(cells, &cells_of), cells: cells_of })
        .collect();
    patches.sort_by_key(|p| std::cmp::Reverse(p.cells.len()));
    patches
}

fn link_limit(cells: &Cells) -> f32 {
    let mut differences: Vec<f32> =
        (1..cells.lab.len()).filter(|k| k % cells.width > 0).map(|k| cells.difference(k, k - 1)).collect();
    if differences.is_empty() {
        return LINK.1;
    }
    let mut quantile = |tenths: usize| {
        let at = differences.len() * tenths / 10;
        *differences.select_nth_unstable_by(at, f32::total_cmp).1
    };
    let (median, most) = (quantile(5), quantile(8));
    let ordinary = (LINK_MEDIANS * median).max(LINK_STEPS * most).clamp(LINK.0, LINK.1);
    if median < STEPPED * most { ordinary.max(quantile(9).min(LINK_STEPPED)) } else { ordinary }
}

/// Convex hull of whole cells in photo pixels, clockwise on the screen; `members` ascending.
pub(super) fn hull_of(cells: &Cells, members: &[usize]) -> Vec<Point> {
    // The first and last cell of each row span the hull.
    let ends: Vec<imageproc::point::Point<i32>> = members
        .chunk_by(|a, b| a / cells.width == b / cells.width)
        .flat_map(|row| {
            let at = |k: usize| (k % cells.width) as i32;
            let (i0, i1, j) = (at(row[0]), at(row[row.len() - 1]) + 1, (row[0] / cells.width) as i32);
            [(i0, j), (i1, j), (i0, j + 1), (i1, j + 1)].map(|(x, y)| imageproc::point::Point::new(x, y))
        })
        .collect();
    let hull = imageproc::geometry::convex_hull(ends);
    let mut hull: Vec<Point> = hull.iter().map(|p| Point::new(f64::from(p.x), f64::from(p.y)) * cells.step).collect();
    if polygon_area(&hull) < 0.0 {
        hull.reverse();
    }
    hull
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn barred_cells_are_no_patches() {
        let pixels = vec![LinearRgb::new(0.5, 0.5, 0.5); 80 * 40];
        let cells = Cells::of(&LinearImage { factor: 2, width: 80, height: 40, pixels });
        let left = |k: usize| k % cells.width < cells.width / 2;
        let barred: Vec<bool> = (0..cells.lab.len()).map(left).collect();
        let patches = smooth_patches(&cells, 0, &barred, 1.0);
        assert_eq!(patches.len(), 1);
        assert!(!patches[0].cells.iter().any(|&k| left(k)));
    }

    #[test]
    fn inner_cells_keep_away_from_holes_and_stay_at_the_picture_s_edge() {
        let cells = Cells::of(&LinearImage {
            factor: 2,
            width: 28,
            height: 20,
            pixels: vec![LinearRgb::new(0.5, 0.5, 0.5); 28 * 20],
        });
        assert_eq!((cells.width, cells.height), (7, 5));
        // All cells but (5, 2): with a reach of 1 the square around it goes.
        let members: Vec<usize> = (0..35).filter(|k| *k != 19).collect();
        let inner = cells.inner(&members, 1);
        let gone: Vec<usize> = members.iter().copied().filter(|k| !inner.contains(k)).collect();
        assert_eq!(gone, [11, 12, 13, 18, 20, 25, 26, 27]);
    }
}
