//! Lightness against the age of the young, so that age is not taken for progress.

use std::collections::BTreeMap;

use super::trend::BroodPoint;
use crate::stats::mixed::{self, Criterion, Row};
use crate::stats::slope::line;
use crate::stats::student::{Estimate, Ranged, mean};

/// Least standard deviation of the ages within generations, in days. The day of a drop is known to about a day, and that error
/// weakens a slope on age by 1/(1 + s²): by 4 % at 5 days, by half at one. Starting value.
const LEAST_SPREAD_DAYS: f64 = 5.0;

/// Slope per generation with age beside it: mixed model with generations as groups, t on generations − 2.
pub(super) fn age_adjusted(broods: &[BroodPoint], generations: usize) -> Option<Ranged> {
    per_30_days(broods)?;
    if generations < 3 {
        return None;
    }
    let ages: Vec<f64> = broods.iter().map(|b| b.age).collect::<Option<_>>()?;
    let centre = mean(&ages)?;
    let row = |(b, age): (&BroodPoint, &f64)| Row {
        group: b.generation as usize,
        y: b.value,
        x: vec![1.0, f64::from(b.generation), (age - centre) / 30.0],
        z: vec![1.0],
    };
    let fit = mixed::fit(&broods.iter().zip(&ages).map(row).collect::<Vec<_>>(), Criterion::Reml)?;
    Some(Estimate { value: fit.fixed[1], se: fit.se[1], df: generations as f64 - 2.0 }.into())
}

/// Change with age between broods of the same generation; needs all ages, at least three degrees of freedom, and ages that differ
/// by more than the error of a day ([`LEAST_SPREAD_DAYS`]).
pub(super) fn per_30_days(broods: &[BroodPoint]) -> Option<Ranged> {
    let mut by: BTreeMap<u32, Vec<(f64, f64)>> = BTreeMap::new();
    for brood in broods {
        by.entry(brood.generation).or_default().push((brood.age? / 30.0, brood.value));
    }
    let (mut x, mut y) = (Vec::new(), Vec::new());
    for of in by.values() {
        let centre = |f: fn(&(f64, f64)) -> f64| of.iter().map(f).sum::<f64>() / of.len() as f64;
        let (mx, my) = (centre(|p| p.0), centre(|p| p.1));
        x.extend(of.iter().map(|p| p.0 - mx));
        y.extend(of.iter().map(|p| p.1 - my));
    }
    let df = broods.len() as f64 - by.len() as f64 - 1.0;
    let spread = 30.0 * (x.iter().map(|x| x * x).sum::<f64>() / (df + 1.0)).sqrt();
    let fit = line(&x, &y).filter(|_| df >= 3.0 && spread >= LEAST_SPREAD_DAYS)?;
    // The plain fit counts one mean; each generation took one.
    let se = fit.slope.se * (fit.slope.df / df).sqrt();
    Some(Estimate { value: fit.slope.value, se, df }.into())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Four generations of two broods `apart` days apart in age, each older brood `apart` tenths lighter; a generation adds one.
    fn line_with_ages(apart: f64) -> Vec<BroodPoint> {
        let brood = |i: u32| {
            let (generation, older) = (i / 2, f64::from(i % 2));
            let noise = if i.is_multiple_of(3) { 0.1 } else { -0.1 };
            BroodPoint {
                brood: format!("B{i}"),
                generation,
                fish: 10,
                value: 60.0 + f64::from(generation) + 0.1 * apart * older + noise,
                age: Some(80.0 + apart * older),
                mid_parent: None,
                floor: None,
            }
        };
        (0..8).map(brood).collect()
    }

    /// By hand: two ages d apart have the standard deviation d/√2 within each generation, 0.7 days at one day, 7.1 at ten.
    #[test]
    fn ages_a_day_apart_tell_nothing_of_age() {
        let apart = line_with_ages(10.0);
        let found = per_30_days(&apart).unwrap();
        assert!((found.value - 3.0).abs() < 0.5, "{found:?}");
        assert!(age_adjusted(&apart, 4).is_some());
        let alike = line_with_ages(1.0);
        assert!(per_30_days(&alike).is_none() && age_adjusted(&alike, 4).is_none());
    }
}
