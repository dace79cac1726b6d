//! Exact multinomial test: the probability, under given shares, of all outcomes at least as extreme as the one seen.
//!
//! "Extreme" has three common readings and they give three different p-values, so the reading is an argument and is
//! printed beside the result.

use std::fmt;

use super::factorial::{ln_binomial, ln_factorial, x_ln_p};

/// What makes one outcome more extreme than another.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Ordering {
    /// Its probability is smaller (Fisher's reading; what most exact tests print).
    Probability,
    /// Its log-likelihood ratio G against the expected shares is larger.
    LikelihoodRatio,
    /// Its chi-square against the expected shares is larger.
    ChiSquare,
}

impl fmt::Display for Ordering {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Probability => "ordered by probability",
            Self::LikelihoodRatio => "ordered by likelihood ratio",
            Self::ChiSquare => "ordered by chi-square",
        })
    }
}

/// The exact sum would be too long; the chi-square tail serves instead and has to be called approximate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TooLarge {
    /// Number of partial sums the exact test would take.
    pub sums: f64,
}

/// Most partial sums one exact test may take: about a second. Six classes of a brood of 150 stay below.
const MOST_SUMS: f64 = 3e7;

impl fmt::Display for TooLarge {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "an exact test would need {:.1e} sums (limit {MOST_SUMS:.0e}); the chi-square approximation is shown instead",
            self.sums
        )
    }
}

/// Two outcomes whose statistics differ by less than this (in log units, or relative for chi-square) count as equally
/// extreme; the relative error R's `binom.test` allows for.
const TIE: f64 = 1e-7;

/// Exact p of `observed` counts against `expected` shares (any positive scale; normalised here).
///
/// A class of share zero with a count above zero makes the outcome impossible: p = 0; nothing else does, so that what is below the
/// smallest number is that number. Classes of share zero are otherwise left out. All but the last two classes are enumerated; over the last two every ordering is convex, so that
/// the less extreme outcomes are one run and the rest are two binomial tails.
///
/// # Errors
/// [`TooLarge`] when more than 3·10⁷ partial sums would be needed.
///
/// # Panics
/// When the slices differ in length, or the shares are negative or all zero.
pub fn exact_p(observed: &[u64], expected: &[f64], ordering: Ordering) -> Result<f64, TooLarge> {
    let shares = super::goodness::normalised(expected);
    assert_eq!(observed.len(), shares.len(), "one share a class");
    if observed.iter().zip(&shares).any(|(&x, &p)| x > 0 && p <= 0.0) {
        return Ok(0.0);
    }
    let (counts, shares): (Vec<u64>, Vec<f64>) = observed.iter().zip(shares).filter(|(_, p)| *p > 0.0).unzip();
    let n: u64 = counts.iter().sum();
    if counts.len() < 2 || n == 0 {
        return Ok(1.0);
    }
    let sums = partial_sums(n, counts.len());
    if sums > MOST_SUMS {
        return Err(TooLarge { sums });
    }
    // What is possible has a p, however small.
    Ok(Exact::new(n, &shares, &counts, ordering).p().clamp(f64::MIN_POSITIVE, 1.0))
}

/// Outcomes of the enumerated classes, plus the cells of the binomial tails.
fn partial_sums(n: u64, classes: usize) -> f64 {
    let (n, free) = (n as f64, classes - 2);
    let outcomes: f64 = (1..=free).map(|i| (n + i as f64) / i as f64).product();
    let cells = if free == 0 { n } else { n * n / 2.0 };
    outcomes + cells
}

/// Tables of one test.
struct Exact {
    n: usize,
    /// `cost[j][x]`: the part of the statistic that x fish in class j add; larger is more extreme.
    cost: Vec<Vec<f64>>,
    /// `weight[j][x]` = x ln p − ln x! of each enumerated class, then of the last two classes taken together.
    weight: Vec<Vec<f64>>,
    /// Share of the last class but one within the last two.
    split: f64,
    /// An outcome is extreme when its statistic is at least this.
    threshold: f64,
    /// Tails of Bin(m, split), made when m is first met.
    tails: Vec<Option<Tails>>,
}

/// Cumulated probabilities of one binomial: `below[x]` = P(X < x), `from[x]` = P(X ≥ x).
struct Tails {
    below: Vec<f64>,
    from: Vec<f64>,
}

impl Exact {
    fn new(n: u64, shares: &[f64], counts: &[u64], ordering: Ordering) -> Self {
        let last = shares.len() - 2;
        let seen: f64 = counts.iter().zip(shares).map(|(&x, &p)| cost(x, n, p, ordering)).sum();
        let slack = if ordering == Ordering::ChiSquare { TIE * seen.max(1.0) } else { TIE };
        let pair = shares[last] + shares[last + 1];
        Self {
            n: usize::try_from(n).unwrap_or(usize::MAX),
            cost: shares.iter().map(|&p| (0..=n).map(|x| cost(x, n, p, ordering)).collect()).collect(),
            weight: shares[..last].iter().chain([&pair]).map(|&p| log_weights(n, p)).collect(),
            split: shares[last] / pair,
            threshold: seen - slack,
            tails: (0..=n).map(|_| None).collect(),
        }
    }

    fn p(mut self) -> f64 {
        let all = ln_factorial(self.n as u64);
        self.visit(0, self.n, 0.0, all)
    }

    /// Probability of the extreme outcomes that put `left` fish into the classes from `class` on, given the cost and the
    /// log weight of the classes before.
    fn visit(&mut self, class: usize, left: usize, cost: f64, weight: f64) -> f64 {
        if class + 2 == self.cost.len() {
            let weight = weight + self.weight[class][left];
            return weight.exp() * self.pair(left, self.threshold - cost);
        }
        let mut sum = 0.0;
        for x in 0..=left {
            let (cost, weight) = (cost + self.cost[class][x], weight + self.weight[class][x]);
            sum += self.visit(class + 1, left - x, cost, weight);
        }
        sum
    }

    /// P(cost of the last two classes ≥ `needed`), given that they hold `m` fish.
    fn pair(&mut self, m: usize, needed: f64) -> f64 {
        let split = self.split;
        let tails = self.tails[m].get_or_insert_with(|| Tails::of(m, split));
        let [.., first, second] = &self.cost[..] else { return 0.0 };
        let cost = |x: usize| first[x] + second[m - x];
        let lowest = lowest_of_convex(m, cost);
        if cost(lowest) >= needed {
            return 1.0;
        }
        let left = first_not(0, lowest, |x| cost(x) >= needed);
        let right = first_not(lowest + 1, m + 1, |x| cost(x) < needed);
        tails.below[left] + tails.from[right]
    }
}

impl Tails {
    fn of(m: usize, p: f64) -> Self {
        let point: Vec<f64> = (0..=m as u64).map(|x| ln_binomial(x, m as u64, p).exp()).collect();
        let (mut below, mut from) = (vec![0.0; m + 2], vec![0.0; m + 2]);
        for x in 0..=m {
            below[x + 1] = below[x] + point[x];
        }
        for x in (0..=m).rev() {
            from[x] = from[x + 1] + point[x];
        }
        Self { below, from }
    }
}

/// What `x` fish of `n` in a class of share `p` add to the statistic.
fn cost(x: u64, n: u64, p: f64, ordering: Ordering) -> f64 {
    let (seen, expected) = (x as f64, n as f64 * p);
    match ordering {
        Ordering::Probability => ln_factorial(x) - x_ln_p(x, p),
        Ordering::LikelihoodRatio => x_ln_p(x, seen / expected),
        Ordering::ChiSquare => (seen - expected).powi(2) / expected,
    }
}

fn log_weights(n: u64, p: f64) -> Vec<f64> {
    (0..=n).map(|x| x_ln_p(x, p) - ln_factorial(x)).collect()
}

/// Where a convex function over 0…m is smallest.
fn lowest_of_convex(m: usize, f: impl Fn(usize) -> f64) -> usize {
    first_not(0, m, |x| f(x + 1) < f(x))
}

/// The first of `low..high` where `holds` fails, or `high`; `holds` is true, then false.
fn first_not(mut low: usize, mut high: usize, holds: impl Fn(usize) -> bool) -> usize {
    while low < high {
        let middle = usize::midpoint(low, high);
        if holds(middle) { low = middle + 1 } else { high = middle }
    }
    low
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::stats::factorial::ln_multinomial;
    use crate::stats::goodness::normalised;

    /// The slow way: every outcome, its probability and its statistic.
    fn by_enumeration(counts: &[u64], shares: &[f64], ordering: Ordering) -> f64 {
        fn outcomes(left: u64, classes: usize) -> Vec<Vec<u64>> {
            if classes == 1 {
                return vec![vec![left]];
            }
            (0..=left)
                .flat_map(|x| outcomes(left - x, classes - 1).into_iter().map(move |rest| [vec![x], rest].concat()))
                .collect()
        }
        let n: u64 = counts.iter().sum();
        let statistic = |o: &[u64]| match ordering {
            Ordering::Probability => -ln_multinomial(o, shares),
            Ordering::LikelihoodRatio => o.iter().zip(shares).map(|(&x, p)| x_ln_p(x, x as f64 / (n as f64 * p))).sum(),
            Ordering::ChiSquare => {
                o.iter().zip(shares).map(|(&x, p)| (x as f64 - n as f64 * p).powi(2) / (n as f64 * p)).sum::<f64>()
            }
        };
        let seen = statistic(counts);
        let extreme = outcomes(n, counts.len()).into_iter().filter(|o| statistic(o) >= seen - TIE * seen.max(1.0));
        extreme.map(|o| ln_multinomial(&o, shares).exp()).sum()
    }

    proptest! {
        #[test]
        fn agrees_with_plain_enumeration(
            cells in proptest::collection::vec((0u64..7, 1u32..10), 2..5),
            which in 0usize..3,
        ) {
            let counts: Vec<u64> = cells.iter().map(|c| c.0).collect();
            prop_assume!(counts.iter().sum::<u64>() > 0);
            let shares = normalised(&cells.iter().map(|c| f64::from(c.1)).collect::<Vec<_>>());
            let ordering = [Ordering::Probability, Ordering::LikelihoodRatio, Ordering::ChiSquare][which];
            let (fast, slow) = (exact_p(&counts, &shares, ordering).unwrap(), by_enumeration(&counts, &shares, ordering));
            prop_assert!((fast - slow).abs() <= 1e-9 * slow, "{fast} {slow}");
        }
    }

    #[test]
    fn an_impossible_class_and_a_lone_class() {
        assert_eq!(exact_p(&[3, 1], &[1.0, 0.0], Ordering::Probability), Ok(0.0));
        assert_eq!(exact_p(&[3, 0], &[1.0, 0.0], Ordering::Probability), Ok(1.0));
        assert_eq!(exact_p(&[0, 0], &[0.5, 0.5], Ordering::Probability), Ok(1.0));
    }

    /// 170 of 175 in a class of one in a hundred: about C(175, 5)·10⁻³⁴⁰ = 10⁻³³⁰, below the smallest number.
    #[test]
    fn what_is_possible_is_not_called_impossible() {
        for ordering in [Ordering::Probability, Ordering::LikelihoodRatio, Ordering::ChiSquare] {
            assert_eq!(exact_p(&[170, 5], &[0.01, 0.99], ordering), Ok(f64::MIN_POSITIVE));
        }
    }

    #[test]
    fn too_large_says_so() {
        let refused = exact_p(&[400; 6], &[1.0; 6], Ordering::ChiSquare).unwrap_err();
        assert!(refused.to_string().contains("chi-square approximation"));
    }
}
