//! Crosses out of a line: what speaks against its breeding true, what does not, and what only seems to.
//!
//! L1 and L2, and L3 where she is named, are of the line; 12 young within it all show the class.

use broodhue::inherit::JudgeOptions;
use broodhue::inherit::fixed::{Fixed, fixed};

use crate::evidence::evidence;

const LINE: &str = "fish L1 f founder target\nfish L2 m founder target\nbrood A-1 A L2 L1 u=0/12\n";

/// What is said of the line beside these fish and broods, at 1 % of young mis-scored.
fn line_with(more: &str) -> Fixed {
    let evidence = evidence(&format!("{LINE}{more}"));
    let of_line = |i: &usize| evidence.breeders[*i].fish.starts_with('L');
    let members: Vec<usize> = (0..evidence.breeders.len()).filter(of_line).collect();
    fixed("Pale", &evidence, &members, &JudgeOptions::new(0.01))
}

/// The one cross that is said to speak against it.
fn against(more: &str) -> String {
    let found = line_with(more);
    assert!(!found.unbroken() && !found.verdict.contains("breeds true"), "{}", found.verdict);
    assert_eq!((found.outcrosses.len(), found.sex_linked.len()), (1, 0), "{found:?}");
    assert!(found.verdict.contains(&found.outcrosses[0]), "{}", found.verdict);
    found.outcrosses[0].clone()
}

/// Nothing is said to speak against it.
fn nothing_against(more: &str) -> Fixed {
    let found = line_with(more);
    assert!(found.unbroken() && found.verdict.contains("So far Pale breeds true"), "{}", found.verdict);
    found
}

#[test]
fn a_line_with_fish_of_another_class_is_not_said_to_breed_true() {
    let out = "fish L3 f founder other\nfish W f founder other\nbrood X-1 X L2 W u=7/6\n";
    let found = line_with(out);
    assert!(!found.unbroken() && !found.verdict.contains("breeds true"), "{}", found.verdict);
    for named in ["L3, a fish of the line", "L2 × W gave 7 of another class among 13", "never shows within the line"] {
        assert!(found.verdict.contains(named), "{}", found.verdict);
    }
    // Where a cross with another fish of another class hid the class altogether, it is recessive, and W its carrier.
    nothing_against(
        "fish W f founder other\nfish V f founder other\nbrood X-1 X L2 W u=7/6\nbrood Y-1 Y L2 V u=12/0\n",
    );
}

/// Half and half beside a mate whose class nobody recorded: what holds of one that shows another class holds of it.
#[test]
fn a_mate_without_a_class_is_no_excuse() {
    for class in ["-", "other"] {
        let said = against(&format!("fish W f founder {class}\nbrood X-1 X L2 W u=13/12\n"));
        assert!(
            said.contains("L2 carries another allele if absent is dominant, and W does if it is recessive"),
            "{said}"
        );
    }
    // A fish of the line that nobody scored, with a mate that shows the class: whatever the class is, the allele is its own.
    let said = against("fish L3 f founder -\nfish P m founder target\nbrood X-1 X P L3 u=13/12\n");
    assert!(said.ends_with(": L3 carries another allele"), "{said}");
}

/// P and Q, who do not show it, gave it: one of 60 young is what one mis-scored in a hundred explains (45 % by 1 − 0.99^60), 15 are not.
#[test]
fn one_mis_scored_young_does_not_make_a_class_recessive() {
    let out = "fish W f founder other\nfish P m founder other\nfish Q f founder other\nbrood X-1 X L2 W u=21/20\n";
    against(&format!("{out}brood Z-1 Z P Q u=59/1\n"));
    against(&format!("{out}brood Z-1 Z P Q u=19/1\nbrood Z-2 Z P Q u=40/0\n"));
    nothing_against(&format!("{out}brood Z-1 Z P Q u=45/15\n"));
    nothing_against(&format!("{out}brood Z-1 Z P Q u=17/3\nbrood Z-2 Z P Q u=18/2\n"));
    // Nor does one take it away where L2 beside V, who would have given half of a dominant one, gave 1 of 30.
    let hidden = format!("{out}fish V f founder other\nbrood Y-1 Y L2 V");
    nothing_against(&format!("{hidden} u=29/1\n"));
    against(&format!("{hidden} u=6/0\n"));
}

/// Eight sons of L2 without the class say nothing of a dominant one on his X, which goes to his daughters.
#[test]
fn sons_alone_do_not_show_that_a_sires_class_is_recessive() {
    let out = "fish W f founder other\nfish V f founder other\nbrood X-1 X L2 W u=13/12\nbrood Y-1 Y L2 V";
    against(&format!("{out} m=8/0\n"));
    nothing_against(&format!("{out} m=8/0 f=8/0\n"));
    nothing_against(&format!("{out} u=8/0\n"));
}

#[test]
fn pooled_dams_that_all_show_it_are_heard() {
    let said = against("fish W f founder target\nbrood X-1 X L2 L1+W u=5/20\n");
    assert!(
        said.contains("L2 × L1 or W gave 5 of another class among 25 young (cross X), though all of them show it"),
        "{said}"
    );
    // W's own young are of another class, be the line fixed or not.
    nothing_against("fish W f founder other\nbrood X-1 X L2 L1+W u=5/20\n");
    // With two dams of the line a mate is no other than with one.
    let said = against("fish L3 f founder target\nfish W m founder other\nbrood X-1 X W L1+L3 u=13/12\n");
    assert!(said.contains("W × L1 or L3 gave 13") && said.contains("L1 or L3 carries another allele if"), "{said}");
}

/// A recessive on the X: L1 gives her sons the only X they have, W his own to all daughters. A dominant one: L2 gives his to the
/// daughters, and the sons have W's.
#[test]
fn young_that_part_by_sex_look_sex_linked() {
    let found = nothing_against("fish W m founder other\nbrood X-1 X W L1 m=0/12 f=13/0\n");
    let said = "Looks sex-linked, which says nothing against Pale: W × L1 (cross X), where 12 of 12 sons and 0 of 13 daughters show it.";
    assert!(found.verdict.contains(said), "{}", found.verdict);
    let found = nothing_against("fish W f founder other\nbrood X-1 X L2 W m=12/0 f=0/13\n");
    assert!(found.verdict.contains("13 of 13 daughters and 0 of 12 sons show it"), "{}", found.verdict);
    // One mis-scored among 25, and young too small to be sexed, change nothing.
    let found = nothing_against("fish W m founder other\nbrood X-1 X W L1 m=1/11 f=13/0 u=4/5\n");
    assert!(found.sex_linked[0].contains("11 of 12 sons"), "{found:?}");
    // The broods of a pair count together.
    let found = nothing_against("fish W m founder other\nbrood X-1 X W L1 m=0/2 f=2/0\nbrood X-2 X W L1 m=0/3 f=2/0\n");
    assert!(found.sex_linked[0].contains("5 of 5 sons and 0 of 4 daughters"), "{found:?}");
}

/// L1 has one copy of a dominant one where half of either sex show it. L2's sons alone show what is on his Y and not on his X. Six young
/// part by chance in one of 64. L1 and W who both show it have another allele between them, whatever the sexes.
#[test]
fn other_shares_of_the_sexes_speak_against_it() {
    against("fish W m founder other\nbrood X-1 X W L1 m=6/6 f=7/6\n");
    against("fish W f founder other\nbrood X-1 X L2 W m=0/12 f=13/0\n");
    against("fish W m founder other\nbrood X-1 X W L1 m=0/3 f=3/0\n");
    against("fish W m founder target\nbrood X-1 X W L1 m=0/12 f=13/0\n");
}
