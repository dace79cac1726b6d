//! Good, fair or poor, with the reason and what to do.

use super::fit::{Chosen, WHITE_BALANCE};
use super::{FitReport, Verdict};
use crate::card::LeftOut;

/// Leave-one-out mean up to which a photo is good, and up to which it is fair, in CIEDE2000. On drawn phones 95 % of fish are
/// then read within 1.2 and within 2.2 units of L* (docs/validation.md shows how that error grows).
const MEAN_LIMITS: [f64; 2] = [3.0, 5.0];

/// Leave-one-out maximum up to which a photo is good, and up to which it is fair.
const MAX_LIMITS: [f64; 2] = [9.0, 16.0];

/// Share of the patches that must be readable for a good photo, and for a fair one.
const READABLE: [f64; 2] = [0.8, 0.5];

/// The verdict over a fit and, unless it is good, the reasons.
pub(super) fn verdict(
    fit: &FitReport,
    chosen: &Chosen,
    left_out: &[(usize, LeftOut)],
    patches: usize,
) -> (Verdict, Vec<String>) {
    let mut verdict = Verdict::Good;
    let mut reasons = Vec::new();
    let mut lower = |to: Verdict, reason: String| {
        if to < Verdict::Good {
            verdict = verdict.min(to);
            reasons.push(reason);
        }
    };
    lower(
        above(fit.loo_mean_de00, MEAN_LIMITS),
        format!(
            "patches are read {:.1} CIEDE2000 off in the mean by a fit that has not seen them; use even, bright, diffuse light without colour casts and switch picture styles off",
            fit.loo_mean_de00
        ),
    );
    lower(
        above(fit.loo_max_de00, MAX_LIMITS),
        format!(
            "one patch is read {:.1} CIEDE2000 off by a fit that has not seen it; look for a shadow, a mirror image or dirt on the card",
            fit.loo_max_de00
        ),
    );
    let readable = 1.0 - left_out.len() as f64 / patches.max(1) as f64;
    lower(
        above(-readable, READABLE.map(|v| -v)),
        format!("{} of {patches} patches cannot be used ({}); {}", left_out.len(), causes(left_out), advice(left_out)),
    );
    if chosen.name == WHITE_BALANCE {
        lower(
            Verdict::Fair,
            "the card has greys only: white balance and exposure are set, colours are the camera's own; use a card with coloured patches".to_owned(),
        );
    }
    (verdict, reasons)
}

/// Good up to the first limit, fair up to the second, poor beyond.
fn above(value: f64, [good, fair]: [f64; 2]) -> Verdict {
    if value <= good {
        Verdict::Good
    } else if value <= fair {
        Verdict::Fair
    } else {
        Verdict::Poor
    }
}

/// `2 clipped, 1 shaded`.
fn causes(left_out: &[(usize, LeftOut)]) -> String {
    let counted = |kind: LeftOut, word: &str| {
        let n = left_out.iter().filter(|l| l.1 == kind).count();
        (n > 0).then(|| format!("{n} {word}"))
    };
    let all = [
        counted(LeftOut::Clipped, "clipped"),
        counted(LeftOut::Shaded, "shaded"),
        counted(LeftOut::Glare, "glaring"),
        counted(LeftOut::Covered, "covered"),
    ];
    all.into_iter().flatten().collect::<Vec<_>>().join(", ")
}

/// What to do about the most frequent cause.
fn advice(left_out: &[(usize, LeftOut)]) -> &'static str {
    let count = |kind: LeftOut| left_out.iter().filter(|l| l.1 == kind).count();
    let kinds = [LeftOut::Clipped, LeftOut::Shaded, LeftOut::Glare, LeftOut::Covered];
    match kinds.into_iter().max_by_key(|&k| count(k)) {
        Some(LeftOut::Clipped) => "expose less",
        Some(LeftOut::Shaded) => "move what throws the shadow",
        Some(LeftOut::Glare) => "tilt the card or move the lamp",
        _ => "keep fingers and other things off the card",
    }
}
