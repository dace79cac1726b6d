//! Broods of many possible parents: weighed where they can be in time, and what cannot be is left out by name.

use broodhue::error::ErrorKind;
use broodhue::inherit::{
    Evidence, JudgeOptions, Model, SexSystem, SexSystems, built_in, judge, judge_within_reach, select,
};

use crate::evidence::evidence;

fn models(names: &[&str]) -> Vec<Model> {
    let names: Vec<String> = names.iter().map(|n| (*n).to_owned()).collect();
    let modes = select(&built_in().unwrap(), &names).unwrap();
    modes.into_iter().map(|m| Model::new(m, SexSystems::Known(SexSystem::Xy))).collect()
}

/// A plain brood, and one of so many possible dams after an earlier sire.
fn book(dams: usize) -> Evidence {
    let names: Vec<String> = (1..=dams).map(|i| format!("d{i}")).collect();
    let fish: String = names.iter().map(|n| format!("fish {n} f founder other\n")).collect();
    evidence(&format!(
        "fish s m founder other\nfish z m founder other\n{fish}\
         brood plain K s d1 f=9/3 m=8/3\nbrood mixed K s {} earlier=z f=15/5 m=15/5",
        names.join("+")
    ))
}

#[test]
fn three_possible_dams_after_an_earlier_sire_are_weighed() {
    let judgement = judge(&book(3), &models(&["two-locus-9-7"]), &JudgeOptions::new(0.01)).unwrap();
    assert!(judgement.left_out.is_empty() && judgement.modes[0].ln_likelihood.is_finite());
}

/// The same with one of the brood's thirty kept and bred from: which dam it came from has to be weighed beside the shares.
#[test]
fn three_possible_dams_are_weighed_with_a_named_daughter_too() {
    let mut evidence = evidence(
        "fish s m founder other\nfish z m founder other\nfish d1 f founder other\nfish d2 f founder other\n\
         fish d3 f founder other\nfish k f mixed other\n\
         brood mixed K s d1+d2+d3 earlier=z f=11/4 m=11/4\nbrood plain K2 s k f=9/3 m=8/3",
    );
    let judgement = judge(&evidence, &models(&["two-locus-9-3-4"]), &JudgeOptions::new(0.01)).unwrap();
    assert!(judgement.left_out.is_empty() && judgement.modes[0].ln_likelihood.is_finite());
    // What the counts cannot tell apart may be taken together or one by one: the second brood says nothing, and the daughter stays.
    evidence.broods.truncate(1);
    let alone = judge(&evidence, &models(&["autosomal-recessive"]), &JudgeOptions::new(0.01)).unwrap();
    evidence.breeders.truncate(5);
    let without = judge(&evidence, &models(&["autosomal-recessive"]), &JudgeOptions::new(0.01)).unwrap();
    assert!((alone.modes[0].ln_likelihood - without.modes[0].ln_likelihood).abs() < 1e-9);
}

/// Where two crosses have a brood of one name the command says which is meant.
#[test]
fn a_brood_is_called_what_commands_take() {
    let mut evidence = book(5);
    evidence.broods[1].label = "K/mixed".into();
    let why = judge(&evidence, &models(&["two-locus-9-7"]), &JudgeOptions::new(0.01)).unwrap_err();
    assert_eq!(why.place, "brood K/mixed");
    assert!(why.hint.ends_with("broodhue brood set K/mixed --dam NAME"), "{}", why.hint);
}

#[test]
fn a_mode_that_would_take_too_long_is_left_out_by_name_with_the_estimate() {
    let (mut evidence, options) = (book(5), JudgeOptions::new(0.01));
    let mut listed = models(&["autosomal-recessive", "two-locus-9-7", "autosomal-dominant"]);
    let alone = judge(&evidence, &models(&["autosomal-recessive", "autosomal-dominant"]), &options).unwrap();
    let told = std::sync::Mutex::new(Vec::new());
    let progress = |done: usize, all: usize| told.lock().unwrap().push((done, all));
    let judgement = judge_within_reach(&mut evidence, &mut listed, &options, &progress).unwrap();
    let mut told = told.into_inner().unwrap();
    told.sort_unstable();
    assert_eq!(told, [(0, 3), (1, 3), (2, 3), (3, 3)], "each mode once, also one that is left out");
    let names: Vec<&str> = listed.iter().map(|m| m.mode.name.as_str()).collect();
    assert_eq!((names.as_slice(), evidence), (&["autosomal-recessive", "autosomal-dominant"][..], book(5)));
    assert_eq!(judgement.modes, alone.modes);
    let [left] = judgement.left_out.as_slice() else { panic!("{:?}", judgement.left_out) };
    assert_eq!(left.code, "mode-not-weighed");
    for wanted in ["two-locus-9-7 is not weighed", "brood mixed", "5e6", "broodhue brood set mixed --dam NAME"] {
        assert!(left.message.contains(wanted), "{wanted}: {left}");
    }
    assert!(judgement.verdict.contains("Not weighed, because it would take too long: two-locus-9-7."));
}

#[test]
fn a_brood_that_would_cost_most_modes_is_left_uncounted_instead() {
    let (mut evidence, options) = (book(5), JudgeOptions::new(0.01));
    let names = ["two-locus-9-7", "two-locus-13-3", "autosomal-recessive"];
    let mut listed = models(&names);
    let mut plain = book(5);
    plain.broods[1].counts = broodhue::inherit::Counts::default();
    let alone = judge(&plain, &models(&names), &options).unwrap();
    let judgement = judge_within_reach(&mut evidence, &mut listed, &options, &|_, _| ()).unwrap();
    assert_eq!((listed.len(), &evidence, &judgement.modes), (3, &plain, &alone.modes));
    assert!(judgement.left_out[0].message.starts_with("brood mixed is not counted"), "{:?}", judgement.left_out);
    assert!(judgement.verdict.ends_with("Brood mixed is not counted, because it would take too long."));
    // Where nothing else is counted there is nothing to judge, and that is said as it was.
    let mut alone = book(5);
    alone.broods.remove(0);
    let why = judge_within_reach(&mut alone, &mut models(&names[..2]), &options, &|_, _| ()).unwrap_err();
    assert_eq!((why.kind, why.place.as_str()), (ErrorKind::TooDear, "brood mixed"));
}
