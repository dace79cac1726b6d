//! The verdict in words: which cross speaks against a mode and by how much, always "of the modes listed".

use super::evidence::{Breeder, Evidence, Sex};
use super::fit::{CrossFit, ORDERING};
use super::judge::{MISFIT_P, own_fit};
use super::judgement::{ModeJudgement, Verdict, heaviest, lead};
use crate::units::{joined, p_value, percent};

/// Above this a cross does not speak against a mode by itself (the usual 5 %, by convention).
const UNREMARKABLE: f64 = 0.05;

/// A p-value as printed; what cannot happen says so.
pub fn p_text(p: f64) -> String {
    if p > 0.0 { p_value(p) } else { "impossible".to_owned() }
}

/// `daughters`, `sons`, or `young`.
pub fn sex_word(sex: Option<Sex>) -> &'static str {
    match sex {
        Some(Sex::Female) => "daughters",
        Some(Sex::Male) => "sons",
        None => "young",
    }
}

/// What one cross shows beside what a mode expects of it.
fn cross_text(cross: &CrossFit, evidence: &Evidence) -> String {
    let brood = cross.brood.as_ref().filter(|b| **b != cross.cross).map_or(String::new(), |b| format!(", brood {b}"));
    let middle = evidence
        .middle
        .as_ref()
        .filter(|_| cross.observed[1] > 0 || cross.expected[1] > 0.05)
        .map_or(String::new(), |name| format!(" and {} {name} where {:.1}", cross.observed[1], cross.expected[1]));
    format!(
        "cross {}{brood} gave {} {} among {} {} where {:.1}{middle} are expected (p {}, exact, {ORDERING})",
        cross.cross,
        cross.observed[2],
        evidence.target,
        cross.observed.iter().sum::<u32>(),
        sex_word(cross.sex),
        cross.expected[2],
        p_text(cross.p_exact),
    )
}

fn hardest(crosses: &[CrossFit]) -> Option<&CrossFit> {
    crosses.iter().min_by(|a, b| a.p_exact.total_cmp(&b.p_exact))
}

fn against(mode: &ModeJudgement, evidence: &Evidence) -> String {
    match hardest(&mode.crosses) {
        Some(cross) if cross.p_exact < UNREMARKABLE => cross_text(cross, evidence),
        _ => "no single cross speaks against it, but it needs less likely genotypes of the parents".to_owned(),
    }
}

fn times(log10_bayes_factor: f64) -> String {
    let off = -log10_bayes_factor;
    if off < 3.5 { format!("{:.0} times", 10_f64.powf(off)) } else { format!("10^{off:.1} times") }
}

/// Why a mode is judged as it is: the odds against it, which are its own, and what it may share with other modes.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Reason {
    /// `31 times`, where it is less likely than the best of the modes listed.
    pub odds: Option<String>,
    /// The cross that speaks, or what else is to be said; without a capital and with its stop.
    pub speaks: String,
}

impl Reason {
    /// Both in one sentence.
    pub fn sentence(&self) -> String {
        match &self.odds {
            Some(odds) => format!("{odds} {LESS_LIKELY}; {}", self.speaks),
            None => self.speaks.clone(),
        }
    }
}

/// What the odds against a mode are odds of.
pub const LESS_LIKELY: &str = "less likely than the best of the modes listed";

/// The reason that goes with one mode.
pub(super) fn reason(
    mode: &ModeJudgement,
    evidence: &Evidence,
    mis_scored: Option<u32>,
    log10_bayes_factor: f64,
    refused: bool,
) -> Reason {
    let against = || against(mode, evidence);
    let plain = |speaks: String| Reason { odds: None, speaks };
    if mode.ln_likelihood == f64::NEG_INFINITY {
        let fish = match mis_scored {
            None => return plain("impossible unless a fish was mis-scored.".to_owned()),
            Some(1) => "a fish was mis-scored".to_owned(),
            Some(n) => format!("{n} fish were mis-scored"),
        };
        let verdict =
            if mode.verdict == Verdict::RuledOut { "; even with scoring error it is ruled out: " } else { "; " };
        return plain(format!("impossible unless {fish}{verdict}{}.", against()));
    }
    match mode.verdict {
        Verdict::NoBearing => plain("the crosses made say nothing for or against it.".to_owned()),
        Verdict::RuledOut | Verdict::Disfavoured if log10_bayes_factor < -0.05 => {
            Reason { odds: Some(times(log10_bayes_factor)), speaks: format!("{}.", against()) }
        }
        _ if refused => plain(format!("it does not fit the counts by itself: {}.", against())),
        // What may be mis-scored parents weighs little against a mode, and yet it is no fit.
        _ if own_fit(&mode.crosses) < MISFIT_P => plain(format!(
            "no mode listed is ten times likelier, but taken as scored it does not fit the counts: {}.",
            against()
        )),
        _ => plain(match hardest(&mode.crosses) {
            Some(cross) => format!("it fits; the cross that suits it least: {}.", cross_text(cross, evidence)),
            None => "it fits.".to_owned(),
        }),
    }
}

/// Breeders with their sex and own class, as in "P (male, absent)".
pub(super) fn scored(evidence: &Evidence, fish: &[usize]) -> Vec<String> {
    let one = |fish: &usize| {
        let breeder = &evidence.breeders[*fish];
        let class = breeder.class.map_or("", |c| evidence.class_name(c));
        format!("{} ({}, {class})", breeder.fish, breeder.sex.word())
    };
    fish.iter().map(one).collect()
}

/// What goes with founders that the mode cannot explain: their class is only conditioned on, so it costs the mode nothing
/// as long as it may be an error.
pub(super) fn unexplained(mode: &ModeJudgement) -> String {
    if mode.never_shown.is_empty() {
        return String::new();
    }
    let list = mode.never_shown.join(", ");
    if mode.ln_likelihood == f64::NEG_INFINITY {
        format!(" The mode never shows the own class of {list}.")
    } else {
        format!(" The mode never shows the own class of {list}, taken here as mis-scored; {AS_SCORED}.")
    }
}

/// How to have founders' own classes taken as certain.
const AS_SCORED: &str = "--founder-error 0 takes founders as scored";

/// What speaks against a mode beside its weight: a misfit, and the scored fish it contradicts.
fn misfit(mode: &ModeJudgement) -> String {
    let fish = if mode.mis_scored.is_empty() { &mode.never_shown } else { &mode.mis_scored };
    let p = own_fit(&mode.crosses);
    let fit = (p < MISFIT_P || fish.is_empty()).then(|| format!("smallest p {}", p_text(p)));
    let taken = (!fish.is_empty()).then(|| format!("it takes {} as mis-scored, and {AS_SCORED}", one_or_more(fish)));
    fit.into_iter().chain(taken).collect::<Vec<_>>().join("; ")
}

/// Fish of whom one at least is meant.
fn one_or_more(fish: &[String]) -> String {
    match fish {
        [one] => one.clone(),
        many => format!("one or more of {}", many.join(", ")),
    }
}

/// What goes with breeders whose own class the likeliest genotypes do not show: the mode holds only where they were mis-scored. Whose
/// class it never shows is said by [`unexplained`].
pub(super) fn taken_as_mis_scored(mode: &ModeJudgement, evidence: &Evidence) -> String {
    let one = |(fish, breeder): (usize, &Breeder)| {
        let other = mode.posterior.shows_otherwise(evidence, fish, breeder.class?);
        scored(evidence, &[fish]).pop().filter(|fish| other > 0.5 && !mode.never_shown.contains(fish))
    };
    let list: Vec<String> = evidence.breeders.iter().enumerate().filter_map(one).collect();
    match list.as_slice() {
        [] if mode.founders_as_scored || !mode.never_shown.is_empty() => String::new(),
        [] => format!(" It holds only where {} was mis-scored.", one_or_more(&mode.mis_scored)),
        [one] => format!(" It holds only where {one} was mis-scored."),
        all => format!(" It holds only where {} were mis-scored.", joined(all, "and")),
    }
}

fn names(modes: &[&ModeJudgement]) -> String {
    modes.iter().map(|m| m.mode.as_str()).collect::<Vec<_>>().join(", ")
}

/// A weight as whole percent, which no weight short of all rounds up to.
fn weight_text(weight: f64) -> String {
    if weight > 0.995 && weight < 1.0 { "over 99 %".to_owned() } else { percent(weight) }
}

/// The paragraph over all modes.
pub(super) fn paragraph(evidence: &Evidence, modes: &[ModeJudgement], refused: bool) -> String {
    let best = lead(modes);
    if refused {
        let suspects = match best.mis_scored.as_slice() {
            [] => String::new(),
            fish => format!(" (that mode doubts {})", joined(fish, "and")),
        };
        return format!(
            "No verdict: none of the modes listed fits the counts of {} {} by itself (the best, {}, has p {} in its worst \
             cross after Holm). Look for a second sire, young that died before scoring, or mis-scored fish{suspects}; or \
             list another mode.",
            evidence.axis,
            evidence.target,
            best.mode,
            p_text(own_fit(&best.crosses))
        );
    }
    let of = |verdict: Verdict| modes.iter().filter(|m| m.verdict == verdict).collect::<Vec<_>>();
    let silent = of(Verdict::NoBearing);
    if silent.len() == modes.len() {
        return "The crosses made cannot tell the modes listed apart: they predict the same in every one of them."
            .to_owned();
    }
    let all: Vec<&ModeJudgement> = modes.iter().collect();
    let heaviest = heaviest(all.into_iter()).unwrap_or(best);
    let apart = heaviest.mode != best.mode && !best.same_as.contains(&heaviest.mode);
    let fitting = if apart { " that fit with the breeders as scored" } else { "" };
    let mut text = if best.same_as.is_empty() {
        format!("Of the modes listed{fitting}, {} weighs most ({}", best.mode, weight_text(best.weight))
    } else {
        format!(
            "Of the modes listed{fitting}, {} weighs most together with {}, which these crosses cannot tell from it ({} together",
            best.mode,
            best.same_as.join(", "),
            weight_text(best.group_weight)
        )
    };
    text += &format!("); its own fit: smallest p {} after Holm.", p_text(own_fit(&best.crosses)));
    if apart {
        let with = [std::slice::from_ref(&heaviest.mode), &heaviest.same_as].concat().join(", ");
        text += &format!(
            " Heavier, and yet no fit: {with} ({}): {}.",
            weight_text(heaviest.group_weight),
            misfit(heaviest)
        );
    } else if !best.fits() {
        text += &format!(" Taken as scored it does not fit: {}.", misfit(best));
    }
    let told = |m: &&ModeJudgement| {
        let of = |lead: &ModeJudgement| m.mode == lead.mode || lead.same_as.contains(&m.mode);
        of(best) || apart && of(heaviest)
    };
    let (allowed, strained): (Vec<&ModeJudgement>, Vec<&ModeJudgement>) =
        of(Verdict::Allowed).into_iter().filter(|m| !told(m)).partition(|m| m.fits());
    for (word, list) in [
        ("Also allowed", allowed),
        ("Allowed only if breeders are mis-scored", strained),
        ("Disfavoured", of(Verdict::Disfavoured)),
        ("Ruled out", of(Verdict::RuledOut)),
        ("Not tested by these crosses", silent),
    ] {
        if !list.is_empty() {
            text += &format!(" {word}: {}.", names(&list));
        }
    }
    text + " A mode that is not listed may fit as well."
}
