//! Limits proposed from confirmed fish, with error rates from broods that took no part in the fit. Changes nothing.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use super::knobs::{Knob, knobs, turned};
use super::propose::{for_axis, weigh_classes};
use super::{Axis, NOT_SHOWN, Sheet, Subject, UNDECIDED};
use crate::error::{Error, Result};
use crate::features::Features;

/// One confirmed fish.
#[derive(Debug, Clone, PartialEq)]
pub struct Example {
    /// The brood it comes from: fish of one brood are alike, so a brood is left out as a whole.
    pub brood: String,
    /// What was measured.
    pub features: Features,
    /// What is known of it.
    pub subject: Subject,
    /// The class a person confirmed.
    pub class: String,
}

/// Confirmed class → proposed class → number of fish.
pub type Confusion = BTreeMap<String, BTreeMap<String, u32>>;

/// What a fit says about one axis.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Fit {
    /// The axis.
    pub axis: String,
    /// Confirmed fish it rests on.
    pub fish: usize,
    /// Broods they come from.
    pub broods: usize,
    /// Each limit: where it stands and where it would go.
    pub limits: Vec<FittedLimit>,
    /// Confirmed against proposed under the sheet as it is.
    pub now: Confusion,
    /// Share of fish that the sheet as it is puts into a wrong class (undecided ones are not wrong).
    pub wrong_now: f64,
    /// Share of fish it leaves undecided.
    pub undecided_now: f64,
    /// Confirmed against proposed, each brood under limits fitted on all the others; `None` with a single brood.
    pub cross_validated: Option<Confusion>,
    /// Share of wrong fish by the same count.
    pub wrong_cross_validated: Option<f64>,
    /// Share of undecided fish by the same count.
    pub undecided_cross_validated: Option<f64>,
    /// Fish whose proposal would change under the fitted limits.
    pub would_change: usize,
}

/// One limit before and after.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FittedLimit {
    /// The feature in words.
    pub feature: String,
    /// Where the limit stands.
    pub from: f64,
    /// Where the fit puts it.
    pub to: f64,
}

/// Fewest confirmed fish that limits are fitted on. Starting value.
const FEWEST: usize = 10;
/// Places tried for a limit, spread over the values the fish have.
const PLACES: usize = 48;
/// Rounds over all limits; they rarely change after the second.
const ROUNDS: usize = 3;
/// A fit must gain this much per fish to move a limit, so that limits stay where nothing speaks for moving them.
const LEAST_GAIN: f64 = 1e-3;

/// Fits the limits of one axis to confirmed fish; females and unsexed fish say nothing of an axis that only males show.
///
/// # Errors
/// An axis that the sheet does not have, or has without limits; fewer than ten fish; only one class among them.
pub fn fit(sheet: &Sheet, axis: &str, examples: &[Example]) -> Result<Fit> {
    let shows = |e: &&Example| sheet.axis(axis).is_none_or(|found| proposed(sheet, found, e) != NOT_SHOWN);
    let examples: &[Example] = &examples.iter().filter(shows).cloned().collect::<Vec<_>>();
    let axis = known(sheet, axis, examples)?;
    let from = knobs(axis);
    let everything: Vec<&Example> = examples.iter().collect();
    let to = best(axis, &from, &everything);
    let fitted = turned(axis, &from, &to);
    let now = confusion(sheet, axis, &everything);
    let cross = cross_validated(sheet, axis, &from, examples);
    let would_change = examples.iter().filter(|e| proposed(sheet, axis, e) != proposed(sheet, &fitted, e)).count();
    Ok(Fit {
        axis: axis.name.clone(),
        fish: examples.len(),
        broods: broods(examples).len(),
        limits: from
            .iter()
            .zip(&to)
            .map(|(k, to)| FittedLimit { feature: k.feature.to_string(), from: k.at, to: *to })
            .collect(),
        wrong_now: wrong(&now),
        undecided_now: undecided(&now),
        now,
        wrong_cross_validated: cross.as_ref().map(wrong),
        undecided_cross_validated: cross.as_ref().map(undecided),
        cross_validated: cross,
        would_change,
    })
}

fn known<'a>(sheet: &'a Sheet, axis: &str, examples: &[Example]) -> Result<&'a Axis> {
    let found = sheet.axis(axis).ok_or_else(|| {
        let names: Vec<&str> = sheet.axes.iter().map(|a| a.name.as_str()).collect();
        Error::usage("--axis", format!("the sheet has no axis '{axis}'"), format!("it has {}", names.join(", ")))
    })?;
    let classes: BTreeSet<&str> = examples.iter().map(|e| e.class.as_str()).collect();
    if let Some(strange) = classes.iter().find(|c| !found.classes.iter().any(|k| k.name == **c)) {
        let hint = "confirm it under a class of this sheet, or name the sheet it was scored with";
        return Err(Error::failed(
            axis,
            format!("fish are confirmed as '{strange}', which the sheet does not have"),
            hint,
        ));
    }
    if examples.len() < FEWEST || classes.len() < 2 {
        let message = format!(
            "{} confirmed fish of {} classes; a fit needs {FEWEST} or more and two classes",
            examples.len(),
            classes.len()
        );
        return Err(Error::failed(axis, message, "confirm more fish first"));
    }
    if knobs(found).is_empty() {
        return Err(Error::failed(axis, "the axis has no limits", "nothing can be fitted"));
    }
    Ok(found)
}

fn broods(examples: &[Example]) -> BTreeSet<&str> {
    examples.iter().map(|e| e.brood.as_str()).collect()
}

/// Limits with the least expected error, one after the other, a few rounds.
fn best(axis: &Axis, from: &[Knob], examples: &[&Example]) -> Vec<f64> {
    let mut at: Vec<f64> = from.iter().map(|k| k.at).collect();
    let mut least = loss(&turned(axis, from, &at), examples);
    for _ in 0..ROUNDS {
        let before = at.clone();
        for i in 0..at.len() {
            for place in places(&from[i], examples) {
                let mut other = at.clone();
                other[i] = place;
                if !in_order(from, &other) {
                    continue;
                }
                let l = loss(&turned(axis, from, &other), examples);
                if l < least - LEAST_GAIN {
                    (least, at) = (l, other);
                }
            }
        }
        if at == before {
            break;
        }
    }
    at
}

/// Limits of one feature keep their order: a class between two of them never turns inside out.
fn in_order(from: &[Knob], at: &[f64]) -> bool {
    (0..from.len())
        .all(|i| (0..i).all(|j| from[i].feature != from[j].feature || (from[i].at < from[j].at) == (at[i] < at[j])))
}

/// Middles between neighbouring values of the knob's feature, thinned.
fn places(knob: &Knob, examples: &[&Example]) -> Vec<f64> {
    let mut values: Vec<f64> =
        examples.iter().filter_map(|e| knob.feature.read(&e.features)).map(|e| e.value).collect();
    values.sort_by(f64::total_cmp);
    values.dedup();
    let middles: Vec<f64> = values.windows(2).map(|w| 0.5 * (w[0] + w[1])).collect();
    let step = middles.len().div_ceil(PLACES).max(1);
    // A limit in round numbers is easier to live with, and finer than a thousandth says nothing.
    middles.into_iter().step_by(step).map(|m| (m * 1000.0).round() / 1000.0).collect()
}

/// Mean probability given to classes other than the confirmed one: smooth, so that a limit ends up between the heaps
/// of values and not anywhere in the gap.
fn loss(axis: &Axis, examples: &[&Example]) -> f64 {
    let given = |e: &Example| {
        let weights = weigh_classes(axis, &e.features);
        axis.classes.iter().zip(weights).filter(|(c, _)| c.name == e.class).map(|(_, b)| b.low).sum::<f64>()
    };
    examples.iter().map(|e| 1.0 - given(e)).sum::<f64>() / examples.len() as f64
}

fn cross_validated(sheet: &Sheet, axis: &Axis, from: &[Knob], examples: &[Example]) -> Option<Confusion> {
    let broods = broods(examples);
    if broods.len() < 2 {
        return None;
    }
    let mut all = Confusion::new();
    for brood in broods {
        let (out, rest): (Vec<&Example>, Vec<&Example>) = examples.iter().partition(|e| e.brood == brood);
        let fitted = turned(axis, from, &best(axis, from, &rest));
        for (confirmed, row) in confusion(sheet, &fitted, &out) {
            for (class, n) in row {
                *all.entry(confirmed.clone()).or_default().entry(class).or_default() += n;
            }
        }
    }
    Some(all)
}

fn proposed(sheet: &Sheet, axis: &Axis, e: &Example) -> String {
    for_axis(sheet, axis, &e.features, &e.subject).class
}

fn confusion(sheet: &Sheet, axis: &Axis, examples: &[&Example]) -> Confusion {
    let mut table = Confusion::new();
    for e in examples {
        *table.entry(e.class.clone()).or_default().entry(proposed(sheet, axis, e)).or_default() += 1;
    }
    table
}

fn share(table: &Confusion, counts: impl Fn(&str, &str) -> bool) -> f64 {
    let cells = || table.iter().flat_map(|(c, row)| row.iter().map(move |(p, n)| (c, p, f64::from(*n))));
    let all: f64 = cells().map(|(_, _, n)| n).sum();
    // The sum of nothing is −0.
    cells().filter(|(c, p, _)| counts(c, p)).map(|(_, _, n)| n).sum::<f64>().max(0.0) / all.max(1.0)
}

fn wrong(table: &Confusion) -> f64 {
    share(table, |confirmed, proposed| proposed != confirmed && proposed != UNDECIDED)
}

fn undecided(table: &Confusion) -> f64 {
    share(table, |_, proposed| proposed == UNDECIDED)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::features::Shares;
    use crate::units::Sex;

    /// Fish of a red share, confirmed by a person whose own limit lies at 25 %.
    fn example(brood: usize, share: f64) -> Example {
        let all = Shares { trunk: Some(share), finnage: Some(share), fish: Some(share) };
        Example {
            brood: format!("K2-{brood}"),
            features: Features { red_share: all, ..Features::default() },
            subject: Subject::default(),
            class: if share > 0.25 {
                "full"
            } else if share > 0.03 {
                "reduced"
            } else {
                "absent"
            }
            .to_owned(),
        }
    }

    fn examples() -> Vec<Example> {
        (0..4).flat_map(|brood| (0..15).map(move |i| example(brood, 0.004 * brood as f64 + 0.04 * i as f64))).collect()
    }

    #[test]
    fn fish_that_cannot_show_the_axis_say_nothing_of_its_limits() {
        let mut sheet = Sheet::starting().unwrap();
        sheet.axes.iter_mut().filter(|a| a.name == "red-body").for_each(|a| a.males_only = true);
        let of = |i: usize, sex: Option<Sex>| {
            let one = example(i % 3, i as f64 / 60.0);
            let class = if sex.is_some() { one.class } else { "absent".into() };
            Example { class, subject: Subject { sex, ..one.subject }, ..one }
        };
        let males: Vec<Example> = (0..30).map(|i| of(i, Some(Sex::Male))).collect();
        let mixed: Vec<Example> = males.iter().cloned().chain((0..30).map(|i| of(i, None))).collect();
        let [alone, beside] = [&males, &mixed].map(|all| fit(&sheet, "red-body", all).unwrap());
        assert_eq!(alone, beside);
    }

    #[test]
    fn the_limit_goes_where_the_breeder_draws_it() {
        let sheet = Sheet::starting().unwrap();
        let fit = fit(&sheet, "red-body", &examples()).unwrap();
        assert_eq!((fit.fish, fit.broods), (60, 4));
        assert!((fit.limits[0].to - 0.25).abs() < 0.03, "{:?}", fit.limits);
        assert!((fit.limits[1].to - 0.03).abs() < 0.02, "{:?}", fit.limits);
        assert!(fit.wrong_now > 0.1 && fit.wrong_cross_validated.unwrap() < 0.05, "{fit:?}");
        assert!(fit.would_change >= 8, "{}", fit.would_change);
    }

    #[test]
    fn one_brood_cannot_be_cross_validated() {
        let sheet = Sheet::starting().unwrap();
        let one: Vec<Example> = examples().into_iter().map(|e| Example { brood: "K1".into(), ..e }).collect();
        let fit = fit(&sheet, "red-body", &one).unwrap();
        assert_eq!((fit.broods, fit.cross_validated, fit.wrong_cross_validated), (1, None, None));
    }

    #[test]
    fn a_sheet_that_fits_stays_as_it_is() {
        let sheet = Sheet::starting().unwrap();
        let clear: Vec<Example> = (0..30)
            .map(|i| {
                let share = [0.0, 0.09, 0.6][i % 3];
                let mut e = example(i % 5, share);
                e.class = ["absent", "reduced", "full"][i % 3].to_owned();
                e
            })
            .collect();
        let fit = fit(&sheet, "red-body", &clear).unwrap();
        assert!(fit.limits.iter().all(|l| (l.from - l.to).abs() < 1e-12), "{:?}", fit.limits);
        assert_eq!(fit.would_change, 0);
    }

    #[test]
    fn too_little_to_fit_on_is_refused_with_a_reason() {
        let sheet = Sheet::starting().unwrap();
        for (axis, examples, words) in [
            ("gills", examples(), "no axis 'gills'"),
            ("red-body", examples()[..5].to_vec(), "5 confirmed fish"),
            ("red-body", vec![example(0, 0.5); 12], "1 classes"),
            ("red-body", examples().into_iter().map(|e| Example { class: "pink".into(), ..e }).collect(), "'pink'"),
        ] {
            let error = fit(&sheet, axis, &examples).unwrap_err();
            assert!(error.message.contains(words) && !error.hint.is_empty(), "{error}");
        }
    }
}
