//! Points, boxes, polygons and the homography, in continuous pixels of the upright picture.
//!
//! The origin is the top-left corner; the centre of the top-left pixel is (0.5, 0.5); boxes are half-open.

mod homography;
pub(crate) mod linked;

pub use homography::Homography;

use std::borrow::Borrow;

use serde::{Deserialize, Serialize};

/// A place in the picture (pixels) or on a plane (millimetres, card units).
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(from = "[f64; 2]", into = "[f64; 2]")]
pub struct Point {
    /// To the right.
    pub x: f64,
    /// Downwards.
    pub y: f64,
}

impl Point {
    /// The point (x, y).
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// Euclidean distance to `other`.
    pub fn distance(self, other: Self) -> f64 {
        (self - other).length()
    }

    /// Euclidean length of the vector from the origin.
    #[inline]
    pub fn length(self) -> f64 {
        // Pixels and millimetres neither overflow nor vanish when squared, which is what `hypot` takes ten times as long for.
        (self.x * self.x + self.y * self.y).sqrt()
    }

    /// The point `t` of the way from here to `other` (0 is here, 1 is there).
    pub fn lerp(self, other: Self, t: f64) -> Self {
        Self::new(self.x + (other.x - self.x) * t, self.y + (other.y - self.y) * t)
    }
}

impl From<[f64; 2]> for Point {
    fn from([x, y]: [f64; 2]) -> Self {
        Self { x, y }
    }
}

impl From<Point> for [f64; 2] {
    fn from(p: Point) -> Self {
        [p.x, p.y]
    }
}

impl std::ops::Add for Point {
    type Output = Self;
    fn add(self, o: Self) -> Self {
        Self::new(self.x + o.x, self.y + o.y)
    }
}

impl std::ops::Sub for Point {
    type Output = Self;
    fn sub(self, o: Self) -> Self {
        Self::new(self.x - o.x, self.y - o.y)
    }
}

impl std::ops::Mul<f64> for Point {
    type Output = Self;
    fn mul(self, k: f64) -> Self {
        Self::new(self.x * k, self.y * k)
    }
}

/// A half-open, axis-parallel box `[x0, x1) × [y0, y1)` in pixels.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(from = "[f64; 4]", into = "[f64; 4]")]
pub struct PixelBox {
    /// Left edge.
    pub x0: f64,
    /// Top edge.
    pub y0: f64,
    /// Right edge, outside.
    pub x1: f64,
    /// Bottom edge, outside.
    pub y1: f64,
}

impl PixelBox {
    /// The smallest box around `points`; `None` when there are none.
    pub fn around(points: &[Point]) -> Option<Self> {
        let first = points.first()?;
        let start = Self { x0: first.x, y0: first.y, x1: first.x, y1: first.y };
        Some(points.iter().fold(start, |b, p| Self {
            x0: b.x0.min(p.x),
            y0: b.y0.min(p.y),
            x1: b.x1.max(p.x),
            y1: b.y1.max(p.y),
        }))
    }

    /// Whether `p` lies in the half-open box.
    pub fn contains(&self, p: Point) -> bool {
        p.x >= self.x0 && p.x < self.x1 && p.y >= self.y0 && p.y < self.y1
    }

    /// Shortest distance between two boxes; 0 where they meet.
    pub fn gap(&self, other: &Self) -> f64 {
        let across = (other.x0 - self.x1).max(self.x0 - other.x1).max(0.0);
        across.hypot((other.y0 - self.y1).max(self.y0 - other.y1).max(0.0))
    }
}

impl From<[f64; 4]> for PixelBox {
    fn from([x0, y0, x1, y1]: [f64; 4]) -> Self {
        Self { x0, y0, x1, y1 }
    }
}

impl From<PixelBox> for [f64; 4] {
    fn from(b: PixelBox) -> Self {
        [b.x0, b.y0, b.x1, b.y1]
    }
}

/// Four corners in order: top-left, top-right, bottom-right, bottom-left of the thing as printed.
pub type Quad = [Point; 4];

/// Whether four corners go once around a convex shape, either way round, turning at each by an angle whose sine is above `least`.
pub fn is_convex(quad: &Quad, least: f64) -> bool {
    let turn = |i: usize| {
        let (along, next) = (quad[(i + 1) % 4] - quad[i], quad[(i + 2) % 4] - quad[(i + 1) % 4]);
        (along.x * next.y - along.y * next.x) / (along.length() * next.length())
    };
    (0..4).all(|i| turn(i) > least) || (0..4).all(|i| turn(i) < -least)
}

/// The mean of some points; the origin where there is none.
pub fn mean_point(points: impl IntoIterator<Item = impl Borrow<Point>>) -> Point {
    let (number, sum) = points.into_iter().fold((0_u32, Point::default()), |(n, s), p| (n + 1, s + *p.borrow()));
    sum * (1.0 / f64::from(number.max(1)))
}

/// Signed area of a closed polygon; positive when its points run clockwise on the screen (y downwards).
pub fn polygon_area(points: &[Point]) -> f64 {
    let n = points.len();
    (0..n)
        .map(|i| {
            let (p, q) = (points[i], points[(i + 1) % n]);
            p.x * q.y - q.x * p.y
        })
        .sum::<f64>()
        / 2.0
}

/// Whether `p` lies inside the closed polygon (even-odd rule).
pub fn polygon_contains(points: &[Point], p: Point) -> bool {
    let n = points.len();
    let mut inside = false;
    for i in 0..n {
        let (a, b) = (points[i], points[(i + 1) % n]);
        if (a.y > p.y) != (b.y > p.y) && p.x < (b.x - a.x) * (p.y - a.y) / (b.y - a.y) + a.x {
            inside = !inside;
        }
    }
    inside
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn crossed_dented_and_flat_corners_are_not_convex() {
        let quad = |corners: [(f64, f64); 4]| corners.map(|(x, y)| Point::new(x, y));
        let square = [(0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (0.0, 3.0)];
        let [a, b, c, d] = square;
        assert!(is_convex(&quad(square), 0.0) && is_convex(&quad([b, a, d, c]), 0.0));
        for other in [[a, b, d, c], [a, b, (1.0, 1.0), d], [a, b, (8.0, 0.0), d], [a; 4]] {
            assert!(!is_convex(&quad(other), 0.0), "{other:?}");
        }
        // Slopes of 0.1 to both sides turn by twice their angle, whose sine is 2·0.1/1.01; slopes of 0.05 by 2·0.05/1.0025.
        let nearly = |dent| quad([a, (4.0, dent), (8.0, 0.0), (4.0, 6.0)]);
        assert!(is_convex(&nearly(-0.4), 0.15) && !is_convex(&nearly(-0.2), 0.15));
    }

    #[test]
    fn area_and_inside_of_a_literal_polygon() {
        let l_shape =
            [(0.0, 0.0), (4.0, 0.0), (4.0, 1.0), (1.0, 1.0), (1.0, 3.0), (0.0, 3.0)].map(|(x, y)| Point::new(x, y));
        assert!((polygon_area(&l_shape) - 6.0).abs() < 1e-12);
        assert!(polygon_contains(&l_shape, Point::new(0.5, 2.0)));
        assert!(!polygon_contains(&l_shape, Point::new(2.0, 2.0)));
    }
}
