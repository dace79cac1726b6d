//! Does a line breed true? How many young of which cross say so, and how many more would.

use std::collections::BTreeMap;

use serde::Serialize;

use super::evidence::{Brood, Class, EarlierSire, Evidence, Mating};
use super::judgement::JudgeOptions;
use super::outcross::outcrosses;
use crate::stats::binomial::young_needed;
use crate::stats::interval::upper_limit;
use crate::units::joined;

/// One cross within the line.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FixedCross {
    /// The cross.
    pub cross: String,
    /// Scored young.
    pub young: u32,
    /// Young that show the class.
    pub of_class: u32,
    /// Those of the pair of which least is known: another dam's young say nothing of her, nor do those that an earlier sire may have
    /// fathered. All others with one pair; of pooled dams all that may be hers.
    pub young_of_pair: u32,
    /// Probability that so many young of that pair would have shown an exception, if both parents carried one hidden
    /// recessive; of pooled dams by the mean over the shares they may have, all equally likely.
    pub would_have_shown: f64,
    /// How many more young that are surely of that pair would raise that to 95 %.
    pub more_for_95: u32,
    /// The same for 99 %.
    pub more_for_99: u32,
}

/// A brood within the line that counts neither for nor against it, since a male who is not known to be of the line may have fathered
/// some.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LeftOut {
    /// The cross.
    pub cross: String,
    /// The brood.
    pub brood: String,
    /// Scored young.
    pub young: u32,
    /// Young that show another class.
    pub exceptions: u32,
    /// Whose stored sperm may have fathered some; `None` where he is not known.
    pub earlier_sire: Option<String>,
}

/// What the young say of a line and one class.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Fixed {
    /// The axis.
    pub axis: String,
    /// The class.
    pub class: String,
    /// Crosses whose parents all belong to the line, earlier sires among them, and whose young were scored.
    pub crosses: Vec<FixedCross>,
    /// Scored young of these crosses.
    pub young: u32,
    /// Young that show another class.
    pub exceptions: u32,
    /// Broods of parents of the line that are left out, since an earlier sire is not known to be of it.
    pub left_out: Vec<LeftOut>,
    /// Fish of the line that are scored as another class.
    pub scored_otherwise: Vec<String>,
    /// Crosses out of the line whose young say, or may say, that a fish of the line carries another allele; in words.
    pub outcrosses: Vec<String>,
    /// Crosses out of the line whose young part by sex, as a class linked to it makes them, which says nothing against the line; in words.
    pub sex_linked: Vec<String>,
    /// One-sided 95 % upper limit of the share of exceptions; `None` without young.
    pub upper_share: Option<f64>,
    /// Young of one pair needed to see a hidden recessive of both parents with 95 % and 99 %.
    pub young_for_95: Option<u64>,
    /// The same for 99 %.
    pub young_for_99: Option<u64>,
    /// One paragraph.
    pub verdict: String,
}

impl Fixed {
    /// Young were scored, and neither they nor the line's own fish nor outcrosses speak against its breeding true.
    pub fn unbroken(&self) -> bool {
        self.young > 0 && self.exceptions == 0 && self.scored_otherwise.is_empty() && self.outcrosses.is_empty()
    }
}

/// Two carriers of a recessive give it to one young in four.
const HIDDEN_SHARE: f64 = 0.25;

/// Looks at the crosses within a line; the evidence's target is the class asked about, `members` the fish of the line.
/// `options` say how many young may be mis-scored.
pub fn fixed(line: &str, evidence: &Evidence, members: &[usize], options: &JudgeOptions) -> Fixed {
    let pairs_within = |brood: &&Brood| {
        brood.parents.iter().all(|m| members.contains(&m.sire) && members.contains(&m.dam)) && brood.counts.total() > 0
    };
    let of_line = |sire: &EarlierSire| matches!(sire, EarlierSire::Known(fish) if members.contains(fish));
    let (within, left_out): (Vec<&Brood>, Vec<&Brood>) =
        evidence.broods.iter().filter(pairs_within).partition(|brood| brood.stored.values().all(of_line));
    let mut names: Vec<&str> = Vec::new();
    let mut of_cross: BTreeMap<&str, Vec<&Brood>> = BTreeMap::new();
    for brood in within {
        let broods = of_cross.entry(&brood.cross).or_default();
        if broods.is_empty() {
            names.push(&brood.cross);
        }
        broods.push(brood);
    }
    let crosses: Vec<FixedCross> = names.iter().map(|name| fixed_cross(name, &of_cross[name])).collect();
    let young = crosses.iter().map(|c| c.young).sum();
    let exceptions = crosses.iter().map(|c| c.young - c.of_class).sum();
    let upper_share = (young > 0).then(|| upper_limit(u64::from(exceptions), u64::from(young), 0.95));
    let otherwise = |fish: &&usize| evidence.breeders[**fish].class.is_some_and(|c| c != Class::Target);
    let outcrosses = outcrosses(evidence, members, options.largest_error);
    let mut out = Fixed {
        axis: evidence.axis.clone(),
        class: evidence.target.clone(),
        crosses,
        young,
        exceptions,
        left_out: left_out.into_iter().map(|brood| left_out_brood(evidence, members, brood)).collect(),
        scored_otherwise: members.iter().filter(otherwise).map(|f| evidence.breeders[*f].fish.clone()).collect(),
        outcrosses: outcrosses.against,
        sex_linked: outcrosses.sex_linked,
        upper_share,
        young_for_95: young_needed(HIDDEN_SHARE, 1, 0.95),
        young_for_99: young_needed(HIDDEN_SHARE, 1, 0.99),
        verdict: String::new(),
    };
    out.verdict =
        words(line, &out) + &words_of_sex_linked(line, &out.sex_linked) + &words_of_left_out(line, &out.left_out);
    out
}

fn left_out_brood(evidence: &Evidence, members: &[usize], brood: &Brood) -> LeftOut {
    let others: Vec<&str> = (brood.known_earlier_sires().filter(|sire| !members.contains(sire)))
        .map(|sire| evidence.breeders[sire].fish.as_str())
        .collect();
    let young = brood.counts.total();
    LeftOut {
        cross: brood.cross.clone(),
        brood: brood.name.clone(),
        young,
        exceptions: young - brood.counts.target(),
        earlier_sire: (!others.is_empty()).then(|| joined(&others, "or")),
    }
}

/// What the broods of one cross say of the pair of which they say least.
fn fixed_cross(name: &str, broods: &[&Brood]) -> FixedCross {
    let mut pairs: Vec<Mating> = Vec::new();
    for pair in broods.iter().flat_map(|b| &b.parents) {
        if !pairs.contains(pair) {
            pairs.push(*pair);
        }
    }
    let of_pair = |pair: &Mating| {
        let surely = |b: &&&Brood| b.stored.is_empty() && b.parents.contains(pair);
        let own: Vec<&Brood> = broods.iter().filter(surely).copied().collect();
        let young: u32 = own.iter().map(|b| b.counts.total()).sum();
        (own.iter().map(|b| missed(b.counts.total(), b.parents.len())).product::<f64>(), young)
    };
    let least = pairs.iter().map(of_pair).max_by(|a, b| a.0.total_cmp(&b.0));
    let (missed, young_of_pair) = least.unwrap_or((1.0, 0));
    FixedCross {
        cross: name.to_owned(),
        young: broods.iter().map(|b| b.counts.total()).sum(),
        of_class: broods.iter().map(|b| b.counts.target()).sum(),
        young_of_pair,
        would_have_shown: would_have_shown(&[missed], 0),
        more_for_95: more_needed(&[missed], 0.95),
        more_for_99: more_needed(&[missed], 0.99),
    }
}

/// Probability that no young of a brood shows a recessive hidden in the sire and in one of `dams` dams, whose shares of the brood
/// may be any, all equally likely.
///
/// Her share w is Beta(1, d−1), and the mean of (1 − w/4)ⁿ is the mean over K of Binomial(n, 1/4) of that of (1 − w)ᴷ, which is
/// (d−1)/(d−1+K): every term is positive. One dam: (3/4)ⁿ.
pub(super) fn missed(young: u32, dams: usize) -> f64 {
    let others = dams as f64 - 1.0;
    let none = (1.0 - HIDDEN_SHARE).powf(f64::from(young));
    let (mut chance, mut sum) = (none, none);
    for k in 1..=young {
        // The next binomial probability from the one before it.
        chance *= f64::from(young - k + 1) / f64::from(k) * HIDDEN_SHARE / (1.0 - HIDDEN_SHARE);
        sum += if others > 0.0 { chance * others / (others + f64::from(k)) } else { 0.0 };
    }
    sum
}

/// Probability that `more` young beside those counted on each axis, which missed a recessive hidden in both parents with these
/// probabilities, show it on every axis, the axes being independent of each other (unlinked).
pub(super) fn would_have_shown(missed: &[f64], more: u32) -> f64 {
    missed.iter().map(|p| 1.0 - p * (1.0 - HIDDEN_SHARE).powf(f64::from(more))).product()
}

/// The fewest further young that raise [`would_have_shown`] to this probability.
pub(super) fn more_needed(missed: &[f64], confidence: f64) -> u32 {
    (0..u32::MAX).find(|more| would_have_shown(missed, *more) >= confidence).unwrap_or(u32::MAX)
}

/// What no number of young within a line can show.
const ONE_CARRIER: &str = "A recessive hidden in one fish alone never shows within the line, only beside a mate that carries it too: a test \
                           mating with a fish that shows it tells.";

/// The outcrosses that look sex-linked, after the rest.
fn words_of_sex_linked(line: &str, crosses: &[String]) -> String {
    if crosses.is_empty() {
        return String::new();
    }
    format!(" Looks sex-linked, which says nothing against {line}: {}.", crosses.join("; "))
}

/// The broods that count neither way, last of all.
fn words_of_left_out(line: &str, broods: &[LeftOut]) -> String {
    let one = |b: &LeftOut| {
        let who = match &b.earlier_sire {
            Some(sire) => format!("the earlier sire {sire}, who is not of {line},"),
            None => "an earlier sire who is not known".to_owned(),
        };
        format!(
            "{} of cross {} ({} of {} young show another class, and {who} may have fathered some)",
            b.brood, b.cross, b.exceptions, b.young
        )
    };
    let named: Vec<String> = broods.iter().map(one).collect();
    if named.is_empty() { String::new() } else { format!(" Left out: {}.", named.join("; ")) }
}

fn words(line: &str, fixed: &Fixed) -> String {
    let (axis, class) = (&fixed.axis, &fixed.class);
    let Some(upper) = fixed.upper_share else {
        return format!(
            "No young of crosses within {line} are counted on {axis}, so nothing supports that it breeds true for {class}."
        );
    };
    if fixed.exceptions > 0 {
        return format!(
            "{line} does not breed true for {axis} {class}: {} of {} young of crosses within the line show another class. \
             Look at them again before believing it: one mis-scored fish looks the same.",
            fixed.exceptions, fixed.young
        );
    }
    let all = format!(
        "all {} young of {} cross{} within the line show it",
        fixed.young,
        fixed.crosses.len(),
        if fixed.crosses.len() == 1 { "" } else { "es" }
    );
    if !fixed.unbroken() {
        let otherwise = &fixed.scored_otherwise;
        let own = (!otherwise.is_empty()).then(|| {
            let (fish, is) = if otherwise.len() == 1 { ("a fish", "is") } else { ("fish", "are") };
            format!("{}, {fish} of the line, {is} scored as another class", otherwise.join(", "))
        });
        let reasons: Vec<String> = own.into_iter().chain(fixed.outcrosses.iter().cloned()).collect();
        return format!(
            "Nothing says yet that {line} is fixed for {axis} {class}: {all}, but {}. {ONE_CARRIER}",
            reasons.join("; ")
        );
    }
    let short: Vec<&str> = fixed.crosses.iter().filter(|c| c.more_for_95 > 0).map(|c| c.cross.as_str()).collect();
    let mut text = format!(
        "So far {line} breeds true for {axis} {class}: {all}; at most {:.1} % of the young can be exceptions (one-sided 95 % \
         limit). {ONE_CARRIER}",
        100.0 * upper
    );
    if let (false, Some(n95), Some(n99)) = (short.is_empty(), fixed.young_for_95, fixed.young_for_99) {
        text += &format!(
            " Too few young to show a recessive hidden in both parents: {}; {n95} young of one pair show it with 95 %, {n99} with 99 %.",
            short.join(", ")
        );
    }
    text
}

#[cfg(test)]
mod tests {
    use super::super::evidence::Breeder;
    use super::*;
    use crate::inherit::evidence::{Counts, Origin, Sex};

    fn brood(dams: &[usize], young: u32) -> Brood {
        Brood {
            name: format!("B{dams:?}"),
            label: format!("B{dams:?}"),
            cross: "K1".into(),
            parents: dams.iter().map(|dam| Mating { sire: 0, dam: *dam }).collect(),
            stored: BTreeMap::new(),
            young: None,
            counts: Counts {
                unsexed: Class::ALL.map(|c| if c == Class::Target { young } else { 0 }),
                ..Counts::default()
            },
        }
    }

    fn founders(classes: &[Class]) -> Vec<Breeder> {
        let one = |(i, class): (usize, &Class)| Breeder {
            fish: format!("F{i}"),
            sex: if i == 0 { Sex::Male } else { Sex::Female },
            class: Some(*class),
            pure: false,
            origin: Origin::Founder,
        };
        classes.iter().enumerate().map(one).collect()
    }

    #[test]
    fn another_dams_young_say_nothing_of_her() {
        let broods = vec![brood(&[1], 6), brood(&[2], 7)];
        let breeders = founders(&[Class::Target; 3]);
        let evidence = Evidence { target: "absent".into(), breeders, broods, ..Evidence::default() };
        let cross = &fixed("Lowmere", &evidence, &[0, 1, 2], &JudgeOptions::new(0.01)).crosses[0];
        assert_eq!((cross.young, cross.of_class, cross.young_of_pair), (13, 13, 6));
        // One young in four is missed: 1 − 0.75^6, and 11 young of her own for 95 %, 17 for 99 %, by hand.
        assert!((cross.would_have_shown - (1.0 - 0.75_f64.powi(6))).abs() < 1e-12);
        assert_eq!((cross.more_for_95, cross.more_for_99), (5, 11));
    }

    /// Two dams by hand: the integral of (1 − w/4)ⁿ over 0..1 is 4/(n+1) · (1 − 0.75ⁿ⁺¹), 0.190 for 20 young, and 5 % from 79 on.
    /// Three by the midpoint rule over the density 2 (1 − w).
    #[test]
    fn of_pooled_dams_one_may_have_few_of_the_young() {
        let evidence = Evidence {
            target: "absent".into(),
            breeders: founders(&[Class::Target; 3]),
            broods: vec![brood(&[1, 2], 20)],
            ..Evidence::default()
        };
        let cross = &fixed("L", &evidence, &[0, 1, 2], &JudgeOptions::new(0.01)).crosses[0];
        assert!((1.0 - cross.would_have_shown - 0.190).abs() < 5e-4, "{cross:?}");
        assert_eq!(cross.more_for_95, 5, "of one dam: 0.190 · 0.75^5 is 4.5 %");
        for n in [0, 1, 20, 78, 79, 500] {
            let by_hand = 4.0 / f64::from(n + 1) * (1.0 - 0.75_f64.powf(f64::from(n + 1)));
            assert!((missed(n, 2) - by_hand).abs() < 1e-12, "{n}");
            let steps = 20_000;
            let each = |i: i32| (f64::from(i) + 0.5) / f64::from(steps);
            let sum: f64 = (0..steps).map(|i| 2.0 * (1.0 - each(i)) * (1.0 - each(i) / 4.0).powf(f64::from(n))).sum();
            assert!((missed(n, 3) - sum / f64::from(steps)).abs() < 1e-6, "{n}");
        }
        assert!(missed(78, 2) > 0.05 && missed(79, 2) < 0.05);
    }

    /// F0 × F1 gave 20 of the class; F2 × F1, who was with F0 before, 15 and 5 of another. All three are of the line, so the line gave five
    /// exceptions, whoever fathered them; whose the fifteen are is not told, so they show no recessive hidden in F1 and F2.
    #[test]
    fn an_earlier_sire_of_the_line_hides_no_exceptions() {
        let mut second = brood(&[1], 15);
        (second.name, second.cross, second.parents[0].sire) = ("K2-1".into(), "K2".into(), 2);
        second.counts.unsexed[0] = 5;
        second.stored = BTreeMap::from([(1, EarlierSire::Known(0))]);
        let broods = vec![brood(&[1], 20), second.clone()];
        let breeders = founders(&[Class::Target; 4]);
        let evidence = Evidence { target: "full".into(), breeders, broods, ..Evidence::default() };
        let found = fixed("L", &evidence, &[0, 1, 2], &JudgeOptions::new(0.01));
        assert_eq!((found.young, found.exceptions, found.left_out.len()), (40, 5, 0));
        assert!(!found.unbroken() && found.verdict.contains("L does not breed true"), "{}", found.verdict);
        let second = &found.crosses[1];
        assert_eq!((second.young_of_pair, second.more_for_95), (0, 11));
        assert!(second.would_have_shown.abs() < 1e-12);
        // An earlier sire out of the line, or one whom nobody knows, may have given them: the brood counts neither way, and is named.
        for (earlier, name) in [(EarlierSire::Known(3), Some("F3")), (EarlierSire::Unknown, None)] {
            let mut evidence = evidence.clone();
            evidence.broods[1].stored = BTreeMap::from([(1, earlier)]);
            let found = fixed("L", &evidence, &[0, 1, 2], &JudgeOptions::new(0.01));
            assert_eq!((found.young, found.exceptions), (20, 0));
            let left = &found.left_out[0];
            assert_eq!((left.brood.as_str(), left.young, left.exceptions), ("K2-1", 20, 5));
            assert_eq!(left.earlier_sire.as_deref(), name);
            assert!(found.verdict.contains("Left out: K2-1 of cross K2 (5 of 20 young"), "{}", found.verdict);
            assert!(found.verdict.contains(name.unwrap_or("not known")), "{}", found.verdict);
        }
        // F3 out of the line as the sire, after F0: all three show the class, and one of them carries another.
        let mut out = evidence.clone();
        out.broods[1].parents[0].sire = 3;
        let found = fixed("L", &out, &[0, 1, 2], &JudgeOptions::new(0.01));
        assert!(
            !found.unbroken() && found.verdict.contains("one of the three carries another allele"),
            "{}",
            found.verdict
        );
    }
}
