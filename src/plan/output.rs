//! The plan as the JSON that `next --json` prints.

use serde_json::{Map, Value, json};

use super::information::BROOD_SIZES;
use super::pairs::{Pair, Plan};

/// The `broodhue.next/1` value.
pub fn to_json(plan: &Plan) -> Value {
    json!({
        "schema": "broodhue.next/1",
        "pairs": plan.pairs.iter().map(pair).collect::<Vec<_>>(),
        "advice": plan.advice,
    })
}

fn pair(pair: &Pair) -> Value {
    let bits: Map<String, Value> = BROOD_SIZES.iter().zip(pair.bits).map(|(n, b)| (n.to_string(), json!(b))).collect();
    json!({
        "sire": pair.sire,
        "dam": pair.dam,
        "bits": bits,
        "target_odds": pair.target_odds,
        "fry_for_95": pair.fry_for_95,
        "fry_for_99": pair.fry_for_99,
        "inbreeding": pair.inbreeding,
        "warnings": pair.warnings,
    })
}
