//! The colour of a part: medians over its pixels, with errors from pixels, calibration and lighting field.
#![expect(clippy::cast_possible_truncation, reason = "CIELAB values are kept as f32 while medians are sought")]

use super::sample::Samples;
use super::values::PartColour;
use crate::calibrate::Calibration;
use crate::colour::{Lab, chroma, hue, saturation};

/// Fewest readings from which a colour is told: below, a median says little; common practice, no source.
const FEWEST: usize = 12;

/// Efficiency of the median of normal values: its standard error is √(π/2) that of the mean (Kendall & Stuart).
const MEDIAN_FACTOR: f64 = 1.253_314;

/// Standard deviation of a hue that could be any: 360/√12.
const NO_HUE: f64 = 103.923;

/// The median of values, each a NaN-free number; `None` of none. Between two middle values the lower counts.
pub(super) fn median(values: impl Iterator<Item = f64>) -> Option<f64> {
    quantile(values, 0.5)
}

/// The value below which a `share` of the values lies.
pub(super) fn quantile(values: impl Iterator<Item = f64>, share: f64) -> Option<f64> {
    let mut v: Vec<f32> = values.map(|x| x as f32).collect();
    if v.is_empty() {
        return None;
    }
    let at = ((v.len() - 1) as f64 * share) as usize;
    Some(f64::from(*v.select_nth_unstable_by(at, f32::total_cmp).1))
}

/// Median of L*, a* and b*, each on its own; `None` of none.
pub(super) fn middle<'a>(colours: impl Iterator<Item = &'a Lab> + Clone) -> Option<Lab> {
    let axis = |f: fn(&Lab) -> f64| median(colours.clone().map(f));
    Some(Lab::new(axis(|c| c.l)?, axis(|c| c.a)?, axis(|c| c.b)?))
}

/// The colour of the readings that `keep` says yes to; `None` when fewer than a dozen are left.
pub(super) fn part_colour(
    samples: &Samples,
    keep: impl Fn(Lab) -> bool + Copy,
    calibration: &Calibration,
    field_error: f64,
) -> Option<PartColour> {
    let kept = || samples.colours.iter().copied().filter(|c| keep(*c));
    if kept().count() < FEWEST {
        return None;
    }
    let lab = middle(samples.colours.iter().filter(|c| keep(**c)))?;
    let pixels = [|c: Lab| c.l, |c: Lab| c.a, |c: Lab| c.b].map(|axis| pixel_error(samples, keep, axis));
    let card = calibration.error(lab);
    // A relative error δ of the light scales X, Y and Z alike: L* + 16, a* and b* all change by the share δ/3 (CIE 15).
    let field = [lab.l + 16.0, lab.a, lab.b].map(|v| v * field_error / 3.0);
    let whole = |i: usize, card: f64| pixels[i].hypot(card).hypot(field[i]);
    let (l_se, a_se, b_se) = (whole(0, card.l), whole(1, card.a), whole(2, card.b));
    let c = chroma(lab);
    let (along, across) = if c > 0.0 {
        ((lab.a * a_se).hypot(lab.b * b_se) / c, (lab.b * a_se).hypot(lab.a * b_se) / c)
    } else {
        (a_se.max(b_se), f64::INFINITY)
    };
    Some(PartColour {
        lightness: lab.l,
        a: lab.a,
        b: lab.b,
        chroma: c,
        hue: hue(lab),
        saturation: saturation(lab),
        lightness_se: l_se,
        a_se,
        b_se,
        chroma_se: along,
        hue_se: (across / c).to_degrees().min(NO_HUE),
    })
}

/// Standard error of the median from the pixels' spread.
///
/// Pixels of a fish resemble their neighbours, so they are fewer than they look: with correlation r between neighbours
/// along a row, and the same down the columns, n of them count as n·((1 − r)/(1 + r))² (first-order autoregression;
/// Cressie, Statistics for Spatial Data, 1993, section 1.3).
fn pixel_error(samples: &Samples, keep: impl Fn(Lab) -> bool + Copy, axis: impl Fn(Lab) -> f64) -> f64 {
    let (mut n, mut sum, mut squares) = (0.0, 0.0, 0.0);
    let (mut pairs, mut steps) = (0.0, 0.0);
    let mut before: Option<f64> = None;
    for (colour, joined) in samples.colours.iter().zip(&samples.joined) {
        if !keep(*colour) {
            before = None;
            continue;
        }
        let v = axis(*colour);
        n += 1.0;
        sum += v;
        squares += v * v;
        if let Some(b) = before.filter(|_| *joined) {
            pairs += 1.0;
            steps += (v - b) * (v - b);
        }
        before = Some(v);
    }
    let variance = (squares / n - (sum / n) * (sum / n)).max(0.0);
    if variance <= 0.0 {
        return 0.0;
    }
    let likeness = if pairs > 0.0 { (1.0 - steps / pairs / (2.0 * variance)).clamp(0.0, 0.95) } else { 0.0 };
    let worth = ((1.0 - likeness) / (1.0 + likeness)).powi(2);
    MEDIAN_FACTOR * (variance / (n * worth).max(1.0)).sqrt()
}
