//! Fish without counted young: what the genotypes of their possible parents make of theirs.
//!
//! Given the network, leaves of different broods know nothing of each other, nor do leaves of one brood whose parents are
//! certain. Leaves of one mixed brood do: what one is tells of the shares of its possible parents.

use std::collections::BTreeSet;

use super::ScoringError;
use super::evidence::{Brood, Evidence, Origin};
use super::mixture::ONCE;
use super::pairs::{Pair, parents, sources};
use super::pedigree::{Builder, Pedigree, core};
use super::space::Space;
use super::table::{Table, distribution};
use crate::error::Result;

/// The law of a leaf's genotype given the variables of its brood.
pub(super) struct Leaf {
    /// The fish.
    pub(super) fish: usize,
    /// Variables of the network; none for a founder.
    pub(super) scope: Vec<usize>,
    /// Probabilities, the fish's own genotype running fastest; all 0 where its own class could not come.
    pub(super) law: Vec<f64>,
}

/// The network that the counts and all ancestors of the fish of `herd` make, and the laws of those of the herd that are
/// not in it.
///
/// # Errors
/// A brood of so many possible dams that its factor would be too large.
pub(super) fn herd(
    evidence: &Evidence,
    space: &Space,
    error: &ScoringError,
    herd: &[usize],
) -> Result<(Pedigree, Vec<Leaf>)> {
    let ancestors: Vec<usize> = herd.iter().flat_map(|f| evidence.parents_of(*f)).collect();
    let members = core(evidence, &ancestors);
    let mut builder = Builder::of(evidence, space, error, &members)?;
    let outside = herd.iter().copied().filter(|f| !members.contains(f));
    let leaves: Vec<Leaf> = outside.map(|f| builder.leaf(evidence, &members, f)).collect::<Result<_>>()?;
    // An empty table a leaf makes sure that some step of the elimination holds its parents together.
    for leaf in leaves.iter().filter(|l| !l.scope.is_empty()) {
        let entries = leaf.scope.iter().map(|v| builder.out.net.states[*v]).product();
        builder.out.net.tables.push(Table { scope: leaf.scope.clone(), ln: vec![0.0; entries] });
    }
    Ok((builder.out, leaves))
}

impl Builder<'_> {
    fn leaf(&mut self, evidence: &Evidence, members: &BTreeSet<usize>, fish: usize) -> Result<Leaf> {
        let breeder = &evidence.breeders[fish];
        let Origin::Brood(index) = breeder.origin else {
            return Ok(Leaf { fish, scope: vec![], law: shares(&self.founder(breeder)) });
        };
        let brood = &evidence.broods[index];
        let pairs = self.pairs(brood);
        if let Some(Pair { dam, sire, .. }) = Pair::only(&pairs) {
            let (dams, sires) = (self.out.net.states[dam], self.out.net.states[sire]);
            let each = (0..dams).flat_map(|d| (0..sires).map(move |s| (d, s)));
            let law = each.flat_map(|(d, s)| shares(&self.kid_law(breeder, d, s, true))).collect();
            return Ok(Leaf { fish, scope: vec![dam, sire], law });
        }
        let bred: Vec<usize> =
            members.iter().copied().filter(|f| evidence.breeders[*f].origin == breeder.origin).collect();
        self.mixed_leaf(evidence, brood, &pairs, &bred, fish)
    }

    /// The law of a leaf of a mixed brood given its possible parents and where its breeding sibs came from: how likely
    /// each origin of the leaf is beside theirs, times what that origin gives.
    fn mixed_leaf(
        &mut self,
        evidence: &Evidence,
        brood: &Brood,
        pairs: &[Pair],
        bred: &[usize],
        fish: usize,
    ) -> Result<Leaf> {
        let (parents, sources) = (parents(pairs), sources(pairs));
        let breeder = &evidence.breeders[fish];
        let of_sibs: Vec<usize> = bred.iter().filter_map(|f| self.out.choice(*f)).collect();
        // Two variables for this sum alone; they do not stay in the network.
        let choice = self.new_variable(sources.len());
        let own = self.new_variable(self.space.genotypes(breeder.sex).len());
        let (kids, choices) = ([bred, &[fish]].concat(), [of_sibs.as_slice(), &[choice]].concat());
        let (count, _) = self.count_table(evidence, brood, pairs, (&kids, &choices), ONCE)?;
        let of_choice = self.choice_table(breeder, own, choice, (&parents, &sources));
        let scope = [parents, of_sibs].concat();
        let net = &self.out.net;
        let joint = net.sum_to(&net.product(&[&count, &of_choice], None), &[scope.as_slice(), &[own]].concat());
        let law = joint.ln.chunks_exact(net.states[own]).flat_map(shares).collect();
        self.out.net.states.truncate(choice);
        Ok(Leaf { fish, scope, law })
    }
}

/// Logarithms as shares of their sum; all 0 where all are zero.
fn shares(ln: &[f64]) -> Vec<f64> {
    distribution(ln).into_iter().map(|p| if p.is_finite() { p } else { 0.0 }).collect()
}
