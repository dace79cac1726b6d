//! Every mode weighed against the others, and the wording rule that turns figures into words.
//!
//! Rule (after Kass & Raftery 1995 and Morton 1955): ruled out at log10 Bayes factor ≤ -3 at the
//! largest declared error rate and the mode's own exact p below 0.001 in some cross after Holm over crosses × modes;
//! disfavoured at ≤ -1; allowed above; no bearing where all predict the same; no verdict where all misfit (p < 0.01). A mode
//! that the counts make possible stands as well at its own error rate: the weights shown are of that one.

use std::sync::atomic::{AtomicUsize, Ordering};

use rayon::prelude::*;

use super::cautions::cautions;
use super::error_law::ScoringError;
use super::evidence::{Class, Evidence};
use super::fit::{CrossFit, Doubt, Fitted, fits};
use super::judgement::{DEFAULT_ERROR, JudgeOptions, Judgement, ModeJudgement, Verdict};
use super::model::{Model, Posterior};
use super::pool::{Pooled, pooled};
use super::same;
use super::table::ln_sum;
use super::words::{self, Reason};
use crate::error::{Error, ErrorKind, Result};
use crate::stats::goodness::holm;

const RULED_OUT: f64 = -3.0;
const DISFAVOURED: f64 = -1.0;
const RULED_OUT_P: f64 = 0.001;
pub(super) const MISFIT_P: f64 = 0.01;

/// What is computed for a mode by itself.
struct Weighed {
    posterior: Posterior,
    fitted: Fitted,
    signature: Vec<f64>,
    /// At the largest error rate.
    ln_largest: f64,
    /// The fit that may rule it out, at the largest error rate.
    ruling: Fitted,
    /// Fish that must have been mis-scored for the mode to be possible.
    mis_scored: Option<u32>,
    untestable: bool,
    /// Founders whose own class the mode never shows.
    unexplained: Vec<usize>,
    /// Breeders that the mode takes as mis-scored, or may.
    doubted: Vec<usize>,
}

/// Told how many of all that is to be weighed are done, and how many there are: at first, and each time one is; from any thread.
pub type Progress<'a> = &'a (dyn Fn(usize, usize) + Sync);

/// Judges the modes listed on the evidence. A mode that would take too long is left out, with the estimate.
///
/// # Errors
/// Evidence that breaks a rule or holds no counts, no mode, or none that would not take too long.
pub fn judge(evidence: &Evidence, models: &[Model], options: &JudgeOptions) -> Result<Judgement> {
    judge_telling(evidence, models, options, &|_, _| ())
}

/// As [`judge`]; `progress` is told of every mode.
pub(super) fn judge_telling(
    evidence: &Evidence,
    models: &[Model],
    options: &JudgeOptions,
    progress: Progress<'_>,
) -> Result<Judgement> {
    options.check()?;
    evidence.check()?;
    if evidence.total() == 0 {
        let place = format!("axis {}", evidence.axis);
        return Err(Error::failed(place, "holds no counts", "confirm scores or `import counts` first"));
    }
    if models.is_empty() {
        return Err(Error::usage("--modes", "lists no mode", "leave it out to judge all of them"));
    }
    let every: Vec<&Model> = models.iter().collect();
    check_classes(evidence, &every)?;
    let pooled = pooled(evidence);
    let done = AtomicUsize::new(0);
    progress(0, models.len());
    let tried = |model: &Model| {
        let weighed = weigh(model, evidence, &pooled, options);
        progress(done.fetch_add(1, Ordering::Relaxed) + 1, models.len());
        weighed
    };
    let tried: Vec<Result<Weighed>> = models.par_iter().map(tried).collect();
    let (mut listed, mut weighed, mut too_dear) = (vec![], vec![], vec![]);
    for (model, tried) in models.iter().zip(tried) {
        match tried {
            Ok(one) => {
                listed.push(model);
                weighed.push(one);
            }
            Err(why) if why.kind == ErrorKind::TooDear => too_dear.push((model, why)),
            Err(why) => return Err(why),
        }
    }
    if let (true, Some((_, why))) = (listed.is_empty(), too_dear.first()) {
        return Err(why.clone());
    }
    check_classes(evidence, &listed)?;
    check_founders(evidence, &weighed)?;
    let mut judgement = compare(evidence, &listed, options, &weighed);
    if !too_dear.is_empty() {
        let names: Vec<&str> = too_dear.iter().map(|(model, _)| model.mode.name.as_str()).collect();
        judgement.verdict += &format!(" Not weighed, because it would take too long: {}.", names.join(", "));
    }
    Ok(too_dear.iter().fold(judgement, |judgement, (model, why)| judgement.without_mode(&model.mode.name, why)))
}

/// Refuses a class that was seen and that no mode listed can show.
fn check_classes(evidence: &Evidence, models: &[&Model]) -> Result<()> {
    for class in Class::ALL {
        let seen = evidence.breeders.iter().any(|b| b.class == Some(class))
            || evidence.broods.iter().any(|b| b.counts.rows().iter().any(|(_, row)| row[class.index()] > 0));
        let shown = models.iter().any(|m| m.shows(class));
        // Without a middle class it is lumped into "other", which a mode of middle and target shows then.
        let lumped =
            class == Class::Other && evidence.middle.is_none() && models.iter().any(|m| m.shows(Class::Middle));
        if seen && !shown && !lumped {
            let name = evidence.class_name(class);
            let hint = "list a mode that shows it with --modes, write one into a --mode-file, or leave --middle out";
            return Err(Error::failed(
                format!("axis {}", evidence.axis),
                format!("class {name} is shown by no mode listed"),
                hint,
            ));
        }
    }
    Ok(())
}

/// Refuses a founder, taken as scored for certain, whose own class no mode listed can show in its sex.
fn check_founders(evidence: &Evidence, weighed: &[Weighed]) -> Result<()> {
    let unexplained = |fish: &usize| weighed.iter().all(|w| w.unexplained.contains(fish));
    let possible = weighed.iter().any(|w| w.posterior.ln_likelihood > f64::NEG_INFINITY);
    let Some(first) = weighed.first().filter(|_| !possible) else { return Ok(()) };
    let Some(fish) = first.unexplained.iter().find(|f| unexplained(f)) else { return Ok(()) };
    let breeder = &evidence.breeders[*fish];
    let class = breeder.class.map_or("", |c| evidence.class_name(c));
    Err(Error::failed(
        format!("fish {}", breeder.fish),
        format!("a {} that shows {class} is explained by no mode listed", breeder.sex.word()),
        "look at it again, correct its class or sex, list other modes, or allow for its being mis-scored with --founder-error",
    ))
}

/// Broods are known to the likelihood by the sums of each pair's; only the fit looks at them one by one.
fn weigh(model: &Model, evidence: &Evidence, pooled: &Pooled, options: &JudgeOptions) -> Result<Weighed> {
    let (sums, classes) = (&pooled.evidence, evidence.class_count());
    let error = options.scoring(classes);
    let mut posterior = model.posterior(sums, &error)?;
    posterior.ln_likelihood += pooled.ln_apart;
    let possible = posterior.ln_likelihood > f64::NEG_INFINITY;
    // A likelihood of zero must never rule a mode out by itself, so it is looked at again with some error.
    let largest = options.at(if options.largest_error > 0.0 { options.largest_error } else { DEFAULT_ERROR }, classes);
    let same = largest == error && possible;
    let ln_largest =
        if same { posterior.ln_likelihood } else { model.ln_likelihood(sums, &largest)? + pooled.ln_apart };
    let space = likeliest_space(&posterior);
    let fit = |error: &ScoringError, doubt: Doubt| fits(model, space, (evidence, sums), error, doubt);
    let ruling = fit(&largest, Doubt::FoundersLast)?;
    let fitted = match (possible, same || !possible) {
        (_, true) if ruling.mis_scored().is_empty() => ruling.clone(),
        (true, _) => fit(&error, Doubt::Anyone)?,
        (false, _) => fit(&largest, Doubt::Anyone)?,
    };
    let mis_scored = if possible { None } else { mis_scored(model, sums, &error)? };
    let signature = same::signature(model, sums)?;
    let doubted = doubted(evidence, &posterior, &fitted);
    Ok(Weighed {
        posterior,
        fitted,
        signature,
        ln_largest,
        ruling,
        mis_scored,
        untestable: untestable(model, sums),
        unexplained: model.unexplained(sums),
        doubted,
    })
}

/// Below this probability a breeder's own class counts as taken for mis-scored: far less sure than any scorer is (starting
/// value, not tuned).
const BELIEVED: f64 = 0.9;

/// Breeders whose own class the mode believes no more, given the counts, or does not show where its fit is taken.
fn doubted(evidence: &Evidence, posterior: &Posterior, fitted: &Fitted) -> Vec<usize> {
    let in_doubt = |fish: &usize| {
        if fitted.mis_scored().contains(fish) {
            return true;
        }
        let class = evidence.breeders[*fish].class.filter(|_| !posterior.genotypes[*fish].is_empty());
        class.is_some_and(|class| posterior.shows_otherwise(evidence, *fish, class) > 1.0 - BELIEVED)
    };
    (0..evidence.breeders.len()).filter(in_doubt).collect()
}

fn likeliest_space(posterior: &Posterior) -> usize {
    (0..posterior.systems.len()).max_by(|a, b| posterior.systems[*a].total_cmp(&posterior.systems[*b])).unwrap_or(0)
}

/// How many fish must have been mis-scored: the power with which the likelihood falls as the error goes to zero.
fn mis_scored(model: &Model, evidence: &Evidence, error: &ScoringError) -> Result<Option<u32>> {
    const RATES: [f64; 2] = [1e-9, 1e-12];
    let at = |rate: f64| {
        let or = |e: f64| if e > 0.0 { e } else { rate };
        let trial = ScoringError {
            young: or(error.young),
            breeders: or(error.breeders),
            founders: or(error.founders),
            classes: error.classes,
        };
        model.ln_likelihood(evidence, &trial)
    };
    let (high, low) = (at(RATES[0])?, at(RATES[1])?);
    let power = ((high - low) / (RATES[0] / RATES[1]).ln()).round();
    Ok((1..=evidence.total()).find(|n| (f64::from(*n) - power).abs() < 0.5))
}

/// Whether the mode gives every outcome the same probability whatever the parents: nothing counted can speak of it.
fn untestable(model: &Model, evidence: &Evidence) -> bool {
    let row_used = [0, 1, 2].map(|row| evidence.broods.iter().any(|b| b.counts.rows()[row].1.iter().any(|n| *n > 0)));
    model.spaces.iter().all(|space| {
        (0..3).filter(|row| row_used[*row]).all(|row| {
            let mut laws = space.laws().iter().filter_map(|law| law.rows[row]);
            let first = laws.next().unwrap_or_default();
            laws.all(|law| law.iter().zip(first).all(|(a, b)| (a - b).abs() < 1e-12))
        })
    })
}

fn compare(evidence: &Evidence, models: &[&Model], options: &JudgeOptions, weighed: &[Weighed]) -> Judgement {
    let lns: Vec<f64> = weighed.iter().map(|w| w.posterior.ln_likelihood).collect();
    let total = ln_sum(&lns);
    let best = lns.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weight = |i: usize| if total > f64::NEG_INFINITY { (lns[i] - total).exp() } else { 0.0 };
    let ruled = ruled(weighed, options);
    let groups: Vec<Vec<usize>> = (0..models.len()).map(|i| group(i, &ruled, weighed)).collect();
    let one_group = models.len() > 1 && groups.iter().all(|g| g.len() == models.len());
    let refused = weighed.iter().all(|w| own_fit(&w.fitted.crosses) < MISFIT_P);
    let modes: Vec<ModeJudgement> = (0..models.len())
        .map(|i| {
            let (bayes, by_rule) = ruled[i];
            let fitted = if by_rule == Verdict::RuledOut { &weighed[i].ruling } else { &weighed[i].fitted };
            let verdict = match by_rule {
                Verdict::Allowed if one_group || weighed[i].untestable => Verdict::NoBearing,
                Verdict::Allowed if refused => Verdict::Disfavoured,
                verdict => verdict,
            };
            let mut judged = ModeJudgement {
                mode: models[i].mode.name.clone(),
                ln_likelihood: lns[i],
                log10_bayes_factor: log10(lns[i], best),
                weight: weight(i),
                group_weight: groups[i].iter().map(|j| weight(*j)).sum(),
                verdict,
                same_as: groups[i].iter().filter(|j| **j != i).map(|j| models[*j].mode.name.clone()).collect(),
                posterior: weighed[i].posterior.clone(),
                best: fitted.best.clone(),
                crosses: fitted.crosses.clone(),
                never_shown: words::scored(evidence, &weighed[i].unexplained),
                mis_scored: words::scored(evidence, &weighed[i].doubted),
                founders_as_scored: fitted.founders_as_scored(evidence),
                reason: Reason::default(),
                because: String::new(),
            };
            judged.reason = words::reason(&judged, evidence, weighed[i].mis_scored, bayes, refused);
            judged.reason.speaks += &words::unexplained(&judged);
            judged.reason.speaks += &words::taken_as_mis_scored(&judged, evidence);
            judged.because = judged.reason.sentence();
            judged
        })
        .collect();
    let verdict = words::paragraph(evidence, &modes, refused);
    Judgement {
        axis: evidence.axis.clone(),
        target: evidence.target.clone(),
        middle: evidence.middle.clone(),
        fish: evidence.breeders.iter().map(|b| b.fish.clone()).collect(),
        error_rate: options.error_rate,
        modes,
        left_out: vec![],
        refused,
        verdict,
        cautions: cautions(evidence),
    }
}

/// The log10 of a likelihood beside the best, both as natural logarithms.
fn log10(ln: f64, best: f64) -> f64 {
    if ln > f64::NEG_INFINITY { (ln - best) / std::f64::consts::LN_10 } else { f64::NEG_INFINITY }
}

/// The log10 Bayes factor that each mode is judged by, and what the wording rule makes of it.
fn ruled(weighed: &[Weighed], options: &JudgeOptions) -> Vec<(f64, Verdict)> {
    let best = weighed.iter().map(|w| w.posterior.ln_likelihood).fold(f64::NEG_INFINITY, f64::max);
    let best_largest = weighed.iter().map(|w| w.ln_largest).fold(f64::NEG_INFINITY, f64::max);
    let one = |(w, adjusted): (&Weighed, f64)| {
        let ln = w.posterior.ln_likelihood;
        let (shown, bayes_largest) = (log10(ln, best), log10(w.ln_largest, best_largest));
        let impossible = ln == f64::NEG_INFINITY;
        // The better of the two, so that the heaviest mode is never called less likely than another; where no error is thought
        // possible at all, an error speaks for impossible modes alone.
        let bayes = match (impossible, options.largest_error > 0.0) {
            (true, _) => bayes_largest,
            (false, true) => shown.max(bayes_largest),
            (false, false) => shown,
        };
        (bayes, by_rule(bayes, adjusted, impossible))
    };
    weighed.iter().zip(adjusted_p(weighed)).map(one).collect()
}

/// The modes one cannot be told apart from, itself included: they predict the same, weigh alike and are judged alike.
fn group(i: usize, ruled: &[(f64, Verdict)], weighed: &[Weighed]) -> Vec<usize> {
    let ln = |j: usize| weighed[j].posterior.ln_likelihood;
    let alike = |j: usize| {
        same::alike(&weighed[i].signature, &weighed[j].signature)
            && same::weigh_alike(ln(i), ln(j))
            && ruled[i].1 == ruled[j].1
    };
    (0..weighed.len()).filter(|j| *j == i || alike(*j)).collect()
}

/// The smallest exact p of each mode after Holm over crosses × modes, at the largest error rate.
fn adjusted_p(weighed: &[Weighed]) -> Vec<f64> {
    let all: Vec<f64> = weighed.iter().flat_map(|w| w.ruling.crosses.iter().map(|c| c.p_exact)).collect();
    let adjusted = holm(&all);
    let mut rest = adjusted.as_slice();
    weighed
        .iter()
        .map(|w| {
            let (own, others) = rest.split_at(w.ruling.crosses.len());
            rest = others;
            own.iter().copied().fold(1.0, f64::min)
        })
        .collect()
}

/// A mode's own fit: the smallest exact p over its crosses after Holm; 0 for a mode without any best genotypes.
pub(super) fn own_fit(crosses: &[CrossFit]) -> f64 {
    if crosses.is_empty() {
        return 0.0;
    }
    holm(&crosses.iter().map(|c| c.p_exact).collect::<Vec<_>>()).into_iter().fold(1.0, f64::min)
}

fn by_rule(log10_bayes_factor: f64, adjusted_p: f64, impossible: bool) -> Verdict {
    if log10_bayes_factor <= RULED_OUT && adjusted_p < RULED_OUT_P {
        Verdict::RuledOut
    } else if log10_bayes_factor <= DISFAVOURED || impossible {
        Verdict::Disfavoured
    } else {
        Verdict::Allowed
    }
}
