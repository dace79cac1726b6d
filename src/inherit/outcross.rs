//! Whether the crosses of a line's fish with others speak against its breeding true.

use super::evidence::{Brood, Class, EarlierSire, Evidence, Mating, Sex};
use super::pool::pooled;
use super::words::sex_word;
use crate::stats::binomial::{lower_tail, upper_tail};
use crate::stats::goodness::holm;
use crate::units::joined;

/// What comes more seldom than this by mis-scoring or by chance is taken as told.
const TOLD: f64 = 0.01;

/// What the crosses out of a line say, in words.
#[derive(Debug, Default)]
pub(super) struct Outcrosses {
    /// Those whose young say, or may say, that a fish of the line carries another allele.
    pub(super) against: Vec<String>,
    /// Those whose young part by sex as the mate's X makes them, which says nothing against the line.
    pub(super) sex_linked: Vec<String>,
}

/// Looks at the young of both classes that fish of the line, `members`, had with others. They speak against it unless the mates are not
/// known to show the class and the book shows that it is recessive, so that it is the mates whose alleles they tell of, or
/// unless they look sex-linked. Where an earlier sire may have fathered some, or a pair within the line, both classes tell
/// nothing unless every possible parent shows it.
pub(super) fn outcrosses(evidence: &Evidence, members: &[usize], error_rate: f64) -> Outcrosses {
    let sums = pooled(evidence).evidence;
    let recessive = shown_recessive(&sums, error_rate);
    let mut found = Outcrosses::default();
    for out in sums.broods.iter().filter_map(|brood| Outcross::of(&sums, members, brood)) {
        if let Some(split) = out.split_by_sex(error_rate) {
            found.sex_linked.push(split);
        } else if let Some(who) = out.who_carries(recessive) {
            found.against.push(out.seen() + &who);
        }
    }
    found
}

/// Young of both classes that may be of a fish of the line and of one that is not.
struct Outcross<'a> {
    evidence: &'a Evidence,
    brood: &'a Brood,
    /// Its possible parents of the line, and the others.
    own: Vec<usize>,
    mates: Vec<usize>,
    /// Males who may have fathered some before; each is known.
    earlier: Vec<usize>,
}

impl<'a> Outcross<'a> {
    fn of(evidence: &'a Evidence, members: &[usize], brood: &'a Brood) -> Option<Self> {
        if brood.earlier_sires().contains(&EarlierSire::Unknown) {
            return None;
        }
        let earlier: Vec<usize> = brood.known_earlier_sires().collect();
        let mut fish: Vec<usize> = brood.parents.iter().flat_map(|m| [m.sire, m.dam]).collect();
        fish.sort_unstable();
        fish.dedup();
        let (own, mates): (Vec<usize>, Vec<usize>) = fish.into_iter().partition(|f| members.contains(f));
        // None of the class at all: it is recessive, or the mate's is of another gene; the line may be fixed all the same.
        let both = brood.counts.target() > 0 && brood.counts.target() < brood.counts.total();
        (both && !own.is_empty() && !mates.is_empty()).then_some(Self { evidence, brood, own, mates, earlier })
    }

    fn shows(&self, fish: usize) -> bool {
        self.evidence.breeders[fish].class == Some(Class::Target)
    }

    /// Whether every mating is of a fish of the line with a mate, and no other male was there before.
    fn is_plain(&self) -> bool {
        let across = |m: &Mating| self.own.contains(&m.sire) != self.own.contains(&m.dam);
        self.earlier.is_empty() && self.brood.parents.iter().all(across)
    }

    /// Which fish carry another allele, or may; `None` where it may well be mates alone.
    fn who_carries(&self, recessive: bool) -> Option<String> {
        let all = || self.own.iter().chain(&self.mates).copied();
        let hidden: Vec<usize> = all().filter(|f| !self.shows(*f)).collect();
        if hidden.is_empty() {
            return match self.earlier.as_slice() {
                [] if all().count() > 2 => Some(", though all of them show it: one carries another allele".to_owned()),
                [] => Some(", though both show it: one of them carries another allele".to_owned()),
                earlier if earlier.iter().any(|sire| !self.shows(*sire)) => None,
                earlier => Some(format!(
                    ", though they show it, as does the earlier sire {}: one of the {} carries another allele",
                    self.named(earlier),
                    if all().count() + earlier.len() > 3 { "fish" } else { "three" }
                )),
            };
        }
        if !self.is_plain() {
            return None;
        }
        let own = self.named(&self.own);
        let of_mates = hidden.iter().any(|f| self.mates.contains(f));
        match (of_mates, recessive) {
            (false, _) => Some(format!(": {own} carries another allele")),
            (true, false) => Some(format!(
                ": {own} carries another allele if {} is dominant, and {} does if it is recessive",
                self.evidence.target,
                self.named(&hidden)
            )),
            (true, true) => None,
        }
    }

    /// Young that show the class where they are of the other sex than the line's fish and else not: of a recessive on the X the sons of the
    /// line's dam have her X alone, of a dominant one the daughters of the line's sire have his, and the others the mate's.
    fn split_by_sex(&self, error_rate: f64) -> Option<String> {
        if !self.is_plain() || self.mates.iter().any(|f| self.shows(*f)) {
            return None;
        }
        let sex = self.evidence.breeders[*self.own.first()?].sex;
        let counts = &self.brood.counts;
        let rows = Sex::BOTH.map(|of| (of, counts.of(Some(of))));
        let [crossed, own] = if sex == Sex::Male { rows } else { [rows[1], rows[0]] };
        let [of_class, own_of_class] = [crossed, own].map(|(_, row)| u64::from(row[Class::Target.index()]));
        let [young, own_young] = [crossed, own].map(|(_, row)| u64::from(row.iter().sum::<u32>()));
        let (odd, all) = (young - of_class + own_of_class, young + own_young);
        let both = self.own.iter().all(|f| self.evidence.breeders[*f].sex == sex) && young > 0 && own_young > 0;
        // Were it not linked to the sex, either class would come in either sex, half of each at the most.
        let split = both && upper_tail(odd, all, error_rate) >= TOLD && lower_tail(odd, all, 0.5) < TOLD;
        split.then(|| {
            format!(
                "{} (cross {}), where {of_class} of {young} {} and {own_of_class} of {own_young} {} show it",
                self.parents(),
                self.brood.cross,
                sex_word(Some(crossed.0)),
                sex_word(Some(own.0))
            )
        })
    }

    fn named(&self, fish: &[usize]) -> String {
        joined(&fish.iter().map(|f| self.evidence.breeders[*f].fish.as_str()).collect::<Vec<_>>(), "or")
    }

    fn parents(&self) -> String {
        let of = |sex: Sex| {
            let mut fish: Vec<usize> = self.own.iter().chain(&self.mates).copied().collect();
            fish.retain(|f| self.evidence.breeders[*f].sex == sex);
            self.named(&fish)
        };
        format!("{} × {}", of(Sex::Male), of(Sex::Female))
    }

    fn seen(&self) -> String {
        let (all, of_class) = (self.brood.counts.total(), self.brood.counts.target());
        let others = all - of_class;
        format!("{} gave {others} of another class among {all} young (cross {})", self.parents(), self.brood.cross)
    }
}

/// Whether the book shows that the class does not show beside another allele, and no mis-scored young alone do.
fn shown_recessive(sums: &Evidence, error_rate: f64) -> bool {
    let of_pairs: Vec<f64> = sums.broods.iter().filter_map(|brood| if_dominant(sums, brood, error_rate)).collect();
    holm(&of_pairs).into_iter().any(|p| p < TOLD)
}

/// How likely the young of one pair are at the most if the class shows beside another allele: it comes of no two parents that do not
/// show it but by mis-scoring, and of one that does in every second young. `None` of pairs that tell nothing of that.
fn if_dominant(sums: &Evidence, brood: &Brood, error_rate: f64) -> Option<f64> {
    let ([Mating { sire, dam }], true) = (brood.parents.as_slice(), brood.stored.is_empty()) else { return None };
    let [of_sire, of_dam] = [*sire, *dam].map(|f| sums.breeders[f].class);
    let (of_class, all) = (u64::from(brood.counts.target()), u64::from(brood.counts.total()));
    match (of_sire? == Class::Target, of_dam? == Class::Target) {
        (false, false) => Some(upper_tail(of_class, all, error_rate)),
        (true, true) => None,
        // More of the class than mis-scored ones are seldom so few by a dominant allele alone: they are no sign.
        _ if upper_tail(of_class, all, error_rate) < TOLD => None,
        (false, true) => Some(lower_tail(of_class, all, 0.5)),
        // His X goes to the daughters alone and his Y to the sons, so that the sex of which fewer were seen decides.
        (true, false) => {
            let [daughters, sons, unsexed] = brood.counts.rows().map(|(_, row)| u64::from(row.iter().sum::<u32>()));
            Some(lower_tail(of_class, daughters.min(sons) + unsexed, 0.5))
        }
    }
}
