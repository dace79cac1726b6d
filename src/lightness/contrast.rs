//! The difference of two sides in one channel, with the error that belongs to it.

use std::collections::BTreeSet;

use super::reading::{Channel, Reading};
use super::repeat::{SetUp, Split};
use super::side::{Unit, UnitMean, pooled, shown_by_spread, unit_means};
use crate::stats::student::{Estimate, satterthwaite, variance};

/// Over how many CIELAB units a calibration's error changes with the colour: two colours ΔE apart share it with the
/// correlation exp(−(ΔE/40)²). Starting value, about the distance of neighbouring patches of a 24-patch chart.
const ERROR_REACH: f64 = 40.0;

/// Difference of one channel with the two means it comes from.
pub(super) struct Contrast {
    pub(super) a: UnitMean,
    pub(super) b: UnitMean,
    pub(super) estimate: Estimate,
}

/// The difference at the widest that the set-up's repeats leave open.
pub(super) fn contrast(
    a: &[Reading],
    b: &[Reading],
    units: [Unit; 2],
    channel: Channel,
    setup: Option<&SetUp>,
) -> Contrast {
    let width = |c: &Contrast| {
        let interval = c.estimate.interval(0.95);
        interval.high - interval.low
    };
    widest(setup, channel, |split| contrast_at(a, b, units, channel, split), width)
}

/// A figure at the end of the set-up's [`SetUp::splits`] where it is widest; without a set-up the readings' own errors stand in.
pub(super) fn widest<T>(
    setup: Option<&SetUp>,
    channel: Channel,
    at: impl Fn(Option<&Split>) -> T,
    width: impl Fn(&T) -> f64,
) -> T {
    let Some(setup) = setup else { return at(None) };
    let [one, other] = setup.splits(channel).map(|split| at(Some(&split)));
    if width(&one) > width(&other) { one } else { other }
}

/// Units of either side give its spread; photos add what the spread does not already show and the difference does not
/// cancel.
fn contrast_at(a: &[Reading], b: &[Reading], units: [Unit; 2], channel: Channel, split: Option<&Split>) -> Contrast {
    let of_a = unit_means(a, units[0], channel, split);
    let of_b = unit_means(b, units[1], channel, split);
    let (mean_a, mean_b) = (pooled(&of_a), pooled(&of_b));
    let (own_df, photo_df) = split.map_or((f64::INFINITY, f64::INFINITY), |s| (s.own.1, s.photo.1));
    let mut parts = vec![spread_part(&of_a, &mean_a, own_df), spread_part(&of_b, &mean_b, own_df)];
    let photos: BTreeSet<&str> = a.iter().chain(b).map(|r| r.photo.as_str()).collect();
    let weight = |mean: &UnitMean, photo: &str| mean.photos.get(photo).copied().unwrap_or(0.0);
    let extra: f64 = photos
        .iter()
        .map(|photo| {
            let kept = (weight(&mean_a, photo) - weight(&mean_b, photo)).powi(2);
            let shown = shown_by_spread(&of_a, &mean_a, photo) + shown_by_spread(&of_b, &mean_b, photo);
            photo_variance(a, b, photo, channel, split) * (kept - shown)
        })
        .sum();
    parts.push((extra.max(0.0), photo_df));
    let together: f64 = photos.iter().map(|p| weight(&mean_a, p) * weight(&mean_b, p)).sum();
    parts.push((together * unlike_colours(a, b, channel), f64::INFINITY));
    let (var, df) = satterthwaite(&parts);
    let estimate = Estimate { value: mean_a.value - mean_b.value, se: var.sqrt(), df };
    Contrast { a: mean_a, b: mean_b, estimate }
}

/// Variance of a side's mean with its degrees of freedom: from the spread of its units, or from measurement for one.
fn spread_part(units: &[UnitMean], mean: &UnitMean, own_df: f64) -> (f64, f64) {
    let values: Vec<f64> = units.iter().map(|u| u.value).collect();
    match variance(&values) {
        Some(var) => (var / values.len() as f64, values.len() as f64 - 1.0),
        None => (mean.own, own_df),
    }
}

fn photo_variance(a: &[Reading], b: &[Reading], photo: &str, channel: Channel, split: Option<&Split>) -> f64 {
    if let Some(split) = split {
        return split.photo.0;
    }
    let of_photo = || a.iter().chain(b).filter(|r| r.photo == photo);
    let count = of_photo().count().max(1) as f64;
    of_photo().map(|r| r.calibration_variance(channel)).sum::<f64>() / count
}

/// Variance of one side's mean, the photos' share included, at the widest that the set-up's repeats leave open.
pub(super) fn side_variance(side: &[Reading], unit: Unit, channel: Channel, setup: Option<&SetUp>) -> f64 {
    let at = |split: Option<&Split>| {
        let units = unit_means(side, unit, channel, split);
        let mean = pooled(&units);
        let (spread, _) = spread_part(&units, &mean, f64::INFINITY);
        let photo = |(photo, weight): (&String, &f64)| {
            let shown = shown_by_spread(&units, &mean, photo);
            photo_variance(side, &[], photo, channel, split) * (weight * weight - shown)
        };
        spread + mean.photos.iter().map(photo).sum::<f64>().max(0.0)
    };
    widest(setup, channel, at, |variance| *variance)
}

/// What is left of the calibration's error between two unlike colours of one photo. With σ² the calibration's variance, ρ the correlation
/// between the colours and w the weights of a photo on either side, the difference has σ²(w_a² + w_b² − 2ρ·w_a·w_b), which is
/// σ²(w_a − w_b)² and 2σ²(1 − ρ) times w_a·w_b.
fn unlike_colours(a: &[Reading], b: &[Reading], channel: Channel) -> f64 {
    let centre = |side: &[Reading], i: usize| side.iter().map(|r| r.lab[i]).sum::<f64>() / side.len() as f64;
    let apart: f64 = (0..3).map(|i| (centre(a, i) - centre(b, i)).powi(2)).sum();
    let shared = (-apart / (ERROR_REACH * ERROR_REACH)).exp();
    let typical = a.iter().chain(b).map(|r| r.calibration_variance(channel)).sum::<f64>() / (a.len() + b.len()) as f64;
    2.0 * typical * (1.0 - shared)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Variance of the difference of two fish, calibration errors of 1 in each photo.
    fn variance_between(photos: [&str; 2], l: [f64; 2]) -> f64 {
        let [a, b] = [0, 1].map(|i| [Reading::drawn(["a", "b"][i], photos[i], [l[i], 0.0, 0.0], 0.0)]);
        contrast(&a, &b, [Unit::Reading; 2], Channel::Lightness, None).estimate.se.powi(2)
    }

    #[test]
    fn photos_of_their_own_err_apart_and_colours_of_one_photo_as_far_as_they_differ() {
        // e² + e² in two photos, whatever the colours; 2e²(1 − exp(−(ΔE/40)²)) in one, by hand.
        for unlike in [50.0, 100.0] {
            assert!((variance_between(["p", "q"], [20.0, 20.0 + unlike]) - 2.0).abs() < 1e-12);
        }
        assert!(variance_between(["p", "p"], [50.0, 50.0]).abs() < 1e-12);
        let at_forty = 2.0 * (1.0 - (-1.0_f64).exp());
        assert!((variance_between(["p", "p"], [20.0, 60.0]) - at_forty).abs() < 1e-12);
    }
}
