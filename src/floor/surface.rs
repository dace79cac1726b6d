//! A smooth surface of log light through the floor, deaf to fish, shadow and shine.

use rayon::prelude::*;

use crate::colour::LinearRgb;
use crate::geometry::Point;
use crate::stats::cholesky;

/// Number of polynomial terms up to degree four in two variables.
const TERMS: usize = 15;
/// Unknowns of the joint fit: the polynomial and the offsets of up to three further patches.
const UNKNOWNS: usize = TERMS + 3;
/// Light below this (of full scale) is sensor noise: it is lifted so that its logarithm stays tame.
const DARK: f32 = 5e-4;
/// Tukey's biweight constant for 95 % efficiency under normal noise (Huber & Ronchetti 2009, section 4.8).
const TUKEY: f64 = 4.685;
/// Smallest scale of the residuals, relative light: half a level of 8 bits in the mid-tones.
const LEAST_SCALE: f64 = 0.004;
/// Rounds of reweighting; the weights stand still after five or six.
const ROUNDS: usize = 7;
/// Weight of the ridge on terms of degree three and four, per sample: keeps them at rest where nothing holds them.
const RIDGE: f64 = 1e-4;

/// One place of known floor.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sample {
    /// Where, in pixels.
    pub(super) at: Point,
    /// Linear light there.
    pub(super) light: LinearRgb,
    /// 0 for the floor itself; 1…3 for other plain surfaces under the same light, each with its own unknown colour.
    pub(super) patch: usize,
}

/// Log light of the floor, a polynomial of degree four (or two) a channel in coordinates of about −1…1.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Surface {
    centre: Point,
    scale: f64,
    terms: usize,
    coefficients: [[f64; UNKNOWNS]; 3],
    /// Robust standard deviation of the samples about the surface, relative light.
    pub(super) spread: f64,
}

/// The polynomial's highest degree.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Degree {
    /// Six terms: safe to carry beyond the samples.
    Two,
    /// Fifteen terms: follows a vignette.
    Four,
}

impl Surface {
    /// Fits by iteratively reweighted least squares with one common weight a sample for the three channels; `None` when
    /// there are fewer than 60 samples or they do not span the plane.
    pub(super) fn fit(samples: &[Sample], centre: Point, scale: f64, degree: Degree) -> Option<Self> {
        if samples.len() < 4 * TERMS {
            return None;
        }
        let terms = if degree == Degree::Two { 6 } else { TERMS };
        let rows: Vec<[f64; UNKNOWNS]> = samples.iter().map(|s| row(s, centre, scale, terms)).collect();
        let logs: Vec<[f64; 3]> = samples.iter().map(|s| log_light(s.light)).collect();
        let mut weights = vec![1.0; samples.len()];
        let mut surface = Self { centre, scale, terms, coefficients: [[0.0; UNKNOWNS]; 3], spread: 0.0 };
        for _ in 0..ROUNDS {
            surface.coefficients = weighted_fit(&rows, &logs, &weights)?;
            let residuals: Vec<f64> = rows.iter().zip(&logs).map(|(r, l)| surface.residual(r, l)).collect();
            let scales = patch_scales(samples, &residuals);
            surface.spread = scales[0];
            for ((w, r), s) in weights.iter_mut().zip(&residuals).zip(samples) {
                let scale = scales[s.patch];
                let t = r / (TUKEY * scale);
                // A rough surface has as much less to say as its grain is coarser.
                *w = if t.abs() < 1.0 { (1.0 - t * t).powi(2) * (scales[0] / scale).powi(2) } else { 0.0 };
            }
        }
        Some(surface)
    }

    /// The signed residual of largest size over the channels' mean and their disagreement.
    fn residual(&self, row: &[f64; UNKNOWNS], log: &[f64; 3]) -> f64 {
        let r: [f64; 3] = std::array::from_fn(|c| log[c] - dot(row, &self.coefficients[c]));
        let mean = r.iter().sum::<f64>() / 3.0;
        let tint = r.iter().map(|v| (v - mean).abs()).fold(0.0, f64::max);
        if tint > mean.abs() { tint } else { mean }
    }

    /// Natural logarithm of the floor's light at `p`, a channel.
    pub(super) fn log_at(&self, p: Point) -> [f64; 3] {
        let sample = Sample { at: p, light: LinearRgb::new(0.0, 0.0, 0.0), patch: 0 };
        let row = row(&sample, self.centre, self.scale, self.terms);
        std::array::from_fn(|c| dot(&row, &self.coefficients[c]))
    }
}

/// Robust scale of each patch's own residuals.
fn patch_scales(samples: &[Sample], residuals: &[f64]) -> [f64; UNKNOWNS - TERMS + 1] {
    std::array::from_fn(|patch| {
        let own: Vec<f64> = samples.iter().zip(residuals).filter(|(s, _)| s.patch == patch).map(|(_, r)| *r).collect();
        robust_scale(&own).max(LEAST_SCALE)
    })
}

/// Natural logarithm of the light, a channel, lifted off the sensor's noise floor.
pub(super) fn log_light(v: LinearRgb) -> [f64; 3] {
    [v.red, v.green, v.blue].map(|c| f64::from(c.max(DARK)).ln())
}

/// 1.4826 times the median absolute value: the standard deviation of normal residuals about zero.
pub(super) fn robust_scale(residuals: &[f64]) -> f64 {
    let mut sizes: Vec<f64> = residuals.iter().map(|r| r.abs()).collect();
    if sizes.is_empty() {
        return 0.0;
    }
    let middle = sizes.len() / 2;
    1.4826 * *sizes.select_nth_unstable_by(middle, f64::total_cmp).1
}

fn row(sample: &Sample, centre: Point, scale: f64, terms: usize) -> [f64; UNKNOWNS] {
    let (x, y) = ((sample.at.x - centre.x) / scale, (sample.at.y - centre.y) / scale);
    let (x2, y2) = (x * x, y * y);
    let mut r = [0.0; UNKNOWNS];
    let all =
        [1.0, x, y, x2, x * y, y2, x2 * x, x2 * y, x * y2, y2 * y, x2 * x2, x2 * x * y, x2 * y2, x * y2 * y, y2 * y2];
    r[..TERMS].copy_from_slice(&all);
    r[terms..TERMS].fill(0.0);
    if sample.patch > 0 {
        r[TERMS + sample.patch - 1] = 1.0;
    }
    r
}

fn dot(a: &[f64; UNKNOWNS], b: &[f64; UNKNOWNS]) -> f64 {
    a.iter().zip(b).map(|(p, q)| p * q).sum()
}

/// Weighted normal equations, one matrix for the three channels.
fn weighted_fit(rows: &[[f64; UNKNOWNS]], logs: &[[f64; 3]], weights: &[f64]) -> Option<[[f64; UNKNOWNS]; 3]> {
    // Line by line, which leaves each sum its order and both cores their share.
    let line = |i: usize| {
        let (mut products, mut right) = ([0.0; UNKNOWNS], [0.0; 3]);
        for ((row, log), w) in rows.iter().zip(logs).zip(weights) {
            let weighted = w * row[i];
            if weighted != 0.0 {
                products[..=i].iter_mut().zip(row).for_each(|(sum, v)| *sum += weighted * v);
                right.iter_mut().zip(log).for_each(|(sum, v)| *sum += weighted * v);
            }
        }
        (products, right)
    };
    let lines: Vec<([f64; UNKNOWNS], [f64; 3])> = (0..UNKNOWNS).into_par_iter().map(line).collect();
    let mut matrix: Vec<f64> = lines.iter().flat_map(|(products, _)| *products).collect();
    let mut right: [[f64; UNKNOWNS]; 3] = std::array::from_fn(|c| std::array::from_fn(|i| lines[i].1[c]));
    let total: f64 = weights.iter().sum();
    for (i, d) in matrix.iter_mut().step_by(UNKNOWNS + 1).enumerate() {
        // The first six terms are held by the samples; a tiny ridge keeps unused unknowns at zero.
        *d += total * if i < 6 { 1e-9 } else { RIDGE };
    }
    cholesky::factor(&mut matrix, UNKNOWNS)?;
    right.iter_mut().for_each(|b| cholesky::substitute(&matrix, b));
    Some(right)
}

#[cfg(test)]
mod tests {
    #![expect(clippy::cast_possible_truncation, reason = "made-up light near one")]

    use super::*;

    /// A lamp gradient and vignette over a blue floor; every fifth place is a dark fish; a table of twice the light on the right.
    fn scene() -> Vec<Sample> {
        let mut out = Vec::new();
        for j in 0..30 {
            for i in 0..40 {
                let at = Point::new(f64::from(i) * 10.0, f64::from(j) * 10.0);
                let mut k = light(at) as f32;
                let patch = usize::from(i >= 32);
                if patch == 1 {
                    k *= 2.0;
                } else if (i * 7 + j * 3) % 5 == 0 {
                    k *= 0.3;
                }
                out.push(Sample { at, light: LinearRgb::new(0.1, 0.2, 0.4) * k, patch });
            }
        }
        out
    }

    fn light(p: Point) -> f64 {
        let (x, y) = (p.x / 200.0 - 1.0, p.y / 200.0 - 0.75);
        (0.4 * x - 0.2 * y - 0.25 * (x * x + y * y)).exp()
    }

    #[test]
    fn sees_through_fish_and_follows_the_light_onto_the_table() {
        let surface = Surface::fit(&scene(), Point::new(200.0, 150.0), 200.0, Degree::Four).unwrap();
        for p in [Point::new(5.0, 5.0), Point::new(200.0, 150.0), Point::new(390.0, 280.0)] {
            let ratio = surface.log_at(p)[1] - (0.2 * light(p)).ln();
            assert!(ratio.abs() < 0.01, "{p:?}: off by {ratio}");
        }
    }

    #[test]
    fn too_few_samples_give_no_surface() {
        assert_eq!(Surface::fit(&scene()[..20], Point::default(), 100.0, Degree::Two), None);
    }
}
