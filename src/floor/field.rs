//! The lighting field: how bright the light is at a place, relative to the card's centre.
#![expect(clippy::cast_possible_truncation, reason = "grid places are clamped to the grid before the cast")]

use crate::colour::LinearRgb;
use crate::geometry::Point;

/// The ratio of the light at a place to the light at the card's centre, on a coarse grid with bilinear reading between.
#[derive(Debug, Clone, PartialEq)]
pub struct LightField {
    /// Pixels of the photo per grid cell, along each side.
    pub cell: f64,
    /// Grid points across.
    pub columns: usize,
    /// Grid points down.
    pub rows: usize,
    /// Ratio a grid point, row by row; point (i, j) stands at (i·cell, j·cell). All 1 when nothing is known.
    pub ratios: Vec<f32>,
    /// Relative standard error of the ratio between two places of the tray, 0 when the light is known to be even.
    pub relative_error: f64,
}

impl LightField {
    /// Even light over the whole picture, with the stated relative error of that assumption.
    pub fn even(relative_error: f64) -> Self {
        Self { cell: f64::MAX, columns: 1, rows: 1, ratios: vec![1.0], relative_error }
    }

    /// The ratio at `p`; beyond the grid its edge goes on.
    pub fn ratio(&self, p: Point) -> f32 {
        let cut = |v: f64, n: usize| {
            let t = (v / self.cell).clamp(0.0, (n - 1) as f64);
            let i = (t as u32).min(n.saturating_sub(2) as u32);
            (i as usize, (t - f64::from(i)) as f32)
        };
        let ((i, u), (j, v)) = (cut(p.x, self.columns), cut(p.y, self.rows));
        let at = |i: usize, j: usize| self.ratios[j.min(self.rows - 1) * self.columns + i.min(self.columns - 1)];
        let top = at(i, j) * (1.0 - u) + at(i + 1, j) * u;
        let low = at(i, j + 1) * (1.0 - u) + at(i + 1, j + 1) * u;
        top * (1.0 - v) + low * v
    }

    /// The light at `p` as it would be at the card's centre.
    pub fn relight(&self, p: Point, value: LinearRgb) -> LinearRgb {
        value / self.ratio(p)
    }
}
