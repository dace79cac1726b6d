//! What a pair is expected to give: the class laws its genotypes may follow, each with its probability, under each mode.

use super::error_law::ScoringError;
use super::evidence::{Evidence, Sex};
use super::model::Model;
use super::space::{ClassLaw, Space};
use crate::error::{Error, Result};

/// One law the young of a pair may follow, with its probability under a mode.
#[derive(Debug, Clone, PartialEq)]
pub struct Chance {
    /// Its probability given the evidence.
    pub probability: f64,
    /// Mendelian class probabilities, before scoring error.
    pub law: ClassLaw,
}

/// What a pair is expected to give under one mode; probabilities sum to 1, none where the mode is impossible.
pub type Outlook = Vec<Chance>;

/// The outlook of a dam and a sire of the evidence.
///
/// # Errors
/// Evidence whose elimination would take too long.
pub fn outlook(model: &Model, evidence: &Evidence, error: &ScoringError, dam: usize, sire: usize) -> Result<Outlook> {
    let weights = model.declared_or_system_weights(evidence, error)?;
    let mut out: Outlook = vec![];
    for ((space, pair), weight) in model.spaces.iter().zip(model.pair(evidence, error, dam, sire)?).zip(weights) {
        let mut by_law = vec![0.0; space.laws().len()];
        for (d, s, p) in pair {
            by_law[space.law_index(d, s)] += p;
        }
        out.extend(pooled(space, &by_law, weight));
    }
    Ok(out)
}

/// The laws of a space that may hold, with their probabilities times the space's weight.
pub(super) fn pooled<'a>(space: &'a Space, by_law: &'a [f64], weight: f64) -> impl Iterator<Item = Chance> + 'a {
    let chances = space.laws().iter().zip(by_law).filter(|(_, p)| **p > 0.0);
    chances.map(move |(law, p)| Chance { probability: p * weight, law: law.clone() })
}

/// The outlook of a pair whose genotypes are known by name, such as `+/m`.
///
/// # Errors
/// Names the genotype the mode does not have, and those it has.
pub fn outlook_of_genotypes(model: &Model, dam: &str, sire: &str) -> Result<Outlook> {
    let space = &model.spaces[0];
    let find = |sex: Sex, name: &str| {
        let genotypes = space.genotypes(sex);
        genotypes.iter().position(|g| g.name == name).ok_or_else(|| {
            let known: Vec<&str> = genotypes.iter().map(|g| g.name.as_str()).collect();
            let hint = format!("genotypes of this sex are {}", known.join(", "));
            Error::usage(format!("genotype {name}"), format!("is not one of mode {}", model.mode.name), hint)
        })
    };
    let (dam, sire) = (find(Sex::Female, dam)?, find(Sex::Male, sire)?);
    Ok(vec![Chance { probability: 1.0, law: space.law(dam, sire).clone() }])
}

/// Expected class probabilities of one sex (or of young of either sex): other, middle, target. `None` where the pair may
/// have none.
pub fn expected(outlook: &Outlook, sex: Option<Sex>) -> Option<[f64; 3]> {
    let (mut sum, mut total) = ([0.0; 3], 0.0);
    for chance in outlook {
        if let Some(row) = chance.law.of(sex) {
            total += chance.probability;
            sum.iter_mut().zip(row).for_each(|(s, p)| *s += chance.probability * p);
        }
    }
    (total > 0.0).then(|| sum.map(|s| s / total))
}

/// Largest number of fry looked at; a class rarer than that is out of reach of any breeder.
const MOST_FRY: u32 = 4096;

/// The fewest fry among which at least one shows the target with the probability asked for. `None` when the pair may
/// well never show it.
pub fn fry_needed(outlook: &[(f64, Outlook)], confidence: f64) -> Option<u32> {
    let mass: f64 = outlook.iter().map(|(weight, o)| weight * o.iter().map(|c| c.probability).sum::<f64>()).sum();
    let missed = |n: u32| -> f64 {
        outlook
            .iter()
            .flat_map(|(weight, chances)| chances.iter().map(move |c| (weight, c)))
            .map(|(weight, c)| {
                let target = c.law.of(None).map_or(0.0, |row| row[2]);
                weight * c.probability * (f64::from(n) * (1.0 - target).ln()).exp()
            })
            .sum::<f64>()
            / mass
    };
    // Rounding must not ask for one fry more.
    let enough = |n: u32| missed(n) <= 1.0 - confidence + 1e-12;
    if mass <= 0.0 || !enough(MOST_FRY) {
        return None;
    }
    let (mut low, mut high) = (0, MOST_FRY);
    while high - low > 1 {
        let middle = (low + high) / 2;
        if enough(middle) { high = middle } else { low = middle }
    }
    Some(high)
}
