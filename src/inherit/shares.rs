//! Integrals over unknown shares: pooled dams (uniform over the simplex) and stored sperm (half the mass at 0, else
//! uniform on 0 to 1).
//!
//! The integrands are polynomials in the shares, so Gauss–Legendre quadrature with enough nodes is exact.

/// Prior probability that an earlier sire fathered none of a brood ; invented: as likely as not.
const NO_STORED_SPERM: f64 = 0.5;

/// The share of a brood that an earlier sire is expected to have fathered while nothing is counted: the mean of that prior.
pub const EARLIER_SHARE: f64 = (1.0 - NO_STORED_SPERM) / 2.0;

/// One point of a quadrature.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Node {
    /// Natural logarithm of its weight; all weights sum to 1.
    pub(super) ln_weight: f64,
    /// Share of each source.
    pub(super) shares: Vec<f64>,
}

/// Nodes that integrate polynomials up to `degree` on 0..1: exactly where few suffice, else to better than 1e-9.
///
/// A likelihood of n fish is a peak of width 1/√n; with N nodes the error falls as exp(-2 N²/n), so √(12 n) nodes leave
/// e⁻²⁴ of it.
pub(super) fn node_count(degree: usize) -> usize {
    let exact = degree / 2 + 1;
    let enough = (12 * degree).isqrt() + 3;
    exact.min(enough)
}

/// Gauss–Legendre nodes and weights on 0..1, by Newton's method from the usual cosine start.
pub(super) fn legendre(n: usize) -> Vec<(f64, f64)> {
    let order = n as f64;
    (0..n)
        .map(|i| {
            let mut x = (std::f64::consts::PI * (i as f64 + 0.75) / (order + 0.5)).cos();
            let mut slope = 1.0;
            // Newton doubles the correct digits each time; eight steps are more than f64 holds.
            for _ in 0..8 {
                let (mut before, mut now) = (1.0, x);
                for k in 2..=n {
                    let k = k as f64;
                    (before, now) = (now, ((2.0 * k - 1.0) * x * now - (k - 1.0) * before) / k);
                }
                slope = order * (x * now - before) / (x * x - 1.0);
                x -= now / slope;
            }
            let weight = 1.0 / ((1.0 - x * x) * slope * slope);
            ((1.0 + x) / 2.0, weight)
        })
        .collect()
}

/// Shares of groups of dams when the dams' shares are uniform over the simplex: Dirichlet with the group sizes.
///
/// Stick-breaking turns it into nested integrals on 0..1, each with a beta density, again a polynomial.
pub(super) fn dam_nodes(group_sizes: &[usize], degree: usize) -> Vec<Node> {
    let mut nodes = vec![Node { ln_weight: 0.0, shares: vec![] }];
    let mut behind: usize = group_sizes.iter().sum();
    for (i, size) in group_sizes.iter().enumerate() {
        behind -= size;
        if i + 1 == group_sizes.len() {
            for node in &mut nodes {
                node.shares.push(1.0 - node.shares.iter().sum::<f64>());
            }
            break;
        }
        let grid = legendre(node_count(degree + size + behind - 2));
        let (a, b) = (*size as f64, behind as f64);
        let scale = statrs::function::beta::ln_beta(a, b);
        nodes = nodes
            .iter()
            .flat_map(|node| {
                let left = 1.0 - node.shares.iter().sum::<f64>();
                grid.iter().map(move |(t, w)| {
                    let density = (a - 1.0) * t.ln() + (b - 1.0) * (1.0 - t).ln() - scale;
                    let shares = node.shares.iter().copied().chain([left * t]).collect();
                    Node { ln_weight: node.ln_weight + w.ln() + density, shares }
                })
            })
            .collect();
    }
    nodes
}

/// The share of an earlier sire's young, as `(ln weight, share)`.
pub(super) fn earlier_nodes(degree: usize) -> Vec<(f64, f64)> {
    let spread = legendre(node_count(degree)).into_iter().map(|(t, w)| ((w * (1.0 - NO_STORED_SPERM)).ln(), t));
    [(NO_STORED_SPERM.ln(), 0.0)].into_iter().chain(spread).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quadrature_is_exact_for_polynomials() {
        for degree in [0_u32, 1, 5, 20, 61] {
            let nodes = legendre(node_count(degree as usize));
            let sum: f64 = nodes.iter().map(|(t, w)| w * t.powi(i32::try_from(degree).unwrap())).sum();
            assert!((sum - 1.0 / f64::from(degree + 1)).abs() < 1e-14, "degree {degree}: {sum}");
        }
    }

    #[test]
    fn many_fish_need_fewer_nodes_than_exactness_and_stay_right() {
        // A beta integral: the likelihood of 400 and 100 of 500 fish.
        let (a, b) = (400.0, 100.0);
        assert!(node_count(500) < 120);
        let sum: f64 = legendre(node_count(500))
            .iter()
            .map(|(t, w)| {
                w * (a * t.ln() + b * (1.0 - t).ln() - statrs::function::beta::ln_beta(a + 1.0, b + 1.0)).exp()
            })
            .sum();
        assert!((sum - 1.0).abs() < 1e-9, "{sum}");
    }

    #[test]
    fn dam_shares_have_the_moments_of_the_dirichlet() {
        // Dirichlet(2, 1, 1): E(w1) = 1/2, E(w1 w2) = 2·1/(4·5); textbook.
        let nodes = dam_nodes(&[2, 1, 1], 4);
        let mean = |f: &dyn Fn(&[f64]) -> f64| -> f64 { nodes.iter().map(|n| n.ln_weight.exp() * f(&n.shares)).sum() };
        assert!((mean(&|_| 1.0) - 1.0).abs() < 1e-13);
        assert!((mean(&|w| w[0]) - 0.5).abs() < 1e-13);
        assert!((mean(&|w| w[0] * w[1]) - 0.1).abs() < 1e-13);
        assert!((mean(&|w| w[1] * w[2]) - 0.05).abs() < 1e-13);
    }

    #[test]
    fn half_the_mass_lies_on_no_stored_sperm() {
        let nodes = earlier_nodes(3);
        let mean: f64 = nodes.iter().map(|(w, s)| w.exp() * s).sum();
        assert!((mean - 0.25).abs() < 1e-14);
        assert!((nodes[0].0.exp() - 0.5).abs() < 1e-15);
    }
}
