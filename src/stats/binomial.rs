//! Exact tests of one share, and how many young it takes to see a class.

use statrs::function::beta::beta_reg;

use super::factorial::ln_binomial;
use super::multinomial::{self, Ordering, TooLarge};

/// P(X ≤ x) for X ~ Bin(n, p).
pub fn lower_tail(x: u64, n: u64, p: f64) -> f64 {
    // Failures are Bin(n, 1-p): at most x successes are at least n-x failures.
    if x >= n { 1.0 } else { upper_tail(n - x, n, 1.0 - p) }
}

/// P(X ≥ x) for X ~ Bin(n, p), as an upper tail.
pub fn upper_tail(x: u64, n: u64, p: f64) -> f64 {
    if x == 0 || p >= 1.0 && x <= n {
        return 1.0;
    }
    if x > n || p <= 0.0 {
        return 0.0;
    }
    beta_reg(x as f64, (n - x) as f64 + 1.0, p)
}

/// Exact two-sided p of `x` out of `n` against the share `p`, "as extreme" read by `ordering`.
///
/// # Errors
/// [`TooLarge`] beyond the limit of [`multinomial::exact_p`].
pub fn two_sided(x: u64, n: u64, p: f64, ordering: Ordering) -> Result<f64, TooLarge> {
    multinomial::exact_p(&[x, n - x], &[p, 1.0 - p], ordering)
}

/// Twice the smaller tail, at most 1: the other common two-sided p.
pub fn doubled(x: u64, n: u64, p: f64) -> f64 {
    (2.0 * lower_tail(x, n, p).min(upper_tail(x, n, p))).min(1.0)
}

/// P(X = x) for X ~ Bin(n, p).
pub fn point(x: u64, n: u64, p: f64) -> f64 {
    ln_binomial(x, n, p).exp()
}

/// Smallest number of young among which at least `wanted` of a class of probability `p` turn up with probability
/// `confidence`: the first n with P(X ≥ wanted) ≥ confidence. `None` when the class cannot turn up.
///
/// Always the guaranteed (rounded-up) number: 10.4 means 11.
pub fn young_needed(p: f64, wanted: u64, confidence: f64) -> Option<u64> {
    if p.is_nan() || p <= 0.0 {
        return None;
    }
    let enough = |n: u64| upper_tail(wanted, n, p) >= confidence;
    let mut high = wanted.max(1);
    while !enough(high) {
        high = high.checked_mul(2)?;
    }
    let mut low = high / 2;
    while high - low > 1 {
        let middle = u64::midpoint(low, high);
        if enough(middle) { high = middle } else { low = middle }
    }
    Some(high.max(wanted))
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "edges are exact")]
mod tests {
    use super::*;

    #[test]
    fn tails_meet() {
        for x in 1..=9 {
            let together = lower_tail(x - 1, 9, 0.3) + upper_tail(x, 9, 0.3);
            assert!((together - 1.0).abs() < 1e-12, "{x}: {together}");
        }
    }

    #[test]
    fn edges_of_the_share() {
        assert_eq!(upper_tail(3, 5, 1.0), 1.0);
        assert_eq!(upper_tail(3, 5, 0.0), 0.0);
        assert_eq!(upper_tail(6, 5, 0.5), 0.0);
        assert_eq!(young_needed(0.0, 1, 0.95), None);
        assert_eq!(young_needed(1.0, 3, 0.95), Some(3));
        assert_eq!(young_needed(0.99, 1, 0.95), Some(1));
    }
}
