//! Expected information of a brood about the mode, in bits, by exact enumeration of what it may show.
//!
//! Lindley 1956: EIG = Σ_m P(m) Σ_y P(y|m) log2 [P(y|m) / Σ_m' P(m') P(y|m')], mixed over the
//! parents' genotypes outside the product over the young, because the whole brood shares them. Sons and daughters come
//! as chance has it, so the brood is one multinomial over sex × class.

use std::collections::BTreeMap;

use crate::inherit::{Outlook, ScoringError};
use crate::stats::factorial::ln_factorial;

/// Brood sizes that are reported, smallest first.
pub const BROOD_SIZES: [u32; 4] = [4, 8, 12, 20];

/// Below this an information is rounding, and the pair cannot help.
const ROUNDING: f64 = 1e-9;

/// Outcomes less likely than this together with a mode are passed over: at most some 1e5 terms of less than 100 bits each stay
/// below [`ROUNDING`].
const UNHEARD: f64 = 1e-16;

/// What a pair's young may look like under several modes.
#[derive(Debug, Clone, PartialEq)]
pub struct Expectation {
    /// Posterior weight of each mode; need not sum to 1.
    pub weights: Vec<f64>,
    /// Distinct cell probabilities (daughters by class, then sons by class) any mode may lead to.
    cells: Vec<Vec<f64>>,
    /// For each mode, the probability of each entry of `cells`.
    shares: Vec<Vec<f64>>,
}

/// Laws equal to this many decimals are one.
const DECIMALS: f64 = 1e12;

impl Expectation {
    /// Gathers the outlooks of one pair, mode by mode.
    pub fn new(modes: &[(f64, Outlook)], error: &ScoringError) -> Self {
        let mut known: BTreeMap<Vec<u64>, usize> = BTreeMap::new();
        let mut cells: Vec<Vec<f64>> = vec![];
        let mut shares = vec![];
        for (_, outlook) in modes {
            let mut row = vec![0.0; cells.len()];
            for chance in outlook {
                let seen = error.seen_law(&chance.law);
                let daughters = chance.law.daughters;
                let cell: Vec<f64> = [(0, daughters), (1, 1.0 - daughters)]
                    .iter()
                    .flat_map(|(sex, share)| {
                        classes(seen[*sex].unwrap_or_default(), error.classes).map(move |p| p * share)
                    })
                    .collect();
                let key = cell.iter().map(|p| (p * DECIMALS).round().to_bits()).collect();
                let next = cells.len();
                let at = *known.entry(key).or_insert(next);
                if at == next {
                    cells.push(cell);
                    row.push(0.0);
                }
                row[at] += chance.probability;
            }
            shares.push(row);
        }
        for row in &mut shares {
            row.resize(cells.len(), 0.0);
        }
        Self { weights: modes.iter().map(|(weight, _)| *weight).collect(), cells, shares }
    }
}

fn classes(row: [f64; 3], count: usize) -> impl Iterator<Item = f64> {
    let [other, middle, target] = row;
    let list = if count == 2 { vec![other, target] } else { vec![other, middle, target] };
    list.into_iter()
}

/// Expected information in bits of `young` scored and sexed fry; 0 where every mode predicts alike.
pub fn information(expectation: &Expectation, young: u32) -> f64 {
    let total: f64 = expectation.weights.iter().sum();
    if total <= 0.0 || expectation.cells.len() <= 1 {
        return 0.0;
    }
    // Modes that predict alike are one for this question.
    let mut distinct: Vec<(f64, &[f64])> = vec![];
    for (weight, row) in expectation.weights.iter().zip(&expectation.shares) {
        let same = |known: &[f64]| known.iter().zip(row).all(|(a, b)| (a - b).abs() * DECIMALS < 1.0);
        match distinct.iter_mut().find(|(_, known)| same(known)) {
            Some((prior, _)) => *prior += weight / total,
            None => distinct.push((weight / total, row)),
        }
    }
    if distinct.len() == 1 {
        return 0.0;
    }
    let (prior, rows): (Vec<f64>, Vec<&[f64]>) = distinct.into_iter().unzip();
    let mut bits = 0.0;
    each_probability(&expectation.cells, &rows, young, &mut |by_row| {
        let mixed: f64 = prior.iter().zip(by_row).map(|(w, p)| w * p).sum();
        for (w, p) in prior.iter().zip(by_row) {
            if w * p > UNHEARD {
                bits += w * p * (p / mixed).log2();
            }
        }
    });
    if bits < ROUNDING { 0.0 } else { bits }
}

/// Probability, if mode `truth` holds, that `young` fry make it at least `ratio` times as likely as mode `other` (both by
/// index).
pub fn power(expectation: &Expectation, (truth, other): (usize, usize), young: u32, ratio: f64) -> f64 {
    let rows = [truth, other].map(|mode| expectation.shares[mode].as_slice());
    let mut sum = 0.0;
    each_probability(&expectation.cells, &rows, young, &mut |by_row| {
        if by_row[0] >= ratio * by_row[1] {
            sum += by_row[0];
        }
    });
    sum
}

/// Calls `see` with the probability of each outcome under each row of shares of the cells, outcome by outcome.
fn each_probability(cells: &[Vec<f64>], rows: &[&[f64]], young: u32, see: &mut dyn FnMut(&[f64])) {
    let Some(width) = cells.first().map(Vec::len) else { return };
    let used: Vec<usize> = (0..cells.len()).filter(|c| rows.iter().any(|row| row[*c] > 0.0)).collect();
    let power = |p: f64| (0..=young).map(|n| p.powf(f64::from(n))).collect::<Vec<f64>>();
    let powers: Vec<Vec<Vec<f64>>> = used.iter().map(|c| cells[*c].iter().map(|p| power(*p)).collect()).collect();
    let of_row = |row: &&[f64]| {
        let shares = used.iter().map(|c| row[*c]).enumerate();
        shares.filter(|(_, share)| *share > 0.0).collect::<Vec<(usize, f64)>>()
    };
    let shares: Vec<Vec<(usize, f64)>> = rows.iter().map(of_row).collect();
    let ln_factorials: Vec<f64> = (0..=u64::from(young)).map(ln_factorial).collect();
    let (mut by_cell, mut by_row) = (vec![0.0; used.len()], vec![0.0; rows.len()]);
    each_outcome(young, 0, &mut vec![0; width], &mut |y| {
        let orders = (ln_factorials[young as usize] - y.iter().map(|n| ln_factorials[*n as usize]).sum::<f64>()).exp();
        for (p, power) in by_cell.iter_mut().zip(&powers) {
            *p = orders * y.iter().zip(power).map(|(n, row)| row[*n as usize]).product::<f64>();
        }
        for (sum, shares) in by_row.iter_mut().zip(&shares) {
            *sum = shares.iter().map(|(cell, share)| share * by_cell[*cell]).sum();
        }
        see(&by_row);
    });
}

/// Calls `see` with every way to spread `left` fish over the cells from `at` on.
fn each_outcome(left: u32, at: usize, outcome: &mut [u32], see: &mut dyn FnMut(&[u32])) {
    if at + 1 == outcome.len() {
        outcome[at] = left;
        see(outcome);
        return;
    }
    for n in 0..=left {
        outcome[at] = n;
        each_outcome(left - n, at + 1, outcome, see);
    }
}
