//! The genotypes a mode allows, the founder prior over them, and what each pair of parents gives.

use std::collections::BTreeMap;

use super::evidence::{Class, Sex};
use super::gametes::{Group, Pair, copies, pair};
use super::mode::{Mode, SexSystem};

/// One genotype of one sex.
#[derive(Debug, Clone, PartialEq)]
pub struct Genotype {
    /// As printed: `+/m`, `X+/Ym`, `+/a b/b`.
    pub name: String,
    /// Founder prior within its sex at conception, before those that do not live are left out.
    pub prior: f64,
    /// The class it shows.
    pub class: Class,
    /// Carries a mutant allele that it does not show: a carrier in the breeder's sense.
    pub carrier: bool,
    /// Carries no mutant allele.
    pub pure: bool,
    /// Has a mutant and a wild allele of some locus.
    pub mixed: bool,
    /// Is mixed where it has a mutant allele at all: one copy of each, and nowhere all copies.
    pub single: bool,
    /// Share of such young that live to be scored.
    survival: f64,
    /// One state index a linkage group.
    parts: Vec<usize>,
}

impl Genotype {
    /// How often it is met among founders, up to a common factor: a founder has lived, so that a genotype that cannot live is
    /// nobody's.
    pub(super) fn founder_weight(&self) -> f64 {
        self.prior * self.survival
    }

    /// Whether any fish of it lives to be scored, and so to breed.
    pub(super) fn lives(&self) -> bool {
        self.survival > 0.0
    }
}

/// Class probabilities of the young of one pair before scoring error: daughters, sons, unsexed. `None` where the pair
/// has no young of that sex. Each array is other, middle, target.
#[derive(Debug, Clone, PartialEq)]
pub struct ClassLaw {
    /// Daughters, sons, unsexed.
    pub rows: [Option<[f64; 3]>; 3],
    /// Share of daughters among the surviving young.
    pub daughters: f64,
}

impl ClassLaw {
    /// The law for one sex, or for young whose sex was not seen.
    pub fn of(&self, sex: Option<Sex>) -> Option<[f64; 3]> {
        self.rows[row_index(sex)]
    }
}

/// Daughters, sons, unsexed: 0, 1, 2.
pub(super) fn row_index(sex: Option<Sex>) -> usize {
    sex.map_or(2, Sex::index)
}

/// All genotypes of a mode under one sex system, with every pair's law of offspring.
#[derive(Debug, Clone)]
pub struct Space {
    genotypes: [Vec<Genotype>; 2],
    /// By sex of the young: for dam, sire, young's genotype the probability of young of that sex and genotype among the
    /// survivors.
    offspring: [Vec<f64>; 2],
    laws: Vec<ClassLaw>,
    law_of: Vec<usize>,
}

impl Space {
    /// Works out the genotypes and laws of a mode. Where sex plays no part in it, the sex system is left aside.
    pub fn new(mode: &Mode, system: SexSystem) -> Self {
        let system = if mode.depends_on_sex() { system } else { SexSystem::Xy };
        let groups = Group::of(mode);
        let states: Vec<_> = groups.iter().map(|g| g.states(system)).collect();
        let genotypes = Sex::BOTH.map(|sex| genotypes(mode, system, &groups, &states, sex));
        let transmission: Vec<_> = groups.iter().zip(&states).map(|(g, s)| transmission(g, s)).collect();
        let offspring = offspring(&genotypes, &transmission);
        let (laws, law_of) = class_laws(&genotypes, &offspring);
        Self { genotypes, offspring, laws, law_of }
    }

    /// The genotypes of one sex.
    pub fn genotypes(&self, sex: Sex) -> &[Genotype] {
        &self.genotypes[sex.index()]
    }

    /// The distinct class laws, to be pointed to by [`Space::law_index`].
    pub fn laws(&self) -> &[ClassLaw] {
        &self.laws
    }

    /// Which of the distinct laws holds for the young of a dam and a sire, both as indices of their genotypes.
    pub fn law_index(&self, dam: usize, sire: usize) -> usize {
        self.law_of[dam * self.genotypes[1].len() + sire]
    }

    /// The class law of a pair.
    pub fn law(&self, dam: usize, sire: usize) -> &ClassLaw {
        &self.laws[self.law_index(dam, sire)]
    }

    /// Probabilities of each genotype of the pair's young of one sex; they sum to the share of that sex.
    pub fn offspring(&self, dam: usize, sire: usize, sex: Sex) -> &[f64] {
        let width = self.genotypes[sex.index()].len();
        let start = (dam * self.genotypes[1].len() + sire) * width;
        &self.offspring[sex.index()][start..start + width]
    }
}

type GroupStates = Vec<(Pair, Option<Sex>, f64)>;

fn genotypes(mode: &Mode, system: SexSystem, groups: &[Group], states: &[GroupStates], sex: Sex) -> Vec<Genotype> {
    let mut parts: Vec<Vec<usize>> = vec![vec![]];
    for group in states {
        let fitting: Vec<usize> = (0..group.len()).filter(|i| group[*i].1.is_none_or(|s| s == sex)).collect();
        parts =
            parts.iter().flat_map(|head| fitting.iter().map(|i| head.iter().copied().chain([*i]).collect())).collect();
    }
    parts
        .into_iter()
        .map(|parts| {
            let pairs: Vec<Pair> = parts.iter().zip(states).map(|(i, s)| s[*i].0).collect();
            let copies = copies(groups, &pairs);
            let names: Vec<String> = groups.iter().zip(&pairs).filter_map(|(g, p)| g.name(*p, system)).collect();
            let class = mode.class(sex, &copies);
            let pure = copies.iter().all(|(mutant, _)| *mutant == 0);
            Genotype {
                name: names.join(" "),
                prior: parts.iter().zip(states).map(|(i, s)| s[*i].2).product(),
                class,
                carrier: !pure && class != Class::Target,
                pure,
                mixed: copies.iter().any(|(mutant, total)| *mutant > 0 && mutant < total),
                single: !pure && copies.iter().all(|(mutant, total)| *mutant == 0 || mutant < total),
                survival: mode.survives(sex, &copies),
                parts,
            }
        })
        .collect()
}

/// For each pair of a group's states the states of their young with probabilities.
type Transmission = Vec<Vec<Vec<(usize, f64)>>>;

fn transmission(group: &Group, states: &GroupStates) -> Transmission {
    let index: BTreeMap<Pair, usize> = states.iter().enumerate().map(|(i, (p, _, _))| (*p, i)).collect();
    let gametes: Vec<_> = states.iter().map(|(p, _, _)| group.gametes(*p)).collect();
    let young = |dam: usize, sire: usize| {
        let mut out: BTreeMap<usize, f64> = BTreeMap::new();
        for (egg, p) in &gametes[dam] {
            for (sperm, q) in &gametes[sire] {
                // A pair no karyotype lists (two W) does not live.
                if let Some(state) = index.get(&pair(*egg, *sperm)) {
                    *out.entry(*state).or_insert(0.0) += p * q;
                }
            }
        }
        out.into_iter().collect()
    };
    (0..states.len()).map(|dam| (0..states.len()).map(|sire| young(dam, sire)).collect()).collect()
}

fn offspring(genotypes: &[Vec<Genotype>; 2], transmission: &[Transmission]) -> [Vec<f64>; 2] {
    let index: [BTreeMap<&[usize], usize>; 2] =
        [0, 1].map(|sex: usize| genotypes[sex].iter().enumerate().map(|(i, g)| (g.parts.as_slice(), i)).collect());
    let mut out = [vec![], vec![]];
    for dam in &genotypes[0] {
        for sire in &genotypes[1] {
            let mut young: Vec<(Vec<usize>, f64)> = vec![(vec![], 1.0)];
            for (group, law) in transmission.iter().enumerate() {
                let step = &law[dam.parts[group]][sire.parts[group]];
                young =
                    young.iter().flat_map(|(head, p)| step.iter().map(move |(s, q)| (join(head, *s), p * q))).collect();
            }
            let mut rows = [vec![0.0; genotypes[0].len()], vec![0.0; genotypes[1].len()]];
            for (parts, p) in young {
                for sex in 0..2 {
                    if let Some(i) = index[sex].get(parts.as_slice()) {
                        rows[sex][*i] += p * genotypes[sex][*i].survival;
                    }
                }
            }
            let alive: f64 = rows.iter().flatten().sum();
            for (sex, row) in rows.into_iter().enumerate() {
                out[sex].extend(row.into_iter().map(|p| if alive > 0.0 { p / alive } else { 0.0 }));
            }
        }
    }
    out
}

fn join(head: &[usize], last: usize) -> Vec<usize> {
    head.iter().copied().chain([last]).collect()
}

/// Laws equal to this many decimals are one law; far below any figure printed, far above rounding.
const LAW_DECIMALS: f64 = 1e12;

fn class_laws(genotypes: &[Vec<Genotype>; 2], offspring: &[Vec<f64>; 2]) -> (Vec<ClassLaw>, Vec<usize>) {
    let mut laws: Vec<ClassLaw> = vec![];
    let mut known: BTreeMap<Vec<i64>, usize> = BTreeMap::new();
    let mut law_of = vec![];
    for pair in 0..genotypes[0].len() * genotypes[1].len() {
        let law = class_law(genotypes, offspring, pair);
        let key = law_key(&law);
        let next = laws.len();
        let index = *known.entry(key).or_insert(next);
        if index == next {
            laws.push(law);
        }
        law_of.push(index);
    }
    (laws, law_of)
}

fn class_law(genotypes: &[Vec<Genotype>; 2], offspring: &[Vec<f64>; 2], pair: usize) -> ClassLaw {
    let mut sums = [[0.0; 3]; 3];
    for sex in 0..2 {
        let width = genotypes[sex].len();
        for (g, p) in genotypes[sex].iter().zip(&offspring[sex][pair * width..]) {
            sums[sex][g.class.index()] += p;
            sums[2][g.class.index()] += p;
        }
    }
    let rows = sums.map(|row| {
        let total: f64 = row.iter().sum();
        (total > 0.0).then(|| row.map(|p| p / total))
    });
    ClassLaw { rows, daughters: sums[0].iter().sum() }
}

/// A probability by which two are told apart whatever the order in which sums were rounded.
#[expect(clippy::cast_possible_truncation, reason = "probabilities in 0..=1 times 1e12 fit an i64")]
pub(super) fn to_decimals(p: f64) -> i64 {
    (p * LAW_DECIMALS).round() as i64
}

fn law_key(law: &ClassLaw) -> Vec<i64> {
    let rows = law.rows.iter().flat_map(|row| row.map_or([-1; 3], |r| r.map(to_decimals)));
    rows.chain([to_decimals(law.daughters)]).collect()
}
