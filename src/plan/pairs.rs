//! All pairs of living fish, weighed and ranked.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::atomic::{AtomicUsize, Ordering};

use rayon::prelude::*;

use super::information::{BROOD_SIZES, Expectation, information};
use super::relation::relation;
use crate::error::{Error, Result};
use crate::inherit::{
    Evidence, Herd, Model, Origin, Outlook, Progress, ScoringError, Sex, alike, expected, fry_needed,
};
use crate::kin::{Ancestry, Pedigree};

/// What the next cross is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Aim {
    /// Find out the mode of inheritance.
    Mode,
    /// Get fish of the target class.
    Target,
    /// Keep inbreeding low.
    Diversity,
}

/// A living fish that may be paired.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// Index in the evidence's breeders.
    pub fish: usize,
    /// What stands in its way, whoever the other is: too young.
    pub warnings: Vec<String>,
    /// Of a female that sperm of another male may still be at work: not virgin, not isolated long enough.
    pub stored: Option<String>,
    /// The one male that was with her while sperm of hers can be stored: with him that does not hold.
    pub only_mate: Option<usize>,
}

/// What the plan is made from.
#[derive(Debug, Clone, Copy)]
pub struct Setup<'a> {
    /// Counts and pedigree.
    pub evidence: &'a Evidence,
    /// Modes with their posterior weights.
    pub modes: &'a [(f64, Model)],
    /// Scoring error.
    pub error: &'a ScoringError,
    /// Parents of every fish, for kinship.
    pub ancestry: &'a [Ancestry],
    /// Fish that may be paired.
    pub living: &'a [Candidate],
    /// What to rank by.
    pub aim: Aim,
}

/// One possible cross.
#[derive(Debug, Clone, PartialEq)]
pub struct Pair {
    /// The male.
    pub sire: String,
    /// The female.
    pub dam: String,
    /// Expected information about the mode in bits, one for each of [`BROOD_SIZES`].
    pub bits: [f64; 4],
    /// Probability that a young fish is of the target class.
    pub target_odds: f64,
    /// Fry needed to see the target with 95 %; `None` when the pair may well never show it.
    pub fry_for_95: Option<u32>,
    /// The same for 99 %.
    pub fry_for_99: Option<u32>,
    /// Inbreeding coefficient of the young.
    pub inbreeding: f64,
    /// What to mind.
    pub warnings: Vec<String>,
}

/// The ranked pairs.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// Best first.
    pub pairs: Vec<Pair>,
    /// What holds for every cross.
    pub advice: String,
}

/// A mode lighter than this cannot change a figure that is printed.
const NEGLIGIBLE_WEIGHT: f64 = 1e-9;

/// Weighs and ranks every pair of living fish; `progress` is told of every sire.
///
/// # Errors
/// No male or no female among them, a broken pedigree, or an elimination that would take too long.
pub fn next_crosses(setup: &Setup<'_>, progress: Progress<'_>) -> Result<Plan> {
    let of =
        |sex: Sex| setup.living.iter().filter(move |c| setup.evidence.breeders[c.fish].sex == sex).collect::<Vec<_>>();
    let (dams, sires) = (of(Sex::Female), of(Sex::Male));
    if dams.is_empty() || sires.is_empty() {
        let missing = if dams.is_empty() { "female" } else { "male" };
        return Err(Error::failed(
            "next",
            format!("no living {missing} is in the book"),
            "`fish add` or `import fish` first",
        ));
    }
    let kin = Pedigree::new(setup.ancestry)?;
    let stand_in: BTreeMap<usize, usize> = stand_ins(setup);
    let kinds = |of: &[&Candidate]| {
        let firsts: BTreeSet<usize> = of.iter().map(|c| stand_in[&c.fish]).collect();
        firsts.into_iter().collect::<Vec<usize>>()
    };
    let (dam_kinds, sire_kinds) = (kinds(&dams), kinds(&sires));
    let weighed = weigh_all(setup, &dam_kinds, &sire_kinds, progress)?;
    let by_kind: BTreeMap<(usize, usize), &Weighed> = sire_kinds
        .iter()
        .zip(&weighed)
        .flat_map(|(s, of_sire)| dam_kinds.iter().zip(of_sire).map(|(d, weighed)| ((*d, *s), weighed)))
        .collect();
    let mut pairs = vec![];
    for dam in &dams {
        for sire in &sires {
            let weighed = by_kind[&(stand_in[&dam.fish], stand_in[&sire.fish])];
            pairs.push(pair(setup, &kin, dam, sire, weighed)?);
        }
    }
    rank(&mut pairs, setup.aim);
    Ok(Plan { pairs, advice: advice(setup.evidence) })
}

/// For each sire every dam, weighed.
fn weigh_all(setup: &Setup<'_>, dams: &[usize], sires: &[usize], progress: Progress<'_>) -> Result<Vec<Vec<Weighed>>> {
    let heavy: Vec<&(f64, Model)> = setup.modes.iter().filter(|(weight, _)| *weight > NEGLIGIBLE_WEIGHT).collect();
    let herds: Vec<(f64, Herd<'_>)> = heavy
        .par_iter()
        .map(|(weight, model)| Ok((*weight, Herd::new(model, setup.evidence, setup.error, (dams, sires))?)))
        .collect::<Result<_>>()?;
    let done = AtomicUsize::new(0);
    progress(0, sires.len());
    let of_sire = |sire: usize| -> Result<Vec<Weighed>> {
        let mut by_dam: Vec<Vec<(f64, Outlook)>> = vec![vec![]; dams.len()];
        for (weight, herd) in &herds {
            for (modes, outlook) in by_dam.iter_mut().zip(herd.outlooks(sire)?) {
                modes.push((*weight, outlook));
            }
        }
        let weighed = by_dam.iter().map(|modes| weigh(setup, modes)).collect();
        progress(done.fetch_add(1, Ordering::Relaxed) + 1, sires.len());
        Ok(weighed)
    };
    (0..sires.len()).into_par_iter().map(of_sire).collect()
}

/// Sibs without young that the evidence cannot tell apart share one calculation.
fn stand_ins(setup: &Setup<'_>) -> BTreeMap<usize, usize> {
    let core = crate::inherit::informative(setup.evidence);
    let mut firsts: Vec<usize> = vec![];
    let mut out = BTreeMap::new();
    for candidate in setup.living {
        let fish = candidate.fish;
        let first = firsts.iter().copied().find(|f| !core.contains(&fish) && alike(setup.evidence, *f, fish));
        if first.is_none() && !core.contains(&fish) {
            firsts.push(fish);
        }
        out.insert(fish, first.unwrap_or(fish));
    }
    out
}

/// What depends on genotypes alone.
struct Weighed {
    bits: [f64; 4],
    target_odds: f64,
    fry: [Option<u32>; 2],
}

fn weigh(setup: &Setup<'_>, modes: &[(f64, Outlook)]) -> Weighed {
    let expectation = Expectation::new(modes, setup.error);
    let total: f64 = modes.iter().map(|(w, _)| w).sum();
    let target = |outlook: &Outlook| expected(outlook, None).map_or(0.0, |row| row[2]);
    let target_odds = if total > 0.0 { modes.iter().map(|(w, o)| w * target(o)).sum::<f64>() / total } else { 0.0 };
    Weighed {
        bits: BROOD_SIZES.map(|n| information(&expectation, n)),
        target_odds,
        fry: [0.95, 0.99].map(|confidence| fry_needed(modes, confidence)),
    }
}

fn pair(setup: &Setup<'_>, kin: &Pedigree, dam: &Candidate, sire: &Candidate, weighed: &Weighed) -> Result<Pair> {
    let name = |c: &Candidate| setup.evidence.breeders[c.fish].fish.clone();
    let (dam_name, sire_name) = (name(dam), name(sire));
    let inbreeding = kin.kinship(&sire_name, &dam_name)?;
    let mut warnings = vec![];
    if let Some(words) = relation(&sire_name, &dam_name, setup.ancestry) {
        warnings.push(format!("related: {words}"));
    } else if inbreeding > 0.0 {
        warnings.push("related: a common ancestor further back".to_owned());
    }
    warnings.extend(dam.stored.clone().filter(|_| dam.only_mate != Some(sire.fish)));
    warnings.extend(dam.warnings.iter().chain(&sire.warnings).cloned());
    warnings.extend([dam, sire].into_iter().filter_map(|c| mixed_origin(setup.evidence, c.fish)));
    warnings.push(format!("{SURPLUS}: expect {}, have a plan for them", brood_size(setup.evidence)));
    Ok(Pair {
        sire: sire_name,
        dam: dam_name,
        bits: weighed.bits,
        target_odds: weighed.target_odds,
        fry_for_95: weighed.fry[0],
        fry_for_99: weighed.fry[1],
        inbreeding,
        warnings,
    })
}

/// How the warning on surplus fry begins; it goes with every pair.
pub const SURPLUS: &str = "surplus fry";

/// A fish whose own parents are not certain passes on that doubt.
fn mixed_origin(evidence: &Evidence, fish: usize) -> Option<String> {
    let breeder = &evidence.breeders[fish];
    let Origin::Brood(b) = breeder.origin else { return None };
    let brood = &evidence.broods[b];
    let mixed = brood.parents.len() > 1 || !brood.stored.is_empty();
    mixed.then(|| format!("{} comes from a brood of mixed parentage (cross {})", breeder.fish, brood.cross))
}

/// Which of [`BROOD_SIZES`] the aim `mode` ranks by: 12, a small brood that most pairs reach.
const RANKED_SIZE: usize = 2;

fn rank(pairs: &mut [Pair], aim: Aim) {
    let key = |p: &Pair| match aim {
        Aim::Mode => [-p.bits[RANKED_SIZE], p.inbreeding, -p.target_odds],
        Aim::Target => [-p.target_odds, p.inbreeding, -p.bits[RANKED_SIZE]],
        Aim::Diversity => [p.inbreeding, -p.bits[RANKED_SIZE], -p.target_odds],
    };
    // Rounded, so that equals stay in book order whatever the last bits say.
    let rounded = |p: &Pair| key(p).map(|v| (v * 1e9).round());
    pairs.sort_by(|a, b| {
        let (a, b) = (rounded(a), rounded(b));
        a.iter().zip(b).map(|(a, b)| a.total_cmp(&b)).find(|o| o.is_ne()).unwrap_or(std::cmp::Ordering::Equal)
    });
}

/// Brood sizes where the book holds none: means of feral swordtails and platies 60 and 27, guppies 20 to 200 (check
/// values, section 10: Milton & Arthington 1983; hobby figure).
const BROODS_ELSEWHERE: &str = "20 to 60 young a brood, at times over 100";

/// The expected size of a brood, in words: the median of this book's, of those scored where nobody counted all of a brood; else the
/// general range.
fn brood_size(evidence: &Evidence) -> String {
    let mut sizes: Vec<u32> =
        evidence.broods.iter().map(|b| b.young.unwrap_or(b.counts.total())).filter(|n| *n > 0).collect();
    sizes.sort_unstable();
    sizes
        .get(sizes.len() / 2)
        .map_or(BROODS_ELSEWHERE.to_owned(), |n| format!("about {n} young a brood, as in this book"))
}

fn advice(evidence: &Evidence) -> String {
    format!(
        "Before you put a pair together, have a plan for the surplus fry: expect {}, and several broods from one female. \
         Separate the sexes before they can mate, use a virgin or long isolated female, and never release fish.",
        brood_size(evidence)
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::inherit::{Brood, Counts};

    fn said(broods: &[(Option<u32>, u32)]) -> String {
        let brood = |(young, scored): &(Option<u32>, u32)| Brood {
            name: "1".into(),
            label: "1".into(),
            cross: "K1".into(),
            parents: vec![],
            stored: BTreeMap::new(),
            young: *young,
            counts: Counts { unsexed: [*scored, 0, 0], ..Counts::default() },
        };
        brood_size(&Evidence { broods: broods.iter().map(brood).collect(), ..Evidence::default() })
    }

    /// Of 19, 12, 12, 27 and 27 dropped the middle one is 19, however few of them are scored yet.
    #[test]
    fn a_brood_is_as_large_as_it_was_dropped() {
        let dropped = [(19, 10), (12, 12), (12, 0), (27, 16), (27, 16)].map(|(young, scored)| (Some(young), scored));
        assert_eq!(said(&dropped), "about 19 young a brood, as in this book");
        assert_eq!(said(&[(None, 8), (Some(30), 8), (None, 0)]), "about 30 young a brood, as in this book");
        assert_eq!(said(&[(None, 0)]), BROODS_ELSEWHERE);
    }
}
