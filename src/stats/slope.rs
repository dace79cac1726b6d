//! Slopes: least squares with its error, and Theil–Sen with Sen's interval.

use super::interval::{Interval, normal_quantile};
use super::ranks::kendall;
use super::student::Estimate;

/// A straight line through (x, y).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Slope with its standard error.
    pub slope: Estimate,
    /// Value at x = 0.
    pub intercept: f64,
    /// Correlation of x and y.
    pub r: f64,
}

/// Least squares, each point with its weight (1 for plain). `None` below two different x; with just two points the error
/// of the slope is not known and is NaN.
///
/// # Panics
/// When the slices differ in length.
pub fn weighted_line(x: &[f64], y: &[f64], weight: &[f64]) -> Option<Line> {
    assert!(x.len() == y.len() && x.len() == weight.len(), "one weight a pair");
    let all: f64 = weight.iter().sum();
    let centre = |v: &[f64]| v.iter().zip(weight).map(|(v, w)| v * w).sum::<f64>() / all;
    let (mx, my) = (centre(x), centre(y));
    let sum = |f: &dyn Fn(f64, f64) -> f64| (0..x.len()).map(|i| weight[i] * f(x[i] - mx, y[i] - my)).sum::<f64>();
    let (sxx, sxy, syy) = (sum(&|dx, _| dx * dx), sum(&|dx, dy| dx * dy), sum(&|_, dy| dy * dy));
    if x.len() < 2 || sxx <= 0.0 {
        return None;
    }
    let slope = sxy / sxx;
    let df = x.len() as f64 - 2.0;
    let residual = sum(&|dx, dy| (dy - slope * dx).powi(2));
    let se = if df > 0.0 { (residual / df / sxx).sqrt() } else { f64::NAN };
    Some(Line { slope: Estimate { value: slope, se, df }, intercept: my - slope * mx, r: sxy / (sxx * syy).sqrt() })
}

/// Ordinary least squares.
pub fn line(x: &[f64], y: &[f64]) -> Option<Line> {
    weighted_line(x, y, &vec![1.0; x.len()])
}

/// Theil–Sen estimate: the median of the slopes of all pairs of points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TheilSen {
    /// Median slope.
    pub slope: f64,
    /// Sen's (1968) interval for it.
    pub interval: Interval,
    /// Median of y − slope·x.
    pub intercept: f64,
}

/// Theil 1950, Sen 1968. `None` without two different x.
///
/// The interval takes the ordered slopes number (N ∓ z·√Var S)/2, Var S Kendall's variance with ties.
pub fn theil_sen(x: &[f64], y: &[f64], confidence: f64) -> Option<TheilSen> {
    let mut slopes = Vec::new();
    for i in 0..x.len() {
        for j in i + 1..x.len() {
            if x[i].total_cmp(&x[j]).is_ne() {
                slopes.push((y[j] - y[i]) / (x[j] - x[i]));
            }
        }
    }
    let slope = median(&mut slopes)?;
    let c = normal_quantile(f64::midpoint(1.0, confidence)) * kendall(x, y).variance.sqrt();
    let mut rest: Vec<f64> = x.iter().zip(y).map(|(x, y)| y - slope * x).collect();
    Some(TheilSen { slope, interval: sens_interval(&slopes, c), intercept: median(&mut rest)? })
}

/// Ends of Sen's interval among the ordered slopes: the ones just outside (N − C)/2 and (N + C)/2.
#[expect(clippy::cast_possible_truncation, reason = "a place in the list of slopes, clamped to it")]
fn sens_interval(ordered: &[f64], c: f64) -> Interval {
    let n = ordered.len() as f64;
    let place = |at: f64| ordered[at.clamp(0.0, n - 1.0) as usize];
    let low = ((n - c) / 2.0).round();
    let high = ((n + c) / 2.0).round();
    Interval::new(place(low - 1.0), place(high))
}

/// Median; sorts the values. `None` when there are none.
pub fn median(values: &mut [f64]) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let n = values.len();
    (n > 0).then(|| f64::midpoint(values[(n - 1) / 2], values[n / 2]))
}
