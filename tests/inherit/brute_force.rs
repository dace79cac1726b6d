//! The elimination against a second, slower route: the sum over every genotype assignment and, in a brood of mixed
//! parentage, over every way its young may have come from the possible parents, with the moments of the Dirichlet.

use broodhue::inherit::{
    Class, EarlierSire, Evidence, Mode, Model, Origin, ScoringError, Sex, SexSystem, SexSystems, Space, built_in,
};
use proptest::prelude::*;

use crate::evidence::evidence;
use crate::lethal;

/// Probability that a fish of class `truth` is scored `seen` (two classes).
fn scored(e: f64, truth: Class, seen: Class) -> f64 {
    if (truth == Class::Target) == (seen == Class::Target) { 1.0 - e } else { e }
}

fn factorial(n: u32) -> f64 {
    (1..=n).map(f64::from).product()
}

/// E[Π w^n] for shares uniform over the simplex.
fn simplex_moment(n: &[u32]) -> f64 {
    let total: u32 = n.iter().sum();
    let dims = u32::try_from(n.len()).unwrap();
    n.iter().map(|k| factorial(*k)).product::<f64>() * factorial(dims - 1) / factorial(total + dims - 1)
}

/// E[π^stored (1-π)^own], π = 0 with probability one half, else uniform.
fn stored_moment(stored: u32, own: u32) -> f64 {
    let uniform = factorial(stored) * factorial(own) / factorial(stored + own + 1);
    if stored == 0 { 0.5 + 0.5 * uniform } else { 0.5 * uniform }
}

/// One young fish of a brood: its sex, class, and genotype when it is a breeder.
struct Young {
    sex: Sex,
    class: Class,
    genotype: Option<usize>,
}

struct Case<'a> {
    mode: &'a Mode,
    space: &'a Space,
    evidence: &'a Evidence,
    e: f64,
}

impl Case<'_> {
    /// Probability of one young fish given its parents' genotypes and its sex.
    fn young(&self, young: &Young, dam: usize, sire: usize) -> f64 {
        let law = self.space.offspring(dam, sire, young.sex);
        let total: f64 = law.iter().sum();
        let each = |g: usize| law[g] * scored(self.e, self.space.genotypes(young.sex)[g].class, young.class);
        let p = young.genotype.map_or_else(|| (0..law.len()).map(each).sum(), each);
        if total > 0.0 { p / total } else { 0.0 }
    }

    fn brood(&self, index: usize, genotypes: &[usize], unknown: usize) -> f64 {
        let brood = &self.evidence.broods[index];
        let mut young: Vec<Young> = vec![];
        let mut coefficient = 1.0;
        for (sex, row) in brood.counts.rows() {
            coefficient *= factorial(row.iter().sum()) / row.iter().map(|n| factorial(*n)).product::<f64>();
            for class in [Class::Other, Class::Target] {
                young.extend((0..row[class.index()]).map(|_| Young { sex: sex.unwrap(), class, genotype: None }));
            }
        }
        for (fish, breeder) in self.evidence.breeders.iter().enumerate() {
            if breeder.origin == Origin::Brood(index) {
                let same =
                    |y: &&mut Young| y.genotype.is_none() && y.sex == breeder.sex && Some(y.class) == breeder.class;
                young.iter_mut().find(same).unwrap().genotype = Some(genotypes[fish]);
            }
        }
        let earlier = |dam: usize| match brood.stored.get(&dam)? {
            EarlierSire::Known(fish) => Some(genotypes[*fish]),
            EarlierSire::Unknown => Some(unknown),
        };
        let dams = brood.parents.len();
        let mut sources: Vec<(usize, usize)> =
            brood.parents.iter().map(|m| (genotypes[m.dam], genotypes[m.sire])).collect();
        // Which dam a source is of; of the own ones, whether her young may be her earlier sire's instead.
        let dam = |at: usize| brood.parents[at].dam;
        let holders: Vec<usize> = (0..dams).filter(|at| earlier(dam(*at)).is_some()).collect();
        sources.extend(holders.iter().filter_map(|at| Some((genotypes[dam(*at)], earlier(dam(*at))?))));
        let mut sum = 0.0;
        let ways = sources.len().pow(u32::try_from(young.len()).unwrap());
        for way in 0..ways {
            let (mut left, mut of_dam, mut stored, mut own, mut p) = (way, vec![0; dams], 0, 0, 1.0);
            for y in &young {
                let source = left % sources.len();
                left /= sources.len();
                of_dam[if source < dams { source } else { holders[source - dams] }] += 1;
                stored += u32::from(source >= dams);
                own += u32::from(holders.contains(&source));
                p *= self.young(y, sources[source].0, sources[source].1);
                if p <= 0.0 {
                    break;
                }
            }
            if p > 0.0 {
                let paternity = if holders.is_empty() { 1.0 } else { stored_moment(stored, own) };
                sum += p * simplex_moment(&of_dam) * paternity;
            }
        }
        coefficient * sum
    }

    /// How many of a genotype live, by its letters: `+/m` is one mutant copy of two. Only modes of one locus have deaths here.
    fn alive(&self, sex: Sex, name: &str) -> f64 {
        let copies = |letter: char| u8::try_from(name.matches(letter).count()).unwrap();
        let all = copies('m') + copies('+');
        if self.mode.survival.is_empty() { 1.0 } else { self.mode.survives(sex, &[(copies('m'), all)]) }
    }

    /// Probability that a male nobody knows has this genotype: he lived.
    fn unknown_male(&self, genotype: usize) -> f64 {
        let males = self.space.genotypes(Sex::Male);
        let weight = |g: usize| males[g].prior * self.alive(Sex::Male, &males[g].name);
        weight(genotype) / (0..males.len()).map(weight).sum::<f64>()
    }

    fn founder(&self, fish: usize, genotype: usize) -> f64 {
        let breeder = &self.evidence.breeders[fish];
        let pure = breeder.pure && breeder.class != Some(Class::Target);
        let weight = |g: usize| {
            let g = &self.space.genotypes(breeder.sex)[g];
            let allowed = if pure && !g.pure { 0.0 } else { g.prior };
            allowed * self.alive(breeder.sex, &g.name) * breeder.class.map_or(1.0, |seen| scored(self.e, g.class, seen))
        };
        let total: f64 = (0..self.space.genotypes(breeder.sex).len()).map(weight).sum();
        if total > 0.0 { weight(genotype) / total } else { 0.0 }
    }

    fn likelihood(&self) -> f64 {
        let breeders = &self.evidence.breeders;
        let males = self.space.genotypes(Sex::Male);
        let any_unknown =
            self.evidence.broods.iter().any(|b| b.stored.values().any(|sire| *sire == EarlierSire::Unknown));
        let mut sizes: Vec<usize> = breeders.iter().map(|b| self.space.genotypes(b.sex).len()).collect();
        sizes.push(if any_unknown { males.len() } else { 1 });
        let mut total = 0.0;
        for mut code in 0..sizes.iter().product::<usize>() {
            let mut genotypes = vec![];
            for size in &sizes {
                genotypes.push(code % size);
                code /= size;
            }
            let unknown = genotypes.pop().unwrap();
            let mut p = if any_unknown { self.unknown_male(unknown) } else { 1.0 };
            for (fish, breeder) in breeders.iter().enumerate() {
                if breeder.origin == Origin::Founder && p > 0.0 {
                    p *= self.founder(fish, genotypes[fish]);
                }
            }
            for brood in 0..self.evidence.broods.len() {
                if p > 0.0 {
                    p *= self.brood(brood, &genotypes, unknown);
                }
            }
            total += p;
        }
        total
    }
}

/// A pedigree of two generations with loops: founders, a first brood (plain, pooled, with stored sperm of which some dams hold
/// none, or each another male's, of two males beside one dam), two breeders out
/// of it, a sib mating and a backcross. Every founder has young that were counted: those without are left out of the
/// likelihood, whatever their own class.
fn book(kind: usize, classes: [bool; 6], counts: &[u32], pure: bool) -> Evidence {
    let word = |target: bool| if target { "target" } else { "other" };
    let parents = match kind {
        1 => "S D+E",
        2 => "S D earlier=?",
        3 => "S D earlier=T",
        4 => "S+T D+E",
        5 => "S+T D+D",
        // E is a virgin, and so is D in the other.
        6 => "S D+E earlier=T free=E",
        7 => "S D+E earlier=? free=D",
        // Each came from a male of her own.
        8 => "S D+E earlier=T+?",
        9 => "S+T D+E earlier=T+S",
        _ => "S D",
    };
    // The breeders stand in the counts.
    let row = |i: usize, extra: Option<bool>| {
        let (other, target) = (counts[2 * i], counts[2 * i + 1]);
        format!("{}/{}", other + u32::from(extra == Some(false)), target + u32::from(extra == Some(true)))
    };
    let [s, t, d, e, k, l] = classes;
    evidence(&format!(
        "fish S m founder {}
         fish T m founder {} {}
         fish D f founder {}
         fish E f founder {}
         fish k f B1 {}
         fish l m B1 {}
         brood B1 K1 {parents} f={} m={}
         brood B2 K2 l k f={} m={}
         brood B3 K3 l D f={} m={}
         brood B4 K4 T k f={} m={}
         brood B5 K5 S E f={} m=1/0",
        word(s),
        word(t),
        if pure { "pure" } else { "" },
        word(d),
        word(e),
        word(k),
        word(l),
        row(0, Some(k)),
        row(1, Some(l)),
        row(2, None),
        row(3, None),
        row(4, None),
        row(5, None),
        row(6, None),
        row(7, None),
        row(8, None),
    ))
}

/// Two ways of adding up the same products differ by rounding alone.
const AGREE: f64 = 1e-9;

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn elimination_agrees_with_the_sum_over_all_assignments(
        mode in 0_usize..12,
        kind in 0_usize..10,
        classes in any::<[bool; 6]>(),
        counts in prop::collection::vec(0_u32..2, 18),
        e in prop::sample::select(vec![0.0, 0.01, 0.2]),
        pure in any::<bool>(),
    ) {
        let evidence = book(kind, classes, &counts, pure);
        let dying = [("some", 0.0), ("all", 0.0), ("some", 0.4)].map(|(shows, alive)| lethal::mode(shows, alive));
        let modes: Vec<Mode> = built_in().unwrap().into_iter().take(9).chain(dying).collect();
        let mode = modes[mode].clone().with_recombination(0.1);
        let model = Model::new(mode, SexSystems::Known(SexSystem::Xy));
        let found = model.ln_likelihood(&evidence, &ScoringError::even(e, 2)).unwrap();
        let slow = Case { mode: &model.mode, space: &model.spaces[0], evidence: &evidence, e }.likelihood();
        let agree = if slow > 0.0 { (found - slow.ln()).abs() < AGREE * found.abs().max(1.0) } else { found < f64::MIN };
        prop_assert!(agree, "{}: {found} is not {}", model.mode.name, slow.ln());
    }
}

/// Two loci, and W/X/Y sex, on a smaller pedigree with a loop.
#[test]
fn two_loci_and_three_sex_chromosomes_agree() {
    let evidence = evidence(
        "fish S m founder target
         fish D f founder other
         fish k f B1 other
         brood B1 K1 S D f=2/0 m=1/1
         brood B2 K2 S k f=1/2 m=0/2",
    );
    for (mode, system) in [
        ("two-locus-15-1", SexSystem::Xy),
        ("two-locus-9-7:b-on-x", SexSystem::Xy),
        ("two-locus-13-3:a-on-y", SexSystem::Xy),
        ("x-linked-dominant", SexSystem::Wxy),
        ("partially-sex-linked", SexSystem::Wxy),
        ("male-limited-autosomal", SexSystem::Wxy),
    ] {
        let mode = broodhue::inherit::select(&built_in().unwrap(), &[mode.to_owned()]).unwrap().remove(0);
        let model = Model::new(mode.with_recombination(0.05), SexSystems::Known(system));
        let found = model.ln_likelihood(&evidence, &ScoringError::even(0.02, 2)).unwrap();
        let slow = Case { mode: &model.mode, space: &model.spaces[0], evidence: &evidence, e: 0.02 }.likelihood();
        assert!((found - slow.ln()).abs() < AGREE, "{}: {found} is not {}", model.mode.name, slow.ln());
    }
}
