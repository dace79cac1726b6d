//! Cohen's kappa: agreement of two scorings of the same fish beyond chance.

use super::Interval;
use super::interval::normal_quantile;

/// How far apart two classes count.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Weights {
    /// Any disagreement counts in full (Cohen 1960).
    Unweighted,
    /// Disagreement grows with the distance between ordered classes (Cicchetti & Allison 1971).
    Linear,
    /// Disagreement grows with the squared distance (Fleiss & Cohen 1973).
    Quadratic,
}

/// Kappa with its errors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Kappa {
    /// Weighted agreement seen.
    pub observed: f64,
    /// Weighted agreement expected by chance.
    pub expected: f64,
    /// (observed − expected) / (1 − expected).
    pub kappa: f64,
    /// Large-sample standard error (Fleiss, Cohen & Everitt 1969).
    pub se: f64,
    /// Standard error when there is no agreement beyond chance; for the test against 0.
    pub null_se: f64,
}

/// Below this a standard error is what rounding leaves of zero.
const ROUNDING: f64 = 1e-6;

impl Kappa {
    /// Large-sample interval at `confidence`, within −1 to 1; `None` where the error vanishes, as where all fish agree: that
    /// says nothing of how sure kappa is.
    pub fn interval(&self, confidence: f64) -> Option<Interval> {
        let half = normal_quantile(f64::midpoint(1.0, confidence)) * self.se;
        (self.se > ROUNDING).then(|| Interval::new((self.kappa - half).max(-1.0), (self.kappa + half).min(1.0)))
    }
}

/// Kappa of a square table, rows the first scoring, columns the second. `None` for an empty or ragged table, or one where
/// a scoring holds one class alone, as of a single fish: chance then explains the whole agreement, and kappa is 0 whatever it is.
pub fn kappa(table: &[Vec<u64>], weights: Weights) -> Option<Kappa> {
    let k = table.len();
    let n = table.iter().flatten().sum::<u64>() as f64;
    if n == 0.0 || table.iter().any(|r| r.len() != k) {
        return None;
    }
    let p = |i: usize, j: usize| table[i][j] as f64 / n;
    let row: Vec<f64> = (0..k).map(|i| (0..k).map(|j| p(i, j)).sum()).collect();
    let column: Vec<f64> = (0..k).map(|j| (0..k).map(|i| p(i, j)).sum()).collect();
    let several = |margin: &[f64]| margin.iter().filter(|share| **share > 0.0).count() > 1;
    if !several(&row) || !several(&column) {
        return None;
    }
    let w = |i: usize, j: usize| weight(i, j, k, weights);
    let sum = |f: &dyn Fn(usize, usize) -> f64| (0..k).map(|i| (0..k).map(|j| f(i, j)).sum::<f64>()).sum::<f64>();
    let observed = sum(&|i, j| w(i, j) * p(i, j));
    let expected = sum(&|i, j| w(i, j) * row[i] * column[j]);
    let kappa = (observed - expected) / (1.0 - expected);
    // Mean weights of row i over the columns' margins, and of column j over the rows' margins.
    let of_row: Vec<f64> = (0..k).map(|i| (0..k).map(|j| column[j] * w(i, j)).sum()).collect();
    let of_column: Vec<f64> = (0..k).map(|j| (0..k).map(|i| row[i] * w(i, j)).sum()).collect();
    let terms = sum(&|i, j| p(i, j) * (w(i, j) - (of_row[i] + of_column[j]) * (1.0 - kappa)).powi(2));
    let null = sum(&|i, j| row[i] * column[j] * (w(i, j) - of_row[i] - of_column[j]).powi(2));
    let scale = (1.0 - expected) * n.sqrt();
    let se = (terms - (kappa - expected * (1.0 - kappa)).powi(2)).max(0.0).sqrt() / scale;
    Some(Kappa { observed, expected, kappa, se, null_se: (null - expected * expected).max(0.0).sqrt() / scale })
}

fn weight(i: usize, j: usize, k: usize, weights: Weights) -> f64 {
    let apart = i.abs_diff(j) as f64 / (k.max(2) - 1) as f64;
    match weights {
        Weights::Unweighted => f64::from(u8::from(i == j)),
        Weights::Linear => 1.0 - apart,
        Weights::Quadratic => 1.0 - apart * apart,
    }
}
