//! From evidence and a mode's genotypes to the network of factors that elimination works on.
//!
//! Variables are the genotypes of breeders with counted descendants (their sibs never are), of unknown earlier sires, and,
//! for a breeder out of a brood of mixed parentage, which of the possible parents it came from.

use std::collections::{BTreeMap, BTreeSet};

use super::error_law::ScoringError;
use super::evidence::{Breeder, Brood, Class, EarlierSire, Evidence, Mating, Origin, Sex};
use super::mixture::{DamLaws, Mixture, PASSES, fewer_dams, ln_coefficient, times_ln};
use super::pairs::{Pair, parents, sources};
use super::seen::SeenLaws;
use super::space::{Genotype, Space};
use super::table::{Network, Table};
use crate::error::{Error, Result};

/// A network with the meaning of its variables.
#[derive(Default)]
pub(super) struct Pedigree {
    pub(super) net: Network,
    fish: BTreeMap<usize, usize>,
    unknown: BTreeMap<String, usize>,
    /// Which of the possible parents a breeder out of a mixed brood came from, by fish.
    choices: BTreeMap<usize, usize>,
}

impl Pedigree {
    /// The variable of a fish, when it is in the network.
    pub(super) fn variable(&self, fish: usize) -> Option<usize> {
        self.fish.get(&fish).copied()
    }

    /// The variable that says which possible parents a breeder of a mixed brood came from.
    pub(super) fn choice(&self, fish: usize) -> Option<usize> {
        self.choices.get(&fish).copied()
    }

    /// The variable of a cross's unknown earlier sire.
    pub(super) fn unknown_sire(&self, cross: &str) -> Option<usize> {
        self.unknown.get(cross).copied()
    }
}

/// The breeders that the counts speak of: parents of counted broods and all their ancestors, and those of `extra`.
pub(super) fn core(evidence: &Evidence, extra: &[usize]) -> BTreeSet<usize> {
    let mut found = BTreeSet::new();
    let counted = evidence.broods.iter().filter(|b| b.counts.total() > 0);
    let mut open: Vec<usize> = counted.flat_map(possible_parents).chain(extra.iter().copied()).collect();
    while let Some(fish) = open.pop() {
        if found.insert(fish) {
            open.extend(evidence.parents_of(fish));
        }
    }
    found
}

/// The fish the counts speak of directly: parents of counted broods and all their ancestors.
pub fn informative(evidence: &Evidence) -> BTreeSet<usize> {
    core(evidence, &[])
}

fn possible_parents(brood: &Brood) -> Vec<usize> {
    brood.parents.iter().flat_map(|m| [m.sire, m.dam]).chain(brood.known_earlier_sires()).collect()
}

/// A network in the making.
pub(super) struct Builder<'a> {
    pub(super) space: &'a Space,
    error: &'a ScoringError,
    seen: SeenLaws,
    /// The breeders that the counts speak of.
    informative: BTreeSet<usize>,
    /// Steps that the integrals of its broods take where a mode is judged.
    work: f64,
    pub(super) out: Pedigree,
}

/// A brood of mixed parentage, its possible parents' variables, and the kinds of laws that their genotypes make.
struct Mixed<'a> {
    mixture: Mixture<'a>,
    parents: Vec<usize>,
    kinds: Vec<Vec<DamLaws>>,
    /// For each assignment of genotypes to the parents, the last parent running fastest, the kind it makes.
    kind_of: Vec<usize>,
    /// Steps that they take; see [`Mixture::check_cost`].
    work: f64,
}

/// Largest table a single brood may bring in.
const BROOD_ENTRY_LIMIT: f64 = 4e6;

/// Builds the network of the core breeders and of `extra`.
///
/// # Errors
/// A brood of so many possible dams that its factor would be too large.
pub(super) fn build(evidence: &Evidence, space: &Space, error: &ScoringError, extra: &[usize]) -> Result<Pedigree> {
    Ok(Builder::of(evidence, space, error, &core(evidence, extra))?.out)
}

/// ln of a founder's prior given that it lives and its own class; `-inf` throughout where the class is impossible.
pub(super) fn founder(space: &Space, error: &ScoringError, breeder: &Breeder) -> Vec<f64> {
    // Pure speaks of hidden alleles; a fish that shows the target hides none.
    let pure = breeder.pure && breeder.class != Some(Class::Target);
    let weight = |g: &Genotype| {
        let seen = breeder.class.map_or(1.0, |class| error.founder_scored(g.class, class));
        if pure && !g.pure { 0.0 } else { g.founder_weight() * seen }
    };
    ln_shares(space.genotypes(breeder.sex).iter().map(weight).collect())
}

/// ln of each weight's share of all; `-inf` for a weight of zero.
fn ln_shares(weights: Vec<f64>) -> Vec<f64> {
    let total: f64 = weights.iter().sum();
    weights.into_iter().map(|w| if w > 0.0 { (w / total).ln() } else { f64::NEG_INFINITY }).collect()
}

/// Founders whose own class no genotype of theirs may show: the mode cannot explain them, whether they bred or not.
pub(super) fn unexplained(evidence: &Evidence, space: &Space, error: &ScoringError) -> Vec<usize> {
    let founders = (0..evidence.breeders.len()).filter(|f| evidence.breeders[*f].origin == Origin::Founder);
    let none = |f: &usize| founder(space, error, &evidence.breeders[*f]).iter().all(|ln| *ln == f64::NEG_INFINITY);
    founders.filter(none).collect()
}

impl<'a> Builder<'a> {
    /// The network of `members`, who must have all their possible parents among them.
    ///
    /// # Errors
    /// As [`build`].
    pub(super) fn of(
        evidence: &Evidence,
        space: &'a Space,
        error: &'a ScoringError,
        members: &BTreeSet<usize>,
    ) -> Result<Self> {
        let mut builder = Self::without_broods(evidence, space, error, members);
        for (index, brood) in evidence.broods.iter().enumerate() {
            let kids = kids(evidence, members, index);
            if brood.counts.total() > 0 || !kids.is_empty() {
                builder.brood(evidence, brood, &kids)?;
            }
        }
        Ok(builder)
    }

    /// The same before any brood ties them together.
    fn without_broods(
        evidence: &Evidence,
        space: &'a Space,
        error: &'a ScoringError,
        members: &BTreeSet<usize>,
    ) -> Self {
        let (seen, informative) = (SeenLaws::new(error, space), informative(evidence));
        let mut builder = Self { space, error, seen, informative, work: 0.0, out: Pedigree::default() };
        for fish in members {
            let breeder = &evidence.breeders[*fish];
            let v = builder.new_variable(space.genotypes(breeder.sex).len());
            builder.out.fish.insert(*fish, v);
            if breeder.origin == Origin::Founder {
                builder.out.net.tables.push(Table { scope: vec![v], ln: builder.founder(breeder) });
            }
        }
        builder
    }

    pub(super) fn founder(&self, breeder: &Breeder) -> Vec<f64> {
        founder(self.space, self.error, breeder)
    }

    pub(super) fn new_variable(&mut self, states: usize) -> usize {
        self.out.net.states.push(states);
        self.out.net.states.len() - 1
    }

    fn unknown_sire(&mut self, cross: &str) -> usize {
        if let Some(v) = self.out.unknown.get(cross) {
            return *v;
        }
        let ln = ln_shares(self.space.genotypes(Sex::Male).iter().map(Genotype::founder_weight).collect());
        let v = self.new_variable(ln.len());
        self.out.net.tables.push(Table { scope: vec![v], ln });
        self.out.unknown.insert(cross.to_owned(), v);
        v
    }

    /// The variables of a brood's possible dams with their sires, each with the earlier sire whose sperm she may hold.
    pub(super) fn pairs(&mut self, brood: &Brood) -> Vec<Pair> {
        let pair = |m: &Mating| {
            let stored = brood.stored_in(m.dam).map(|sire| match sire {
                EarlierSire::Known(fish) => self.out.fish[&fish],
                EarlierSire::Unknown => self.unknown_sire(&brood.cross),
            });
            Pair { dam: self.out.fish[&m.dam], sire: self.out.fish[&m.sire], stored }
        };
        brood.parents.iter().map(pair).collect()
    }

    fn brood(&mut self, evidence: &Evidence, brood: &Brood, kids: &[usize]) -> Result<()> {
        let pairs = self.pairs(brood);
        match Pair::only(&pairs) {
            Some(pair) => {
                self.plain_brood(evidence, brood, pair, kids);
                Ok(())
            }
            None => self.mixed_brood(evidence, brood, &pairs, kids),
        }
    }

    fn plain_brood(&mut self, evidence: &Evidence, brood: &Brood, Pair { dam, sire, .. }: Pair, kids: &[usize]) {
        let net = &self.out.net;
        let constant = ln_coefficient(&brood.counts);
        let by_law: Vec<f64> = self
            .seen
            .young
            .iter()
            .map(|law| {
                let rows = brood.counts.rows().into_iter().zip(law).filter(|((_, n), _)| n.iter().any(|n| *n > 0));
                rows.fold(constant, |ln, ((_, n), p)| match p {
                    Some(p) => ln + n.iter().zip(p).map(|(n, p)| times_ln(f64::from(*n), *p)).sum::<f64>(),
                    None => f64::NEG_INFINITY,
                })
            })
            .collect();
        let pairs = || (0..net.states[dam]).flat_map(|d| (0..net.states[sire]).map(move |s| (d, s)));
        let ln = pairs().map(|(d, s)| by_law[self.space.law_index(d, s)]).collect();
        let mut tables = vec![Table { scope: vec![dam, sire], ln }];
        for kid in kids {
            let breeder = &evidence.breeders[*kid];
            let law = |(d, s): (usize, usize)| {
                let chosen = self.ln_chosen(evidence, *kid, brood, [self.space.law_index(d, s)].into_iter());
                self.kid_law(breeder, d, s, true).into_iter().map(move |ln| ln + chosen)
            };
            let ln = pairs().flat_map(law).collect();
            tables.push(Table { scope: vec![dam, sire, self.out.fish[kid]], ln });
        }
        self.out.net.tables.extend(tables);
    }

    /// ln of a breeder's genotype law given its parents, its sex and (with `condition`) its own class; without it the
    /// class enters as seen, to be divided out over all possible parents at once.
    pub(super) fn kid_law(&self, breeder: &Breeder, dam: usize, sire: usize, condition: bool) -> Vec<f64> {
        let law = self.space.offspring(dam, sire, breeder.sex);
        let seen = |g: &Genotype| breeder.class.map_or(1.0, |class| self.error.breeder_scored(g.class, class));
        let weights: Vec<f64> = law.iter().zip(self.space.genotypes(breeder.sex)).map(|(p, g)| p * seen(g)).collect();
        let total: f64 = if condition { weights.iter().sum() } else { law.iter().sum() };
        weights.into_iter().map(|w| if w > 0.0 { (w / total).ln() } else { f64::NEG_INFINITY }).collect()
    }

    /// ln of the probability that a breeder was there to be chosen, its sibs of the brood being of these laws. Its class is
    /// conditioned on, because it was chosen by it: how often it comes says nothing. But where it cannot come, and the
    /// counts hold no such fish either, the breeder itself must have been mis-scored, and that happens no oftener than any
    /// other error. Fish without counted young say nothing of their parents.
    fn ln_chosen(&self, evidence: &Evidence, fish: usize, brood: &Brood, laws: impl Iterator<Item = usize>) -> f64 {
        let breeder = &evidence.breeders[fish];
        let Some(class) = breeder.class.filter(|_| self.informative.contains(&fish)) else { return 0.0 };
        let counted = [Some(breeder.sex), None].iter().any(|sex| brood.counts.of(*sex)[class.index()] > 0);
        if counted {
            return 0.0;
        }
        self.error.ln_only_by_mistake(laws.filter_map(|law| self.space.laws()[law].of(Some(breeder.sex))), class)
    }

    fn mixed_brood(&mut self, evidence: &Evidence, brood: &Brood, pairs: &[Pair], kids: &[usize]) -> Result<()> {
        let sources = sources(pairs);
        let choices: Vec<usize> = kids.iter().map(|_| self.new_variable(sources.len())).collect();
        let (count, work) = self.count_table(evidence, brood, pairs, (kids, &choices), PASSES)?;
        self.work += work;
        let parents = parents(pairs);
        let mut tables = vec![count];
        for (kid, choice) in kids.iter().zip(&choices) {
            tables.push(self.choice_table(&evidence.breeders[*kid], self.out.fish[kid], *choice, (&parents, &sources)));
        }
        self.out.net.tables.extend(tables);
        self.out.choices.extend(kids.iter().copied().zip(choices));
        Ok(())
    }

    fn assignments(&self, scope: &[usize]) -> Vec<Vec<usize>> {
        scope.iter().fold(vec![vec![]], |all, v| {
            let states = self.out.net.states[*v];
            all.iter().flat_map(|head| (0..states).map(|s| [head.as_slice(), &[s]].concat())).collect()
        })
    }

    /// The count factor over the possible parents and the choices of the breeders `kids`, with the steps that it takes so many
    /// times over.
    pub(super) fn count_table(
        &self,
        evidence: &Evidence,
        brood: &Brood,
        pairs: &[Pair],
        (kids, choices): (&[usize], &[usize]),
        times: f64,
    ) -> Result<(Table, f64)> {
        let Mixed { mixture, parents, kinds, kind_of, work } = self.mixed(evidence, brood, pairs, kids, times)?;
        let values = |laws: &Vec<DamLaws>| -> Vec<f64> {
            let all = || laws.iter().flat_map(|(own, stored)| [Some(*own), *stored]).flatten();
            let chosen: f64 = kids.iter().map(|k| self.ln_chosen(evidence, *k, brood, all())).sum();
            mixture.ln_values(laws).into_iter().map(|ln| ln + chosen).collect()
        };
        let values: Vec<Vec<f64>> = kinds.iter().map(values).collect();
        let ln = kind_of.iter().flat_map(|kind| values[*kind].iter().copied()).collect();
        Ok((Table { scope: parents.iter().chain(choices.iter().rev()).copied().collect(), ln }, work))
    }

    /// A brood of mixed parentage with what its factor has to be worked out for.
    ///
    /// # Errors
    /// Its factor would be too large, or would take too long.
    fn mixed(
        &self,
        evidence: &Evidence,
        brood: &Brood,
        pairs: &[Pair],
        kids: &[usize],
        times: f64,
    ) -> Result<Mixed<'_>> {
        let conditions: Vec<_> =
            kids.iter().map(|k| (evidence.breeders[*k].sex, evidence.breeders[*k].class)).collect();
        let holders = (0..pairs.len()).filter(|pair| pairs[*pair].stored.is_some()).collect();
        let mixture = Mixture::new(&self.seen, (pairs.len(), holders), &brood.counts, &conditions);
        let parents = parents(pairs);
        let states: f64 = parents.iter().map(|v| self.out.net.states[*v] as f64).product();
        check_size(&brood.label, states * (mixture.sources() as f64).powf(kids.len() as f64))?;
        let at = |v: usize| parents.iter().position(|p| *p == v).unwrap_or(0);
        let places: Vec<(usize, usize, Option<usize>)> =
            pairs.iter().map(|pair| (at(pair.dam), at(pair.sire), pair.stored.map(at))).collect();
        let mut known: BTreeMap<Vec<DamLaws>, usize> = BTreeMap::new();
        let mut kind_of = vec![];
        for genotypes in self.assignments(&parents) {
            let law = |dam: usize, sire: usize| self.space.law_index(genotypes[dam], genotypes[sire]);
            let laws =
                places.iter().map(|(dam, sire, stored)| (law(*dam, *sire), stored.map(|stored| law(*dam, stored))));
            let next = known.len();
            kind_of.push(*known.entry(mixture.kind(laws)).or_insert(next));
        }
        let work = mixture.check_cost(&brood.label, known.keys(), (times, self.work))?;
        let mut kinds = vec![vec![]; known.len()];
        known.into_iter().for_each(|(laws, kind)| kinds[kind] = laws);
        Ok(Mixed { mixture, parents, kinds, kind_of, work })
    }

    pub(super) fn choice_table(
        &self,
        breeder: &Breeder,
        kid: usize,
        choice: usize,
        (parents, sources): (&[usize], &[(usize, usize)]),
    ) -> Table {
        let at = |v: usize| parents.iter().position(|p| *p == v).unwrap_or(0);
        let ln = self
            .assignments(parents)
            .iter()
            .flat_map(|genotypes| {
                sources.iter().flat_map(|(d, s)| self.kid_law(breeder, genotypes[at(*d)], genotypes[at(*s)], false))
            })
            .collect();
        Table { scope: parents.iter().copied().chain([choice, kid]).collect(), ln }
    }
}

/// The members out of a brood.
fn kids(evidence: &Evidence, members: &BTreeSet<usize>, brood: usize) -> Vec<usize> {
    members.iter().copied().filter(|f| evidence.breeders[*f].origin == Origin::Brood(brood)).collect()
}

/// The broods whose factors cannot be worked out in time beside those of the broods before them, each with the reason.
pub(super) fn dear_broods(evidence: &Evidence, space: &Space, error: &ScoringError) -> Vec<(usize, Error)> {
    let members = core(evidence, &[]);
    let mut builder = Builder::without_broods(evidence, space, error, &members);
    let mut dear = vec![];
    for (index, brood) in evidence.broods.iter().enumerate().filter(|(_, brood)| brood.counts.total() > 0) {
        let pairs = builder.pairs(brood);
        if Pair::only(&pairs).is_some() {
            continue;
        }
        let mixed = builder.mixed(evidence, brood, &pairs, &kids(evidence, &members, index), PASSES);
        match mixed.map(|mixed| mixed.work) {
            Ok(work) => builder.work += work,
            Err(why) => dear.push((index, why)),
        }
    }
    dear
}

fn check_size(brood: &str, entries: f64) -> Result<()> {
    if entries <= BROOD_ENTRY_LIMIT {
        return Ok(());
    }
    let message = format!("its possible parents give {entries:.0e} combinations, the limit is {BROOD_ENTRY_LIMIT:.0e}");
    Err(Error::too_dear(format!("brood {brood}"), message, fewer_dams(brood)))
}
