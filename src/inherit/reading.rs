//! A fish's genotype read off the belief of one clique.

use super::leaf::Leaf;
use super::pedigree::Pedigree;
use super::tree::{Tree, gathered};

/// Where a fish's genotype is to be read.
pub(super) struct Reading {
    /// The clique, with the row of `law` for each of its entries; `None` for a fish that hangs on nothing else.
    pub(super) at: Option<(usize, Vec<usize>)>,
    /// Probability of each genotype, row by row.
    pub(super) law: Vec<f64>,
    /// Genotypes.
    pub(super) width: usize,
}

impl Reading {
    /// Of a fish of the network, or of a leaf.
    pub(super) fn new(pedigree: &Pedigree, tree: &Tree, fish: usize, width: usize, leaf: Option<&Leaf>) -> Self {
        let (scope, law) = match leaf {
            Some(leaf) => (leaf.scope.clone(), leaf.law.clone()),
            None => (pedigree.variable(fish).into_iter().collect(), identity(width)),
        };
        let at = if scope.is_empty() { None } else { tree.holding(&scope) };
        Self { at: at.map(|c| (c, pedigree.net.places(&tree.cliques[c].scope, &scope))), law, width }
    }

    /// The part of its clique's belief in which the fish has this genotype; `None` for a fish without a clique.
    pub(super) fn part(&self, tree: &Tree, genotype: usize) -> Option<(usize, Vec<f64>)> {
        let (clique, rows) = self.at.as_ref()?;
        let of_row = |row: &usize| self.law[row * self.width + genotype];
        Some((*clique, tree.cliques[*clique].belief.iter().zip(rows).map(|(b, row)| b * of_row(row)).collect()))
    }

    /// Probability of each genotype, from (a part of) the belief of its clique.
    pub(super) fn read(&self, belief: &[f64]) -> Vec<f64> {
        let Some((_, places)) = &self.at else { return self.law.clone() };
        let rows = gathered(belief, places, self.law.len() / self.width);
        let mut out = vec![0.0; self.width];
        for (share, law) in rows.iter().zip(self.law.chunks_exact(self.width)) {
            out.iter_mut().zip(law).for_each(|(sum, p)| *sum += share * p);
        }
        out
    }

    /// Probability of each genotype with nothing more learned.
    pub(super) fn alone(&self, tree: &Tree) -> Vec<f64> {
        self.read(self.at.as_ref().map_or(&[][..], |(clique, _)| &tree.cliques[*clique].belief))
    }
}

/// The law of a fish that stands in the clique itself.
fn identity(width: usize) -> Vec<f64> {
    (0..width * width).map(|i| if i / width == i % width { 1.0 } else { 0.0 }).collect()
}
