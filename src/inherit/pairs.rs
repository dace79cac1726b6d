//! The pairs of parents that a brood's young may come from, as variables of the network.

use std::collections::BTreeSet;

/// A possible dam of a brood with a sire she may have had it by, as variables of the network.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pair {
    pub(super) dam: usize,
    pub(super) sire: usize,
    /// The earlier sire, where he may have fathered young of hers too.
    pub(super) stored: Option<usize>,
}

impl Pair {
    /// The only pair that a brood can be of.
    pub(super) fn only(pairs: &[Self]) -> Option<Self> {
        match pairs {
            [pair] if pair.stored.is_none() => Some(*pair),
            _ => None,
        }
    }
}

/// All variables that may stand as parents, each once.
pub(super) fn parents(pairs: &[Pair]) -> Vec<usize> {
    let all: BTreeSet<usize> = sources(pairs).into_iter().flat_map(|(dam, sire)| [dam, sire]).collect();
    all.into_iter().collect()
}

/// Every dam and sire a young fish may come from: each dam by her sire, then each dam who may have any of his by the earlier sire.
pub(super) fn sources(pairs: &[Pair]) -> Vec<(usize, usize)> {
    let own = pairs.iter().map(|pair| (pair.dam, pair.sire));
    own.chain(pairs.iter().filter_map(|pair| Some((pair.dam, pair.stored?)))).collect()
}
