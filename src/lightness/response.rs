//! Realised heritability: what came of choosing the parents.

use serde::Serialize;

use super::trend::{BroodPoint, Generation};
use crate::stats::selection::realised_heritability;
use crate::stats::slope::line;
use crate::stats::student::{Ranged, mean};

/// What came of selection.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Heritability {
    /// Σ R·S / Σ S² over cumulated differentials and responses.
    pub realised: f64,
    /// Generations with measured parents.
    pub generations: usize,
    /// Cumulated selection differential.
    pub differential: f64,
    /// Cumulated response.
    pub response: f64,
    /// Slope of brood means on mid-parents; `None` below three such broods.
    pub on_mid_parent: Option<Ranged>,
}

/// Cumulated over generations: S is the mid-parents' lead over the generation they came from, R the change since the first.
pub(super) fn heritability(broods: &[BroodPoint], generations: &[Generation]) -> Option<Heritability> {
    let (mut s, mut cumulated, mut differential, mut response) = (0.0, Vec::new(), Vec::new(), Vec::new());
    for pair in generations.windows(2).filter(|w| w[1].generation == w[0].generation + 1) {
        let chosen: Vec<f64> =
            broods.iter().filter(|b| b.generation == pair[1].generation).filter_map(|b| b.mid_parent).collect();
        let Some(parents) = mean(&chosen) else { continue };
        s += parents - pair[0].mean;
        cumulated.push(pair[1].generation);
        differential.push(s);
        response.push(pair[1].mean - generations[0].mean);
    }
    let realised = realised_heritability(&differential, &response)?;
    let (x, y): (Vec<f64>, Vec<f64>) = broods.iter().filter_map(|b| Some((b.mid_parent?, b.value))).unzip();
    Some(Heritability {
        realised,
        generations: cumulated.len(),
        differential: s,
        response: response.last().copied()?,
        on_mid_parent: line(&x, &y).filter(|l| l.slope.df >= 1.0).map(|l| l.slope.into()),
    })
}
