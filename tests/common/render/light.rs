//! The lamp and the lens: how bright the light is at each place, in linear light.

use broodhue::geometry::Point;

/// Uneven light on the plane and the lens's fall-off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Light {
    /// Middle of the lamp's spot on the plane, millimetres.
    pub spot: Point,
    /// Distance at which the lamp has dropped to e^-½, millimetres.
    pub spread: f64,
    /// Share of the light that is the spot, 0 (even) … 1.
    pub share: f64,
    /// Relative change per millimetre to the right and downwards, about `spot` (a window's light).
    pub slope: Point,
    /// Loss in the picture's corners, 0…1.
    pub vignette: f64,
}

impl Light {
    /// Even light and a perfect lens.
    pub const EVEN: Self =
        Self { spot: Point::new(0.0, 0.0), spread: 1.0, share: 0.0, slope: Point::new(0.0, 0.0), vignette: 0.0 };

    /// Brightness at a place of the plane.
    pub fn on_plane(&self, at: Point) -> f64 {
        let d = at - self.spot;
        let spot = (-(d.x * d.x + d.y * d.y) / (2.0 * self.spread * self.spread)).exp();
        (1.0 - self.share + self.share * spot) * (1.0 + self.slope.x * d.x + self.slope.y * d.y).clamp(0.2, 2.5)
    }

    /// Brightness the lens passes at (x, y), each −1…1 from the middle to the edge of the longer side.
    pub fn in_lens(&self, x: f64, y: f64) -> f64 {
        // Corners of a 4:3 picture lie at r² = 1.5625; the fall-off grows with r⁴ as cos⁴ does.
        let r2 = (x * x + y * y) / 1.5625;
        1.0 - self.vignette * (0.5 * r2 + 0.5 * r2 * r2)
    }
}
