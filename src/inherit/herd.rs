//! What every pair of a herd is expected to give: one elimination for all pairs, and one pass over its cliques for each
//! genotype of each sire.
//!
//! The plain way, an elimination for each pair (`Model::pair`), gives the same and takes as many times longer as there are
//! pairs.

use std::collections::BTreeMap;

use super::error_law::ScoringError;
use super::evidence::{Evidence, Origin, Sex};
use super::leaf::{Leaf, herd};
use super::model::Model;
use super::outlook::{Outlook, outlook, pooled};
use super::reading::Reading;
use super::space::Space;
use super::tree::Tree;
use crate::error::Result;

/// Dams and sires that may be paired, under one mode.
pub struct Herd<'a> {
    model: &'a Model,
    evidence: &'a Evidence,
    error: &'a ScoringError,
    dams: &'a [usize],
    sires: &'a [usize],
    /// One a sex system that is possible, with its weight.
    spaces: Vec<(f64, InSpace<'a>)>,
}

/// A herd in one space.
struct InSpace<'a> {
    space: &'a Space,
    tree: Tree,
    dams: Vec<Reading>,
    sires: Vec<Reading>,
    /// The cliques between the readings.
    useful: Vec<bool>,
}

impl<'a> Herd<'a> {
    /// Weighs the evidence once; `dams` and `sires` are indices of its breeders.
    ///
    /// # Errors
    /// Evidence whose elimination would take too long, with the estimate.
    pub fn new(
        model: &'a Model,
        evidence: &'a Evidence,
        error: &'a ScoringError,
        (dams, sires): (&'a [usize], &'a [usize]),
    ) -> Result<Self> {
        let mut spaces = vec![];
        for (space, weight) in model.spaces.iter().zip(model.declared_or_system_weights(evidence, error)?) {
            let (pedigree, leaves) = herd(evidence, space, error, &[dams, sires].concat())?;
            pedigree.net.check_cost(&model.place(), &[])?;
            let Some(tree) = Tree::new(&pedigree.net).filter(|_| weight > 0.0) else { continue };
            let leaves: BTreeMap<usize, &Leaf> = leaves.iter().map(|l| (l.fish, l)).collect();
            let readings = |of: &[usize], sex: Sex| -> Vec<Reading> {
                let width = space.genotypes(sex).len();
                of.iter().map(|f| Reading::new(&pedigree, &tree, *f, width, leaves.get(f).copied())).collect()
            };
            let (dams, sires) = (readings(dams, Sex::Female), readings(sires, Sex::Male));
            let wanted: Vec<usize> = dams.iter().chain(&sires).filter_map(|r| Some(r.at.as_ref()?.0)).collect();
            let useful = tree.between(&wanted);
            spaces.push((weight, InSpace { space, tree, dams, sires, useful }));
        }
        Ok(Self { model, evidence, error, dams, sires, spaces })
    }

    /// What each dam would give with the sire at this place of the list of sires.
    ///
    /// # Errors
    /// A dam out of the sire's own mixed brood, where the plain way would take too long.
    pub fn outlooks(&self, sire: usize) -> Result<Vec<Outlook>> {
        let mut out = vec![Outlook::new(); self.dams.len()];
        for (weight, in_space) in &self.spaces {
            for (outlook, laws) in out.iter_mut().zip(in_space.laws(sire)) {
                outlook.extend(pooled(in_space.space, &laws, *weight));
            }
        }
        for (dam, out) in self.dams.iter().zip(&mut out) {
            if share_a_mixed_brood(self.evidence, *dam, self.sires[sire]) {
                *out = outlook(self.model, self.evidence, self.error, *dam, self.sires[sire])?;
            }
        }
        Ok(out)
    }
}

impl InSpace<'_> {
    /// For each dam with this sire the probability of each of the space's laws.
    fn laws(&self, sire: usize) -> Vec<Vec<f64>> {
        let sire = &self.sires[sire];
        let mut out = vec![vec![0.0; self.space.laws().len()]; self.dams.len()];
        for genotype in 0..sire.width {
            for (laws, shares) in out.iter_mut().zip(self.dams_with(sire, genotype)) {
                for (own, p) in shares.iter().enumerate() {
                    laws[self.space.law_index(own, genotype)] += p;
                }
            }
        }
        for laws in &mut out {
            let total: f64 = laws.iter().sum();
            laws.iter_mut().for_each(|p| *p = if total > 0.0 { *p / total } else { 0.0 });
        }
        out
    }

    /// Probability of each dam's genotypes together with this genotype of the sire.
    fn dams_with(&self, sire: &Reading, genotype: usize) -> Vec<Vec<f64>> {
        let mut told: Vec<Option<Vec<f64>>> = vec![None; self.dams.len()];
        let share = match sire.part(&self.tree, genotype) {
            None => sire.law[genotype],
            Some((from, part)) => {
                let share = part.iter().sum();
                self.tree.spread(from, part, &self.useful, &mut |clique, belief| {
                    for (dam, told) in self.dams.iter().zip(&mut told) {
                        if dam.at.as_ref().is_some_and(|(at, _)| *at == clique) {
                            *told = Some(dam.read(belief));
                        }
                    }
                });
                share
            }
        };
        // Where no way leads from the sire to a dam, nothing is told of her.
        let apart = |dam: &Reading| dam.alone(&self.tree).into_iter().map(|p| p * share).collect();
        told.into_iter().zip(&self.dams).map(|(told, dam)| told.unwrap_or_else(|| apart(dam))).collect()
    }
}

/// Two fish out of one brood whose parents are not certain: what one is tells of where the other came from.
fn share_a_mixed_brood(evidence: &Evidence, dam: usize, sire: usize) -> bool {
    let (Origin::Brood(a), Origin::Brood(b)) = (evidence.breeders[dam].origin, evidence.breeders[sire].origin) else {
        return false;
    };
    a == b && (evidence.broods[a].parents.len() > 1 || !evidence.broods[a].stored.is_empty())
}
