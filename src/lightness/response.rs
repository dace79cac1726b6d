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

/// Cumulated over the generations whose parents were measured: S is the mid-parents' lead over the generation they came from, R the
/// change from that generation to theirs.
pub(super) fn heritability(broods: &[BroodPoint], generations: &[Generation]) -> Option<Heritability> {
    let (mut s, mut r, mut differential, mut response) = (0.0, 0.0, Vec::new(), Vec::new());
    for pair in generations.windows(2).filter(|w| w[1].generation == w[0].generation + 1) {
        let chosen: Vec<f64> =
            broods.iter().filter(|b| b.generation == pair[1].generation).filter_map(|b| b.mid_parent).collect();
        let Some(parents) = mean(&chosen) else { continue };
        s += parents - pair[0].mean;
        r += pair[1].mean - pair[0].mean;
        differential.push(s);
        response.push(r);
    }
    let realised = realised_heritability(&differential, &response)?;
    let (x, y): (Vec<f64>, Vec<f64>) = broods.iter().filter_map(|b| Some((b.mid_parent?, b.value))).unzip();
    Some(Heritability {
        realised,
        generations: differential.len(),
        differential: s,
        response: r,
        on_mid_parent: line(&x, &y).filter(|l| l.slope.df >= 1.0).map(|l| l.slope.into()),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_generation_without_measured_parents_adds_nothing_to_either_sum() {
        // Means 50, 52, 54; the parents of the last alone were measured, 2 above the generation they came from.
        let means = [50.0, 52.0, 54.0];
        let brood = |generation: u32| BroodPoint {
            brood: format!("B{generation}"),
            generation,
            fish: 10,
            value: means[generation as usize],
            age: None,
            mid_parent: (generation == 2).then_some(54.0),
            floor: None,
        };
        let broods: Vec<BroodPoint> = (0..3).map(brood).collect();
        let generations: Vec<Generation> = (0..3)
            .map(|g| Generation { generation: g, broods: 1, fish: 10, mean: means[g as usize], interval: None })
            .collect();
        let found = heritability(&broods, &generations).unwrap();
        assert_eq!((found.generations, found.differential, found.response, found.realised), (1, 2.0, 2.0, 1.0));
    }
}
