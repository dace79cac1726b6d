//! The homography: a plane projective map, fitted to corners or to many points.

use serde::{Deserialize, Serialize};

use super::{Point, Quad, mean_point};

/// A plane projective map, row-major 3 × 3.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Homography(pub [[f64; 3]; 3]);

impl Homography {
    /// The map that takes the four `from` points to the four `to` points; `None` when three of them are in line.
    ///
    /// The direct linear transform with the last entry set to one (Hartley & Zisserman 2004, section 4.1).
    pub fn from_quads(from: &Quad, to: &Quad) -> Option<Self> {
        let mut rows = [[0.0; 9]; 8];
        for (i, (p, q)) in from.iter().zip(to).enumerate() {
            rows[2 * i] = [p.x, p.y, 1.0, 0.0, 0.0, 0.0, -q.x * p.x, -q.x * p.y, q.x];
            rows[2 * i + 1] = [0.0, 0.0, 0.0, p.x, p.y, 1.0, -q.y * p.x, -q.y * p.y, q.y];
        }
        let h = solve8(&mut rows)?;
        Some(Self([[h[0], h[1], h[2]], [h[3], h[4], h[5]], [h[6], h[7], 1.0]]))
    }

    /// The map that takes four or more `from` points closest to their `to` points (least squares in the target plane).
    ///
    /// Linear equations reweighted by their own denominators, in coordinates scaled as in Hartley & Zisserman 2004,
    /// section 4.4; `None` when the points do not fix a map.
    pub fn fit(from: &[Point], to: &[Point]) -> Option<Self> {
        let (into_from, _) = scaling(from)?;
        let (into_to, back_to) = scaling(to)?;
        let mut h = [0.0; 8];
        // Three rounds settle the weights; the first is plain linear.
        for _ in 0..3 {
            let mut normal = [[0.0; 9]; 8];
            for (p, q) in from.iter().zip(to) {
                let (p, q) = (into_from.apply(*p), into_to.apply(*q));
                let weight = (h[6] * p.x + h[7] * p.y + 1.0).powi(-2);
                let along_x = [p.x, p.y, 1.0, 0.0, 0.0, 0.0, -q.x * p.x, -q.x * p.y, q.x];
                let along_y = [0.0, 0.0, 0.0, p.x, p.y, 1.0, -q.y * p.x, -q.y * p.y, q.y];
                for row in [along_x, along_y] {
                    for (i, line) in normal.iter_mut().enumerate() {
                        for (v, r) in line.iter_mut().zip(row) {
                            *v += weight * row[i] * r;
                        }
                    }
                }
            }
            h = solve8(&mut normal)?;
        }
        let scaled = Self([[h[0], h[1], h[2]], [h[3], h[4], h[5]], [h[6], h[7], 1.0]]);
        Some(back_to.after(&scaled).after(&into_from))
    }

    /// The affine map that takes three or more `from` points closest to their `to` points; `None` when they are in line.
    pub fn fit_affine(from: &[Point], to: &[Point]) -> Option<Self> {
        let (p0, q0) = (mean_point(from), mean_point(to));
        let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
        let (mut by_x, mut by_y) = (Point::default(), Point::default());
        for (p, q) in from.iter().zip(to) {
            let (p, q) = (*p - p0, *q - q0);
            (xx, xy, yy) = (xx + p.x * p.x, xy + p.x * p.y, yy + p.y * p.y);
            (by_x, by_y) = (by_x + q * p.x, by_y + q * p.y);
        }
        let det = xx * yy - xy * xy;
        if !det.is_finite() || det <= 1e-9 * xx * yy {
            return None;
        }
        let (a, b) = ((by_x * yy - by_y * xy) * (1.0 / det), (by_y * xx - by_x * xy) * (1.0 / det));
        let c = q0 - a * p0.x - b * p0.y;
        Some(Self([[a.x, b.x, c.x], [a.y, b.y, c.y], [0.0, 0.0, 1.0]]))
    }

    /// Where `p` goes.
    pub fn apply(&self, p: Point) -> Point {
        let m = &self.0;
        let w = m[2][0] * p.x + m[2][1] * p.y + m[2][2];
        Point::new((m[0][0] * p.x + m[0][1] * p.y + m[0][2]) / w, (m[1][0] * p.x + m[1][1] * p.y + m[1][2]) / w)
    }

    /// The map back; `None` when this one is singular.
    pub fn inverse(&self) -> Option<Self> {
        let m = &self.0;
        let cof = |r: usize, c: usize| {
            let (r1, r2, c1, c2) = ((r + 1) % 3, (r + 2) % 3, (c + 1) % 3, (c + 2) % 3);
            m[r1][c1] * m[r2][c2] - m[r1][c2] * m[r2][c1]
        };
        let det = m[0][0] * cof(0, 0) + m[0][1] * cof(0, 1) + m[0][2] * cof(0, 2);
        if !det.is_finite() || det.abs() < f64::MIN_POSITIVE {
            return None;
        }
        let mut out = [[0.0; 3]; 3];
        for (r, row) in out.iter_mut().enumerate() {
            for (c, v) in row.iter_mut().enumerate() {
                *v = cof(c, r) / det;
            }
        }
        Some(Self(out))
    }

    /// `self` after `first`.
    pub fn after(&self, first: &Self) -> Self {
        let mut out = [[0.0; 3]; 3];
        for (r, row) in out.iter_mut().enumerate() {
            for (c, v) in row.iter_mut().enumerate() {
                *v = (0..3).map(|k| self.0[r][k] * first.0[k][c]).sum();
            }
        }
        Self(out)
    }

    /// Whether the surroundings of `p` come out as in a mirror.
    pub fn mirrors(&self, p: Point) -> bool {
        let (dx, dy) = self.steps(p);
        dx.x * dy.y - dx.y * dy.x < 0.0
    }

    /// Where a unit step to the right and one downwards go, centred on `p`.
    fn steps(&self, p: Point) -> (Point, Point) {
        let h = 0.5;
        let dx = self.apply(Point::new(p.x + h, p.y)) - self.apply(Point::new(p.x - h, p.y));
        let dy = self.apply(Point::new(p.x, p.y + h)) - self.apply(Point::new(p.x, p.y - h));
        (dx, dy)
    }

    /// Largest and smallest local linear magnification at `p` (the singular values of the Jacobian).
    pub fn stretch(&self, p: Point) -> (f64, f64) {
        let (dx, dy) = self.steps(p);
        let trace = dx.x * dx.x + dx.y * dx.y + dy.x * dy.x + dy.y * dy.y;
        let det = (dx.x * dy.y - dx.y * dy.x).abs();
        let root = (trace * trace - 4.0 * det * det).max(0.0).sqrt();
        (((trace + root) / 2.0).sqrt(), ((trace - root) / 2.0).max(0.0).sqrt())
    }

    /// Local linear magnification at `p`: the square root of the absolute Jacobian determinant.
    pub fn magnification(&self, p: Point) -> f64 {
        let (dx, dy) = self.steps(p);
        (dx.x * dy.y - dx.y * dy.x).abs().sqrt()
    }
}

/// The similarity that brings `points` to mean zero and mean distance one, and its inverse.
fn scaling(points: &[Point]) -> Option<(Homography, Homography)> {
    let n = points.len() as f64;
    let mean = mean_point(points);
    let k = n / points.iter().map(|p| p.distance(mean)).sum::<f64>();
    if !k.is_finite() {
        return None;
    }
    let there = Homography([[k, 0.0, -k * mean.x], [0.0, k, -k * mean.y], [0.0, 0.0, 1.0]]);
    let back = Homography([[1.0 / k, 0.0, mean.x], [0.0, 1.0 / k, mean.y], [0.0, 0.0, 1.0]]);
    Some((there, back))
}

/// Gauss–Jordan elimination with partial pivoting of an 8 × 9 system.
fn solve8(rows: &mut [[f64; 9]; 8]) -> Option<[f64; 8]> {
    for col in 0..8 {
        let pivot = (col..8).max_by(|&a, &b| rows[a][col].abs().total_cmp(&rows[b][col].abs()))?;
        if rows[pivot][col].abs() < 1e-12 {
            return None;
        }
        rows.swap(col, pivot);
        let lead = rows[col];
        for (r, row) in rows.iter_mut().enumerate() {
            if r != col {
                let k = row[col] / lead[col];
                for (v, l) in row.iter_mut().zip(lead).skip(col) {
                    *v -= k * l;
                }
            }
        }
    }
    let mut out = [0.0; 8];
    for (i, v) in out.iter_mut().enumerate() {
        *v = rows[i][8] / rows[i][i];
    }
    Some(out)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const SQUARE: Quad = [Point::new(0.0, 0.0), Point::new(1.0, 0.0), Point::new(1.0, 1.0), Point::new(0.0, 1.0)];

    proptest! {
        #[test]
        fn homography_hits_its_corners_and_inverts(j in proptest::array::uniform8(-0.2f64..0.2), k in 10.0f64..4000.0) {
            let to: Quad = std::array::from_fn(|i| {
                Point::new((SQUARE[i].x + j[2 * i]) * k, (SQUARE[i].y + j[2 * i + 1]) * k)
            });
            let h = Homography::from_quads(&SQUARE, &to).unwrap();
            let back = h.inverse().unwrap();
            for (p, q) in SQUARE.iter().zip(&to) {
                prop_assert!(h.apply(*p).distance(*q) < 1e-6 * k);
                prop_assert!(back.apply(*q).distance(*p) < 1e-6);
            }
        }
    }

    proptest! {
        #[test]
        fn fit_through_many_points_finds_the_map_they_came_from(j in proptest::array::uniform8(-0.2f64..0.2)) {
            let to: Quad = std::array::from_fn(|i| {
                Point::new((SQUARE[i].x + j[2 * i]) * 900.0 + 2000.0, (SQUARE[i].y + j[2 * i + 1]) * 900.0)
            });
            let truth = Homography::from_quads(&SQUARE, &to).unwrap();
            let from: Vec<Point> =
                (0..24u8).map(|i| Point::new(f64::from(i % 6) / 5.0, f64::from(i / 6) / 3.0)).collect();
            let seen: Vec<Point> = from.iter().map(|p| truth.apply(*p)).collect();
            let fitted = Homography::fit(&from, &seen).unwrap();
            for (p, q) in from.iter().zip(&seen) {
                prop_assert!(fitted.apply(*p).distance(*q) < 1e-6);
            }
        }
    }

    #[test]
    fn points_in_line_give_no_homography() {
        let line: Quad = std::array::from_fn(|i| Point::new(i as f64, i as f64));
        assert_eq!(Homography::from_quads(&line, &SQUARE), None);
    }
}
