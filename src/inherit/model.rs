//! A mode under the sex system declared, or under both where it is unknown: likelihood, posteriors, joint posteriors.

use std::collections::BTreeMap;

use super::error_law::ScoringError;
use super::evidence::{Breeder, Class, Evidence, Origin, Sex};
use super::leaf::{Leaf, herd};
use super::mode::{Mode, SexSystem};
use super::pedigree::{self, Pedigree};
use super::reading::Reading;
use super::space::{Genotype, Space};
use super::table::ln_sum;
use super::tree::Tree;
use crate::error::Result;

/// What is known about how sex is determined.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SexSystems {
    /// One system, declared.
    Known(SexSystem),
    /// XX/XY or W/X/Y, each with probability one half.
    Unknown,
}

/// A mode with its genotypes worked out.
#[derive(Debug, Clone)]
pub struct Model {
    /// The mode.
    pub mode: Mode,
    /// One space for each sex system in play.
    pub spaces: Vec<Space>,
}

/// A genotype with its posterior probability.
#[derive(Debug, Clone, PartialEq)]
pub struct GenotypeProbability {
    /// As printed: `+/m`.
    pub genotype: String,
    /// Its probability.
    pub probability: f64,
    /// Carries a mutant allele that it does not show.
    pub carrier: bool,
    /// The class it shows.
    pub class: Class,
}

/// What the evidence says under one mode.
#[derive(Debug, Clone, PartialEq)]
pub struct Posterior {
    /// Natural logarithm of the likelihood; `-inf` when impossible.
    pub ln_likelihood: f64,
    /// One weight for each space of the model.
    pub systems: Vec<f64>,
    /// For each breeder its genotypes; empty where the mode cannot explain the evidence.
    pub genotypes: Vec<Vec<GenotypeProbability>>,
}

impl Posterior {
    /// Probability that a breeder in truth shows another class than `class`; a middle class counts as other where the evidence knows none.
    pub(super) fn shows_otherwise(&self, evidence: &Evidence, fish: usize, class: Class) -> f64 {
        let class = evidence.collapsed(class);
        let others = self.genotypes[fish].iter().filter(|g| evidence.collapsed(g.class) != class);
        others.map(|g| g.probability).sum()
    }
}

/// Two fish's joint genotype probabilities in one space: `(dam genotype, sire genotype, probability)`.
pub type PairPosterior = Vec<(usize, usize, f64)>;

impl Model {
    /// Works the mode out under the sex systems in play.
    pub fn new(mode: Mode, systems: SexSystems) -> Self {
        let systems = match systems {
            SexSystems::Known(system) => vec![system],
            SexSystems::Unknown if mode.depends_on_sex() => vec![SexSystem::Xy, SexSystem::Wxy],
            SexSystems::Unknown => vec![SexSystem::Xy],
        };
        let spaces = systems.into_iter().map(|s| Space::new(&mode, s)).collect();
        Self { mode, spaces }
    }

    pub(super) fn place(&self) -> String {
        format!("mode {}", self.mode.name)
    }

    fn pedigree(&self, space: &Space, evidence: &Evidence, error: &ScoringError, extra: &[usize]) -> Result<Pedigree> {
        let pedigree = pedigree::build(evidence, space, error, extra)?;
        pedigree.net.check_cost(&self.place(), &[])?;
        Ok(pedigree)
    }

    /// ln likelihood in each space.
    fn ln_by_system(&self, evidence: &Evidence, error: &ScoringError) -> Result<Vec<f64>> {
        let ln = |space: &Space| {
            let pedigree = self.pedigree(space, evidence, error, &[])?;
            // A founder nobody bred from is not in the network, and yet speaks where its class is taken as certain.
            let explained = pedigree::unexplained(evidence, space, error).is_empty();
            Ok(if explained { pedigree.net.ln_total() } else { f64::NEG_INFINITY })
        };
        self.spaces.iter().map(ln).collect()
    }

    /// How likely each space of the model is; all 0 where the mode is impossible.
    ///
    /// # Errors
    /// As [`Model::ln_likelihood`].
    pub fn system_weights(&self, evidence: &Evidence, error: &ScoringError) -> Result<Vec<f64>> {
        Ok(weights(&self.ln_by_system(evidence, error)?))
    }

    /// As [`Model::system_weights`]; 1 where one system is declared, whatever the evidence.
    pub(super) fn declared_or_system_weights(&self, evidence: &Evidence, error: &ScoringError) -> Result<Vec<f64>> {
        if self.spaces.len() == 1 { Ok(vec![1.0]) } else { self.system_weights(evidence, error) }
    }

    /// Natural logarithm of the probability of all counts given the breeders' own classes; `-inf` when impossible.
    ///
    /// # Errors
    /// Evidence whose elimination would take too long, with the estimate.
    pub fn ln_likelihood(&self, evidence: &Evidence, error: &ScoringError) -> Result<f64> {
        let each = self.ln_by_system(evidence, error)?;
        Ok(ln_sum(&each) - (each.len() as f64).ln())
    }

    /// Whether some genotype shows this class.
    pub fn shows(&self, class: Class) -> bool {
        let genotypes = |space: &Space| Sex::BOTH.iter().any(|s| space.genotypes(*s).iter().any(|g| g.class == class));
        self.spaces.iter().any(genotypes)
    }

    /// Whether some fish shows the target with one copy beside a wild one; `None` where no fish can have it so, as on the Y alone.
    pub fn one_copy_shows(&self) -> Option<bool> {
        let all = self.spaces.iter().flat_map(|space| Sex::BOTH.iter().flat_map(|sex| space.genotypes(*sex)));
        let single: Vec<Class> = all.filter(|g| g.single && g.lives()).map(|g| g.class).collect();
        (!single.is_empty()).then(|| single.contains(&Class::Target))
    }

    /// Founders whose own class the mode never shows, under any sex system in play: taken as scored, they rule it out.
    pub fn unexplained(&self, evidence: &Evidence) -> Vec<usize> {
        let certain = ScoringError::even(0.0, evidence.class_count());
        let mut spaces = self.spaces.iter().map(|space| pedigree::unexplained(evidence, space, &certain));
        let first = spaces.next().unwrap_or_default();
        spaces.fold(first, |left, also| left.into_iter().filter(|f| also.contains(f)).collect())
    }

    /// The likelihood with every breeder's genotype probabilities, breeders without counted young included.
    ///
    /// # Errors
    /// As [`Model::ln_likelihood`].
    pub fn posterior(&self, evidence: &Evidence, error: &ScoringError) -> Result<Posterior> {
        let each = self.ln_by_system(evidence, error)?;
        let total = ln_sum(&each);
        let systems = weights(&each);
        let mut genotypes: Vec<Vec<GenotypeProbability>> = vec![vec![]; evidence.breeders.len()];
        for (space, weight) in self.spaces.iter().zip(&systems).filter(|(_, w)| **w > 0.0) {
            for (fish, probabilities) in self.marginals(space, evidence, error)?.into_iter().enumerate() {
                let states = space.genotypes(evidence.breeders[fish].sex);
                for (state, p) in states.iter().zip(probabilities) {
                    add(&mut genotypes[fish], state, p * weight);
                }
            }
        }
        Ok(Posterior { ln_likelihood: total - (each.len() as f64).ln(), systems, genotypes })
    }

    /// Each breeder's distribution in one space. Of fish without young that evidence cannot tell apart one is read for
    /// all.
    fn marginals(&self, space: &Space, evidence: &Evidence, error: &ScoringError) -> Result<Vec<Vec<f64>>> {
        let mut out = vec![vec![]; evidence.breeders.len()];
        let kinds = leaf_kinds(evidence);
        let firsts: Vec<usize> = kinds.iter().map(|(first, _)| *first).collect();
        let (pedigree, leaves) = herd(evidence, space, error, &firsts)?;
        pedigree.net.check_cost(&self.place(), &[])?;
        let Some(tree) = Tree::new(&pedigree.net) else { return Ok(out) };
        let read = |fish: usize, leaf: Option<&Leaf>| {
            let width = space.genotypes(evidence.breeders[fish].sex).len();
            Reading::new(&pedigree, &tree, fish, width, leaf).alone(&tree)
        };
        for fish in (0..out.len()).filter(|f| pedigree.variable(*f).is_some()) {
            out[fish] = read(fish, None);
        }
        for (leaf, (_, alike)) in leaves.iter().zip(&kinds) {
            let own = normalised(read(leaf.fish, Some(leaf)));
            alike.iter().for_each(|fish| out[*fish].clone_from(&own));
        }
        Ok(out)
    }

    /// Joint posterior of a dam's and a sire's genotypes in each space, given the evidence.
    ///
    /// # Errors
    /// As [`Model::ln_likelihood`].
    pub fn pair(
        &self,
        evidence: &Evidence,
        error: &ScoringError,
        dam: usize,
        sire: usize,
    ) -> Result<Vec<PairPosterior>> {
        self.spaces
            .iter()
            .map(|space| {
                let pedigree = pedigree::build(evidence, space, error, &[dam, sire])?;
                let (Some(d), Some(s)) = (pedigree.variable(dam), pedigree.variable(sire)) else { return Ok(vec![]) };
                pedigree.net.check_cost(&self.place(), &[d, s])?;
                let joint = pedigree.net.joint(&[d, s]).unwrap_or_default();
                let sires = space.genotypes(Sex::Male).len();
                Ok(joint
                    .into_iter()
                    .enumerate()
                    .map(|(i, p)| (i / sires, i % sires, p))
                    .filter(|(_, _, p)| *p > 0.0)
                    .collect())
            })
            .collect()
    }

    /// The likeliest genotypes of all breeders together, by index into the space's genotypes; unknown earlier sires go
    /// by their cross. `None` when the mode cannot explain the evidence.
    ///
    /// # Errors
    /// As [`Model::ln_likelihood`].
    pub fn best(&self, space: usize, evidence: &Evidence, error: &ScoringError) -> Result<Option<BestGenotypes>> {
        let pedigree = self.pedigree(&self.spaces[space], evidence, error, &[])?;
        let Some(chosen) = pedigree.net.best() else { return Ok(None) };
        let fish: Vec<Option<usize>> =
            (0..evidence.breeders.len()).map(|f| pedigree.variable(f).map(|v| chosen[v])).collect();
        let name = |(breeder, own): (&Breeder, &Option<usize>)| {
            own.map(|at| self.spaces[space].genotypes(breeder.sex)[at].name.clone())
        };
        let names = evidence.breeders.iter().zip(&fish).map(name).collect();
        let otherwise = |fish: &usize, own: usize| {
            let breeder = &evidence.breeders[*fish];
            let shows = self.spaces[space].genotypes(breeder.sex)[own].class;
            breeder.class.is_some_and(|class| evidence.collapsed(class) != evidence.collapsed(shows))
        };
        let mis_scored = (0..fish.len()).filter(|at| fish[*at].is_some_and(|own| otherwise(at, own))).collect();
        let unknown = evidence
            .broods
            .iter()
            .filter_map(|b| Some((b.cross.clone(), chosen[pedigree.unknown_sire(&b.cross)?])))
            .collect();
        Ok(Some(BestGenotypes { fish, names, unknown, mis_scored }))
    }
}

/// The likeliest joint genotypes, as indices into a space's genotypes.
#[derive(Debug, Clone, PartialEq)]
pub struct BestGenotypes {
    /// One a breeder; `None` for fish without counted young.
    pub fish: Vec<Option<usize>>,
    /// The same as printed.
    pub names: Vec<Option<String>>,
    /// Unknown earlier sires by cross.
    pub unknown: BTreeMap<String, usize>,
    /// Breeders whose own class these genotypes do not show.
    pub mis_scored: Vec<usize>,
}

/// Shares of likelihoods given as logarithms; all 0 where all are zero.
fn weights(ln: &[f64]) -> Vec<f64> {
    let total = ln_sum(ln);
    ln.iter().map(|ln| if total > f64::NEG_INFINITY { (ln - total).exp() } else { 0.0 }).collect()
}

fn add(list: &mut Vec<GenotypeProbability>, state: &Genotype, probability: f64) {
    let Genotype { name, carrier, class, .. } = state;
    match list.iter_mut().find(|g| g.genotype == *name) {
        Some(known) => known.probability += probability,
        None => {
            list.push(GenotypeProbability { genotype: name.clone(), probability, carrier: *carrier, class: *class })
        }
    }
}

/// Fish that are nobody's parent, as far as the evidence goes, by kinds it cannot tell apart: the first of each kind, and
/// all of it.
fn leaf_kinds(evidence: &Evidence) -> Vec<(usize, Vec<usize>)> {
    let all = 0..evidence.breeders.len();
    let parents: Vec<usize> = all.clone().flat_map(|f| evidence.parents_of(f)).collect();
    let members = pedigree::core(evidence, &parents);
    let mut kinds: Vec<(usize, Vec<usize>)> = vec![];
    for fish in all.filter(|f| !members.contains(f)) {
        match kinds.iter_mut().find(|(first, _)| alike(evidence, *first, fish)) {
            Some((_, alike)) => alike.push(fish),
            None => kinds.push((fish, vec![fish])),
        }
    }
    kinds
}

fn normalised(mut values: Vec<f64>) -> Vec<f64> {
    let total: f64 = values.iter().sum();
    values.iter_mut().for_each(|v| *v = if total > 0.0 { *v / total } else { 0.0 });
    values
}

/// Whether two fish without counted young have the same posterior: same brood or both founders, same sex, same class.
pub fn alike(evidence: &Evidence, a: usize, b: usize) -> bool {
    let key = |f: usize| -> (Sex, Option<Class>, bool, Option<usize>) {
        let breeder = &evidence.breeders[f];
        let brood = match breeder.origin {
            Origin::Brood(b) => Some(b),
            Origin::Founder => None,
        };
        (breeder.sex, breeder.class, breeder.pure, brood)
    };
    key(a) == key(b)
}
