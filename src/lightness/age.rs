//! Lightness against the age of the young, so that age is not taken for progress.

use std::collections::BTreeMap;

use super::trend::BroodPoint;
use crate::stats::mixed::{self, Criterion, Row};
use crate::stats::slope::line;
use crate::stats::student::{Estimate, Ranged, mean};

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

/// Change with age between broods of the same generation; needs all ages and at least three degrees of freedom.
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
    let fit = line(&x, &y).filter(|_| df >= 3.0)?;
    // The plain fit counts one mean; each generation took one.
    let se = fit.slope.se * (fit.slope.df / df).sqrt();
    Some(Estimate { value: fit.slope.value, se, df }.into())
}
