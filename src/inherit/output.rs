//! A judgement as the JSON that `inherit --json` prints.

use serde_json::{Map, Value, json};

use super::evidence::Class;
use super::fit::{CrossFit, ORDERING};
use super::judgement::{Judgement, ModeJudgement};
use crate::stats::goodness::Fit;
use crate::units::LEAST_P;

/// Genotypes less likely than this are left out of the output; they would only be rounding.
const SHOWN_PROBABILITY: f64 = 1e-12;

/// The `broodhue.inherit/1` value.
pub fn to_json(judgement: &Judgement) -> Value {
    json!({
        "schema": "broodhue.inherit/1",
        "axis": judgement.axis,
        "target": judgement.target,
        "error_rate": judgement.error_rate,
        "modes": judgement.modes.iter().map(|m| mode(judgement, m)).collect::<Vec<_>>(),
        "verdict": judgement.verdict,
        "refused": judgement.refused,
        "left_out": judgement.left_out,
        "cautions": judgement.cautions,
    })
}

/// A number, or null where it is infinite (JSON knows no infinity).
fn finite(value: f64) -> Value {
    if value.is_finite() { json!(value) } else { Value::Null }
}

/// A p-value, or null where the outcome is impossible; one below [`LEAST_P`] is given as that.
fn p_value(p: f64) -> Value {
    if p > 0.0 { json!(p.max(LEAST_P)) } else { Value::Null }
}

fn mode(judgement: &Judgement, mode: &ModeJudgement) -> Value {
    let mut genotypes = vec![];
    let mut carriers = vec![];
    for (fish, list) in judgement.fish.iter().zip(&mode.posterior.genotypes) {
        for g in list.iter().filter(|g| g.probability > SHOWN_PROBABILITY) {
            genotypes.push(json!({"fish": fish, "genotype": g.genotype, "probability": g.probability}));
        }
        if !list.is_empty() {
            // An empty sum is minus zero; nobody wants to read that.
            let carrier = list.iter().filter(|g| g.carrier).map(|g| g.probability).sum::<f64>() + 0.0;
            carriers.push(json!({"fish": fish, "probability": carrier}));
        }
    }
    let at = |(fish, genotype): (usize, &str)| json!({"fish": judgement.fish[fish], "genotype": genotype});
    json!({
        "mode": mode.mode,
        "log_likelihood": finite(mode.ln_likelihood),
        "log10_bayes_factor": finite(mode.log10_bayes_factor),
        "weight": mode.weight,
        "verdict": mode.verdict,
        "same_as": mode.same_as,
        "group_weight": mode.group_weight,
        "genotypes": genotypes,
        "carriers": carriers,
        "expected_at": mode.expected_at().map(at).collect::<Vec<_>>(),
        "crosses": mode.crosses.iter().map(|c| cross(judgement, c)).collect::<Vec<_>>(),
        "never_shown": mode.never_shown,
        "mis_scored": mode.mis_scored,
        "because": mode.because,
    })
}

fn by_class<T: Into<Value> + Copy>(judgement: &Judgement, row: [T; 3]) -> Value {
    let mut map = Map::new();
    map.insert(judgement.target.clone(), row[Class::Target.index()].into());
    if let Some(middle) = &judgement.middle {
        map.insert(middle.clone(), row[Class::Middle.index()].into());
    }
    map.insert("other".to_owned(), row[Class::Other.index()].into());
    Value::Object(map)
}

fn test(fit: &Fit) -> Value {
    json!({"statistic": finite(fit.statistic), "df": fit.df, "p": p_value(fit.p)})
}

fn cross(judgement: &Judgement, cross: &CrossFit) -> Value {
    json!({
        "cross": cross.cross,
        "brood": cross.brood,
        "sex": cross.sex,
        "observed": by_class(judgement, cross.observed),
        "expected": by_class(judgement, cross.expected),
        "p_exact": p_value(cross.p_exact),
        "p_ordering": ORDERING.to_string(),
        "g": test(&cross.g),
        "chi_square": test(&cross.chi_square),
        "small_numbers": cross.small_numbers,
        "heterogeneity": cross.heterogeneity.as_ref().map(test),
    })
}
