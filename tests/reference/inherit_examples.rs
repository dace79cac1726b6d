//! Worked examples 1 to 4 of the exact method (computed by an independent program;
//! `inherit_examples.csv` holds the tables) to 1e-6, stored sperm to 2e-3 because its figures come from a grid of 20 cells.

use broodhue::inherit::{Evidence, JudgeOptions, Model, ScoringError, SexSystem, SexSystems, built_in, judge, select};

use crate::evidence::evidence;

const EXACT: f64 = 1e-6;
const GRID: f64 = 2e-3;

/// Log10 Bayes factors are printed to six digits.
const PRINTED: f64 = 1e-5;

/// Mode, ln likelihood, log10 Bayes factor, weight over the modes of the table.
type Line = (String, f64, f64, f64);

fn table(example: &str) -> Vec<Line> {
    let cells = include_str!("inherit_examples.csv").lines().skip(3).map(|l| l.split(',').collect::<Vec<_>>());
    let number = |text: &str| text.parse::<f64>().unwrap();
    let found: Vec<Line> = cells
        .filter(|c| c[0] == example)
        .map(|c| (c[1].to_owned(), number(c[2]), number(c[3]), number(c[4])))
        .collect();
    assert!(!found.is_empty(), "no table of example {example}");
    found
}

fn model(name: &str) -> Model {
    let mode = select(&built_in().unwrap(), &[name.to_owned()]).unwrap().remove(0).with_recombination(0.03);
    Model::new(mode, SexSystems::Known(SexSystem::Xy))
}

/// Likelihoods, Bayes factors and weights of the modes of a table, as `judge` gives them.
fn assert_table(example: &str, evidence: &Evidence, error: f64, tolerance: f64) {
    let table = table(example);
    let models: Vec<Model> = table.iter().map(|(mode, ..)| model(mode)).collect();
    let judged = judge(evidence, &models, &JudgeOptions::new(error)).unwrap();
    // An impossible outcome is `-inf` on both sides.
    let close = |a: f64, b: f64, within: f64| (a.max(f64::MIN) - b.max(f64::MIN)).abs() <= within;
    for ((mode, ln, bayes, weight), found) in table.into_iter().zip(&judged.modes) {
        let place = format!("example {example}, {mode}");
        assert!(close(found.ln_likelihood, ln, tolerance), "{place}: {} is not {ln}", found.ln_likelihood);
        let within = tolerance + PRINTED * bayes.abs().min(1e6);
        assert!(close(found.log10_bayes_factor, bayes, within), "{place}: {} is not {bayes}", found.log10_bayes_factor);
        assert!(close(found.weight, weight, tolerance), "{place}: {} is not {weight}", found.weight);
    }
}

/// Mutant founder × wild (0 of 34), then F1 × mutant founder (22 of 45).
fn example_1(mutant_male: bool, partner_pure: bool, sexed: bool) -> Evidence {
    let (sex_p, sex_w, sex_h) = if mutant_male { ("m", "f", "f") } else { ("f", "m", "m") };
    let pure = if partner_pure { "pure" } else { "" };
    let (first, second) = if mutant_male { ("P W", "P h") } else { ("W P", "h P") };
    let (a, b) = if sexed { ("f=17/0 m=17/0", "f=11/12 m=12/10") } else { ("u=34/0", "u=23/22") };
    evidence(&format!(
        "fish P {sex_p} founder target
         fish W {sex_w} founder other {pure}
         fish h {sex_h} B1 other
         brood B1 K1 {first} {a}
         brood B2 K2 {second} {b}"
    ))
}

#[test]
fn example_1_mutant_founder() {
    assert_table("1 pure", &example_1(true, true, false), 0.0, EXACT);
    assert_table("1 unknown exact", &example_1(true, false, false), 0.0, EXACT);
    assert_table("1 unknown", &example_1(true, false, false), 0.01, EXACT);
    assert_table("1 mother", &example_1(false, false, false), 0.01, EXACT);
    assert_table("1 sexed", &example_1(true, true, true), 0.01, EXACT);
    let mut three = example_1(true, false, false);
    three.middle = Some("reduced".into());
    assert_table("1 three classes", &three, 0.01, EXACT);
}

/// Three linked broods, two unknown founders, one sib pair reused.
fn example_2() -> Evidence {
    evidence(
        "fish A m founder other
         fish B f founder other
         fish d f B1 other
         fish s m B1 other
         fish g m B1 target
         brood B1 K1 A B f=16/5 m=15/4
         brood B2 K2 s d f=14/0 m=13/0
         brood B3 K3 g d f=8/7 m=6/6",
    )
}

#[test]
fn example_2_loops() {
    assert_table("2 exact", &example_2(), 0.0, EXACT);
    assert_table("2", &example_2(), 0.01, EXACT);
}

#[test]
fn example_2_carriers() {
    let modes = select(&built_in().unwrap(), &["autosomal-recessive".to_owned()]).unwrap();
    let model = Model::new(modes[0].clone(), SexSystems::Known(SexSystem::Xy));
    let carriers = |error: f64| -> Vec<f64> {
        let posterior = model.posterior(&example_2(), &ScoringError::even(error, 2)).unwrap();
        let carrier = |list: &Vec<broodhue::inherit::GenotypeProbability>| -> f64 {
            list.iter().filter(|g| g.carrier).map(|g| g.probability).sum()
        };
        posterior.genotypes.iter().map(carrier).collect()
    };
    for (error, expected) in
        [(0.0, [1.0, 1.0, 1.0, 0.0008458952459]), (0.01, [0.9999999612, 0.9999999612, 0.9998981608, 0.0009261659603])]
    {
        for (found, expected) in carriers(error).iter().zip(expected) {
            assert!((found - expected).abs() < 1e-9, "{found} is not {expected}");
        }
    }
}

/// Coloured father × plain dam, then a daughter × an unrelated plain male; `sons` and `later` as other/target.
fn example_3(sons: &str, later: Option<&str>) -> Evidence {
    let second = later.map_or(String::new(), |m| format!("brood B2 K2 q d f=13/0 m={m}"));
    evidence(&format!(
        "fish p m founder target
         fish w f founder other
         fish d f B1 other
         fish q m founder other
         brood B1 K1 p w f=16/0 m={sons}
         {second}"
    ))
}

#[test]
fn example_3_male_colour() {
    assert_table("3 first", &example_3("0/18", None), 0.01, EXACT);
    assert_table("3 both", &example_3("0/18", Some("14/0")), 0.01, EXACT);
    assert_table("3 young dropped", &example_3("0/18", Some("11/0")), 0.01, EXACT);
    assert_table("3 young as plain", &example_3("7/11", Some("14/0")), 0.01, EXACT);
}

#[test]
fn example_4_stored_sperm() {
    let stored = |option: &str| {
        evidence(&format!(
            "fish S m founder target
             fish D f founder other
             brood B1 K1 S D u=28/6 {option}"
        ))
    };
    assert_table("4 declared", &stored(""), 0.01, EXACT);
    assert_table("4 half", &stored("earlier=?"), 0.01, GRID);
    // The program's prior has half its mass at no stored sperm, so that the likelihood under the uniform prior is twice its
    // own less that of the declared sire alone.
    for (mode, uniform, ..) in table("4 uniform") {
        let ln = |book: &Evidence| model(&mode).ln_likelihood(book, &ScoringError::even(0.01, 2)).unwrap();
        let found = (2.0 * ln(&stored("earlier=?")).exp() - ln(&stored("")).exp()).ln();
        assert!((found - uniform).abs() <= GRID, "{mode}: {found} is not {uniform}");
    }
}
