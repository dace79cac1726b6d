//! The colour of a part: medians over its pixels, with errors from pixels, calibration and lighting field.
#![expect(clippy::cast_possible_truncation, reason = "CIELAB values are kept as f32 while medians are sought")]

use super::sample::Samples;
use super::values::PartColour;
use crate::calibrate::{Calibration, ColourError};
use crate::colour::{Lab, chroma, hue, saturation};

/// Fewest readings from which a colour is told: below, a median says little; common practice, no source.
const FEWEST: usize = 12;

/// How far the outline of a part may shift the middle: the share of a part's pixels that an outline wrongly takes in or
/// leaves out on one side of its colours. Starting value, tuned on rendered trays.
const OUTLINE_ERROR: f64 = 0.02;

/// The median of values, each a NaN-free number; `None` of none. Between two middle values the lower counts.
pub(super) fn median(values: impl Iterator<Item = f64>) -> Option<f64> {
    quantile(values, 0.5)
}

/// The value below which a `share` of the values lies.
pub(super) fn quantile(values: impl Iterator<Item = f64>, share: f64) -> Option<f64> {
    let mut values: Vec<f32> = values.map(|x| x as f32).collect();
    let last = values.len().checked_sub(1)?;
    let at = (last as f64 * share) as usize;
    Some(f64::from(*values.select_nth_unstable_by(at, f32::total_cmp).1))
}

/// Median of L*, a* and b*, each on its own; `None` of none.
pub(super) fn middle<'a>(colours: impl Iterator<Item = &'a Lab> + Clone) -> Option<Lab> {
    let axis = |f: fn(&Lab) -> f64| median(colours.clone().map(f));
    Some(Lab::new(axis(|c| c.l)?, axis(|c| c.a)?, axis(|c| c.b)?))
}

/// The colour of the readings that no other light is mixed into, reading number `k` counting `weight(k)` times; `None` when fewer than a
/// dozen are left, or more of the part was lost to glare than is left: the brightest would be missing from its middle.
pub(super) fn part_colour(
    samples: &Samples,
    weight: impl Fn(usize) -> f32,
    calibration: &Calibration,
    field_error: f64,
) -> Option<PartColour> {
    let all = samples.colours.iter().zip(&samples.mixed).enumerate();
    let kept: Vec<(Lab, f32)> =
        all.filter(|(_, (_, mixed))| !**mixed).map(|(k, (c, _))| (*c, weight(k))).filter(|(_, w)| *w > 0.0).collect();
    if kept.len() < FEWEST || samples.glare > samples.colours.len() {
        return None;
    }
    let [l, a, b] = [|c: &Lab| c.l, |c: &Lab| c.a, |c: &Lab| c.b]
        .map(|axis| Middle::of(kept.iter().map(|(c, w)| (axis(c) as f32, *w)).collect()));
    let lab = Lab::new(l.at, a.at, b.at);
    let card = calibration.error_on_fish(lab);
    // A relative error δ of the light scales X, Y and Z alike: L* + 16, a* and b* all change by the share δ/3 (CIE 15).
    let field = [lab.l + 16.0, lab.a, lab.b].map(|v| v * field_error / 3.0);
    let whole = |i: usize, pixels: f64, card: f64| pixels.hypot(card).hypot(field[i]);
    let error =
        ColourError { l: whole(0, l.error, card.l), a: whole(1, a.error, card.a), b: whole(2, b.error, card.b) };
    Some(PartColour {
        lightness: lab.l,
        a: lab.a,
        b: lab.b,
        chroma: chroma(lab),
        hue: hue(lab),
        saturation: saturation(lab),
        lightness_se: error.l,
        a_se: error.a,
        b_se: error.b,
        chroma_se: error.chroma(lab),
        hue_se: error.hue(lab),
    })
}

/// The median of values that count with weights, and its standard error.
struct Middle {
    at: f64,
    /// From the values' spread: half the distance between the quantiles that counting error and outline leave open. Where half of a
    /// part is red and half is not, a few pixels move its median far, and this says so (the large-sample error of a quantile, √(¼/n)
    /// over the density; Kendall & Stuart, section 10.10).
    error: f64,
}

impl Middle {
    /// Of values and their weights; between two middle values the lower counts.
    fn of(mut values: Vec<(f32, f32)>) -> Self {
        let open = (0.25 / values.len().max(1) as f64).sqrt().hypot(OUTLINE_ERROR).min(0.5);
        let [low, at, high] = [0.5 - open, 0.5, 0.5 + open].map(|share| below(&mut values, share));
        Self { at, error: (high - low) / 2.0 }
    }
}

/// The value below which a `share` of the values' weight lies; 0 of none.
fn below(values: &mut [(f32, f32)], share: f64) -> f64 {
    let weigh = |values: &[(f32, f32)]| values.iter().map(|v| f64::from(v.1)).sum::<f64>();
    let whole = weigh(values);
    // With equal weights the place is the one that `quantile` takes: of n values the last is number n - 1.
    let mut left = share * (whole - whole / values.len().max(1) as f64);
    let mut rest = values;
    while rest.len() > 1 {
        let middle = rest.len() / 2;
        rest.select_nth_unstable_by(middle, |a, b| a.0.total_cmp(&b.0));
        let (lower, upper) = rest.split_at_mut(middle);
        let weight = weigh(lower);
        if weight > left {
            rest = lower;
        } else {
            left -= weight;
            rest = upper;
        }
    }
    rest.first().map_or(0.0, |v| f64::from(v.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_of_a_short_list() {
        let v = || [5.0, 1.0, 4.0, 2.0, 3.0].into_iter();
        assert_eq!((quantile(v(), 0.0), median(v()), quantile(v(), 1.0)), (Some(1.0), Some(3.0), Some(5.0)));
        assert_eq!(median([].into_iter()), None);
    }

    #[test]
    fn a_median_between_two_heaps_is_unsure() {
        let heap = |n: usize, at: f32| (0..n).map(move |i| (at + 0.001 * i as f32, 1.0)).collect::<Vec<_>>();
        let one = Middle::of(heap(2000, 50.0)).error;
        let two = Middle::of([heap(1005, 50.0), heap(995, 70.0)].concat()).error;
        // One heap of slope 0.001 a pixel: √(0.25/2000 + 0.02²) · 2000 · 0.001 = 0.0458.
        assert!((one - 0.0458).abs() < 0.002, "{one}");
        assert!(two > 9.0, "{two}");
    }

    #[test]
    fn a_value_counts_as_often_as_its_weight_says() {
        let once = |v: &[f32]| Middle::of(v.iter().map(|x| (*x, 1.0)).collect()).at;
        assert_eq!((once(&[5.0, 1.0, 4.0, 2.0, 3.0]), once(&[4.0, 1.0, 3.0, 2.0])), (3.0, 2.0));
        // 40 readings of 70 and 60 of 45, of which every third is left over: weights of one and three.
        let heaps = [vec![(70.0, 1.0); 40], vec![(45.0, 3.0); 20]].concat();
        let at = |share| below(&mut heaps.clone(), share);
        assert_eq!((at(0.0), at(0.5), at(1.0)), (45.0, 45.0, 70.0));
    }

    #[test]
    fn colours_errors_add_in_quadrature() {
        // A flat patch has no spread, so what is left is calibration and field: with a relative error of 3 % of the
        // light, L* 50 moves by 66 · 0.03 / 3 = 0.66.
        let samples = Samples::of(vec![Lab::new(50.0, 3.0, 4.0); 100]);
        let calibration = Calibration::from_profile("no card");
        let card = calibration.error_on_fish(Lab::new(50.0, 3.0, 4.0));
        let c = part_colour(&samples, |_| 1.0, &calibration, 0.03).unwrap();
        assert!((c.lightness_se - card.l.hypot(0.66)).abs() < 1e-6, "{c:?}");
        assert!((c.chroma - 5.0).abs() < 1e-6 && (c.hue - 53.130_102).abs() < 1e-4);
        assert!((c.saturation - 100.0 * 5.0 / 2525f64.sqrt()).abs() < 1e-4);
        assert_eq!(part_colour(&samples, |_| 0.0, &calibration, 0.0), None);
    }
}
