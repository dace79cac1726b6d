//! Worked examples of the exact method: check values, section 7, examples 1, 2, 3 and 5 (computed there by an
//! independent program) to 1e-6, example 4 to 2e-3 because its figures come from a grid of 20 cells.

use broodhue::inherit::{Evidence, Model, ScoringError, SexSystem, SexSystems, built_in, select};

use crate::evidence::evidence;

const EXACT: f64 = 1e-6;
const GRID: f64 = 2e-3;

fn ln(mode: &str, evidence: &Evidence, error: f64) -> f64 {
    evidence.check().unwrap();
    let mode = select(&built_in().unwrap(), &[mode.to_owned()]).unwrap().remove(0).with_recombination(0.03);
    let model = Model::new(mode, SexSystems::Known(SexSystem::Xy));
    model.ln_likelihood(evidence, &ScoringError::even(error, evidence.class_count())).unwrap()
}

fn assert_table(evidence: &Evidence, error: f64, tolerance: f64, table: &[(&str, f64)]) {
    for (mode, expected) in table {
        let found = ln(mode, evidence, error);
        // An impossible outcome is `-inf` on both sides.
        let off = (found.max(f64::MIN) - expected.max(f64::MIN)).abs();
        assert!(off <= tolerance, "{mode} at error {error}: {found} is not {expected}");
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
fn example_1_partner_known_pure_no_error() {
    let table = [
        ("autosomal-recessive", -2.145546406),
        ("x-linked-recessive", -2.145546406),
        ("incompletely-dominant", -2.145546406),
        ("two-locus-9-7", -2.597409943),
        ("two-locus-15-1", -8.069086892),
        ("y-linked", -25.71255054),
        ("autosomal-dominant", -26.40569773),
    ];
    assert_table(&example_1(true, true, false), 0.0, EXACT, &table);
}

#[test]
fn example_1_partner_unknown() {
    let no_error = [
        ("autosomal-recessive", -2.838693586),
        ("x-linked-recessive", -2.838693586),
        ("incompletely-dominant", -2.838693586),
        ("two-locus-15-1", -3.12458089),
        ("two-locus-9-7", -3.496038119),
        ("y-linked", -25.71255054),
        ("autosomal-dominant", -26.40569773),
    ];
    assert_table(&example_1(true, false, false), 0.0, EXACT, &no_error);
    let with_error = [
        ("x-linked-recessive", -3.195493134),
        ("autosomal-recessive", -3.20542555),
        ("incompletely-dominant", -3.20542555),
        ("two-locus-15-1", -3.544646206),
        ("two-locus-9-7", -3.851659475),
        ("y-linked", -25.72260088),
        ("autosomal-dominant", -26.44077323),
    ];
    assert_table(&example_1(true, false, false), 0.01, EXACT, &with_error);
}

#[test]
fn example_1_mutant_mother() {
    let table = [
        ("autosomal-recessive", -3.20542555),
        ("incompletely-dominant", -3.20542555),
        ("two-locus-15-1", -3.544646206),
        ("two-locus-9-7", -3.851659475),
        ("x-linked-recessive", -21.08356502),
        ("autosomal-dominant", -26.44077323),
        ("y-linked", -30.31772073),
    ];
    assert_table(&example_1(false, false, false), 0.01, EXACT, &table);
}

#[test]
fn example_1_three_classes() {
    let mut three = example_1(true, false, false);
    three.middle = Some("reduced".into());
    let table = [
        ("x-linked-recessive", -3.41352925),
        ("autosomal-recessive", -3.418533997),
        ("two-locus-15-1", -3.731807265),
        ("y-linked", -26.11357914),
        ("autosomal-dominant", -26.81929333),
        ("incompletely-dominant", -67.45183325),
    ];
    assert_table(&three, 0.01, EXACT, &table);
}

#[test]
fn example_1_sexed() {
    let table = [
        ("x-linked-recessive", -4.046677371),
        ("autosomal-recessive", -4.056609789),
        ("incompletely-dominant", -4.056609789),
        ("two-locus-9-7", -4.491987341),
        ("two-locus-15-1", -9.756065246),
        ("autosomal-dominant", -27.9701428),
        ("y-linked", -78.99507591),
    ];
    assert_table(&example_1(true, true, true), 0.01, EXACT, &table);
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
    let no_error = [
        ("two-locus-9-7", -9.056627459),
        ("autosomal-recessive", -9.217727662),
        ("incompletely-dominant", -9.217727662),
        ("two-locus-15-1", -11.03209128),
        ("autosomal-dominant", f64::NEG_INFINITY),
        ("x-linked-recessive", f64::NEG_INFINITY),
        ("y-linked", f64::NEG_INFINITY),
    ];
    assert_table(&example_2(), 0.0, EXACT, &no_error);
    let with_error = [
        ("two-locus-9-7", -9.413081113),
        ("autosomal-recessive", -9.563843005),
        ("incompletely-dominant", -9.563843005),
        ("two-locus-15-1", -11.30857501),
        ("autosomal-dominant", -16.90277996),
        ("x-linked-recessive", -27.13553083),
        ("y-linked", -68.26585339),
    ];
    assert_table(&example_2(), 0.01, EXACT, &with_error);
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
    let names = [
        "y-linked",
        "male-limited-partially-sex-linked",
        "male-limited-autosomal",
        "x-linked-recessive",
        "autosomal-dominant",
        "x-linked-dominant",
    ];
    let tables = [
        (
            example_3("0/18", None),
            [-0.3517617549, -0.5946390068, -0.7481986514, -10.23973318, -24.28481059, -32.78729484],
        ),
        (
            example_3("0/18", Some("14/0")),
            [-0.6331711588, -3.187355617, -8.842269227, -18.63722898, -24.5862261, -33.07875458],
        ),
        (
            example_3("0/18", Some("11/0")),
            [-0.6030201512, -3.154647997, -8.35291464, -17.65532898, -24.55607509, -33.04860357],
        ),
        (
            example_3("7/11", Some("14/0")),
            [-22.43103411, -8.662836707, -4.73538047, -8.537270236, -14.21852167, -22.71077858],
        ),
    ];
    for (evidence, expected) in tables {
        let table: Vec<_> = names.iter().copied().zip(expected).collect();
        assert_table(&evidence, 0.01, EXACT, &table);
    }
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
    let declared = [
        ("two-locus-15-1", -4.391768198),
        ("x-linked-recessive", -7.555284061),
        ("autosomal-recessive", -7.565214997),
        ("incompletely-dominant", -7.565214997),
        ("y-linked", -9.465090321),
        ("autosomal-dominant", -10.17312361),
    ];
    assert_table(&stored(""), 0.01, EXACT, &declared);
    let mixed = [
        ("two-locus-15-1", -3.993033887),
        ("y-linked", -4.224367951),
        ("autosomal-dominant", -4.932840134),
        ("autosomal-recessive", -4.96455036),
        ("incompletely-dominant", -4.96455036),
        ("x-linked-recessive", -5.837511666),
    ];
    assert_table(&stored("earlier=?"), 0.01, GRID, &mixed);
}
