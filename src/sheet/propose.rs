//! From one fish's features to a proposal for each axis.

use std::collections::BTreeSet;

use super::weigh::{self, Bounds};
use super::{Axis, Class, Condition, Limit, NOT_SHOWN, Proposal, Rule, Sheet, UNDECIDED};
use crate::features::Features;
use crate::fish::Flag;
use crate::units::Sex;

/// What is known of a fish beyond its features.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Subject {
    /// Its sex, once a person has said so.
    pub sex: Option<Sex>,
    /// Its age in days at the photo, at least.
    pub age_days: Option<u32>,
    /// Its flags.
    pub flags: BTreeSet<Flag>,
}

/// One proposal for each axis of the sheet, in its order.
pub fn propose(sheet: &Sheet, features: &Features, subject: &Subject) -> Vec<Proposal> {
    sheet.axes.iter().map(|axis| for_axis(sheet, axis, features, subject)).collect()
}

pub(super) fn for_axis(sheet: &Sheet, axis: &Axis, features: &Features, subject: &Subject) -> Proposal {
    let proposal = |class: &str, confidence: f64, because: Vec<String>| Proposal {
        axis: axis.name.clone(),
        class: class.to_owned(),
        confidence,
        because,
    };
    if let Some(reason) = hidden_by_sex_or_age(axis, subject) {
        return proposal(NOT_SHOWN, 1.0, vec![reason]);
    }
    let bounds = weigh_classes(axis, features);
    let Some((class, best)) = axis.classes.iter().zip(&bounds).reduce(|a, b| if b.1.low > a.1.low { b } else { a })
    else {
        return proposal(UNDECIDED, 0.0, Vec::new());
    };
    let mut doubts = Vec::new();
    let mut confidence = best.low;
    for (flag, keep) in sheet.doubt.iter().filter(|(flag, _)| subject.flags.contains(*flag)) {
        confidence *= keep;
        doubts.push(format!(
            "the fish is flagged {}, which leaves {} of the confidence",
            flag.name(),
            crate::units::percent(*keep)
        ));
    }
    let mut because = if confidence >= sheet.confidence {
        reasons(axis, class, features)
    } else {
        doubtful(axis, class, confidence, sheet.confidence, features)
    };
    because.extend(doubts);
    proposal(if confidence >= sheet.confidence { &class.name } else { UNDECIDED }, confidence, because)
}

fn hidden_by_sex_or_age(axis: &Axis, subject: &Subject) -> Option<String> {
    if axis.males_only && subject.sex != Some(Sex::Male) {
        let who = if subject.sex.is_some() { "this fish is a female" } else { "this fish is not sexed" };
        return Some(format!("only males show {}, and {who}", axis.name));
    }
    let from = axis.from_age_days?;
    match subject.age_days {
        Some(age) if age >= from => None,
        Some(age) => Some(format!("{} is shown from {from} days on, and this fish is {age} days old", axis.name)),
        None => Some(format!("{} is shown from {from} days on, and this fish's age is not known", axis.name)),
    }
}

/// The probability of each class; `otherwise` takes what the others leave.
pub(super) fn weigh_classes(axis: &Axis, features: &Features) -> Vec<Bounds> {
    let of = |class: &Class| match &class.rule {
        Rule::When(conditions) => Some(weigh::all(conditions, features)),
        Rule::Otherwise => None,
    };
    let each: Vec<Option<Bounds>> = axis.classes.iter().map(of).collect();
    let low: f64 = each.iter().flatten().map(|b| b.low).sum();
    let high: f64 = each.iter().flatten().map(|b| b.high).sum();
    let rest = Bounds { low: (1.0 - high).max(0.0), high: (1.0 - low).max(0.0) };
    // Classes whose conditions overlap would add up to more than 1; they share what there is.
    let shared = low.max(1.0);
    let cut = |b: Bounds| Bounds { low: b.low / shared, high: b.high };
    each.into_iter().map(|b| b.map_or(rest, cut)).collect()
}

/// Why the class holds: its own limits that are met, or for `otherwise` what speaks against every other class.
fn reasons(axis: &Axis, class: &Class, features: &Features) -> Vec<String> {
    let mut said = Vec::new();
    match &class.rule {
        Rule::When(conditions) => {
            for limit in limits_of(conditions, features) {
                if weigh::within(limit, features).is_some_and(|p| p >= 0.5) {
                    said.extend(sentence(limit, features));
                }
            }
        }
        Rule::Otherwise => {
            for other in &axis.classes {
                if let Rule::When(conditions) = &other.rule {
                    said.extend(worst(conditions, features).and_then(|l| sentence(l, features)));
                }
            }
        }
    }
    let mut seen = BTreeSet::new();
    said.retain(|s| seen.insert(s.clone()));
    said
}

/// Why nothing can be said: what cannot be seen, or which limit is too near.
fn doubtful(axis: &Axis, lean: &Class, confidence: f64, needed: f64, features: &Features) -> Vec<String> {
    let every = axis.classes.iter().filter_map(|c| match &c.rule {
        Rule::When(conditions) => Some(limits_of(conditions, features)),
        Rule::Otherwise => None,
    });
    let mut unseen = BTreeSet::new();
    let mut near: Option<(f64, &Limit)> = None;
    for limit in every.flatten() {
        match weigh::within(limit, features) {
            None => {
                unseen.insert(format!("{} cannot be seen", limit.feature));
            }
            Some(p) => {
                let doubt = (p - 0.5).abs();
                if near.is_none_or(|(least, _)| doubt < least) {
                    near = Some((doubt, limit));
                }
            }
        }
    }
    let mut said: Vec<String> = unseen.into_iter().collect();
    if confidence > 0.0 {
        let close = near.and_then(|(_, l)| {
            let e = l.feature.read(features)?;
            let at = nearest(l, e.value)?;
            let print = |v: f64| l.feature.print_fine(v);
            let (value, se, at) = (print(e.value), print(e.se.hypot(l.margin)), print(at));
            Some(format!("{} {value} ± {se} is near the limit {at}", l.feature))
        });
        said.extend(close);
        said.push(format!("leans to {} with confidence {confidence:.2}, below the sheet's {needed:.2}", lean.name));
    }
    said
}

fn limits_of<'a>(conditions: &'a [Condition], features: &Features) -> Vec<&'a Limit> {
    let mut limits = Vec::new();
    for condition in conditions {
        weigh::leaves(condition, features, &mut limits);
    }
    limits
}

/// The limit that the fish misses most clearly.
fn worst<'a>(conditions: &'a [Condition], features: &Features) -> Option<&'a Limit> {
    limits_of(conditions, features)
        .into_iter()
        .filter_map(|l| weigh::within(l, features).map(|p| (p, l)))
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, l)| l)
}

fn nearest(limit: &Limit, value: f64) -> Option<f64> {
    let ends = [limit.above, limit.below];
    ends.into_iter().flatten().min_by(|a, b| (a - value).abs().total_cmp(&(b - value).abs()))
}

/// `red share of the trunk 31 % is above 15 %`.
fn sentence(limit: &Limit, features: &Features) -> Option<String> {
    let value = limit.feature.read(features)?.value;
    let print = |v: f64| limit.feature.print(v);
    let place = match (limit.above, limit.below) {
        (Some(a), _) if value < a => format!("is below {}", print(a)),
        (_, Some(b)) if value >= b => format!("is above {}", print(b)),
        (Some(a), Some(b)) => format!("is between {} and {}", print(a), print(b)),
        (Some(a), None) => format!("is above {}", print(a)),
        (None, Some(b)) => format!("is below {}", print(b)),
        (None, None) => return None,
    };
    Some(format!("{} {} {place}", limit.feature, print(value)))
}
