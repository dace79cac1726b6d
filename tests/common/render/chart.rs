//! The common 24-patch chart as a thing on the table: published colours, dark frame, gaps, glare.

use broodhue::geometry::{Homography, PixelBox, Point, Quad};

use super::paint::{Ink, Layer, Tri, tri};
use super::screen::dot;

/// CIELAB (D50, 2°) of the edition after November 2014, row by row from dark skin to black, as its maker publishes it
/// and the open colour-science data set repeats it (its table for charts made after November 2014).
/// Held apart from the program's own table on purpose: the two check each other.
pub const AFTER_2014: [[f64; 3]; 24] = [
    [37.54, 14.37, 14.92],
    [64.66, 19.27, 17.50],
    [49.32, -3.82, -22.54],
    [43.46, -12.74, 22.72],
    [54.94, 9.61, -24.79],
    [70.48, -32.26, -0.37],
    [62.73, 35.83, 56.50],
    [39.43, 10.75, -45.17],
    [50.57, 48.64, 16.67],
    [30.10, 22.54, -20.87],
    [71.77, -24.13, 58.19],
    [71.51, 18.24, 67.37],
    [28.37, 15.42, -49.80],
    [54.38, -39.72, 32.27],
    [42.43, 51.05, 28.62],
    [81.80, 2.67, 80.41],
    [50.63, 51.28, -14.12],
    [49.57, -29.71, -28.32],
    [95.19, -1.03, 2.93],
    [81.29, -0.57, 0.44],
    [66.89, -0.75, -0.06],
    [50.76, -0.13, 0.14],
    [35.63, -0.46, -0.48],
    [20.64, 0.07, -0.46],
];

/// Colours of an invented 24-patch card that is not the chart: other hues in other places.
pub const LOOKALIKE: [[f64; 3]; 24] = [
    [70.0, 20.0, 60.0],
    [30.0, 20.0, -30.0],
    [60.0, -35.0, 10.0],
    [45.0, 55.0, 35.0],
    [80.0, -5.0, 70.0],
    [40.0, -10.0, -35.0],
    [52.0, 30.0, -30.0],
    [66.0, 30.0, 25.0],
    [36.0, -20.0, 15.0],
    [74.0, 5.0, 30.0],
    [28.0, 10.0, -20.0],
    [58.0, 45.0, 50.0],
    [64.0, -20.0, -20.0],
    [42.0, 25.0, 10.0],
    [86.0, -2.0, 20.0],
    [50.0, -40.0, 35.0],
    [34.0, 40.0, -10.0],
    [72.0, 15.0, -8.0],
    [92.0, 0.0, 1.0],
    [72.0, 0.0, 0.0],
    [56.0, 0.0, -1.0],
    [44.0, 0.0, 0.0],
    [30.0, 0.0, 0.0],
    [22.0, 0.0, 0.0],
];

/// Width of the dark line between patches, in pitches (read off open photographs of the full-size chart).
const GAP: f64 = 0.12;
/// Dark frame outside the patches at the sides, in pitches (same).
const MARGIN_X: f64 = 0.14;
/// Dark frame above and below, in pitches (same).
const MARGIN_Y: f64 = 0.18;

/// Width of the bezel around a screen, in pitches.
const BEZEL: f64 = 0.5;

/// A chart lying on the plane.
#[derive(Debug, Clone, PartialEq)]
pub struct Chart {
    /// Middle of the chart, millimetres.
    pub centre: Point,
    /// Distance between neighbouring patch centres, millimetres.
    pub pitch: f64,
    /// Turn on the plane, degrees; 180 is upside-down.
    pub turn: f64,
    /// CIELAB of the patches.
    pub colours: [[f64; 3]; 24],
    /// Middle (in pitches from the chart's middle), radius in pitches and strength of a lamp's mirror image on it.
    pub glare: Option<(Point, f64, f64)>,
    /// Width of a dot in millimetres where a screen shows the chart.
    pub dots: Option<f64>,
}

impl Chart {
    /// The known chart, upright.
    pub fn new(centre: Point, pitch: f64) -> Self {
        Self { centre, pitch, turn: 0.0, colours: AFTER_2014, glare: None, dots: None }
    }

    /// Half the outer size in pitches.
    fn half() -> (f64, f64) {
        (3.0 - GAP / 2.0 + MARGIN_X, 2.0 - GAP / 2.0 + MARGIN_Y)
    }

    /// Half the size with the dark bezel around a screen, in pitches.
    fn half_with_bezel(&self) -> (f64, f64) {
        let (w, h) = Self::half();
        if self.dots.is_some() { (w + BEZEL, h + BEZEL) } else { (w, h) }
    }

    /// From pitches about the middle of the chart to millimetres on the plane.
    fn place(&self, u: f64, v: f64) -> Point {
        let (s, c) = self.turn.to_radians().sin_cos();
        self.centre + Point::new(c * u - s * v, s * u + c * v) * self.pitch
    }

    /// Outer corners of the dark frame on the plane: top-left, top-right, bottom-right, bottom-left as printed.
    pub fn corners(&self) -> Quad {
        let (w, h) = Self::half();
        [(-w, -h), (w, -h), (w, h), (-w, h)].map(|(u, v)| self.place(u, v))
    }

    /// Patch centres on the plane in the order of the print.
    pub fn patches(&self) -> [Point; 24] {
        std::array::from_fn(|i| self.place((i % 6) as f64 - 2.5, (i / 6) as f64 - 1.5))
    }

    /// Corners and patch centres in pixels.
    pub fn in_picture(&self, to_pixels: &Homography) -> (Quad, Vec<Point>) {
        (self.corners().map(|p| to_pixels.apply(p)), self.patches().map(|p| to_pixels.apply(p)).to_vec())
    }
}

/// A chart with its colours made ready for painting.
pub struct ChartLayer {
    chart: Chart,
    colours: [Tri; 24],
    frame: Tri,
    bezel: Tri,
}

impl ChartLayer {
    /// Makes a chart ready.
    pub fn new(chart: &Chart) -> Self {
        Self {
            colours: chart.colours.map(|[l, a, b]| tri(l, a, b)),
            // Dark grey cardboard, L* about 26 on open photographs of the full-size chart.
            frame: tri(26.0, 0.0, -1.0),
            bezel: tri(8.0, 0.0, 0.0),
            chart: chart.clone(),
        }
    }
}

impl Layer for ChartLayer {
    fn bounds(&self) -> PixelBox {
        let (w, h) = self.chart.half_with_bezel();
        let corners = [(-w, -h), (w, -h), (w, h), (-w, h)].map(|(u, v)| self.chart.place(u, v));
        PixelBox::around(&corners).unwrap_or_default()
    }

    fn samples(&self) -> u32 {
        if self.chart.dots.is_some() { 6 } else { 3 }
    }

    fn ink(&self, at: Point) -> Option<Ink> {
        let (s, c) = (-self.chart.turn).to_radians().sin_cos();
        let d = (at - self.chart.centre) * (1.0 / self.chart.pitch);
        let (u, v) = (c * d.x - s * d.y, s * d.x + c * d.y);
        let (w, h) = Chart::half();
        if u.abs() > w || v.abs() > h {
            let (w, h) = self.chart.half_with_bezel();
            return (u.abs() <= w && v.abs() <= h).then(|| Ink::solid(self.bezel));
        }
        let (column, row) = ((u + 3.0).floor().clamp(0.0, 5.0), (v + 2.0).floor().clamp(0.0, 3.0));
        let inside = |t: f64, k: f64, n: f64| (t + n - k - 0.5).abs() < 0.5 - GAP / 2.0;
        let on_patch = inside(u, column, 3.0) && inside(v, row, 2.0);
        let mut paint = if on_patch { self.colours[row as usize * 6 + column as usize] } else { self.frame };
        if let Some(size) = self.chart.dots {
            paint = dot(paint, Point::new(u, v) * self.chart.pitch, size);
        }
        if let Some((middle, radius, strength)) = self.chart.glare {
            let k = strength * (-((u - middle.x).powi(2) + (v - middle.y).powi(2)) / (radius * radius)).exp();
            paint = Ink::shine(k).over(paint);
        }
        Some(Ink::solid(paint))
    }
}
