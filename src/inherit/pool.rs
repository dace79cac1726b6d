//! Broods of the same parents added up: the likelihood knows them by their sums alone, so that a book of thousands of
//! broods costs no more than its pairs.

use std::collections::BTreeMap;

use super::evidence::{Brood, Counts, Evidence, Origin};
use super::mixture::ln_coefficient;

/// Evidence in which every pair of parents has one brood.
pub(super) struct Pooled {
    /// The same breeders by the same numbers; broods of one sire and one dam are added up, the others as they were.
    pub(super) evidence: Evidence,
    /// What is to be added to a log-likelihood of `evidence` for that of the broods by themselves: the same under every
    /// mode, since it only counts the orders in which the young can have come.
    pub(super) ln_apart: f64,
}

/// Adds up the broods of each pair.
pub(super) fn pooled(evidence: &Evidence) -> Pooled {
    let mut broods: Vec<Brood> = Vec::new();
    let mut of_pair: BTreeMap<(usize, usize), usize> = BTreeMap::new();
    let mut moved = Vec::with_capacity(evidence.broods.len());
    for brood in &evidence.broods {
        let pair = match (brood.parents.as_slice(), brood.stored.is_empty()) {
            ([only], true) => Some((only.sire, only.dam)),
            _ => None,
        };
        let next = broods.len();
        let at = pair.map_or(next, |pair| *of_pair.entry(pair).or_insert(next));
        moved.push(at);
        if at == next {
            broods.push(brood.clone());
        } else {
            broods[at].counts = sum(broods[at].counts, brood.counts);
            broods[at].young = broods[at].young.zip(brood.young).map(|(a, b)| a + b);
        }
    }
    let ln_ways = |broods: &[Brood]| broods.iter().map(|b| ln_coefficient(&b.counts)).sum::<f64>();
    let ln_apart = ln_ways(&evidence.broods) - ln_ways(&broods);
    let mut evidence = Evidence { broods, ..evidence.clone() };
    for breeder in &mut evidence.breeders {
        if let Origin::Brood(brood) = &mut breeder.origin {
            *brood = moved[*brood];
        }
    }
    Pooled { evidence, ln_apart }
}

fn sum(a: Counts, b: Counts) -> Counts {
    let add = |a: [u32; 3], b: [u32; 3]| [a[0] + b[0], a[1] + b[1], a[2] + b[2]];
    Counts { female: add(a.female, b.female), male: add(a.male, b.male), unsexed: add(a.unsexed, b.unsexed) }
}

#[cfg(test)]
mod tests {
    use super::super::evidence::{Breeder, Class, EarlierSire, Mating, Sex};
    use super::super::{JudgeOptions, Model, SexSystem, SexSystems, built_in};
    use super::*;

    /// Two broods of one pair, one of the same pair with an earlier sire, an uncounted one; a son out of the second.
    fn evidence() -> Evidence {
        let breeder = |fish: &str, sex, class, origin| Breeder { fish: fish.into(), sex, class, pure: false, origin };
        let counts = |male, female| Counts { male, female, unsexed: [3, 0, 1] };
        let brood = |name: &str, parents, earlier: Option<EarlierSire>, counts| Brood {
            name: name.into(),
            label: name.into(),
            cross: "K2".into(),
            parents,
            stored: earlier.map(|sire| (1, sire)).into_iter().collect(),
            young: None,
            counts,
        };
        let pair = || vec![Mating { sire: 0, dam: 1 }];
        Evidence {
            breeders: vec![
                breeder("sire", Sex::Male, Some(Class::Other), Origin::Founder),
                breeder("dam", Sex::Female, Some(Class::Other), Origin::Founder),
                breeder("son", Sex::Male, Some(Class::Target), Origin::Brood(1)),
                breeder("daughter", Sex::Female, None, Origin::Brood(3)),
            ],
            broods: vec![
                brood("K2-1", pair(), None, counts([9, 0, 2], [8, 0, 4])),
                brood("K2-2", pair(), None, counts([5, 0, 3], [7, 0, 1])),
                brood("K2-3", pair(), Some(EarlierSire::Unknown), counts([6, 0, 1], [4, 0, 0])),
                brood("K2-4", pair(), None, Counts::default()),
                brood("K3-1", vec![Mating { sire: 2, dam: 3 }], None, counts([2, 0, 8], [1, 0, 9])),
            ],
            ..Evidence::default()
        }
    }

    #[test]
    fn broods_of_a_pair_become_one_and_their_young_stay_theirs() {
        let pooled = pooled(&evidence()).evidence;
        let names: Vec<&str> = pooled.broods.iter().map(|b| b.name.as_str()).collect();
        assert_eq!(names, ["K2-1", "K2-3", "K3-1"]);
        assert_eq!((pooled.broods[0].counts.male, pooled.broods[0].counts.unsexed), ([14, 0, 5], [6, 0, 2]));
        let origins: Vec<Origin> = pooled.breeders.iter().map(|b| b.origin).collect();
        assert_eq!(origins[2..], [Origin::Brood(0), Origin::Brood(0)]);
    }

    /// The broods one by one are the second route to the same figure.
    #[test]
    fn every_mode_says_the_same_of_the_sums_as_of_the_broods() {
        let evidence = evidence();
        let Pooled { evidence: sums, ln_apart } = pooled(&evidence);
        let error = JudgeOptions::new(0.01).scoring(2);
        for mode in built_in().unwrap() {
            let model = Model::new(mode, SexSystems::Known(SexSystem::Xy));
            let (one_by_one, added_up) =
                (model.posterior(&evidence, &error).unwrap(), model.posterior(&sums, &error).unwrap());
            let ln = added_up.ln_likelihood + ln_apart;
            assert!((one_by_one.ln_likelihood - ln).abs() < 1e-10, "{}", model.mode.name);
            for (a, b) in one_by_one.genotypes.iter().flatten().zip(added_up.genotypes.iter().flatten()) {
                assert!(
                    a.genotype == b.genotype && (a.probability - b.probability).abs() < 1e-10,
                    "{}",
                    model.mode.name
                );
            }
        }
    }
}
