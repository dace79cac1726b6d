//! Which crosses tell of linkage: by their parents' genotypes, not by the shares they give.

use broodhue::inherit::linkage::{CrossKind, from_test_cross_unknown_phase};
use broodhue::inherit::{
    Evidence, JudgeOptions, JudgedAxis, Model, SexSystem, SexSystems, built_in, cross_kind, judge, select,
};

use crate::evidence::evidence;

/// What cross K2 is on two axes, each with its own counts and judged under one mode.
fn kind([first, second]: [(&str, &str); 2]) -> Result<CrossKind, String> {
    let judged = |axis: &str, (name, text): (&str, &str)| {
        let modes = select(&built_in().unwrap(), &[name.to_owned()]).unwrap();
        let models: Vec<Model> = modes.into_iter().map(|m| Model::new(m, SexSystems::Known(SexSystem::Xy))).collect();
        let evidence = Evidence { axis: axis.into(), ..evidence(text) };
        let judgement = judge(&evidence, &models, &JudgeOptions::new(0.01)).unwrap();
        (evidence, models, judgement)
    };
    let (red, yellow) = (judged("red", first), judged("yellow", second));
    let axes = [&red, &yellow].map(|(evidence, models, j)| JudgedAxis { evidence, models, mode: j.lead() });
    cross_kind("K2", [&axes[0], &axes[1]])
}

const RECESSIVE: &str = "autosomal-recessive";

/// Sire and dam of cross K2 with their classes and what they gave.
fn pair(sire: &str, dam: &str, counts: &str) -> String {
    format!("fish S m founder {sire}\nfish D f founder {dam}\nbrood B2 K2 S D u={counts}")
}

/// Dam +/a b/b, sire a/a +/b: a quarter of each class whatever the linkage, which read as a test cross of unknown phase gives a
/// recombination of about one half.
#[test]
fn four_classes_alike_without_a_double_heterozygote_say_nothing() {
    let (red, yellow) = (pair("target", "other", "40/40"), pair("other", "target", "40/40"));
    let why = kind([(RECESSIVE, &red), (RECESSIVE, &yellow)]).unwrap_err();
    assert!(why.starts_with("no parent is heterozygous on both axes"), "{why}");
    assert!(from_test_cross_unknown_phase([20; 4]).unwrap().rate > 0.4);
}

#[test]
fn a_test_cross_and_an_f2_are_told_by_the_parents() {
    let half = pair("target", "other", "40/40");
    assert_eq!(kind([(RECESSIVE, &half), (RECESSIVE, &half)]), Ok(CrossKind::TestCross));
    // Dominant on the second axis, where the dam shows it: she is heterozygous there too, and he plain.
    let dominant = pair("other", "target", "40/40");
    assert_eq!(kind([(RECESSIVE, &half), ("autosomal-dominant", &dominant)]), Ok(CrossKind::TestCross));
    let quarter = pair("other", "other", "60/20");
    assert_eq!(kind([(RECESSIVE, &quarter), (RECESSIVE, &quarter)]), Ok(CrossKind::F2));
    // Dam +/a +/b, sire +/a b/b.
    let why = kind([(RECESSIVE, &quarter), (RECESSIVE, &half)]).unwrap_err();
    assert!(why.contains("neither a test cross"), "{why}");
}

/// Sons of a carrier mother, their sex not seen: a quarter of the young, and no F2 of autosomes.
#[test]
fn loci_on_the_x_and_several_loci_are_not_compared() {
    let quarter = pair("other", "other", "60/20");
    for both in [["x-linked-recessive"; 2], [RECESSIVE, "x-linked-recessive"], [RECESSIVE, "male-limited-autosomal"]] {
        let why = kind(both.map(|mode| (mode, quarter.as_str()))).unwrap_err();
        assert!(why.contains("yellow depends on sex") || why.contains("red depends on sex"), "{why}");
    }
    let why = kind([(RECESSIVE, &quarter), ("two-locus-9-7", &quarter)]).unwrap_err();
    assert_eq!(why, "under two-locus-9-7, which weighs most, yellow is not one locus");
}

/// Of two dams each has a phase of her own, unless only the sire is heterozygous; stored sperm leaves the father open.
#[test]
fn young_of_several_double_heterozygotes_are_not_added_up() {
    let two = |sire: &str, dams: &str, more: &str| {
        format!(
            "fish S m founder {sire}
             fish T m founder {sire}
             fish D f founder {dams}
             fish E f founder {dams}
             brood B2 K2 S D {more} u=40/40
             brood B3 K2 S E u=40/40"
        )
    };
    let of = |text: &str| kind([(RECESSIVE, text), (RECESSIVE, text)]);
    assert!(of(&two("target", "other", "")).unwrap_err().contains("whose phases may differ"));
    assert_eq!(of(&two("other", "target", "")), Ok(CrossKind::TestCross));
    assert!(of(&two("other", "target", "earlier=T")).unwrap_err().contains("stored sperm"));
}
