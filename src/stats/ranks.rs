//! Rank tests with exact distributions: Mann–Whitney, Wilcoxon's signed rank, Kendall, Mann–Kendall.
//!
//! Exact distributions are counted by recurrence and hold without ties; with ties, or beyond the stated sizes, the normal
//! approximation with its tie correction serves and `exact` is false.

#![expect(clippy::cast_possible_truncation, reason = "rank sums are small whole numbers")]

use std::cmp::Ordering;

use super::interval::normal_upper;

/// A rank test's statistic with its p-values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RankTest {
    /// The statistic, as R prints it: W, V or T.
    pub statistic: f64,
    /// P(statistic at least this large) when nothing is going on.
    pub upper: f64,
    /// P(statistic at most this large).
    pub lower: f64,
    /// Whether the p-values come from the exact distribution.
    pub exact: bool,
}

impl RankTest {
    /// Twice the smaller tail, at most 1.
    pub fn two_sided(&self) -> f64 {
        (2.0 * self.upper.min(self.lower)).min(1.0)
    }

    fn from_counts(statistic: usize, counts: &[f64]) -> Self {
        let all: f64 = counts.iter().sum();
        let upper = counts.iter().skip(statistic).sum::<f64>() / all;
        let lower = counts.iter().take(statistic + 1).sum::<f64>() / all;
        Self { statistic: statistic as f64, upper, lower, exact: true }
    }

    /// Normal approximation with continuity correction.
    fn from_normal(statistic: f64, mean: f64, sd: f64) -> Self {
        let tail = |distance: f64| if sd > 0.0 { normal_upper((distance - 0.5) / sd) } else { 1.0 };
        Self { statistic, upper: tail(statistic - mean), lower: tail(mean - statistic), exact: false }
    }
}

/// Most values a side for the exact Mann–Whitney distribution, and pairs for Wilcoxon's and Kendall's: as in R.
const MOST_EXACT: usize = 50;

/// Mann & Whitney 1947: W is the number of pairs in which the value of `a` is larger (ties one half).
pub fn mann_whitney(a: &[f64], b: &[f64]) -> RankTest {
    let mut twice = 0usize;
    for x in a {
        for y in b {
            twice += match x.total_cmp(y) {
                Ordering::Greater => 2,
                Ordering::Equal => 1,
                Ordering::Less => 0,
            };
        }
    }
    let all = [a, b].concat();
    let ties = tie_groups(&all);
    let (m, n) = (a.len() as f64, b.len() as f64);
    if ties.is_empty() && a.len().max(b.len()) < MOST_EXACT {
        return RankTest::from_counts(twice / 2, &mann_whitney_counts(a.len(), b.len()));
    }
    let total = m + n;
    let tie_term = ties.iter().map(|t| t.powi(3) - t).sum::<f64>() / (total * (total - 1.0));
    RankTest::from_normal(twice as f64 / 2.0, m * n / 2.0, (m * n / 12.0 * (total + 1.0 - tie_term)).sqrt())
}

/// Number of arrangements of `m` and `n` values with each W: coefficients of the Gaussian binomial.
fn mann_whitney_counts(m: usize, n: usize) -> Vec<f64> {
    let mut counts = vec![0.0; m * n + 1];
    counts[0] = 1.0;
    for i in 1..=m {
        // Times (1 - q^(n+i)), then divided by (1 - q^i).
        for w in (n + i..=m * n).rev() {
            counts[w] -= counts[w - n - i];
        }
        for w in i..=m * n {
            counts[w] += counts[w - i];
        }
    }
    counts
}

/// Wilcoxon 1945: V is the sum of the ranks of the positive differences; zero differences are left out.
pub fn signed_rank(differences: &[f64]) -> RankTest {
    let kept: Vec<f64> = differences.iter().copied().filter(|d| *d != 0.0).collect();
    let sizes: Vec<f64> = kept.iter().map(|d| d.abs()).collect();
    let (ranks, ties, n) = (midranks(&sizes), tie_groups(&sizes), kept.len());
    let v: f64 = kept.iter().zip(&ranks).filter(|(d, _)| **d > 0.0).map(|(_, r)| r).sum();
    if ties.is_empty() && n == differences.len() && n < MOST_EXACT {
        return RankTest::from_counts(v as usize, &signed_rank_counts(n));
    }
    let n = n as f64;
    let tie_term = ties.iter().map(|t| t.powi(3) - t).sum::<f64>() / 48.0;
    RankTest::from_normal(v, n * (n + 1.0) / 4.0, (n * (n + 1.0) * (2.0 * n + 1.0) / 24.0 - tie_term).sqrt())
}

/// Number of sign patterns of the ranks 1…n with each rank sum.
fn signed_rank_counts(n: usize) -> Vec<f64> {
    let mut counts = vec![0.0; n * (n + 1) / 2 + 1];
    counts[0] = 1.0;
    for rank in 1..=n {
        for sum in (rank..counts.len()).rev() {
            counts[sum] += counts[sum - rank];
        }
    }
    counts
}

/// Kendall's rank correlation of pairs: T counts the concordant pairs, S is concordant less discordant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Kendall {
    /// tau-b: S over the geometric mean of the untied pairs of either side.
    pub tau: f64,
    /// Concordant less discordant pairs.
    pub s: f64,
    /// Variance of S when nothing is going on, corrected for ties.
    pub variance: f64,
    /// S one step towards zero, over its standard deviation.
    pub z: f64,
    /// Test on T (exact) or on S (normal).
    pub test: RankTest,
}

/// Kendall 1938/1970.
///
/// # Panics
/// When the slices differ in length.
pub fn kendall(x: &[f64], y: &[f64]) -> Kendall {
    assert_eq!(x.len(), y.len(), "pairs");
    let (mut s, mut concordant) = (0.0, 0);
    for i in 0..x.len() {
        for j in i + 1..x.len() {
            let sign = |v: &[f64]| f64::from(v[j].total_cmp(&v[i]) as i8);
            let product = sign(x) * sign(y);
            s += product;
            concordant += usize::from(product > 0.0);
        }
    }
    let (tx, ty, n) = (tie_groups(x), tie_groups(y), x.len() as f64);
    let pairs = n * (n - 1.0) / 2.0;
    let tied = |ties: &[f64]| ties.iter().map(|t| t * (t - 1.0) / 2.0).sum::<f64>();
    let tau = s / ((pairs - tied(&tx)) * (pairs - tied(&ty))).sqrt();
    let variance = kendall_variance(n, &tx, &ty);
    let z = (s - s.signum() * f64::from(u8::from(s != 0.0))) / variance.sqrt();
    let test = if tx.is_empty() && ty.is_empty() && x.len() < MOST_EXACT {
        RankTest::from_counts(concordant, &kendall_counts(x.len()))
    } else {
        // S moves in steps of two, so that one is its half step.
        RankTest { statistic: s, ..RankTest::from_normal(s / 2.0, 0.0, variance.sqrt() / 2.0) }
    };
    Kendall { tau, s, variance, z, test }
}

/// Mann 1945 / Kendall 1975: is there a monotonic trend in the order of the values?
pub fn mann_kendall(values: &[f64]) -> Kendall {
    let order: Vec<f64> = (0..values.len()).map(|i| i as f64).collect();
    kendall(&order, values)
}

/// Kendall 1970, formula for the variance of S with ties in both rankings.
fn kendall_variance(n: f64, x: &[f64], y: &[f64]) -> f64 {
    let sum = |ties: &[f64], f: fn(f64) -> f64| ties.iter().map(|&t| f(t)).sum::<f64>();
    let full = |t: f64| t * (t - 1.0) * (2.0 * t + 5.0);
    let (two, three) = (|t: f64| t * (t - 1.0), |t: f64| t * (t - 1.0) * (t - 2.0));
    let first = (full(n) - sum(x, full) - sum(y, full)) / 18.0;
    let second = sum(x, three) * sum(y, three) / (9.0 * n * (n - 1.0) * (n - 2.0)).max(1.0);
    first + second + sum(x, two) * sum(y, two) / (2.0 * n * (n - 1.0)).max(1.0)
}

/// Number of permutations of n values with each number of concordant pairs.
fn kendall_counts(n: usize) -> Vec<f64> {
    let mut counts = vec![1.0];
    for i in 2..=n {
        let mut next = vec![0.0; counts.len() + i - 1];
        for (at, count) in counts.iter().enumerate() {
            next[at..at + i].iter_mut().for_each(|cell| *cell += count);
        }
        counts = next;
    }
    counts
}

/// Ranks from 1, tied values sharing the mean of their ranks.
fn midranks(values: &[f64]) -> Vec<f64> {
    let below = |v: f64| values.iter().filter(|w| **w < v).count() as f64;
    let equal = |v: f64| values.iter().filter(|w| w.total_cmp(&v).is_eq()).count() as f64;
    values.iter().map(|&v| below(v) + f64::midpoint(equal(v), 1.0)).collect()
}

/// Sizes of the groups of equal values, those of one left out.
fn tie_groups(values: &[f64]) -> Vec<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.chunk_by(|a, b| a.total_cmp(b).is_eq()).map(|g| g.len() as f64).filter(|t| *t > 1.0).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_add_up_to_all_arrangements() {
        assert!((mann_whitney_counts(3, 4).iter().sum::<f64>() - 35.0).abs() < 1e-9);
        assert!((signed_rank_counts(5).iter().sum::<f64>() - 32.0).abs() < 1e-9);
        assert!((kendall_counts(5).iter().sum::<f64>() - 120.0).abs() < 1e-9);
        // By hand: of the six orders of three values 1, 2, 2, 1 have 0, 1, 2, 3 concordant pairs.
        assert_eq!(kendall_counts(3), [1.0, 2.0, 2.0, 1.0]);
    }

    #[test]
    fn ties_share_their_ranks() {
        assert_eq!(midranks(&[2.0, 1.0, 2.0]), [2.5, 1.0, 2.5]);
        assert_eq!(tie_groups(&[2.0, 1.0, 2.0]), [2.0]);
        assert!(!mann_whitney(&[1.0, 2.0], &[2.0, 3.0]).exact);
    }
}
