//! Does a line breed true? How many young of which cross say so, and how many more would.

use std::collections::BTreeMap;

use serde::Serialize;

use super::evidence::{Brood, Class, Evidence, Mating};
use crate::stats::binomial::young_needed;
use crate::stats::interval::upper_limit;

/// One cross within the line.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FixedCross {
    /// The cross.
    pub cross: String,
    /// Scored young.
    pub young: u32,
    /// Young that show the class.
    pub of_class: u32,
    /// Those of the pair that has the fewest: another dam's young say nothing of her. All of them with one pair.
    pub young_of_pair: u32,
    /// Probability that so many young of a pair would have shown an exception, if both parents carried one hidden recessive.
    pub would_have_shown: f64,
    /// How many more young of that pair would raise that to 95 %.
    pub more_for_95: u32,
    /// The same for 99 %.
    pub more_for_99: u32,
}

/// What the young say of a line and one class.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Fixed {
    /// The axis.
    pub axis: String,
    /// The class.
    pub class: String,
    /// Crosses whose parents all belong to the line and whose young were scored.
    pub crosses: Vec<FixedCross>,
    /// Scored young of these crosses.
    pub young: u32,
    /// Young that show another class.
    pub exceptions: u32,
    /// One-sided 95 % upper limit of the share of exceptions; `None` without young.
    pub upper_share: Option<f64>,
    /// Young of one pair needed to see a hidden recessive of both parents with 95 % and 99 %.
    pub young_for_95: Option<u64>,
    /// The same for 99 %.
    pub young_for_99: Option<u64>,
    /// One paragraph.
    pub verdict: String,
}

/// Two carriers of a recessive give it to one young in four.
const HIDDEN_SHARE: f64 = 0.25;

/// Looks at the crosses within a line; the evidence's target is the class asked about, `members` the fish of the line.
pub fn fixed(line: &str, evidence: &Evidence, members: &[usize]) -> Fixed {
    let within = |brood: &&Brood| {
        brood.earlier_sire.is_none()
            && brood.parents.iter().all(|m| members.contains(&m.sire) && members.contains(&m.dam))
            && brood.counts.total() > 0
    };
    let mut names: Vec<&str> = Vec::new();
    let mut of_cross: BTreeMap<&str, Vec<&Brood>> = BTreeMap::new();
    for brood in evidence.broods.iter().filter(within) {
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
    let mut out = Fixed {
        axis: evidence.axis.clone(),
        class: evidence.target.clone(),
        crosses,
        young,
        exceptions,
        upper_share,
        young_for_95: young_needed(HIDDEN_SHARE, 1, 0.95),
        young_for_99: young_needed(HIDDEN_SHARE, 1, 0.99),
        verdict: String::new(),
    };
    out.verdict = words(line, &out);
    out
}

/// What the broods of one cross say; pooled dams count as one pair, since nobody knows whose young they are.
fn fixed_cross(name: &str, broods: &[&Brood]) -> FixedCross {
    let mut of_pair: Vec<(&[Mating], u32)> = Vec::new();
    for brood in broods {
        match of_pair.iter_mut().find(|(pair, _)| *pair == brood.parents) {
            Some((_, young)) => *young += brood.counts.total(),
            None => of_pair.push((&brood.parents, brood.counts.total())),
        }
    }
    let fewest = of_pair.iter().map(|(_, young)| *young).min().unwrap_or(0);
    let rows = broods.iter().flat_map(|b| b.counts.rows());
    FixedCross {
        cross: name.to_owned(),
        young: of_pair.iter().map(|(_, young)| young).sum(),
        of_class: rows.map(|(_, row)| row[Class::Target.index()]).sum(),
        young_of_pair: fewest,
        would_have_shown: would_have_shown(&[fewest], 0),
        more_for_95: more_needed(&[fewest], 0.95),
        more_for_99: more_needed(&[fewest], 0.99),
    }
}

/// Probability that `more` young beside those counted on each axis would show a recessive hidden in both parents on every
/// axis, the axes being independent of each other (unlinked).
pub(super) fn would_have_shown(young: &[u32], more: u32) -> f64 {
    young.iter().map(|n| 1.0 - missed(n + more)).product()
}

/// Probability that no young shows a recessive hidden in both parents.
pub(super) fn missed(young: u32) -> f64 {
    (1.0 - HIDDEN_SHARE).powf(f64::from(young))
}

/// The fewest further young that raise [`would_have_shown`] to this probability.
pub(super) fn more_needed(young: &[u32], confidence: f64) -> u32 {
    (0..u32::MAX).find(|more| would_have_shown(young, *more) >= confidence).unwrap_or(u32::MAX)
}

fn words(line: &str, fixed: &Fixed) -> String {
    let (axis, class) = (&fixed.axis, &fixed.class);
    let Some(upper) = fixed.upper_share else {
        return format!(
            "No young of crosses within {line} are scored on {axis}, so nothing supports that it breeds true for {class}."
        );
    };
    if fixed.exceptions > 0 {
        return format!(
            "{line} does not breed true for {axis} {class}: {} of {} young of crosses within the line show another class. \
             Look at them again before believing it: one mis-scored fish looks the same.",
            fixed.exceptions, fixed.young
        );
    }
    let short: Vec<&str> = fixed
        .crosses
        .iter()
        .filter(|c| Some(u64::from(c.young_of_pair)) < fixed.young_for_95)
        .map(|c| c.cross.as_str())
        .collect();
    let mut text = format!(
        "So far {line} breeds true for {axis} {class}: all {} young of {} cross{} within the line show it; at most {:.1} % of \
         the young can be exceptions (one-sided 95 % limit).",
        fixed.young,
        fixed.crosses.len(),
        if fixed.crosses.len() == 1 { "" } else { "es" },
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
    use super::*;
    use crate::inherit::evidence::Counts;

    #[test]
    fn another_dams_young_say_nothing_of_her() {
        let brood = |dam: usize, young: u32| Brood {
            name: format!("B{dam}"),
            cross: "K1".into(),
            parents: vec![Mating { sire: 0, dam }],
            earlier_sire: None,
            counts: Counts {
                unsexed: Class::ALL.map(|c| if c == Class::Target { young } else { 0 }),
                ..Counts::default()
            },
        };
        let broods = vec![brood(1, 6), brood(2, 7)];
        let evidence = Evidence { target: "absent".into(), broods, ..Evidence::default() };
        let cross = &fixed("Lowmere", &evidence, &[0, 1, 2]).crosses[0];
        assert_eq!((cross.young, cross.of_class, cross.young_of_pair), (13, 13, 6));
        // One young in four is missed: 1 − 0.75^6, and 11 young of her own for 95 %, 17 for 99 %, by hand.
        assert!((cross.would_have_shown - (1.0 - 0.75_f64.powi(6))).abs() < 1e-12);
        assert_eq!((cross.more_for_95, cross.more_for_99), (5, 11));
    }
}
