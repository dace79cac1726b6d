//! Pooled dams in closed form: the integral over their shares as a coefficient of a power series.
//!
//! For shares w uniform over the simplex, E[Π w_i^k_i Π_c (Σ_i w_i q_ic)^n_c] is, up to factorials, the coefficient of
//! Π t_c^n_c in Π_i (1 - Σ_c t_c q_ic)^-(1 + k_i): the moment generating function of the Dirichlet distribution. Every
//! term is positive, so nothing cancels.

use statrs::function::gamma::ln_gamma;

/// ln of that expectation: `q` holds one row a dam with one probability a counted cell, `kids` the k of each dam,
/// `counts` the n of each cell.
pub(super) fn ln_expectation(q: &[Vec<f64>], kids: &[usize], counts: &[usize]) -> f64 {
    let scales: Vec<f64> = (0..counts.len()).map(|c| q.iter().map(|row| row[c]).fold(0.0, f64::max)).collect();
    if scales.iter().any(|s| *s <= 0.0) {
        return f64::NEG_INFINITY;
    }
    // Cells are scaled so that the largest probability of each is 1: what is left cannot underflow.
    let ln_scale: f64 = scales.iter().zip(counts).map(|(s, n)| s.ln() * *n as f64).sum();
    let mut series = Series::one(counts);
    for (row, k) in q.iter().zip(kids) {
        let row: Vec<f64> = row.iter().zip(&scales).map(|(p, s)| p / s).collect();
        (0..=*k).for_each(|_| series.divide(&row));
    }
    let (dams, all_kids, fish) =
        (q.len() as f64, kids.iter().sum::<usize>() as f64, counts.iter().sum::<usize>() as f64);
    let a = dams + all_kids;
    let dirichlet = ln_gamma(dams) + kids.iter().map(|k| ln_gamma(*k as f64 + 1.0)).sum::<f64>() - ln_gamma(a);
    dirichlet + ln_gamma(a) + ln_gamma(fish + 1.0) - ln_gamma(a + fish) + series.last().ln() + ln_scale
}

/// Entries one series holds.
pub(super) fn size(counts: impl Iterator<Item = f64>) -> f64 {
    counts.map(|n| n + 1.0).product()
}

/// A power series up to given powers, each coefficient divided by its multinomial coefficient.
struct Series {
    /// Highest power of each variable.
    counts: Vec<usize>,
    /// The last variable runs fastest.
    values: Vec<f64>,
}

impl Series {
    fn one(counts: &[usize]) -> Self {
        let mut values = vec![0.0; counts.iter().map(|n| n + 1).product()];
        values[0] = 1.0;
        Self { counts: counts.to_vec(), values }
    }

    /// Divides by 1 - Σ t_c row_c: F[n] = G[n] + Σ_c row_c · n_c/|n| · F[n - e_c].
    fn divide(&mut self, row: &[f64]) {
        let strides: Vec<usize> =
            (0..self.counts.len()).map(|c| self.counts[c + 1..].iter().map(|n| n + 1).product()).collect();
        let mut powers = vec![0; self.counts.len()];
        for at in 1..self.values.len() {
            for c in (0..powers.len()).rev() {
                powers[c] += 1;
                if powers[c] <= self.counts[c] {
                    break;
                }
                powers[c] = 0;
            }
            let total: usize = powers.iter().sum();
            let before: f64 = powers
                .iter()
                .zip(row)
                .zip(&strides)
                .filter(|((n, _), _)| **n > 0)
                .map(|((n, p), stride)| p * *n as f64 * self.values[at - stride])
                .sum();
            self.values[at] += before / total as f64;
        }
    }

    fn last(&self) -> f64 {
        self.values.last().copied().unwrap_or(1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::super::shares::dam_nodes;
    use super::*;

    #[test]
    fn expansion_and_quadrature_agree() {
        let q = vec![vec![0.75, 0.25, 0.5], vec![0.5, 0.5, 0.01], vec![0.99, 0.01, 0.3]];
        let (counts, kids) = ([7, 3, 2], [1, 0, 2]);
        let slow: f64 = dam_nodes(&[1, 1, 1], 15)
            .iter()
            .map(|node| {
                let mix = |c: usize| node.shares.iter().zip(&q).map(|(w, row)| w * row[c]).sum::<f64>();
                let counted: f64 = counts.iter().enumerate().map(|(c, n)| mix(c).powi(*n)).product();
                node.ln_weight.exp() * counted * node.shares[0] * node.shares[2].powi(2)
            })
            .sum();
        let fast = ln_expectation(&q, &kids, &counts.map(|n| usize::try_from(n).unwrap()));
        assert!((fast - slow.ln()).abs() < 1e-12, "{fast} is not {}", slow.ln());
    }

    #[test]
    fn hundreds_of_unlikely_fish_do_not_underflow() {
        // Two dams alike: the shares drop out, and 300 fish of probability 0.001 remain.
        let ln = ln_expectation(&[vec![0.001], vec![0.001]], &[0, 0], &[300]);
        assert!((ln - 300.0 * 0.001_f64.ln()).abs() < 1e-9);
        assert!(ln_expectation(&[vec![0.0], vec![0.0]], &[0, 0], &[1]) < f64::MIN);
        assert!(ln_expectation(&[vec![], vec![]], &[0, 0], &[]).abs() < 1e-12);
    }
}
