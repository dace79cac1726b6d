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
        self.row(p.y).at(p.x)
    }

    /// The bare floor along the row at height `y`, for reading it from left to right.
    pub fn row(&self, y: f64) -> Row<'_> {
        let (j, v) = cut(y / self.cell, self.rows);
        let line = |j: usize| &self.values[j.min(self.rows - 1) * self.columns..][..self.columns];
        let nowhere = LinearRgb::new(0.0, 0.0, 0.0);
        Row { cell: self.cell, top: line(j), low: line(j + 1), v, i: usize::MAX, ends: (nowhere, nowhere) }
    }
}

/// One row of a [`Background`], read between two lines of its grid.
#[derive(Debug, Clone)]
pub struct Row<'a> {
    cell: f64,
    top: &'a [LinearRgb],
    low: &'a [LinearRgb],
    /// Share of the lower line.
    v: f32,
    /// The grid cell last read, and the light at its two ends: neighbouring pixels seldom leave it.
    i: usize,
    ends: (LinearRgb, LinearRgb),
}

impl Row<'_> {
    /// The bare floor at `x`; beyond the grid its edge goes on.
    #[inline]
    pub fn at(&mut self, x: f64) -> LinearRgb {
        let (i, u) = cut(x / self.cell, self.top.len());
        if i != self.i {
            let end = |i: usize| {
                let i = i.min(self.top.len() - 1);
                mix(self.top[i], self.low[i], self.v)
            };
            (self.i, self.ends) = (i, (end(i), end(i + 1)));
        }
        mix(self.ends.0, self.ends.1, u)
    }
}

/// The grid cell of `n` points that holds `t`, and how far into it.
#[inline]
fn cut(t: f64, n: usize) -> (usize, f32) {
    let t = t.clamp(0.0, (n - 1) as f64);
    // Through 32 bits, which a processor turns into a place and back in a fraction of the time.
    let i = (t as u32).min(n.saturating_sub(2) as u32);
    (i as usize, (t - f64::from(i)) as f32)
}

#[inline]
fn mix(a: LinearRgb, b: LinearRgb, t: f32) -> LinearRgb {
    a * (1.0 - t) + b * t
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
