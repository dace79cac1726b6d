//! Which modes these crosses cannot tell apart, whatever had been counted.
//!
//! Two modes are inseparable when they give every outcome of every cross the same probability. That is tried on the
//! counts as they are and on made-up ones, with founders' and breeders' own classes taken as certain, so that the
//! founder prior under scoring error does not hide the likeness. The weights take no class as certain: modes that the
//! counts part all the same (one explains them by a mis-scored parent more easily than the other) are not called alike.

use super::error_law::ScoringError;
use super::evidence::{Counts, Evidence};
use super::model::Model;
use crate::error::Result;

/// Young are tried with this error, so that no outcome is impossible and every difference shows.
const TRIAL_ERROR: f64 = 0.05;

/// Log-likelihoods closer than this are the same figure; the elimination is good to about 1e-12.
const SAME: f64 = 1e-7;

/// Most that the log10 likelihoods of the counts as they are may differ between modes called alike: a factor of 1.26, so
/// that the founder prior under scoring error (0.004 in example 1 of the check values) does not part them and evidence does
/// (starting value, not tuned).
const SAME_LOG10: f64 = 0.1;

/// Made-up sets of counts tried beside the real ones.
const TRIALS: u32 = 2;

/// What a mode says of every trial; compare with [`alike`].
pub(super) fn signature(model: &Model, evidence: &Evidence) -> Result<Vec<f64>> {
    let error = ScoringError { young: TRIAL_ERROR, breeders: 0.0, founders: 0.0, classes: evidence.class_count() };
    let trials = (0..=TRIALS).map(|trial| if trial == 0 { evidence.clone() } else { made_up(evidence, trial) });
    trials.map(|trial| model.ln_likelihood(&trial, &error)).collect()
}

/// Whether two signatures are one. Modes that find a breeder's own class impossible are like nobody.
pub(super) fn alike(a: &[f64], b: &[f64]) -> bool {
    a.iter().zip(b).all(|(a, b)| a.is_finite() && (a - b).abs() < SAME)
}

/// Whether the counts as they are, classes taken as they may be mis-scored, weigh two modes alike; natural logarithms.
pub(super) fn weigh_alike(a: f64, b: f64) -> bool {
    let both_impossible = a == f64::NEG_INFINITY && b == f64::NEG_INFINITY;
    both_impossible || (a - b).abs() < SAME_LOG10 * std::f64::consts::LN_10
}

/// The golden ratio in percent: its multiples spread evenly, so that no two broods get the same share.
const GOLDEN_PERCENT: u32 = 62;

/// The same broods with other counts.
fn made_up(evidence: &Evidence, trial: u32) -> Evidence {
    let mut out = evidence.clone();
    let mut step = trial * 37;
    for brood in &mut out.broods {
        let mut redraw = |row: [u32; 3]| {
            step = (step + GOLDEN_PERCENT) % 100;
            let n: u32 = row.iter().sum();
            let target = n * step / 100;
            let middle = if evidence.middle.is_some() { (n - target) / 3 } else { 0 };
            [n - target - middle, middle, target]
        };
        let Counts { female, male, unsexed } = brood.counts;
        brood.counts = Counts { female: redraw(female), male: redraw(male), unsexed: redraw(unsexed) };
    }
    out
}
