//! Logarithms of factorials and of the probabilities built on them.

/// ln n!
///
/// # Examples
/// ```
/// # use broodhue::stats::factorial::ln_factorial;
/// assert!((ln_factorial(5) - 120f64.ln()).abs() < 1e-12);
/// ```
pub fn ln_factorial(n: u64) -> f64 {
    statrs::function::factorial::ln_factorial(n)
}

/// ln of the number of ways to choose `k` of `n`; `-inf` for `k > n`.
pub fn ln_choose(n: u64, k: u64) -> f64 {
    if k > n {
        return f64::NEG_INFINITY;
    }
    ln_factorial(n) - ln_factorial(k) - ln_factorial(n - k)
}

/// ln of n! / (x₁! x₂! …): the number of orders in which these counts can come.
pub fn ln_arrangements(counts: &[u64]) -> f64 {
    ln_factorial(counts.iter().sum()) - counts.iter().map(|&x| ln_factorial(x)).sum::<f64>()
}

/// `x · ln p` with 0 · ln 0 = 0, so that an empty class of probability zero costs nothing.
pub fn x_ln_p(x: u64, p: f64) -> f64 {
    if x == 0 { 0.0 } else { x as f64 * p.ln() }
}

/// ln P(X = x) for X ~ Bin(n, p).
pub fn ln_binomial(x: u64, n: u64, p: f64) -> f64 {
    if x > n {
        return f64::NEG_INFINITY;
    }
    let misses = if p < 1.0 { (n - x) as f64 * (-p).ln_1p() } else { x_ln_p(n - x, 0.0) };
    ln_choose(n, x) + x_ln_p(x, p) + misses
}

/// ln of the multinomial probability of `counts` under `shares` (which sum to 1).
///
/// # Panics
/// When the two slices differ in length.
pub fn ln_multinomial(counts: &[u64], shares: &[f64]) -> f64 {
    assert_eq!(counts.len(), shares.len(), "one share a class");
    ln_arrangements(counts) + counts.iter().zip(shares).map(|(&x, &p)| x_ln_p(x, p)).sum::<f64>()
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "edges are exact")]
mod tests {
    use super::*;

    #[test]
    fn impossible_and_certain_draws() {
        assert_eq!(ln_binomial(0, 7, 0.0).exp(), 1.0);
        assert_eq!(ln_binomial(7, 7, 1.0).exp(), 1.0);
        assert_eq!(ln_binomial(1, 7, 0.0), f64::NEG_INFINITY);
        assert_eq!(ln_binomial(6, 7, 1.0), f64::NEG_INFINITY);
        assert_eq!(ln_choose(3, 4), f64::NEG_INFINITY);
    }

    #[test]
    fn two_classes_are_the_binomial() {
        let multi = ln_multinomial(&[7, 18], &[0.25, 0.75]);
        assert!((multi - ln_binomial(7, 25, 0.25)).abs() < 1e-12);
    }
}
