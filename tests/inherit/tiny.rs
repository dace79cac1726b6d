//! Counts at either end: all but impossible, which is not impossible while a fish may be mis-scored, and a single fish.

use broodhue::inherit::{JudgeOptions, Judgement, Model, SexSystem, SexSystems, built_in, judge, select, to_json};

use crate::evidence::evidence;

/// A Y-linked target in the daughters of parents that do not show it: 170 mis-scored of 175, 1 in 100 each, about 10^-330.
fn judged(error: f64) -> Judgement {
    of_daughters("5/170", error)
}

fn of_daughters(counts: &str, error: f64) -> Judgement {
    let parents = "fish S m founder other\nfish D f founder other\n";
    let evidence = evidence(&format!("{parents}brood B K S D f={counts}"));
    let modes = select(&built_in().unwrap(), &["y-linked".to_owned()]).unwrap();
    let models: Vec<Model> = modes.into_iter().map(|m| Model::new(m, SexSystems::Known(SexSystem::Xy))).collect();
    judge(&evidence, &models, &JudgeOptions::new(error)).unwrap()
}

#[test]
fn a_p_too_small_for_a_number_is_told_as_below_one() {
    let judgement = judged(0.01);
    let json = to_json(&judgement);
    let (mode, cross) = (&json["modes"][0], &json["modes"][0]["crosses"][0]);
    assert!(mode["log_likelihood"].as_f64().is_some_and(f64::is_finite), "{mode}");
    for p in [&cross["p_exact"], &cross["g"]["p"], &cross["chi_square"]["p"]] {
        assert_eq!(p, &serde_json::json!(1e-300), "{cross}");
    }
    let text = &judgement.verdict;
    assert!(text.contains("has p below 1e-300") && !text.contains("impossible"), "{text}");
}

#[test]
fn what_no_error_can_explain_is_impossible() {
    let judgement = judged(0.0);
    let json = to_json(&judgement);
    assert!(json["modes"][0]["log_likelihood"].is_null(), "{json}");
    assert!(judgement.modes[0].because.contains("impossible"), "{judgement:?}");
}

#[test]
fn one_fish_is_one() {
    let cautions = of_daughters("1/0", 0.01).cautions;
    assert!(cautions[0].message.starts_with("only 1 fish is counted"), "{cautions:?}");
}
