//! Means, and what Student's t distribution says about them.

use serde::{Deserialize, Serialize};
use statrs::distribution::{ContinuousCDF, FisherSnedecor, StudentsT};

use super::interval::{Interval, normal_upper};

/// Mean of the values; `None` when there are none.
pub fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}

/// Sample variance (n − 1); `None` below two values.
pub fn variance(values: &[f64]) -> Option<f64> {
    let m = mean(values)?;
    (values.len() > 1).then(|| values.iter().map(|v| (v - m).powi(2)).sum::<f64>() / (values.len() - 1) as f64)
}

/// P(T ≥ t) for Student's t with `df` degrees of freedom; infinite `df` is the normal distribution.
pub fn t_upper(t: f64, df: f64) -> f64 {
    if df.is_infinite() {
        return normal_upper(t);
    }
    StudentsT::new(0.0, 1.0, df).map_or(f64::NAN, |d| d.sf(t))
}

/// Two-sided p of `t`.
pub fn t_two_sided(t: f64, df: f64) -> f64 {
    (2.0 * t_upper(t.abs(), df)).min(1.0)
}

/// The t that leaves `(1 - confidence) / 2` above it. Solved on the upper tail by halving; ready-made quantiles are off
/// at one degree of freedom.
pub fn t_critical(confidence: f64, df: f64) -> f64 {
    solve_falling(|t| t_upper(t, df), (1.0 - confidence) / 2.0)
}

/// P(F ≥ f) for the F distribution with `between` and `within` degrees of freedom.
pub fn f_upper(f: f64, between: f64, within: f64) -> f64 {
    if f <= 0.0 {
        return 1.0;
    }
    FisherSnedecor::new(between, within).map_or(f64::NAN, |d| d.sf(f))
}

/// The F that leaves `tail` above it.
pub fn f_critical(tail: f64, between: f64, within: f64) -> f64 {
    solve_falling(|f| f_upper(f, between, within), tail)
}

/// The x ≥ 0 at which a falling function meets `goal`.
fn solve_falling(f: impl Fn(f64) -> f64, goal: f64) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    while f(high) > goal && high < 1e15 {
        low = high;
        high *= 2.0;
    }
    // 80 halvings bring any starting bracket below the spacing of doubles.
    for _ in 0..80 {
        let middle = f64::midpoint(low, high);
        if f(middle) > goal { low = middle } else { high = middle }
    }
    f64::midpoint(low, high)
}

/// An estimate with its standard error and the degrees of freedom behind it (infinite when the error is known).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The estimate.
    pub value: f64,
    /// Its standard error, in the same unit.
    pub se: f64,
    /// Degrees of freedom of the standard error.
    pub df: f64,
}

impl Estimate {
    /// Two-sided interval at `confidence`.
    pub fn interval(&self, confidence: f64) -> Interval {
        Interval::around(self.value, t_critical(confidence, self.df) * self.se)
    }

    /// t against zero.
    pub fn t(&self) -> f64 {
        self.value / self.se
    }

    /// Two-sided p against zero.
    pub fn p(&self) -> f64 {
        t_two_sided(self.t(), self.df)
    }
}

/// A value with its 95 % interval, as printed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Ranged {
    /// The value.
    pub value: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

impl From<Estimate> for Ranged {
    fn from(estimate: Estimate) -> Self {
        let Interval { low, high } = estimate.interval(0.95);
        Self { value: estimate.value, low, high }
    }
}

/// Variance of a sum of independent parts, each `(variance, df)`, with Satterthwaite's (1946) degrees of freedom.
pub fn satterthwaite(parts: &[(f64, f64)]) -> (f64, f64) {
    let sum: f64 = parts.iter().map(|p| p.0).sum();
    let spread: f64 = parts.iter().filter(|p| p.1.is_finite() && p.0 > 0.0).map(|(v, df)| v * v / df).sum();
    (sum, if spread > 0.0 { sum * sum / spread } else { f64::INFINITY })
}

/// Difference of two means, spreads not assumed equal (Welch 1947). `None` below two values a side.
pub fn welch(a: &[f64], b: &[f64]) -> Option<Estimate> {
    let part = |v: &[f64]| Some((variance(v)? / v.len() as f64, (v.len() - 1) as f64));
    let (var, df) = satterthwaite(&[part(a)?, part(b)?]);
    Some(Estimate { value: mean(a)? - mean(b)?, se: var.sqrt(), df })
}

/// Mean difference of pairs. `None` below two pairs.
///
/// # Panics
/// When the slices differ in length.
pub fn paired(a: &[f64], b: &[f64]) -> Option<Estimate> {
    assert_eq!(a.len(), b.len(), "pairs");
    let differences: Vec<f64> = a.iter().zip(b).map(|(x, y)| x - y).collect();
    let n = differences.len() as f64;
    Some(Estimate { value: mean(&differences)?, se: (variance(&differences)? / n).sqrt(), df: n - 1.0 })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Standard tables: t 0.975 at 1, 4 and infinite df; F 0.95 at 3 and 10 df.
    #[test]
    fn quantiles_of_the_tables() {
        assert!((t_critical(0.95, 1.0) - 12.706_204_736).abs() < 1e-8);
        assert!((t_critical(0.95, 4.0) - 2.776_445_105).abs() < 1e-8);
        assert!((t_critical(0.95, f64::INFINITY) - 1.959_963_985).abs() < 1e-8);
        assert!((f_critical(0.05, 3.0, 10.0) - 3.708_265).abs() < 1e-5);
    }

    #[test]
    fn known_errors_have_infinite_freedom() {
        assert_eq!(satterthwaite(&[(0.5, f64::INFINITY)]), (0.5, f64::INFINITY));
        let (var, df) = satterthwaite(&[(1.0, 4.0), (1.0, 4.0)]);
        assert!((var - 2.0).abs() < 1e-15 && (df - 8.0).abs() < 1e-12);
    }
}
