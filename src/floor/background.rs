//! The bare floor as the camera would see it, on a grid with bilinear reading between.
#![expect(clippy::cast_possible_truncation, reason = "grid places are clamped to the grid before the cast")]

use crate::colour::LinearRgb;
use crate::geometry::Point;

/// Linear light of the bare floor at every place of the picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Background {
    /// Pixels of the photo per grid cell, along each side.
    pub cell: f64,
    /// Grid points across.
    pub columns: usize,
    /// Grid points down.
    pub rows: usize,
    /// Light a grid point, row by row; point (i, j) stands at (i·cell, j·cell).
    pub values: Vec<LinearRgb>,
}

impl Background {
    /// A grid of `columns` × `rows` points, `cell` pixels apart, filled by `value` at each point's place.
    pub fn sampled(cell: f64, columns: usize, rows: usize, value: impl Fn(Point) -> LinearRgb) -> Self {
        let values = (0..rows * columns)
            .map(|k| value(Point::new((k % columns) as f64 * cell, (k / columns) as f64 * cell)))
            .collect();
        Self { cell, columns, rows, values }
    }

    /// The bare floor at `p`; beyond the grid its edge goes on.
    pub fn at(&self, p: Point) -> LinearRgb {
        let cut = |v: f64, n: usize| {
            let t = (v / self.cell).clamp(0.0, (n - 1) as f64);
            let i = (t.floor() as usize).min(n.saturating_sub(2));
            (i, (t - i as f64) as f32)
        };
        let ((i, u), (j, v)) = (cut(p.x, self.columns), cut(p.y, self.rows));
        let at = |i: usize, j: usize| self.values[j.min(self.rows - 1) * self.columns + i.min(self.columns - 1)];
        let top = at(i, j) * (1.0 - u) + at(i + 1, j) * u;
        let low = at(i, j + 1) * (1.0 - u) + at(i + 1, j + 1) * u;
        top * (1.0 - v) + low * v
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plane_reads_back_between_its_grid_points() {
        let plane = |p: Point| LinearRgb::new(p.x as f32, p.y as f32, 1.0);
        let grid = Background::sampled(8.0, 5, 4, plane);
        let read = grid.at(Point::new(13.0, 17.5));
        assert!((read.red - 13.0).abs() < 1e-4 && (read.green - 17.5).abs() < 1e-4);
    }

    #[test]
    fn the_edge_goes_on_beyond_the_grid() {
        let grid = Background::sampled(8.0, 2, 2, |p| LinearRgb::new(p.x as f32, 0.5, 0.5));
        assert!((grid.at(Point::new(99.0, -4.0)).red - 8.0).abs() < 1e-6);
    }
}
