//! Two axes together: are they inherited independently, and if not, at which recombination?
//!
//! Sources: Fisher's product ratio for F2 counts (θ = (1-r)² in coupling, r² in repulsion; Statistical Methods
//! for Research Workers); Morton 1955 for the LOD score.

use crate::stats::factorial::{ln_arrangements, x_ln_p};
use crate::stats::goodness::Fit;

/// Joint counts of two axes: both wild, first wild and second mutant, first mutant and second wild, both mutant.
pub type Joint = [u32; 4];

/// Which alleles lie together in the doubly heterozygous parent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Phase {
    /// Both mutant alleles on one chromosome.
    Coupling,
    /// One on each.
    Repulsion,
}

/// A recombination estimate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Recombination {
    /// Estimate, 0..=0.5.
    pub rate: f64,
    /// Its large-sample standard error.
    pub standard_error: f64,
    /// log10 of the likelihood at the estimate over that at one half.
    pub lod: f64,
}

/// Class probabilities of a test cross (double heterozygote × double recessive).
pub fn test_cross_law(rate: f64, phase: Phase) -> [f64; 4] {
    let (parental, recombinant) = ((1.0 - rate) / 2.0, rate / 2.0);
    match phase {
        Phase::Coupling => [parental, recombinant, recombinant, parental],
        Phase::Repulsion => [recombinant, parental, parental, recombinant],
    }
}

/// Class probabilities of an F2 (double heterozygote × double heterozygote) of recessive traits, equal recombination in
/// both sexes.
pub fn f2_law(rate: f64, phase: Phase) -> [f64; 4] {
    let theta = theta(rate, phase);
    [(2.0 + theta) / 4.0, (1.0 - theta) / 4.0, (1.0 - theta) / 4.0, theta / 4.0]
}

fn theta(rate: f64, phase: Phase) -> f64 {
    match phase {
        Phase::Coupling => (1.0 - rate) * (1.0 - rate),
        Phase::Repulsion => rate * rate,
    }
}

fn ln_likelihood(counts: Joint, law: [f64; 4]) -> f64 {
    counts.iter().zip(law).map(|(n, p)| x_ln_p(u64::from(*n), p)).sum()
}

fn total(counts: Joint) -> f64 {
    f64::from(counts.iter().sum::<u32>())
}

/// Recombination from a test cross of known phase.
pub fn from_test_cross(counts: Joint, phase: Phase) -> Option<Recombination> {
    let n = total(counts);
    let [ab, a, b, both] = counts.map(f64::from);
    let recombinants = match phase {
        Phase::Coupling => a + b,
        Phase::Repulsion => ab + both,
    };
    let rate = (recombinants / n).min(0.5);
    (n > 0.0).then(|| Recombination {
        rate,
        standard_error: (rate * (1.0 - rate) / n).sqrt(),
        lod: lod(counts, test_cross_law(rate, phase), test_cross_law(0.5, phase)),
    })
}

fn lod(counts: Joint, at: [f64; 4], free: [f64; 4]) -> f64 {
    (ln_likelihood(counts, at) - ln_likelihood(counts, free)) / std::f64::consts::LN_10
}

/// θ of F2 counts: the positive root of n θ² - (a - 2b - 2c - d) θ - 2d = 0.
pub fn f2_theta(counts: Joint) -> f64 {
    let n = total(counts);
    let [a, b, c, d] = counts.map(f64::from);
    let middle = a - 2.0 * b - 2.0 * c - d;
    (middle + (middle * middle + 8.0 * n * d).sqrt()) / (2.0 * n)
}

/// Recombination from an F2 of known phase.
pub fn from_f2(counts: Joint, phase: Phase) -> Option<Recombination> {
    let n = total(counts);
    if n <= 0.0 {
        return None;
    }
    let theta = f2_theta(counts);
    let rate = match phase {
        Phase::Coupling => 1.0 - theta.sqrt(),
        Phase::Repulsion => theta.sqrt(),
    }
    .clamp(0.0, 0.5);
    // Fisher's information of θ, carried over to r by dθ/dr = ±2√θ.
    let variance = 2.0 * theta * (1.0 - theta) * (2.0 + theta) / (n * (1.0 + 2.0 * theta));
    Some(Recombination {
        rate,
        standard_error: if theta > 0.0 { (variance / (4.0 * theta)).sqrt() } else { f64::NAN },
        lod: lod(counts, f2_law(rate, phase), f2_law(0.5, phase)),
    })
}

/// ln likelihood of a test cross whose phase is not known (coupling and repulsion one half each), multinomial
/// coefficient included, without any prior for the parent being doubly heterozygous.
pub fn ln_test_cross_unknown_phase(counts: Joint, rate: f64) -> f64 {
    let of = |phase| ln_likelihood(counts, test_cross_law(rate, phase));
    let (a, b) = (of(Phase::Coupling), of(Phase::Repulsion));
    let top = a.max(b);
    ln_arrangements(&counts.map(u64::from)) + top + (((a - top).exp() + (b - top).exp()) / 2.0).ln()
}

/// Steps of the grid on which the recombination of unknown phase is looked for: to 0.0005.
const GRID: u32 = 1000;

/// Recombination from a test cross of unknown phase: the likeliest of a fine grid, with its LOD.
pub fn from_test_cross_unknown_phase(counts: Joint) -> Option<Recombination> {
    let n = total(counts);
    let at = |step: u32| f64::from(step) / f64::from(2 * GRID);
    let ln = |rate: f64| ln_test_cross_unknown_phase(counts, rate);
    let best = (0..=GRID).map(at).max_by(|a, b| ln(*a).total_cmp(&ln(*b)))?;
    (n > 0.0).then(|| Recombination {
        rate: best,
        standard_error: (best * (1.0 - best) / n).sqrt(),
        lod: (ln(best) - ln(0.5)) / std::f64::consts::LN_10,
    })
}

/// The crosses whose joint counts tell of linkage.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum CrossKind {
    /// One parent heterozygous on both axes, its gametes showing in the classes of the young.
    TestCross,
    /// Both parents heterozygous on both axes, both targets recessive.
    F2,
}

impl CrossKind {
    /// As printed.
    pub fn words(self) -> &'static str {
        match self {
            Self::TestCross => "test cross",
            Self::F2 => "F2",
        }
    }
}

/// What a cross's joint counts say of linkage.
#[derive(Debug, Clone, PartialEq)]
pub struct Linkage {
    /// What kind of cross it is on both axes.
    pub kind: CrossKind,
    /// Estimates with their phase in words.
    pub estimates: Vec<(&'static str, Recombination)>,
}

/// Recombination estimates for a cross of a known kind; none without fish.
pub fn linkage(counts: Joint, kind: CrossKind) -> Option<Linkage> {
    let estimates = match kind {
        CrossKind::TestCross => vec![("phase unknown", from_test_cross_unknown_phase(counts)?)],
        CrossKind::F2 => {
            let of = |phase| from_f2(counts, phase);
            vec![("in coupling", of(Phase::Coupling)?), ("in repulsion", of(Phase::Repulsion)?)]
        }
    };
    Some(Linkage { kind, estimates })
}

/// Chi-square of independence of the two axes, whatever their own ratios.
pub fn independence(counts: Joint) -> Option<Fit> {
    let n = total(counts);
    let [a, b, c, d] = counts.map(f64::from);
    let margins = (a + b) * (c + d) * (a + c) * (b + d);
    (margins > 0.0).then(|| Fit::new(n * (a * d - b * c).powi(2) / margins, 1))
}
