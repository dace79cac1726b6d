//! Goodness of fit by chi-square and by G, heterogeneity between replicates, and Holm's correction.
//!
//! Formulas: Sokal & Rohlf, *Biometry*, chapter on goodness of fit; Williams 1976 for the correction of G.

use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::factorial::x_ln_p;

/// A statistic with its degrees of freedom and its upper-tail probability.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fit {
    /// Chi-square or G.
    pub statistic: f64,
    /// Degrees of freedom.
    pub df: u64,
    /// P(chi-square with `df` ≥ `statistic`); 1 when nothing is free.
    pub p: f64,
}

impl Fit {
    /// A statistic that is chi-square distributed with `df` degrees of freedom.
    pub fn new(statistic: f64, df: u64) -> Self {
        Self { statistic, df, p: chi_square_upper(statistic, df) }
    }
}

/// Upper tail of the chi-square distribution; 0 for an infinite statistic (an impossible outcome) alone, whatever the `df`.
pub fn chi_square_upper(statistic: f64, df: u64) -> f64 {
    if statistic == f64::INFINITY {
        return 0.0;
    }
    if df == 0 || statistic <= 0.0 {
        return 1.0;
    }
    ChiSquared::new(df as f64).map_or(f64::NAN, |d| d.sf(statistic).max(f64::MIN_POSITIVE))
}

/// Shares that sum to 1, from any positive scale: ratios such as 9:3:4, or printed proportions that sum to 1.001.
///
/// # Panics
/// When a share is negative or all are zero.
pub fn normalised(expected: &[f64]) -> Vec<f64> {
    let sum: f64 = expected.iter().sum();
    assert!(sum > 0.0 && expected.iter().all(|e| *e >= 0.0), "shares must be positive: {expected:?}");
    expected.iter().map(|e| e / sum).collect()
}

/// Pearson's chi-square of `observed` against `expected` (any scale). Classes of share zero must be empty and do not
/// count; a filled one makes the statistic infinite and p zero.
pub fn chi_square(observed: &[u64], expected: &[f64]) -> Fit {
    fit(observed, expected, |x, e| (x as f64 - e).powi(2) / e)
}

/// The G statistic (twice the log-likelihood ratio), uncorrected.
pub fn g_test(observed: &[u64], expected: &[f64]) -> Fit {
    fit(observed, expected, |x, e| 2.0 * x_ln_p(x, x as f64 / e))
}

/// G divided by Williams' (1976) correction 1 + (k+1)/(6n), k the number of classes.
pub fn g_williams(observed: &[u64], expected: &[f64]) -> Fit {
    let g = g_test(observed, expected);
    let n: u64 = observed.iter().sum();
    if n == 0 {
        return g;
    }
    let classes = g.df as f64 + 1.0;
    Fit::new(g.statistic / (1.0 + (classes + 1.0) / (6.0 * n as f64)), g.df)
}

fn fit(observed: &[u64], expected: &[f64], part: impl Fn(u64, f64) -> f64) -> Fit {
    assert_eq!(observed.len(), expected.len(), "one share a class");
    let n = observed.iter().sum::<u64>() as f64;
    let shares = normalised(expected);
    let possible = shares.iter().filter(|p| **p > 0.0).count() as u64;
    let statistic: f64 =
        observed.iter().zip(&shares).filter(|(x, p)| **p > 0.0 || **x > 0).map(|(&x, p)| part(x, n * p)).sum();
    if n > 0.0 { Fit::new(statistic, possible.saturating_sub(1)) } else { Fit::new(0.0, possible.saturating_sub(1)) }
}

/// Whether an expected count is so small (under 5, the common rule of thumb after Cochran 1954) that the chi-square
/// tail of either statistic is only rough.
pub fn small_expectation(observed: &[u64], expected: &[f64]) -> bool {
    let n = observed.iter().sum::<u64>() as f64;
    normalised(expected).iter().any(|p| *p > 0.0 && n * p < 5.0)
}

/// Replicated goodness of fit: the statistics of the replicates added up, that of their pooled counts, and the rest,
/// which tells whether the replicates agree with each other.
#[derive(Debug, Clone, PartialEq)]
pub struct Replicated {
    /// Each replicate on its own.
    pub each: Vec<Fit>,
    /// Sum over the replicates.
    pub total: Fit,
    /// All replicates taken as one.
    pub pooled: Fit,
    /// Total less pooled.
    pub heterogeneity: Fit,
}

/// Splits `test` ([`chi_square`] or [`g_test`]) of several replicates into total, pooled and heterogeneity.
///
/// # Panics
/// When there is no replicate, or one has another number of classes than `expected`.
pub fn replicated(replicates: &[Vec<u64>], expected: &[f64], test: fn(&[u64], &[f64]) -> Fit) -> Replicated {
    let each: Vec<Fit> = replicates.iter().map(|counts| test(counts, expected)).collect();
    let total = Fit::new(each.iter().map(|f| f.statistic).sum(), each.iter().map(|f| f.df).sum());
    let summed: Vec<u64> = (0..expected.len()).map(|j| replicates.iter().map(|counts| counts[j]).sum()).collect();
    let pooled = test(&summed, expected);
    // Chi-square (unlike G) is not exactly additive; a negative rest means no sign of heterogeneity.
    let rest = (total.statistic - pooled.statistic).max(0.0);
    let heterogeneity = Fit::new(rest, total.df - pooled.df);
    Replicated { each, total, pooled, heterogeneity }
}

/// Holm's (1979) step-down correction: adjusted p-values in the order given.
pub fn holm(p: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..p.len()).collect();
    order.sort_by(|&i, &j| p[i].total_cmp(&p[j]));
    let (mut adjusted, mut running) = (vec![0.0; p.len()], 0.0f64);
    for (rank, &i) in order.iter().enumerate() {
        running = running.max(p[i] * (p.len() - rank) as f64).min(1.0);
        adjusted[i] = running;
    }
    adjusted
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "edges are exact")]
mod tests {
    use super::*;

    /// R: `p.adjust(c(0.01, 0.04, 0.03, 0.005), "holm")`.
    #[test]
    fn holm_as_in_r() {
        let adjusted = holm(&[0.01, 0.04, 0.03, 0.005]);
        for (got, want) in adjusted.iter().zip([0.03, 0.06, 0.06, 0.02]) {
            assert!((got - want).abs() < 1e-15, "{adjusted:?}");
        }
    }

    #[test]
    fn an_impossible_class_is_infinite_and_an_empty_one_does_not_count() {
        assert_eq!(chi_square(&[3, 1], &[1.0, 0.0]).p, 0.0);
        assert_eq!(g_test(&[3, 1], &[1.0, 0.0]).p, 0.0);
        assert_eq!(chi_square(&[3, 1, 0], &[3.0, 1.0, 0.0]).df, 1);
        assert_eq!(chi_square(&[0, 0], &[3.0, 1.0]).p, 1.0);
        assert_eq!(chi_square(&[170, 5], &[0.01, 0.99]).p, f64::MIN_POSITIVE);
    }
}
