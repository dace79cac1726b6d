//! A fish under suspicion: does it carry the allele, and how many young from a test mating would clear it?

use super::evidence::{Breeder, Class, Sex};
use super::model::{GenotypeProbability, Model};
use super::space::{Genotype, Space};

/// Young looked at before giving up: a mate that cannot show the allele never clears a fish.
const MOST_YOUNG: u32 = 1000;

/// The mate of a test mating.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TestMate {
    /// Shows the target and carries nothing else.
    Target,
    /// Known to carry the allele without showing it.
    Carrier,
}

/// What a test mating would say, if no young of it shows the target.
#[derive(Debug, Clone, PartialEq)]
pub struct TestMating {
    /// The mate.
    pub mate: TestMate,
    /// Young, all without the target, that lower the probability of carrying to 5 %.
    pub young_for_5: Option<u32>,
    /// The same for 1 %.
    pub young_for_1: Option<u32>,
}

/// Probability of carrying after `young` without a mutant, when a carrier gives mutants with probability `share`.
///
/// Bayes: prior (1-p)ⁿ / (prior (1-p)ⁿ + 1 - prior); figures in `tests/reference/inherit_ratios.rs`.
pub fn carrier_after(prior: f64, share: f64, young: u32) -> f64 {
    let missed = prior * (f64::from(young) * (1.0 - share).ln()).exp();
    missed / (missed + 1.0 - prior)
}

/// The fewest young, none of them mutant, after which the probability of carrying is at most `limit`.
pub fn young_to_clear(prior: f64, share: f64, limit: f64) -> Option<u32> {
    (0..=MOST_YOUNG).find(|n| carrier_after(prior, share, *n) <= limit)
}

/// Test matings of a fish under a mode, given its own genotype probabilities (one space only); none of a
/// fish that shows the target itself, which no young without it clear.
pub fn test_matings(model: &Model, genotypes: &[GenotypeProbability], fish: &Breeder) -> Vec<TestMating> {
    if fish.class == Some(Class::Target) {
        return vec![];
    }
    let (space, sex) = (&model.spaces[0], fish.sex);
    let own: Vec<(usize, f64, bool)> = genotypes
        .iter()
        .filter_map(|g| {
            let at = space.genotypes(sex).iter().position(|s| s.name == g.genotype)?;
            Some((at, g.probability, g.carrier))
        })
        .collect();
    [TestMate::Target, TestMate::Carrier]
        .into_iter()
        .filter_map(|mate| {
            let with = find_mate(space, sex, mate)?;
            let after = |young: u32| carrying(space, sex, &own, with, young);
            // A few young can make carrying likelier, by clearing the fish of more than that: the limit has to hold from
            // there on.
            let young_for = |limit: f64| match (0..=MOST_YOUNG).rfind(|n| after(*n) > limit) {
                None => Some(0),
                Some(MOST_YOUNG) => None,
                Some(last) => Some(last + 1),
            };
            Some(TestMating { mate, young_for_5: young_for(0.05), young_for_1: young_for(0.01) })
        })
        .collect()
}

/// The last genotype of the kind that lives: the one with most mutant alleles.
fn find_mate(space: &Space, sex: Sex, mate: TestMate) -> Option<usize> {
    let other = if sex == Sex::Female { Sex::Male } else { Sex::Female };
    let shown = |g: &Genotype| match mate {
        TestMate::Target => g.class == Class::Target,
        TestMate::Carrier => g.carrier,
    };
    let fits = |g: &Genotype| g.lives() && shown(g);
    space.genotypes(other).iter().rposition(fits)
}

fn carrying(space: &Space, sex: Sex, own: &[(usize, f64, bool)], mate: usize, young: u32) -> f64 {
    let (mut carrier, mut all) = (0.0, 0.0);
    for (genotype, probability, carries) in own {
        let (dam, sire) = if sex == Sex::Female { (*genotype, mate) } else { (mate, *genotype) };
        let target = space.law(dam, sire).of(None).map_or(0.0, |row| row[2]);
        let missed = probability * (1.0 - target).powf(f64::from(young));
        all += missed;
        carrier += if *carries { missed } else { 0.0 };
    }
    if all > 0.0 { carrier / all } else { 0.0 }
}
