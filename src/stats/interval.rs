//! Intervals for a share of successes.

use serde::{Deserialize, Serialize};
use statrs::function::beta::beta_reg;

/// A closed interval, lower end first.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Interval {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

impl Interval {
    /// The interval from `low` to `high`.
    pub const fn new(low: f64, high: f64) -> Self {
        Self { low, high }
    }

    /// `centre ± half`.
    pub fn around(centre: f64, half: f64) -> Self {
        Self::new(centre - half, centre + half)
    }

    /// Whether `value` lies inside, ends included.
    pub fn holds(&self, value: f64) -> bool {
        self.low <= value && value <= self.high
    }
}

/// Exact (Clopper & Pearson 1934) interval for a share: `x` of `n` at `confidence` (0…1, two-sided).
///
/// With `n = 0` nothing is known: 0 to 1.
///
/// # Panics
/// When `x > n`.
pub fn clopper_pearson(x: u64, n: u64, confidence: f64) -> Interval {
    assert!(x <= n, "{x} of {n}");
    let tail = (1.0 - confidence) / 2.0;
    Interval::new(share_with_upper_tail(x, n, tail), upper_limit(x, n, 1.0 - tail))
}

/// One-sided exact upper limit for a share: the largest share under which `x` or fewer of `n` still has
/// probability `1 - confidence`.
pub fn upper_limit(x: u64, n: u64, confidence: f64) -> f64 {
    1.0 - share_with_upper_tail(n - x, n, 1.0 - confidence)
}

/// The share p at which P(X ≥ x) = `tail` for X ~ Bin(n, p): the regularised beta function I_p(x, n-x+1), solved by
/// halving, which keeps all digits where ready-made beta quantiles lose some.
fn share_with_upper_tail(x: u64, n: u64, tail: f64) -> f64 {
    if x == 0 {
        return 0.0;
    }
    let (a, b) = (x as f64, (n - x) as f64 + 1.0);
    let (mut low, mut high) = (0.0, 1.0);
    // 60 halvings go below the spacing of doubles near 1.
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if beta_reg(a, b, middle) < tail {
            low = middle;
        } else {
            high = middle;
        }
    }
    f64::midpoint(low, high)
}

/// Wilson's (1927) score interval for a share: `x` of `n`. With `n = 0`: 0 to 1.
pub fn wilson(x: u64, n: u64, confidence: f64) -> Interval {
    if n == 0 {
        return Interval::new(0.0, 1.0);
    }
    let z = normal_quantile(f64::midpoint(1.0, confidence));
    let (n, p) = (n as f64, x as f64 / n as f64);
    let shrink = 1.0 + z * z / n;
    let centre = (p + z * z / (2.0 * n)) / shrink;
    let half = z / shrink * (p * (1.0 - p) / n + z * z / (4.0 * n * n)).sqrt();
    Interval::new((centre - half).max(0.0), (centre + half).min(1.0))
}

/// Quantile of the standard normal distribution, `p` in (0, 1).
pub fn normal_quantile(p: f64) -> f64 {
    // For p < ½ the mirror image keeps the digits of the small tail.
    if p < 0.5 {
        return -normal_quantile_upper(p);
    }
    normal_quantile_upper(1.0 - p)
}

fn normal_quantile_upper(tail: f64) -> f64 {
    std::f64::consts::SQRT_2 * statrs::function::erf::erfc_inv(2.0 * tail)
}

/// P(Z ≥ z) for the standard normal distribution.
pub fn normal_upper(z: f64) -> f64 {
    statrs::function::erf::erfc(z / std::f64::consts::SQRT_2) / 2.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_seen_says_nothing() {
        assert_eq!(clopper_pearson(0, 0, 0.95), Interval::new(0.0, 1.0));
        assert_eq!(wilson(0, 0, 0.95), Interval::new(0.0, 1.0));
    }

    #[test]
    fn all_and_none_mirror_each_other() {
        let (none, all) = (clopper_pearson(0, 12, 0.95), clopper_pearson(12, 12, 0.95));
        assert_eq!((none.low, all.high), (0.0, 1.0));
        assert!((none.high - (1.0 - all.low)).abs() < 1e-12);
        // P(0 of 12) = (1-p)^12 = 0.025 has a closed form.
        assert!((none.high - (1.0 - 0.025f64.powf(1.0 / 12.0))).abs() < 1e-12);
    }
}
