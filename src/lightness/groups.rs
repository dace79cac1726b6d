//! Does a brood fall into one group of lightness or two, and is the paler group the one of a class?

use serde::Serialize;

use crate::error::{Error, Result};
use crate::stats::factorial::ln_choose;
use crate::stats::random::Random;

/// Fewest fish for a test of two groups: below, a mixture of two fits anything.
const FEWEST: usize = 8;

/// Samples of the bootstrap: p is a multiple of 1/200, and `p < 0.05` then has a level of 4.5 %, safely below 5 %.
const SAMPLES: usize = 199;

/// One group or two.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TwoGroups {
    /// Number of fish.
    pub fish: usize,
    /// Twice the gain in log-likelihood of two groups over one.
    pub gain: f64,
    /// Bootstrap p of that gain when the brood is one normal group.
    pub p: f64,
    /// Whether p is below 0.05.
    pub two: bool,
    /// Mean L* of the darker and of the paler group.
    pub means: [f64; 2],
    /// Their common standard deviation.
    pub spread: f64,
    /// Share of fish in the paler group.
    pub paler_share: f64,
    /// For each fish, in the order given, the probability that it belongs to the paler group.
    pub paler: Vec<f64>,
    /// In words.
    pub because: String,
}

/// Tests one normal group against a mixture of two with the same spread, by parametric bootstrap (McLachlan 1987): the
/// gain does not depend on place and scale, so that samples of a standard normal of the same size show what chance gives.
/// `seed` drives the bootstrap.
///
/// # Errors
/// Fewer than eight fish, or no spread at all.
pub fn two_groups(values: &[f64], seed: u64) -> Result<TwoGroups> {
    if values.len() < FEWEST {
        let found = format!("{} fish are too few to tell one group from two (at least {FEWEST})", values.len());
        return Err(Error::failed("", found, "score more fish of this brood, or several broods of the same cross"));
    }
    let Some(fit) = Mixture::fit(values) else {
        return Err(Error::failed("", "all fish have the same lightness", "check that they were measured separately"));
    };
    let mut random = Random::new(seed);
    let as_large = (0..SAMPLES)
        .filter(|_| {
            let sample: Vec<f64> = (0..values.len()).map(|_| random.normal()).collect();
            Mixture::fit(&sample).is_some_and(|m| m.gain >= fit.gain)
        })
        .count();
    let p = (as_large + 1) as f64 / (SAMPLES + 1) as f64;
    let two = p < 0.05;
    Ok(TwoGroups {
        fish: values.len(),
        gain: fit.gain,
        p,
        two,
        means: fit.means,
        spread: fit.sd,
        paler_share: fit.share,
        paler: values.iter().map(|&v| fit.paler(v)).collect(),
        because: in_words(&fit, p, two, values.len()),
    })
}

fn in_words(fit: &Mixture, p: f64, two: bool, fish: usize) -> String {
    let p = crate::units::p_value(p);
    let [dark, pale] = fit.means;
    if two {
        format!(
            "{fish} fish fall into two groups, around {dark:.1} and {pale:.1} L*, {:.0} % of them in the paler one \
             (bootstrap p {p}); a skewed single group can look the same",
            100.0 * fit.share
        )
    } else {
        format!(
            "nothing speaks for two groups among {fish} fish (bootstrap p {p}); a small or overlapping group can hide"
        )
    }
}

/// A mixture of two normals with a common spread.
struct Mixture {
    means: [f64; 2],
    sd: f64,
    /// Weight of the paler group.
    share: f64,
    gain: f64,
}

impl Mixture {
    /// Best of three starts; `None` without spread.
    fn fit(values: &[f64]) -> Option<Self> {
        let mut sorted = values.to_vec();
        sorted.sort_by(f64::total_cmp);
        let one = one_group(values)?;
        let starts = [sorted.len() / 4, sorted.len() / 2, sorted.len() * 3 / 4];
        let fits = starts.into_iter().map(|at| Self::from_split(&sorted, at, one));
        fits.max_by(|x, y| x.gain.total_cmp(&y.gain))
    }

    /// Expectation–maximisation (Dempster, Laird & Rubin 1977) from a split of the sorted values.
    fn from_split(sorted: &[f64], at: usize, one: f64) -> Self {
        let n = sorted.len() as f64;
        let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len() as f64;
        let means = [mean(&sorted[..at]), mean(&sorted[at..])];
        let rest = |v: &[f64], m: f64| v.iter().map(|x| (x - m).powi(2)).sum::<f64>();
        let sd = ((rest(&sorted[..at], means[0]) + rest(&sorted[at..], means[1])) / n).sqrt();
        // A spread far below that of the whole would chase single values to an endless likelihood.
        let floor = 0.05 * (rest(sorted, mean(sorted)) / n).sqrt();
        let mut fit = Self { means, sd: sd.max(floor), share: 1.0 - at as f64 / n, gain: 0.0 };
        let mut last = f64::NEG_INFINITY;
        for _ in 0..300 {
            let log = fit.step(sorted, floor);
            if log - last < 1e-7 {
                break;
            }
            last = log;
        }
        fit.gain = 2.0 * (last - one);
        fit
    }

    /// One round; returns the log-likelihood before it.
    fn step(&mut self, values: &[f64], floor: f64) -> f64 {
        let n = values.len() as f64;
        let (mut log, mut weight, mut sums, mut squares) = (0.0, 0.0, [0.0; 2], 0.0);
        let posterior: Vec<f64> = values.iter().map(|&v| self.paler(v)).collect();
        for (v, p) in values.iter().zip(&posterior) {
            log += self.log_density(*v);
            weight += p;
            sums[0] += (1.0 - p) * v;
            sums[1] += p * v;
        }
        let (dark, pale) = ((n - weight).max(1e-9), weight.max(1e-9));
        self.means = [sums[0] / dark, sums[1] / pale];
        for (v, p) in values.iter().zip(&posterior) {
            squares += (1.0 - p) * (v - self.means[0]).powi(2) + p * (v - self.means[1]).powi(2);
        }
        self.sd = (squares / n).sqrt().max(floor);
        self.share = weight / n;
        log
    }

    /// Probability that a value belongs to the paler group.
    fn paler(&self, v: f64) -> f64 {
        let [dark, pale] = self.means.map(|m| -((v - m) / self.sd).powi(2) / 2.0);
        let odds = (pale - dark).exp() * self.share / (1.0 - self.share).max(1e-12);
        if odds.is_infinite() { 1.0 } else { odds / (1.0 + odds) }
    }

    fn log_density(&self, v: f64) -> f64 {
        let [dark, pale] = self.means.map(|m| -((v - m) / self.sd).powi(2) / 2.0);
        let top = dark.max(pale);
        let mixed = (1.0 - self.share) * (dark - top).exp() + self.share * (pale - top).exp();
        top + mixed.ln() - self.sd.ln() - (2.0 * std::f64::consts::PI).ln() / 2.0
    }
}

/// Log-likelihood of a single normal group at its best; `None` without spread.
fn one_group(values: &[f64]) -> Option<f64> {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let var = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / n;
    (var > 0.0).then(|| -n / 2.0 * ((2.0 * std::f64::consts::PI * var).ln() + 1.0))
}

/// Whether the paler fish are those of a class.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PalerAndClass {
    /// Fish of the paler group in the class, and not.
    pub paler: [u64; 2],
    /// Fish of the darker group in the class, and not.
    pub darker: [u64; 2],
    /// Fisher's exact p (two-sided, ordered by probability).
    pub p: f64,
    /// In words.
    pub because: String,
}

/// Crosses the groups with a class: `(probability of the paler group, has the class)` of each scored fish; `class` is its
/// name for the sentence. A fish goes to the group it more probably belongs to.
pub fn paler_and_class(fish: &[(f64, bool)], class: &str) -> PalerAndClass {
    let count = |paler: bool, has: bool| fish.iter().filter(|(p, c)| (*p > 0.5) == paler && *c == has).count() as u64;
    let (paler, darker) = ([count(true, true), count(true, false)], [count(false, true), count(false, false)]);
    let p = fisher_exact(paler, darker);
    let (of_pale, of_dark) = (paler.iter().sum::<u64>(), darker.iter().sum::<u64>());
    let head = format!("of {of_pale} paler fish {} are {class}, of {of_dark} darker ones {}", paler[0], darker[0]);
    let more = paler[0] * of_dark > darker[0] * of_pale;
    let tail = match (p < 0.05, more) {
        (true, true) => format!("the paler group is largely the {class} one"),
        (true, false) => format!("the paler group is not the {class} one but the other"),
        _ => format!("whether the paler group is the {class} one is not shown"),
    };
    PalerAndClass {
        paler,
        darker,
        p,
        because: format!("{head}: {tail} (Fisher's exact p {})", crate::units::p_value(p)),
    }
}

/// Fisher's exact test of a 2 × 2 table, two-sided by probability.
fn fisher_exact(first: [u64; 2], second: [u64; 2]) -> f64 {
    let (row, other, column) = (first[0] + first[1], second[0] + second[1], first[0] + second[0]);
    let log = |x: u64| ln_choose(row, x) + ln_choose(other, column - x) - ln_choose(row + other, column);
    let possible = column.saturating_sub(other)..=column.min(row);
    // The same allowance for rounding as in R's fisher.test.
    let limit = log(first[0]) + 1e-7;
    possible.map(log).filter(|l| *l <= limit).map(f64::exp).sum::<f64>().min(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// R: `fisher.test(matrix(c(3, 1, 1, 3), 2))$p.value`, Fisher's tea tasting: 0.4857.
    #[test]
    fn tea_tasting() {
        assert!((fisher_exact([3, 1], [1, 3]) - 0.485_714_285_7).abs() < 1e-9);
    }

    #[test]
    fn two_plain_groups_are_seen_and_named() {
        let mut random = Random::new(5);
        let values: Vec<f64> = (0..32).map(|i| if i % 4 == 0 { 76.0 } else { 70.0 } + 1.2 * random.normal()).collect();
        let found = two_groups(&values, 1).unwrap();
        assert!(found.two && found.p < 0.01, "{found:?}");
        assert!((found.means[1] - found.means[0] - 6.0).abs() < 1.5, "{:?}", found.means);
        let scored: Vec<(f64, bool)> = found.paler.iter().enumerate().map(|(i, &p)| (p, i % 4 == 0)).collect();
        let crossed = paler_and_class(&scored, "red-body absent");
        assert!(crossed.p < 1e-4 && crossed.because.contains("largely the red-body absent one"), "{crossed:?}");
    }

    #[test]
    fn too_few_and_all_alike_are_refused() {
        assert!(two_groups(&[70.0; 5], 1).unwrap_err().to_string().contains("too few"));
        assert!(two_groups(&[70.0; 9], 1).unwrap_err().to_string().contains("same lightness"));
    }
}
