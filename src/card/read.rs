//! What the photo's own pixels say on each patch.

use super::{LeftOut, PatchReading};
use crate::colour::LinearRgb;
use crate::geometry::{Homography, PixelBox, Point, Quad};
use crate::photo::Photo;

/// Half the side of the square read, in units of the pitch: well inside of a patch 0.75 of the pitch wide, so that neither
/// blur nor a slightly bent card brings the frame in.
const INNER: f64 = 0.22;

/// Most pixels read a patch along each side; larger patches are read on a regular sub-grid. The mean of 64 × 64 pixels is
/// known to 1/64 of their noise.
const MOST_ACROSS: f64 = 64.0;

/// Reads the patch whose centre stands at `at` in card units.
pub(super) fn reading(photo: &Photo, to_px: &Homography, at: Point) -> PatchReading {
    let corner = |u: f64, v: f64| to_px.apply(Point::new(at.x + u * INNER, at.y + v * INNER));
    let quad: Quad = [corner(-1.0, -1.0), corner(1.0, -1.0), corner(1.0, 1.0), corner(-1.0, 1.0)];
    let mut sums = Sums::default();
    let (width, height) = (f64::from(photo.width), f64::from(photo.height));
    let whole = quad.iter().all(|p| p.x >= 0.0 && p.y >= 0.0 && p.x <= width && p.y <= height);
    if whole && let Some(area) = PixelBox::around(&quad) {
        let stride = ((area.x1 - area.x0).max(area.y1 - area.y0) / MOST_ACROSS).ceil().max(1.0);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "the box lies inside the picture")]
        let span = |a: f64, b: f64| (a as u32..(b.ceil() as u32)).step_by(stride as usize);
        for y in span(area.y0, area.y1) {
            for x in span(area.x0, area.x1) {
                if inside(&quad, Point::new(f64::from(x) + 0.5, f64::from(y) + 0.5)) {
                    sums.add(photo.linear(x, y), photo.clipped(x, y));
                }
            }
        }
    }
    let (linear, spread) = sums.mean_and_spread();
    PatchReading {
        centre: to_px.apply(at),
        linear,
        spread,
        pixels: sums.pixels,
        clipped_share: if sums.pixels > 0 { f64::from(sums.clipped) / f64::from(sums.pixels) } else { 0.0 },
        left_out: (sums.pixels == 0).then_some(LeftOut::Covered),
    }
}

/// Whether `p` lies inside a convex quad of either handedness.
fn inside(quad: &Quad, p: Point) -> bool {
    let side = |i: usize| {
        let (a, b) = (quad[i], quad[(i + 1) % 4]);
        (b.x - a.x) * (p.y - a.y) - (b.y - a.y) * (p.x - a.x) >= 0.0
    };
    (1..4).all(|i| side(i) == side(0))
}

/// Sums over the unclipped pixels, and over all of them in case none is unclipped.
#[derive(Debug, Default)]
struct Sums {
    pixels: u32,
    clipped: u32,
    good: Moments,
    all: Moments,
}

#[derive(Debug, Default)]
struct Moments {
    n: f64,
    sum: [f64; 3],
    squares: [f64; 3],
}

impl Moments {
    fn add(&mut self, v: [f64; 3]) {
        self.n += 1.0;
        for ((sum, square), v) in self.sum.iter_mut().zip(&mut self.squares).zip(v) {
            *sum += v;
            *square += v * v;
        }
    }
}

impl Sums {
    fn add(&mut self, linear: LinearRgb, clipped: bool) {
        let v = [f64::from(linear.red), f64::from(linear.green), f64::from(linear.blue)];
        self.pixels += 1;
        self.clipped += u32::from(clipped);
        self.all.add(v);
        if !clipped {
            self.good.add(v);
        }
    }

    fn mean_and_spread(&self) -> (LinearRgb, [f64; 3]) {
        let m = if self.good.n > 0.0 { &self.good } else { &self.all };
        let n = m.n.max(1.0);
        let mean = m.sum.map(|s| s / n);
        let spread = std::array::from_fn(|c| (m.squares[c] / n - mean[c] * mean[c]).max(0.0).sqrt());
        #[expect(clippy::cast_possible_truncation, reason = "light is kept as f32")]
        let linear = LinearRgb::new(mean[0] as f32, mean[1] as f32, mean[2] as f32);
        (linear, spread)
    }
}
