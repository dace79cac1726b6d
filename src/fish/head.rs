//! Which end is the head, and where the tail stalk ends.
#![expect(clippy::cast_possible_truncation, reason = "bin numbers are clamped before the cast")]

use super::body::Body;
use super::spine::{Spine, centre};

/// Slices along the fish: 2 % of its length each.
const SLICES: usize = 50;

/// Share of the length from an end within which eyes are sought (proportions of livebearers from common descriptions, no source).
const EYES: f64 = 0.12;

/// Widening, over the narrowest place, from which the tail has begun (starting value, tuned on the renderer's tuning seeds).
const WIDENING: f64 = 1.12;

/// What a fish looks like slice by slice, from one end to the other.
#[derive(Debug, Clone)]
struct Profile {
    /// Width in block pixels.
    width: Vec<f64>,
    /// Mean strength of the difference from the floor, L*a*b* units.
    strength: Vec<f64>,
    /// How much darker the darkest fiftieth of each end is than that end's median, L* units: an eye is, an end that is dark all over, as
    /// a clear tail on a dark floor, is not.
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
        let mut light: [Vec<f32>; 2] = Default::default();
        for k in body.grid.indices() {
            let s = (spine.locate(centre(&body.grid, k)).0 - spine.span.0) / spine.length();
            let slice = ((s * SLICES as f64) as usize).min(SLICES - 1);
            let d = body.block.pixels[k];
            count[slice] += 1.0;
            strength[slice] += f64::from(d.size());
            if s < EYES {
                light[0].push(d.lightness);
            } else if s > 1.0 - EYES {
                light[1].push(d.lightness);
            }
        }
        let slice_length = spine.length() / SLICES as f64;
        strength.iter_mut().zip(&count).for_each(|(s, n)| *s /= n.max(1.0));
        Self {
            width: count.iter().map(|n| n / slice_length).collect(),
            strength,
            darkest: light.map(|end| quantile(end.clone(), 0.5) - quantile(end, 0.02)),
        }
    }

    fn reversed(mut self) -> Self {
        self.width.reverse();
        self.strength.reverse();
        self.darkest.reverse();
        self
    }

    /// Log odds that the first end is the head. The weights are those of a logistic regression over trays of the renderer's tuning seeds and over
    /// cut-outs of real males on five floors, rounded.
    fn lean(&self) -> f64 {
        let eyes = ((self.darkest[0] - self.darkest[1]) / 12.0).clamp(-1.5, 1.5);
        // The body's mass, thin and see-through fins counting little.
        let mass: Vec<f64> = self.width.iter().zip(&self.strength).map(|(w, s)| w * s).collect();
        let total: f64 = mass.iter().sum();
        let mean = mass.iter().enumerate().map(|(i, m)| (i as f64 + 0.5) * m).sum::<f64>() / total.max(1e-9);
        let front = 0.5 - mean / SLICES as f64;
        let ends = SLICES / 7;
        let sum = |v: &[f64]| v.iter().sum::<f64>();
        let (s0, s1) = (sum(&self.strength[..ends]), sum(&self.strength[SLICES - ends..]));
        let clear = (s0 - s1) / (s0 + s1).max(1e-9);
        let [first, last] = self.bluntness();
        eyes + 4.5 * front + 1.9 * clear + 3.0 * (last - first) + 5.3 * self.waist_lean()
    }

    /// How wide each tip is beside the widest place of its third: a snout tapers, a fan is cut off square.
    fn bluntness(&self) -> [f64; 2] {
        let third = SLICES / 3 + 1;
        let tip = 1..4;
        [true, false].map(|first| {
            let from_tip = |i: usize| self.width[if first { i } else { SLICES - 1 - i }];
            let widest = (0..third).map(from_tip).fold(0.0, f64::max);
            tip.clone().map(from_tip).sum::<f64>() / tip.len() as f64 / widest.max(1e-9)
        })
    }

    /// A waist between a body and a tail fan lies nearer to the tail: its depth times how far behind the middle it lies.
    fn waist_lean(&self) -> f64 {
        let w = smoothed(&self.width);
        let from = SLICES * 3 / 20;
        let Some(waist) = (from..SLICES - from).min_by(|&a, &b| w[a].total_cmp(&w[b])) else { return 0.0 };
        let most = |v: &[f64]| v.iter().copied().fold(0.0, f64::max);
        let depth = 1.0 - w[waist] / most(&w[..waist]).min(most(&w[waist..])).max(1e-9);
        depth.max(0.0) * ((waist as f64 + 0.5) / SLICES as f64 - 0.5).clamp(-0.35, 0.35)
    }

    /// Share of the length at which the stalk ends, for a profile from the head on: where the waist starts to widen into the
    /// tail, else where the body turns see-through.
    fn stalk(&self) -> Option<f64> {
        let w = smoothed(&self.width);
        let (from, to) = (SLICES / 2, SLICES * 19 / 20);
        let waist = (from..to).min_by(|&a, &b| w[a].total_cmp(&w[b]))?;
        let beyond = w[waist..].iter().copied().fold(0.0, f64::max);
        if beyond > WIDENING * w[waist] {
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

#[cfg(test)]
mod tests {
    use super::*;

    /// A fish from the head on, 50 slices: the snout tapers, the stalk is narrow, the fan ends square.
    fn fish(body: f64, fan: f64, darkest: [f64; 2]) -> Profile {
        let width = |i: usize| match i {
            0..=15 => 18.0 * ((i as f64 + 0.5) / 16.0).sqrt(),
            16..=35 => 18.0 - 0.5 * (i - 16) as f64,
            36..=38 => 8.0 + 4.0 * (i - 35) as f64,
            _ => 20.0,
        };
        let strength = |i: usize| if i < 36 { body } else { fan };
        Profile { width: (0..SLICES).map(width).collect(), strength: (0..SLICES).map(strength).collect(), darkest }
    }

    #[test]
    fn a_fish_is_told_from_its_mirror_image() {
        let profile = fish(30.0, 12.0, [15.0, 3.0]);
        assert!(profile.lean() > 3.0, "{}", profile.lean());
        assert!((profile.lean() + profile.clone().reversed().lean()).abs() < 1e-9);
    }

    #[test]
    fn a_spot_in_the_fan_and_a_fan_as_strong_as_the_body_do_not_turn_a_fish_round() {
        // A male's fan may be as coloured as his body and carry a black spot, where the eye hardly shows.
        assert!(fish(40.0, 40.0, [6.0, 12.0]).lean() > 0.5);
    }

    #[test]
    fn a_fish_whose_fan_does_not_show_is_told_by_its_mass_and_eyes() {
        let mut profile = fish(30.0, 30.0, [20.0, 2.0]);
        // What is seen ends with the stalk.
        profile.width.iter_mut().skip(36).for_each(|w| *w = 6.0);
        assert!(profile.lean() > 1.0, "{}", profile.lean());
    }
}
