//! Telling two fixed ratios apart: how many young, and where to draw the line.
//!
//! By exact binomial tails (`tests/reference/inherit_ratios.rs`); the normal formula is Hanson 1959 and runs 1 to 13 % low.

use crate::stats::binomial::{lower_tail, upper_tail};
use crate::stats::interval::normal_quantile;

/// An exact plan for telling two ratios apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RatioPlan {
    /// Young to count: the first number that works (a larger one may fail again, the binomial being saw-toothed).
    pub young: u64,
    /// Call the larger share when at least this many show the class.
    pub call_larger_from: u64,
    /// Probability of calling the larger share when the smaller is true.
    pub error_if_smaller: f64,
    /// Probability of calling the smaller share when the larger is true.
    pub error_if_larger: f64,
}

/// Young looked at before giving up.
const MOST_YOUNG: u64 = 5000;

/// The fewest young that tell share `low` from share `high` with both errors at most `error`; `None` beyond 5000.
pub fn tell_apart(low: f64, high: f64, error: f64) -> Option<RatioPlan> {
    (1..=MOST_YOUNG).find_map(|n| plan_of(low, high, error, n))
}

/// The number of young from which every larger number works too, as far as 100 beyond the first is looked at.
pub fn always_from(low: f64, high: f64, error: f64) -> Option<u64> {
    let first = tell_apart(low, high, error)?.young;
    let fails = (first..first + 100).rev().find(|n| plan_of(low, high, error, *n).is_none());
    Some(fails.map_or(first, |n| n + 1))
}

/// The threshold for `n` young, if one keeps both errors: the smallest that keeps the error of calling the larger.
fn plan_of(low: f64, high: f64, error: f64, n: u64) -> Option<RatioPlan> {
    let call_larger_from = (0..=n + 1).find(|k| upper_tail(*k, n, low) <= error)?;
    let error_if_larger = if call_larger_from == 0 { 0.0 } else { lower_tail(call_larger_from - 1, n, high) };
    (error_if_larger <= error).then(|| RatioPlan {
        young: n,
        call_larger_from,
        error_if_smaller: upper_tail(call_larger_from, n, low),
        error_if_larger,
    })
}

/// The normal approximation to the number of young, unrounded.
pub fn normal_young(low: f64, high: f64, error: f64) -> f64 {
    let z = normal_quantile(1.0 - error);
    let spread = (low * (1.0 - low)).sqrt() + (high * (1.0 - high)).sqrt();
    (z * spread / (high - low)).powi(2)
}

/// Information per fish for telling a true share from another, in bits (Kullback–Leibler).
pub fn bits_per_fish(truth: f64, other: f64) -> f64 {
    truth * (truth / other).log2() + (1.0 - truth) * ((1.0 - truth) / (1.0 - other)).log2()
}
