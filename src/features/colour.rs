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
    at_share(&mut values.map(|x| x as f32).collect::<Vec<_>>(), share)
}

fn at_share(values: &mut [f32], share: f64) -> Option<f64> {
    let last = values.len().checked_sub(1)?;
    let at = (last as f64 * share) as usize;
    Some(f64::from(*values.select_nth_unstable_by(at, f32::total_cmp).1))
}

/// Median of L*, a* and b*, each on its own; `None` of none.
pub(super) fn middle<'a>(colours: impl Iterator<Item = &'a Lab> + Clone) -> Option<Lab> {
    let axis = |f: fn(&Lab) -> f64| median(colours.clone().map(f));
    Some(Lab::new(axis(|c| c.l)?, axis(|c| c.a)?, axis(|c| c.b)?))
}

/// The colour of the readings that `keep` says yes to and no other light is mixed into; `None` when fewer than a dozen are left, or more of the
/// part was lost to glare than is left: the brightest would be missing from its middle.
pub(super) fn part_colour(
    samples: &Samples,
    keep: impl Fn(Lab) -> bool + Copy,
    calibration: &Calibration,
    field_error: f64,
) -> Option<PartColour> {
    let kept: Vec<Lab> = samples.unmixed().filter(|c| keep(*c)).collect();
    if kept.len() < FEWEST || 2 * samples.glare > samples.seen() {
        return None;
    }
    let lab = middle(kept.iter())?;
    let pixels = [|c: &Lab| c.l, |c: &Lab| c.a, |c: &Lab| c.b].map(|axis| median_error(kept.iter().map(axis)));
    let card = calibration.error_on_fish(lab);
    // A relative error δ of the light scales X, Y and Z alike: L* + 16, a* and b* all change by the share δ/3 (CIE 15).
    let field = [lab.l + 16.0, lab.a, lab.b].map(|v| v * field_error / 3.0);
    let whole = |i: usize, card: f64| pixels[i].hypot(card).hypot(field[i]);
    let error = ColourError { l: whole(0, card.l), a: whole(1, card.a), b: whole(2, card.b) };
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

/// Standard error of the median from the pixels' spread: half the distance between the quantiles that counting error
/// and outline leave open. Where half of a part is red and half is not, a few pixels move its median far, and this
/// says so (the large-sample error of a quantile, √(¼/n) over the density; Kendall & Stuart, section 10.10).
fn median_error(values: impl Iterator<Item = f64>) -> f64 {
    let mut v: Vec<f32> = values.map(|x| x as f32).collect();
    let open = (0.25 / v.len().max(1) as f64).sqrt().hypot(OUTLINE_ERROR).min(0.5);
    let (low, high) = (at_share(&mut v, 0.5 - open), at_share(&mut v, 0.5 + open));
    low.zip(high).map_or(0.0, |(low, high)| (high - low) / 2.0)
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
        let heap = |n: usize, at: f64| (0..n).map(move |i| at + 0.001 * i as f64);
        let one = median_error(heap(2000, 50.0));
        let two = median_error(heap(1005, 50.0).chain(heap(995, 70.0)));
        // One heap of slope 0.001 a pixel: √(0.25/2000 + 0.02²) · 2000 · 0.001 = 0.0458.
        assert!((one - 0.0458).abs() < 0.002, "{one}");
        assert!(two > 9.0, "{two}");
    }

    #[test]
    fn colours_errors_add_in_quadrature() {
        // A flat patch has no spread, so what is left is calibration and field: with a relative error of 3 % of the
        // light, L* 50 moves by 66 · 0.03 / 3 = 0.66.
        let samples = Samples::of(vec![Lab::new(50.0, 3.0, 4.0); 100]);
        let calibration = Calibration::from_profile("no card");
        let card = calibration.error_on_fish(Lab::new(50.0, 3.0, 4.0));
        let c = part_colour(&samples, |_| true, &calibration, 0.03).unwrap();
        assert!((c.lightness_se - card.l.hypot(0.66)).abs() < 1e-6, "{c:?}");
        assert!((c.chroma - 5.0).abs() < 1e-6 && (c.hue - 53.130_102).abs() < 1e-4);
        assert!((c.saturation - 100.0 * 5.0 / 2525f64.sqrt()).abs() < 1e-4);
        assert_eq!(part_colour(&samples, |c| c.l > 60.0, &calibration, 0.0), None);
    }
}
