//! Selection: its intensity, and what came of it.

use super::interval::normal_quantile;

/// Intensity of truncation selection in a large population: the mean of the best `share` (0…1) of a standard normal
/// distribution, density over share.
pub fn intensity(share: f64) -> f64 {
    let z = normal_quantile(1.0 - share);
    (-z * z / 2.0).exp() / (2.0 * std::f64::consts::PI).sqrt() / share
}

/// Expected mean of the best `kept` of `n` standard normal values: the mean of the top order statistics.
///
/// Integrated by Simpson's rule over −8…8, whose tails hold less than 1e-14.
///
/// # Panics
/// When `kept` is 0 or above `n`.
pub fn intensity_of(kept: u64, n: u64) -> f64 {
    assert!(0 < kept && kept <= n, "{kept} of {n}");
    // The sum of the top k order statistics has density n·φ(x)·P(Bin(n−1, P(Z > x)) < k).
    let density = |x: f64| {
        let upper = super::interval::normal_upper(x);
        let phi = (-x * x / 2.0).exp() / (2.0 * std::f64::consts::PI).sqrt();
        n as f64 * x * phi * super::binomial::lower_tail(kept - 1, n - 1, upper)
    };
    simpson(density, -8.0, 8.0, 2000) / kept as f64
}

fn simpson(f: impl Fn(f64) -> f64, from: f64, to: f64, steps: u32) -> f64 {
    let h = (to - from) / f64::from(steps);
    let inner: f64 = (1..steps).map(|i| f64::from(2 + 2 * (i % 2)) * f(from + h * f64::from(i))).sum();
    (f(from) + inner + f(to)) * h / 3.0
}

/// Realised heritability: regression through the origin of the cumulated response on the cumulated selection
/// differential, Σ R·S / Σ S² (Falconer & Mackay 1996). `None` when nothing was selected.
///
/// The error of this regression would be too small, because drift adds up over the generations; none is given.
///
/// # Panics
/// When the slices differ in length.
pub fn realised_heritability(differential: &[f64], response: &[f64]) -> Option<f64> {
    assert_eq!(differential.len(), response.len(), "one response a differential");
    let squares: f64 = differential.iter().map(|s| s * s).sum();
    (squares > 0.0).then(|| differential.iter().zip(response).map(|(s, r)| s * r).sum::<f64>() / squares)
}
