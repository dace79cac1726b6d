//! Which end is the head, and where the tail stalk ends.
#![expect(clippy::cast_possible_truncation, reason = "bin numbers are clamped before the cast")]

use super::body::Body;
use super::spine::{Spine, centre};

/// Slices along the fish: 2 % of its length each.
const SLICES: usize = 50;

/// Widening, over the narrowest place, from which the tail has begun (starting value, tuned on the renderer's tuning seeds).
const WIDENING: f64 = 1.12;

/// What a fish looks like slice by slice, from one end to the other.
#[derive(Debug, Clone)]
struct Profile {
    /// Width in block pixels.
    width: Vec<f64>,
    /// Mean strength of the difference from the floor, L*a*b* units.
    strength: Vec<f64>,
    /// How much darker the darkest twentieth is than the fish's median, L* units.
    darkest: [f64; 2],
}

/// A spine that starts at the head.
#[derive(Debug, Clone)]
pub(super) struct Heading {
    /// From snout to tail tip.
    pub(super) spine: Spine,
    /// How sure that is, 0.5…1.
    pub(super) confidence: f64,
    /// Distance from the snout to the end of the tail stalk, in block pixels.
    pub(super) stalk: Option<f64>,
}

/// Turns the spine so that it starts at the head, and finds the end of the tail stalk.
pub(super) fn heading(body: &Body, spine: Spine) -> Heading {
    let profile = Profile::of(body, &spine);
    let lean = profile.lean();
    let confidence = 1.0 / (1.0 + (-lean.abs()).exp());
    let (spine, profile) = if lean >= 0.0 { (spine, profile) } else { (spine.reversed(), profile.reversed()) };
    let stalk = profile.stalk().map(|share| share * spine.length());
    Heading { spine, confidence, stalk }
}

impl Profile {
    fn of(body: &Body, spine: &Spine) -> Self {
        let (mut count, mut strength) = (vec![0.0f64; SLICES], vec![0.0; SLICES]);
        let mut light: [Vec<f32>; 3] = Default::default();
        for k in body.grid.indices() {
            let s = (spine.locate(centre(&body.grid, k)).0 - spine.span.0) / spine.length();
            let slice = ((s * SLICES as f64) as usize).min(SLICES - 1);
            let d = body.block.pixels[k];
            count[slice] += 1.0;
            strength[slice] += f64::from(d.size());
            light[1].push(d.lightness);
            // Eyes sit in the foremost fifth.
            if s < 0.2 {
                light[0].push(d.lightness);
            } else if s > 0.8 {
                light[2].push(d.lightness);
            }
        }
        let slice_length = spine.length() / SLICES as f64;
        strength.iter_mut().zip(&count).for_each(|(s, n)| *s /= n.max(1.0));
        let [first, all, last] = light;
        let median = quantile(all, 0.5);
        Self {
            width: count.iter().map(|n| n / slice_length).collect(),
            strength,
            darkest: [median - quantile(first, 0.05), median - quantile(last, 0.05)],
        }
    }

    fn reversed(mut self) -> Self {
        self.width.reverse();
        self.strength.reverse();
        self.darkest.reverse();
        self
    }

    /// Log odds that the first end is the head (weights: starting values, tuned on the renderer's tuning seeds).
    fn lean(&self) -> f64 {
        let eyes = ((self.darkest[0] - self.darkest[1]) / 12.0).clamp(-1.5, 1.5);
        // The body's mass, thin and see-through fins counting little.
        let mass: Vec<f64> = self.width.iter().zip(&self.strength).map(|(w, s)| w * s).collect();
        let total: f64 = mass.iter().sum();
        let mean = mass.iter().enumerate().map(|(i, m)| (i as f64 + 0.5) * m).sum::<f64>() / total.max(1e-9);
        let front = 14.0 * (0.5 - mean / SLICES as f64);
        let ends = SLICES / 7;
        let sum = |v: &[f64]| v.iter().sum::<f64>();
        let (s0, s1) = (sum(&self.strength[..ends]), sum(&self.strength[SLICES - ends..]));
        let clear = 2.0 * (s0 - s1) / (s0 + s1).max(1e-9);
        eyes + front + clear + self.waist_lean()
    }

    /// A waist between a body and a tail fan lies nearer to the tail.
    fn waist_lean(&self) -> f64 {
        let w = smoothed(&self.width);
        let (from, to) = (SLICES * 3 / 20, SLICES * 17 / 20);
        let Some(waist) = (from..to).min_by(|&a, &b| w[a].total_cmp(&w[b])) else { return 0.0 };
        let most = |v: &[f64]| v.iter().copied().fold(0.0, f64::max);
        let depth = 1.0 - w[waist] / most(&w[..waist]).min(most(&w[waist..])).max(1e-9);
        6.0 * depth.max(0.0) * (waist as f64 / SLICES as f64 - 0.5).clamp(-0.35, 0.35)
    }

    /// Share of the length at which the stalk ends, for a profile from the head on: where the waist starts to widen into the
    /// tail, else where the body turns see-through.
    fn stalk(&self) -> Option<f64> {
        let w = smoothed(&self.width);
        let (from, to) = (SLICES / 2, SLICES * 19 / 20);
        let waist = (from..to).min_by(|&a, &b| w[a].total_cmp(&w[b]))?;
        let beyond = w[waist..].iter().copied().fold(0.0, f64::max);
        if beyond > 1.12 * w[waist] {
            let end = (waist..to).take_while(|&i| w[i] <= WIDENING * w[waist]).last()?;
            return Some((end as f64 + 0.5) / SLICES as f64);
        }
        let s = smoothed(&self.strength);
        let reach = SLICES / 12;
        let drop = |i: usize| s[i - reach] - s[i + reach];
        let steepest = (from + reach..SLICES - reach).max_by(|&a, &b| drop(a).total_cmp(&drop(b)))?;
        (drop(steepest) > 0.25 * s[steepest - reach]).then(|| (steepest as f64 + 0.5) / SLICES as f64)
    }
}

fn smoothed(values: &[f64]) -> Vec<f64> {
    let n = values.len();
    (0..n).map(|i| (values[i.saturating_sub(1)] + 2.0 * values[i] + values[(i + 1).min(n - 1)]) / 4.0).collect()
}

fn quantile(mut values: Vec<f32>, q: f64) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    let at = ((values.len() - 1) as f64 * q) as usize;
    f64::from(*values.select_nth_unstable_by(at, f32::total_cmp).1)
}
