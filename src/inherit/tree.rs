//! The steps of an elimination as a tree of cliques, each with what the whole net says of its variables; and what becomes
//! of all of them when something more is learned in one place.
//!
//! Source: the clique tree of Lauritzen & Spiegelhalter 1988 (from memory). One elimination serves any number of
//! questions about pairs of variables: each is one pass over the tree, in plain probabilities.

use super::elimination::Belief;
use super::table::Network;

/// A set of variables that some step of the elimination held together.
pub(super) struct Clique {
    /// The variables, the last one running fastest.
    pub(super) scope: Vec<usize>,
    /// Probability of each assignment; sums to 1.
    pub(super) belief: Vec<f64>,
    links: Vec<Link>,
}

/// The way from one clique to a neighbour.
struct Link {
    to: usize,
    /// For each entry of this clique, and of the neighbour, its place in the table over what they share.
    here: Vec<usize>,
    there: Vec<usize>,
    /// Probability of each assignment of what they share.
    shared: Vec<f64>,
}

/// All cliques of a net.
pub(super) struct Tree {
    pub(super) cliques: Vec<Clique>,
}

impl Tree {
    /// The tree of a net; `None` where the net's sum is zero.
    pub(super) fn new(net: &Network) -> Option<Self> {
        let (total, beliefs) = net.beliefs();
        if total == f64::NEG_INFINITY {
            return None;
        }
        let next: Vec<Option<usize>> = beliefs.iter().map(|b| b.next).collect();
        let mut cliques: Vec<Clique> = beliefs.into_iter().map(clique).collect();
        for (from, to) in next.into_iter().enumerate().filter_map(|(from, to)| Some((from, to?))) {
            // What a step sends on is about all its variables but the one it took out, which runs fastest.
            let shared: Vec<usize> =
                cliques[from].scope.split_last().map(|(_, rest)| rest.to_vec()).unwrap_or_default();
            let here = net.places(&cliques[from].scope, &shared);
            let there = net.places(&cliques[to].scope, &shared);
            let size = shared.iter().map(|v| net.states[*v]).product();
            let sums = gathered(&cliques[from].belief, &here, size);
            cliques[to].links.push(Link { to: from, here: there.clone(), there: here.clone(), shared: sums.clone() });
            cliques[from].links.push(Link { to, here, there, shared: sums });
        }
        Some(Self { cliques })
    }

    /// The first clique that holds all of `scope`.
    pub(super) fn holding(&self, scope: &[usize]) -> Option<usize> {
        self.cliques.iter().position(|c| scope.iter().all(|v| c.scope.contains(v)))
    }

    /// For each clique whether it lies on the way between two of `wanted`.
    pub(super) fn between(&self, wanted: &[usize]) -> Vec<bool> {
        let mut useful = vec![true; self.cliques.len()];
        let mut ends: Vec<usize> = (0..self.cliques.len()).collect();
        while let Some(c) = ends.pop() {
            let mut near = self.cliques[c].links.iter().map(|l| l.to).filter(|to| useful[*to]);
            let (first, second) = (near.next(), near.next());
            if useful[c] && second.is_none() && !wanted.contains(&c) {
                useful[c] = false;
                ends.extend(first);
            }
        }
        useful
    }

    /// Tells every useful clique that can be reached what `start`, the part of clique `from`'s belief in which something
    /// is so, makes of its own: `see` gets the clique and the probability of each assignment and of that something.
    pub(super) fn spread(&self, from: usize, start: Vec<f64>, useful: &[bool], see: &mut dyn FnMut(usize, &[f64])) {
        let mut open = vec![(from, from, start)];
        while let Some((at, before, part)) = open.pop() {
            see(at, &part);
            for link in self.cliques[at].links.iter().filter(|l| l.to != before && useful[l.to]) {
                let mut ratio = gathered(&part, &link.here, link.shared.len());
                ratio.iter_mut().zip(&link.shared).for_each(|(r, all)| *r = if *all > 0.0 { *r / all } else { 0.0 });
                let belief = &self.cliques[link.to].belief;
                open.push((link.to, at, belief.iter().zip(&link.there).map(|(b, place)| b * ratio[*place]).collect()));
            }
        }
    }
}

fn clique(belief: Belief) -> Clique {
    let top = belief.table.ln.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let parts: Vec<f64> = belief.table.ln.iter().map(|ln| (ln - top).exp()).collect();
    let total: f64 = parts.iter().sum();
    Clique { scope: belief.table.scope, belief: parts.into_iter().map(|p| p / total).collect(), links: vec![] }
}

/// Sums of entries by place.
pub(super) fn gathered(values: &[f64], places: &[usize], size: usize) -> Vec<f64> {
    let mut sums = vec![0.0; size];
    values.iter().zip(places).for_each(|(value, place)| sums[*place] += value);
    sums
}
