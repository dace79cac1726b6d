//! A mode's own fit: what it expects of each cross at its best genotypes, and the exact test of what came.

use std::collections::BTreeMap;

use super::error_law::ScoringError;
use super::evidence::{Brood, EarlierSire, Evidence, Origin, Sex};
use super::model::{BestGenotypes, Model};
use super::space::{Space, row_index};
use crate::error::Result;
use crate::stats::goodness::{self, Fit};
use crate::stats::multinomial::{Ordering, exact_p};

/// The ordering of every exact test here, named wherever its p is shown.
pub const ORDERING: Ordering = Ordering::Probability;

/// Broods of a cross that differ at this level are not pooled (the usual 5 %, by convention).
const HETEROGENEITY_LEVEL: f64 = 0.05;

/// What one mode expects of one cross and sex, beside what was counted. Arrays are other, middle, target.
#[derive(Debug, Clone, PartialEq)]
pub struct CrossFit {
    /// The cross.
    pub cross: String,
    /// The brood, where the broods of the cross are shown apart.
    pub brood: Option<String>,
    /// Sex of the young; `None` for those whose sex was not seen.
    pub sex: Option<Sex>,
    /// Counted fish.
    pub observed: [u32; 3],
    /// Mendelian numbers at the best genotypes, before scoring error.
    pub expected: [f64; 3],
    /// Exact multinomial p with the scoring error in it, ordered by probability; 0 when impossible.
    pub p_exact: f64,
    /// G without correction, scoring error included.
    pub g: Fit,
    /// Pearson's chi-square, scoring error included.
    pub chi_square: Fit,
    /// Some expected number is so small that G and chi-square are rough.
    pub small_numbers: bool,
    /// Whether the broods of the cross differ from each other (G), where there are several.
    pub heterogeneity: Option<Fit>,
}

/// A brood's expected law at the best genotypes.
struct Expectation<'a> {
    brood: &'a Brood,
    /// Mendelian, by row (daughters, sons, unsexed).
    truth: [Option<[f64; 3]>; 3],
}

/// The fit of a mode to the crosses.
#[derive(Clone, Default)]
pub(super) struct Fitted {
    /// The genotypes that it is taken at; `None` where the mode cannot explain the evidence, which leaves no fit either.
    pub(super) best: Option<BestGenotypes>,
    pub(super) crosses: Vec<CrossFit>,
}

impl Fitted {
    /// Breeders whose own class it does not show.
    pub(super) fn mis_scored(&self) -> &[usize] {
        self.best.as_ref().map_or(&[], |best| &best.mis_scored)
    }

    pub(super) fn founders_as_scored(&self, evidence: &Evidence) -> bool {
        self.mis_scored().iter().all(|fish| evidence.breeders[*fish].origin != Origin::Founder)
    }
}

/// Who is taken as mis-scored where a mode does not allow all breeders' own classes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Doubt {
    /// Whoever is the likeliest: founders taken as certain would blame several of their young for one of themselves.
    Anyone,
    /// Founders only where nothing else helps: what rules a mode out must not be put down to a founder, which costs it next to nothing.
    FoundersLast,
}

/// The fit of a mode to every cross with counts, in the order of the book; `sums` is the same evidence with the broods of each
/// pair added up, which has the same best genotypes.
///
/// # Errors
/// Evidence whose elimination would take too long.
pub(super) fn fits(
    model: &Model,
    space: usize,
    (evidence, sums): (&Evidence, &Evidence),
    error: &ScoringError,
    doubt: Doubt,
) -> Result<Fitted> {
    // A breeder is looked at more often than a fry: its own class is taken as scored wherever the mode allows that.
    let founders = ScoringError { founders: 0.0, ..*error };
    let certain = ScoringError { breeders: 0.0, ..founders };
    let trials: &[&ScoringError] = match doubt {
        Doubt::Anyone => &[&certain, error],
        Doubt::FoundersLast => &[&certain, &founders, error],
    };
    let mut best = None;
    for trial in trials {
        if best.is_none() {
            best = model.best(space, sums, trial)?;
        }
    }
    let Some(best) = best else { return Ok(Fitted::default()) };
    let mut crosses: Vec<Vec<Expectation<'_>>> = vec![];
    let mut places: BTreeMap<&str, usize> = BTreeMap::new();
    for brood in evidence.broods.iter().filter(|b| b.counts.total() > 0) {
        let place = *places.entry(&brood.cross).or_insert(crosses.len());
        if place == crosses.len() {
            crosses.push(vec![]);
        }
        crosses[place].push(Expectation { brood, truth: expected_law(&model.spaces[space], brood, &best, error) });
    }
    let mut out = vec![];
    for cross in crosses {
        for sex in [Some(Sex::Female), Some(Sex::Male), None] {
            let counted = |e: &&Expectation<'_>| e.brood.counts.of(sex).iter().sum::<u32>() > 0;
            let of_sex: Vec<&Expectation<'_>> = cross.iter().filter(counted).collect();
            out.extend(rows(&of_sex, sex, error));
        }
    }
    Ok(Fitted { best: Some(best), crosses: out })
}

/// One row for the cross where its broods follow one law and agree, else one a brood.
fn rows(broods: &[&Expectation<'_>], sex: Option<Sex>, error: &ScoringError) -> Vec<CrossFit> {
    let Some(first) = broods.first() else { return vec![] };
    let law = |e: &Expectation<'_>| e.truth[row_index(sex)].unwrap_or([0.0; 3]);
    let same = broods.iter().all(|e| law(e).iter().zip(law(first)).all(|(a, b)| (a - b).abs() < 1e-9));
    let each = || broods.iter().map(|e| row(e, sex, e.brood.counts.of(sex), law(e), error));
    if !same {
        return each().collect();
    }
    let heterogeneity = (broods.len() > 1).then(|| {
        let replicates: Vec<Vec<u64>> = broods.iter().map(|e| shown(e.brood.counts.of(sex), error.classes)).collect();
        goodness::replicated(&replicates, &shown(error.seen(law(first)), error.classes), goodness::g_test).heterogeneity
    });
    if heterogeneity.is_some_and(|h| h.p < HETEROGENEITY_LEVEL) {
        return each().map(|r| CrossFit { heterogeneity, ..r }).collect();
    }
    let total = broods.iter().map(|e| e.brood.counts.of(sex)).fold([0; 3], |mut sum, row| {
        sum.iter_mut().zip(row).for_each(|(s, n)| *s += n);
        sum
    });
    let brood = (broods.len() == 1 && broods[0].brood.parents.len() > 1).then(|| first.brood.name.clone());
    vec![CrossFit { brood, heterogeneity, ..row(first, sex, total, law(first), error) }]
}

/// The classes that are told apart: other and target, or all three.
fn shown<A: Copy, B: From<A>>(row: [A; 3], classes: usize) -> Vec<B> {
    let [other, middle, target] = row;
    if classes == 2 { vec![other.into(), target.into()] } else { vec![other.into(), middle.into(), target.into()] }
}

fn row(e: &Expectation<'_>, sex: Option<Sex>, observed: [u32; 3], truth: [f64; 3], error: &ScoringError) -> CrossFit {
    let total = f64::from(observed.iter().sum::<u32>());
    let counts: Vec<u64> = shown(observed, error.classes);
    let shares: Vec<f64> = shown(error.seen(truth), error.classes);
    let collapsed = if error.classes == 2 { [truth[0] + truth[1], 0.0, truth[2]] } else { truth };
    let possible = shares.iter().sum::<f64>() > 0.0;
    let none = Fit::new(f64::INFINITY, 1);
    CrossFit {
        cross: e.brood.cross.clone(),
        brood: Some(e.brood.name.clone()),
        sex,
        observed,
        expected: collapsed.map(|p| p * total),
        p_exact: if possible { p_value(&counts, &shares) } else { 0.0 },
        g: if possible { goodness::g_test(&counts, &shares) } else { none },
        chi_square: if possible { goodness::chi_square(&counts, &shares) } else { none },
        small_numbers: possible && goodness::small_expectation(&counts, &shares),
        heterogeneity: None,
    }
}

/// The exact p; for counts beyond its limit the chi-square tail, which is then as good.
fn p_value(counts: &[u64], shares: &[f64]) -> f64 {
    exact_p(counts, shares, ORDERING).unwrap_or_else(|_| goodness::chi_square(counts, shares).p)
}

fn expected_law(space: &Space, brood: &Brood, best: &BestGenotypes, error: &ScoringError) -> [Option<[f64; 3]>; 3] {
    let of = |fish: usize| best.fish[fish].unwrap_or(0);
    let male = |sire: EarlierSire| match sire {
        EarlierSire::Known(fish) => of(fish),
        EarlierSire::Unknown => best.unknown.get(&brood.cross).copied().unwrap_or(0),
    };
    let own = brood.parents.iter().map(|m| (of(m.dam), of(m.sire)));
    let stored = brood.parents.iter().filter_map(|m| Some((of(m.dam), male(brood.stored_in(m.dam)?))));
    let laws: Vec<[Option<[f64; 3]>; 3]> = own.chain(stored).map(|(d, s)| space.law(d, s).rows).collect();
    match laws.as_slice() {
        [law] => *law,
        _ => mix(&laws, &likeliest_shares(&laws, brood, error)),
    }
}

fn mix(laws: &[[Option<[f64; 3]>; 3]], shares: &[f64]) -> [Option<[f64; 3]>; 3] {
    [0, 1, 2].map(|row| {
        let able: f64 = laws.iter().zip(shares).filter(|(l, _)| l[row].is_some()).map(|(_, s)| s).sum();
        let mut sum = [0.0; 3];
        for (law, share) in laws.iter().zip(shares) {
            for (s, p) in sum.iter_mut().zip(law[row].unwrap_or_default()) {
                *s += share * p / able;
            }
        }
        (able > 0.0).then_some(sum)
    })
}

/// Rounds of expectation-maximisation; the shares give the expected numbers of a mixed brood, and its fit is judged by them.
const EM_ROUNDS: usize = 200;

/// The shares of a mixed brood's possible parents that suit its counts best.
fn likeliest_shares(laws: &[[Option<[f64; 3]>; 3]], brood: &Brood, error: &ScoringError) -> Vec<f64> {
    let mut shares = vec![1.0 / laws.len() as f64; laws.len()];
    for _ in 0..EM_ROUNDS {
        let mut next = vec![0.0; laws.len()];
        for (row, (_, counts)) in brood.counts.rows().iter().enumerate() {
            for (class, n) in counts.iter().enumerate().filter(|(_, n)| **n > 0) {
                let p: Vec<f64> = laws
                    .iter()
                    .zip(&shares)
                    .map(|(law, share)| share * law[row].map_or(0.0, |truth| error.seen(truth)[class]))
                    .collect();
                let total: f64 = p.iter().sum();
                if total > 0.0 {
                    next.iter_mut().zip(&p).for_each(|(sum, p)| *sum += f64::from(*n) * p / total);
                }
            }
        }
        let total: f64 = next.iter().sum();
        if total <= 0.0 {
            break;
        }
        shares = next.into_iter().map(|s| s / total).collect();
    }
    shares
}
