//! Tray, table and what is moulded into the floor.

use broodhue::geometry::Point;

use super::noise::{cloud, smooth, value};
use super::paint::{Tri, mix, scale, tri};

/// Colours of the tray's floor.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FloorColour {
    /// L* 91.
    White,
    /// L* 62.
    Grey,
    /// L* 50, blue.
    Blue,
    /// L* 55, green.
    Green,
    /// L* 20.
    Black,
}

impl FloorColour {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::White, Self::Grey, Self::Blue, Self::Green, Self::Black];

    /// CIELAB under D50.
    pub fn lab(self) -> [f64; 3] {
        match self {
            Self::White => [91.0, -0.6, 2.2],
            Self::Grey => [62.0, -0.5, -1.5],
            Self::Blue => [50.0, -9.0, -32.0],
            Self::Green => [55.0, -32.0, 20.0],
            Self::Black => [20.0, 0.2, -0.8],
        }
    }
}

/// A tray on a table; its inside is a rectangle about the plane's origin.
#[derive(Debug, Clone, PartialEq)]
pub struct Tray {
    /// CIELAB of the floor.
    pub floor: [f64; 3],
    /// Half the inside's width and height, millimetres.
    pub half: Point,
    /// Radius of the inside's corners, millimetres.
    pub corner: f64,
    /// Width of the sloping rim, millimetres.
    pub rim: f64,
    /// Relative depth of moulded rings (0: plain floor).
    pub rings: f64,
    /// Distance between moulded rings, millimetres.
    pub ring_pitch: f64,
    /// Middle of the rings.
    pub ring_centre: Point,
    /// CIELAB of the table.
    pub table: [f64; 3],
    /// Whether the table is wood (grain) rather than plain cloth.
    pub wood: bool,
    /// Relative strength of stains and scratches.
    pub wear: f64,
    /// Seed of stains and grain.
    pub seed: u32,
}

/// A tray with its colours made ready for painting.
pub struct Ground {
    tray: Tray,
    floor: Tri,
    table: Tri,
    dark: Tri,
}

impl Ground {
    /// Makes a tray ready.
    pub fn new(tray: &Tray) -> Self {
        let [l, a, b] = tray.floor;
        let [tl, ta, tb] = tray.table;
        Self {
            tray: tray.clone(),
            floor: tri(l, a, b),
            table: tri(tl, ta, tb),
            dark: tri(tl * 0.8, ta * 1.1 + 1.0, tb * 1.05),
        }
    }

    /// Signed distance outside the tray's inside (negative within), millimetres.
    pub fn outside(&self, at: Point) -> f64 {
        let t = &self.tray;
        let q = Point::new(at.x.abs() - t.half.x + t.corner, at.y.abs() - t.half.y + t.corner);
        q.x.max(0.0).hypot(q.y.max(0.0)) + q.x.max(q.y).min(0.0) - t.corner
    }

    /// The surface's colour at a place, without lamp or lens.
    pub fn colour(&self, at: Point) -> Tri {
        let d = self.outside(at);
        if d <= 0.0 { self.floor_colour(at, d) } else { self.beyond(at, d) }
    }

    fn floor_colour(&self, at: Point, d: f64) -> Tri {
        let t = &self.tray;
        let mut k = 1.0;
        if t.wear > 0.0 {
            k += t.wear * (value(at.x / 9.0, at.y / 9.0, t.seed) - 0.5);
        }
        if t.rings > 0.0 {
            let r = at.distance(t.ring_centre) / t.ring_pitch;
            let phase = r - r.floor();
            // A moulded ridge: bright on the lamp's side, dark on the other, flat between.
            k += t.rings * ((-((phase - 0.46) / 0.05).powi(2)).exp() - (-((phase - 0.56) / 0.05).powi(2)).exp());
        }
        // Where the floor turns up into the wall less light falls.
        k *= 1.0 - 0.12 * smooth(-4.0, 0.0, d);
        scale(self.floor, k)
    }

    fn beyond(&self, at: Point, d: f64) -> Tri {
        let t = &self.tray;
        if d < t.rim {
            // The wall: darker at its foot, a bright edge where it bends over.
            let u = d / t.rim;
            let k = 0.72 + 0.2 * u + 0.22 * (-((u - 0.86) / 0.08).powi(2)).exp();
            return scale(self.floor, k.min(1.04));
        }
        let shadow = 1.0 - 0.45 * (1.0 - smooth(t.rim, t.rim + 9.0, d + 0.25 * at.x.signum().min(0.0)));
        let base = if t.wood {
            let bend = 6.0 * value(at.x / 70.0, at.y / 60.0, t.seed ^ 7);
            let grain = value(at.x / 60.0, (at.y + bend) / 2.2, t.seed ^ 1) * 0.7
                + value(at.x / 12.0, at.y / 0.6, t.seed ^ 2) * 0.3;
            mix(self.table, self.dark, grain)
        } else {
            scale(self.table, 0.95 + 0.1 * cloud(at.x / 2.0, at.y / 2.0, t.seed ^ 3))
        };
        scale(base, shadow)
    }
}
