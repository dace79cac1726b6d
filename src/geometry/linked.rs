//! Places that hang together, each naming the next one on the way to the one that stands for all (union-find).

/// The place that stands for all those linked with `k`; ways are made shorter as they are gone.
pub(crate) fn root(parent: &mut [usize], mut k: usize) -> usize {
    while parent[k] != k {
        parent[k] = parent[parent[k]];
        k = parent[k];
    }
    k
}
