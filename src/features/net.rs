//! The fine dark net of the ground: what tells grey from blond.
#![expect(clippy::cast_possible_truncation, reason = "window sides in pixels are small")]

use super::{Estimate, Limits};
use crate::calibrate::CalibratedPhoto;
use crate::colour::Lab;
use crate::fish::{Mask, Run};

/// Pixels that the net's scale must span for its points to be seen. Starting value, tuned on rendered trays.
const FEWEST_PX: f64 = 6.0;

/// About so many pixels of a fish are looked at; more rows would only cost time.
const AT_MOST: f64 = 10_000.0;

/// Every so many pixels of a row the colour says whether the ground shows; cover comes in larger patches.
const COLOUR_EVERY: usize = 4;

/// Fewest pixels of ground from which a density is told.
const FEWEST: usize = 300;

/// Pixels a millimetre from which on the net is read.
pub fn pixels_for_net(limits: &Limits) -> f64 {
    FEWEST_PX / limits.net_scale_mm
}

/// Share of the ground that fine dark points cover, 0…1: pixels darker by the sheet's depth than the ground within
/// half the sheet's scale along their row, less those brighter by as much, which is what noise alone would give.
///
/// `lightness` is the ground's. `None` without millimetres, where the scale spans too few pixels, or where too little
/// ground is left.
pub(super) fn density(
    photo: &CalibratedPhoto,
    trunk: &Mask,
    shows_ground: impl Fn(Lab) -> bool,
    lightness: f64,
    limits: &Limits,
) -> Option<Estimate> {
    let mm = photo.mm_per_px(trunk.centroid()?)?;
    let span = limits.net_scale_mm / mm;
    if span.is_nan() || span < FEWEST_PX {
        return None;
    }
    let half = (span / 2.0).round() as usize;
    let every = (trunk.area() as f64 / AT_MOST).ceil().max(1.0) as u32;
    // A relative step δ of the light is a step of (L* + 16)·δ/3 in lightness (CIE 15), whatever lamp and field do.
    let per_step = (lightness + 16.0) / 3.0;
    let mut tally = Tally::default();
    for run in trunk.runs().iter().filter(|r| r.y % every == 0) {
        let ground = ground_along(photo, run, &shows_ground);
        let light: Vec<f64> = (run.x0..run.x1).map(|x| grey(photo, x, run.y)).collect();
        tally.row(&light, &ground, half, limits.net_depth / per_step);
    }
    tally.estimate(span)
}

/// What was counted over the rows.
#[derive(Debug, Default)]
struct Tally {
    dark: usize,
    bright: usize,
    seen: usize,
}

impl Tally {
    /// Counts one row: pixels of the ground that differ from the mean of the ground within `half` pixels by the
    /// relative `step` or more.
    fn row(&mut self, light: &[f64], ground: &[bool], half: usize, step: f64) {
        let mut sums = Vec::with_capacity(light.len() + 1);
        sums.push((0.0, 0usize));
        for (v, is_ground) in light.iter().zip(ground) {
            let (sum, n) = sums[sums.len() - 1];
            sums.push(if *is_ground { (sum + v, n + 1) } else { (sum, n) });
        }
        for i in (0..light.len()).filter(|i| ground[*i]) {
            let (from, to) = (sums[i.saturating_sub(half)], sums[(i + half + 1).min(light.len())]);
            let n = to.1 - from.1;
            let mean = (to.0 - from.0) / n as f64;
            // At the ends of the ground's rows there is no neighbourhood to stand out from.
            if n <= half || mean <= 0.0 {
                continue;
            }
            self.seen += 1;
            self.dark += usize::from(light[i] < mean * (1.0 - step));
            self.bright += usize::from(light[i] > mean * (1.0 + step));
        }
    }

    fn estimate(&self, span: f64) -> Option<Estimate> {
        if self.seen < FEWEST {
            return None;
        }
        let n = self.seen as f64;
        let (p, q) = (self.dark as f64 / n, self.bright as f64 / n);
        // Difference of two multinomial counts; the pixels of one point go together, about a third of the scale wide.
        let together = (span / 3.0).max(1.0);
        let se = ((p + q - (p - q) * (p - q)) * together / n).sqrt();
        Some(Estimate { value: (p - q).max(0.0), se })
    }
}

/// For each pixel of the run whether the ground shows, from the colour of every fourth.
fn ground_along(photo: &CalibratedPhoto, run: &Run, shows_ground: &impl Fn(Lab) -> bool) -> Vec<bool> {
    let mut out = Vec::with_capacity((run.x1 - run.x0) as usize);
    for x in (run.x0..run.x1).step_by(COLOUR_EVERY) {
        let shows = shows_ground(photo.lab_at(x, run.y));
        out.extend(std::iter::repeat_n(shows, COLOUR_EVERY.min((run.x1 - x) as usize)));
    }
    out
}

/// Light of a pixel, green counting most as in luminance; only ratios between neighbours matter.
fn grey(photo: &CalibratedPhoto, x: u32, y: u32) -> f64 {
    let v = photo.photo.linear(x, y);
    f64::from(0.25 * v.red + 0.65 * v.green + 0.1 * v.blue)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn literal_rows() {
        // Every fifth pixel is a point: 20 % are darker, none brighter.
        let dotted: Vec<f64> = (0..1000).map(|i| if i % 5 == 0 { 0.2 } else { 0.4 }).collect();
        let mut tally = Tally::default();
        tally.row(&dotted, &[true; 1000], 5, 0.16);
        let e = tally.estimate(10.0).unwrap();
        assert!((e.value - 0.2).abs() < 2e-3, "{e:?}");
        // A slope is no net, and noise that goes both ways cancels.
        for flat in [
            (0..1000).map(|i| 0.3 + 1e-4 * f64::from(i)).collect::<Vec<f64>>(),
            (0..1000).map(|i| if i % 2 == 0 { 0.3 } else { 0.5 }).collect(),
        ] {
            let mut tally = Tally::default();
            tally.row(&flat, &[true; 1000], 5, 0.16);
            assert!(tally.estimate(10.0).unwrap().value < 0.01);
        }
    }

    #[test]
    fn cover_is_neither_counted_nor_compared_with() {
        let light: Vec<f64> = (0..1000).map(|i| if i < 500 { 0.4 } else { 0.1 }).collect();
        let ground: Vec<bool> = (0..1000).map(|i| i < 500).collect();
        let mut tally = Tally::default();
        tally.row(&light, &ground, 5, 0.16);
        assert_eq!((tally.dark, tally.bright), (0, 0));
        assert!(tally.seen <= 500);
    }
}
