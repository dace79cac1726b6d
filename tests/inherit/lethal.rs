//! Modes under which some genotypes do not live: no founder and no test mate has one.

use broodhue::inherit::{
    Class, Evidence, GenotypeProbability, Mode, Model, ScoringError, SexSystem, SexSystems, TestMate, expected,
    outlook, parse, test_matings,
};

use crate::evidence::evidence;

/// One autosomal locus whose carriers of one copy show the target, or hide it, with so many of those of two copies alive.
pub(crate) fn mode(shows: &str, alive: f64) -> Mode {
    let text = format!(
        "[[mode]]
         name = \"lethal-{shows}-{alive}\"
         loci = [{{ name = \"m\", on = \"autosome\" }}]
         rules = [{{ class = \"target\", m = \"{shows}\" }}]
         survival = [{{ share = {alive}, m = \"all\" }}]"
    );
    parse("test", &text).unwrap().remove(0)
}

fn model(shows: &str, alive: f64) -> Model {
    Model::new(mode(shows, alive), SexSystems::Known(SexSystem::Xy))
}

const CERTAIN: f64 = 0.0;

/// The share of target that a pair is expected to give.
fn target_share(model: &Model, evidence: &Evidence) -> f64 {
    let error = ScoringError::even(CERTAIN, 2);
    expected(&outlook(model, evidence, &error, 1, 0).unwrap(), None).unwrap()[2]
}

/// A founder of the target class against a pure wild one. Dead in two copies, he is +/m: half. With half of m/m alive he is
/// +/m to m/m as 2 to 1, and 2/3 of one half and 1/3 of all is two thirds. With all alive it is three quarters.
#[test]
fn a_founder_has_lived() {
    let pair = evidence("fish S m founder target\nfish D f founder other pure");
    for (alive, share) in [(0.0, 0.5), (0.5, 2.0 / 3.0), (1.0, 0.75)] {
        let found = target_share(&model("some", alive), &pair);
        assert!((found - share).abs() < 1e-12, "{alive}: {found}");
    }
}

/// An unknown male may have fathered some of a brood with target; where m/m dies he is not m/m.
#[test]
fn an_unknown_earlier_sire_has_lived() {
    let book = evidence(
        "fish S m founder other
         fish D f founder other
         brood B1 K1 S D earlier=? f=1/1",
    );
    let ln = |alive: f64| model("some", alive).ln_likelihood(&book, &ScoringError::even(CERTAIN, 2)).unwrap();
    // One of two is target, out of the unknown male's share π, 0 with one half, else even over 0 to 1. With dead m/m he is +/+
    // or +/m, one half each: 2 × 1/2 × 1/2 E[π/2 (1 − π/2)] = 1/2 × 1/6. With all alive a third each, and m/m gives π (1 − π),
    // 1/6 too: 2 × 1/3 × 1/2 × (1/6 + 1/6).
    for (alive, p) in [(0.0, 1.0 / 12.0), (1.0, 1.0 / 9.0)] {
        assert!((ln(alive) - f64::ln(p)).abs() < 1e-12, "{alive}: {}", ln(alive).exp());
    }
}

/// A recessive that kills has no mate that shows it, and a test mating with a carrier shows nothing either.
#[test]
fn a_test_mate_is_alive() {
    let book = evidence("fish S m founder other\nfish D f founder other");
    let mates = |alive: f64| {
        let model = model("all", alive);
        let posterior = model.posterior(&book, &ScoringError::even(CERTAIN, 2)).unwrap();
        test_matings(&model, &posterior.genotypes[0], &book.breeders[0])
            .iter()
            .map(|t| (t.mate, t.young_for_5))
            .collect::<Vec<_>>()
    };
    assert_eq!(mates(0.0), [(TestMate::Carrier, None)]);
    // Prior one half, mutants 1/2 and 1/4 of a carrier's young: 5 % is 1/19 after 5 (1/32) and 11 (0.75^11 = 0.042).
    assert_eq!(mates(1.0), [(TestMate::Target, Some(5)), (TestMate::Carrier, Some(11))]);
}

/// A fish that shows the target is under no suspicion. One of unknown class that may be m/m is first cleared of that, which
/// leaves a carrier likelier: 0.029·2⁻ⁿ beside 0.001 of +/+ falls to 5 % at n = 10 (5.4 % at 9) and
/// to 1 % at n = 12.
#[test]
fn a_test_mating_has_to_clear_for_good() {
    let book = evidence("fish S m founder target\nfish T m founder -");
    let mode = broodhue::inherit::built_in().unwrap().into_iter().find(|m| m.name == "autosomal-recessive").unwrap();
    let model = Model::new(mode, SexSystems::Known(SexSystem::Xy));
    let of = |name: &str, probability, carrier, class| GenotypeProbability {
        genotype: name.to_owned(),
        probability,
        carrier,
        class,
    };
    let genotypes = [
        of("+/+", 0.001, false, Class::Other),
        of("+/m", 0.029, true, Class::Other),
        of("m/m", 0.97, false, Class::Target),
    ];
    assert_eq!(test_matings(&model, &genotypes, &book.breeders[0]), []);
    let with_target = &test_matings(&model, &genotypes, &book.breeders[1])[0];
    assert_eq!(
        (with_target.mate, with_target.young_for_5, with_target.young_for_1),
        (TestMate::Target, Some(10), Some(12))
    );
}
