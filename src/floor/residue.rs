//! What the smooth surface leaves over: slow unevenness of the floor, as block medians with bilinear reading between.
#![expect(clippy::cast_possible_truncation, reason = "block indices are clamped to the grid before the cast")]

use rayon::prelude::*;

use crate::geometry::Point;

use super::cells::Cells;
use super::surface::{Surface, log_light, robust_scale};

/// Cells per block, along each side: about 100 photo pixels of 4000, wider than a fish is.
const BLOCK: usize = 10;
/// Fewest floor cells of a block that say something.
const LEAST_CELLS: usize = 20;
/// Largest correction, in log light: more is not lamp but pattern.
const LARGEST: f64 = 0.08;

/// Block medians of the log residual, a channel.
#[derive(Debug, Clone)]
pub(super) struct Residue {
    size: f64,
    columns: usize,
    rows: usize,
    values: Vec<[f64; 3]>,
    /// Robust standard deviation of the block medians: how much slow unevenness the surface missed, relative light.
    pub(super) unevenness: f64,
}

impl Residue {
    /// Medians over the floor's cells (ascending), smoothed once over the neighbouring blocks.
    pub(super) fn of(cells: &Cells, floor: &[usize], surface: &Surface) -> Self {
        let (columns, rows) = (cells.width.div_ceil(BLOCK), cells.height.div_ceil(BLOCK));
        let left_over = |k: usize| -> [f64; 3] {
            let (log, model) = (log_light(cells.light[k]), surface.log_at(cells.place(k)));
            std::array::from_fn(|c| log[c] - model[c])
        };
        let block_row = |j: usize| -> Vec<Option<[f64; 3]>> {
            let mut lists: Vec<[Vec<f64>; 3]> = vec![Default::default(); columns];
            let first = |row: usize| floor.partition_point(|k| *k < row * cells.width);
            for &k in &floor[first(j * BLOCK)..first((j + 1) * BLOCK)] {
                let list = &mut lists[k % cells.width / BLOCK];
                list.iter_mut().zip(left_over(k)).for_each(|(list, rest)| list.push(rest));
            }
            lists.into_iter().map(median).collect()
        };
        let medians: Vec<Option<[f64; 3]>> = (0..rows).into_par_iter().flat_map_iter(block_row).collect();
        let known: Vec<f64> = medians.iter().flatten().map(|m| m[1]).collect();
        let values = (0..medians.len()).map(|k| smoothed(&medians, columns, rows, k)).collect();
        Self { size: BLOCK as f64 * cells.step, columns, rows, values, unevenness: robust_scale(&known) }
    }

    /// The correction to the surface's log light at `p`.
    pub(super) fn at(&self, p: Point) -> [f64; 3] {
        let cut = |v: f64, n: usize| {
            let t = (v / self.size - 0.5).clamp(0.0, (n - 1) as f64);
            let i = (t as usize).min(n.saturating_sub(2));
            (i, (i + 1).min(n - 1), t - i as f64)
        };
        let ((i0, i1, u), (j0, j1, v)) = (cut(p.x, self.columns), cut(p.y, self.rows));
        let at = |i: usize, j: usize, c: usize| self.values[j * self.columns + i][c];
        std::array::from_fn(|c| {
            let top = at(i0, j0, c) * (1.0 - u) + at(i1, j0, c) * u;
            let low = at(i0, j1, c) * (1.0 - u) + at(i1, j1, c) * u;
            top * (1.0 - v) + low * v
        })
    }
}

fn median(lists: [Vec<f64>; 3]) -> Option<[f64; 3]> {
    if lists[0].len() < LEAST_CELLS {
        return None;
    }
    Some(lists.map(|mut l| {
        let middle = l.len() / 2;
        l.select_nth_unstable_by(middle, f64::total_cmp).1.clamp(-LARGEST, LARGEST)
    }))
}

/// The 1-2-1 mean over a block and its neighbours; a block that knows nothing counts as no correction.
fn smoothed(medians: &[Option<[f64; 3]>], columns: usize, rows: usize, k: usize) -> [f64; 3] {
    let (i, j) = (k % columns, k / columns);
    let (mut sum, mut total) = ([0.0; 3], 0.0);
    for y in j.saturating_sub(1)..=(j + 1).min(rows - 1) {
        for x in i.saturating_sub(1)..=(i + 1).min(columns - 1) {
            let w = if x == i { 2.0 } else { 1.0 } * if y == j { 2.0 } else { 1.0 };
            let m = medians[y * columns + x].unwrap_or_default();
            (0..3).for_each(|c| sum[c] += w * m[c]);
            total += w;
        }
    }
    sum.map(|s| s / total)
}
