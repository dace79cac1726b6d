//! How probable it is that a condition holds, given the measurement and its error.

use statrs::function::erf::erfc;

use super::{Condition, Limit};
use crate::features::Features;

/// Least and greatest probability: they differ where a feature cannot be seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Bounds {
    pub(super) low: f64,
    pub(super) high: f64,
}

impl Bounds {
    const UNKNOWN: Self = Self { low: 0.0, high: 1.0 };

    pub(super) fn exactly(p: f64) -> Self {
        Self { low: p, high: p }
    }
}

/// Probability that all conditions hold, their errors taken as independent.
pub(super) fn all(conditions: &[Condition], features: &Features) -> Bounds {
    conditions
        .iter()
        .map(|c| holds(c, features))
        .fold(Bounds::exactly(1.0), |whole, one| Bounds { low: whole.low * one.low, high: whole.high * one.high })
}

fn holds(condition: &Condition, features: &Features) -> Bounds {
    match condition {
        Condition::Limit(limit) => within(limit, features).map_or(Bounds::UNKNOWN, Bounds::exactly),
        Condition::All(parts) => all(parts, features),
        Condition::AtLeast { count, of } => {
            let each: Vec<Bounds> = of.iter().map(|c| holds(c, features)).collect();
            let reach = |p: &dyn Fn(&Bounds) -> f64| at_least(*count, &each.iter().map(p).collect::<Vec<_>>());
            Bounds { low: reach(&|b| b.low), high: reach(&|b| b.high) }
        }
        Condition::FirstKnown(parts) => deciding(parts, features).map_or(Bounds::UNKNOWN, |c| holds(c, features)),
    }
}

/// The first of the conditions whose features can all be seen.
pub(super) fn deciding<'a>(parts: &'a [Condition], features: &Features) -> Option<&'a Condition> {
    parts.iter().find(|c| {
        let mut limits = Vec::new();
        leaves(c, features, &mut limits);
        limits.iter().all(|l| l.feature.read(features).is_some())
    })
}

/// Every limit the condition looks at on this fish, in the order of the sheet.
pub(super) fn leaves<'a>(condition: &'a Condition, features: &Features, into: &mut Vec<&'a Limit>) {
    match condition {
        Condition::Limit(limit) => into.push(limit),
        Condition::All(parts) | Condition::AtLeast { of: parts, .. } => {
            for part in parts {
                leaves(part, features, into);
            }
        }
        Condition::FirstKnown(parts) => match deciding(parts, features) {
            Some(part) => leaves(part, features, into),
            None => parts.iter().for_each(|part| leaves(part, features, into)),
        },
    }
}

/// Share of the feature's error distribution (normal, its own standard error and the margin together) between the
/// limits; `None` where it cannot be seen.
pub(super) fn within(limit: &Limit, features: &Features) -> Option<f64> {
    let e = limit.feature.read(features)?;
    let sd = e.se.hypot(limit.margin);
    // Mass below a limit; a value without any error that meets the limit counts as above it.
    let below = |at: f64| {
        if sd > 0.0 {
            0.5 * erfc((e.value - at) / (sd * std::f64::consts::SQRT_2))
        } else if e.value < at {
            1.0
        } else {
            0.0
        }
    };
    Some(limit.below.map_or(1.0, below) - limit.above.map_or(0.0, below))
}

/// Probability that at least `count` of independent events of the given probabilities happen (Poisson-binomial).
fn at_least(count: usize, each: &[f64]) -> f64 {
    let mut exactly = vec![0.0; each.len() + 1];
    exactly[0] = 1.0;
    for (n, p) in each.iter().enumerate() {
        for k in (0..=n).rev() {
            exactly[k + 1] += exactly[k] * p;
            exactly[k] *= 1.0 - p;
        }
    }
    exactly[count.min(exactly.len())..].iter().sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn at_least_two_of_three_agrees_with_listing_all_eight_cases() {
        let p: [f64; 3] = [0.2, 0.5, 0.9];
        let mut sum = 0.0;
        for case in 0..8usize {
            let happened = |i: usize| case >> i & 1 == 1;
            if (0..3).filter(|i| happened(*i)).count() >= 2 {
                sum += (0..3).map(|i| if happened(i) { p[i] } else { 1.0 - p[i] }).product::<f64>();
            }
        }
        assert!((at_least(2, &p) - sum).abs() < 1e-12);
        assert!((at_least(0, &p) - 1.0).abs() < 1e-12);
    }
}
