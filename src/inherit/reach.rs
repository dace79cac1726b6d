//! Judging what can be judged in time: a mode that would take too long is left out; a brood that would cost most modes so is left
//! uncounted instead, because a verdict on fewer fish says more than one between the few modes that are left.

use std::collections::BTreeMap;

use super::evidence::{Counts, Evidence};
use super::judge::{Progress, judge_telling};
use super::judgement::{JudgeOptions, Judgement};
use super::model::Model;
use super::pedigree;
use crate::error::{Error, ErrorKind, Result};

/// Judges as `judge`, where most modes would take too long without the counts of the broods that are to blame. What could not be
/// weighed is in the judgement's `left_out`, and no longer in `models`, nor counted in `evidence`. `progress` is told of every mode.
///
/// # Errors
/// As `judge`.
pub fn judge_within_reach(
    evidence: &mut Evidence,
    models: &mut Vec<Model>,
    options: &JudgeOptions,
    progress: Progress<'_>,
) -> Result<Judgement> {
    let judged = judge_telling(evidence, models, options, progress);
    let too_few = match &judged {
        Ok(judgement) => most(models.len() - judgement.modes.len(), models),
        Err(why) => why.kind == ErrorKind::TooDear,
    };
    let dear = if too_few { dear_broods(evidence, models, options) } else { vec![] };
    let judgement = if dear.is_empty() { judged? } else { without(&dear, evidence, (models, options), progress)? };
    models.retain(|model| judgement.modes.iter().any(|judged| judged.mode == model.mode.name));
    Ok(judgement)
}

fn most(left_out: usize, models: &[Model]) -> bool {
    2 * left_out > models.len()
}

fn without(
    dear: &[(usize, Error)],
    evidence: &mut Evidence,
    (models, options): (&[Model], &JudgeOptions),
    progress: Progress<'_>,
) -> Result<Judgement> {
    for (brood, _) in dear {
        evidence.broods[*brood].counts = Counts::default();
    }
    if let (0, Some((_, why))) = (evidence.total(), dear.first()) {
        return Err(why.clone());
    }
    let judgement = judge_telling(evidence, models, options, progress)?;
    let name = |brood: usize| &evidence.broods[brood].label;
    Ok(dear.iter().fold(judgement, |judgement, (brood, why)| judgement.without_brood(name(*brood), why)))
}

/// The broods that most modes cannot weigh in time, each with the reason under the first of those.
fn dear_broods(evidence: &Evidence, models: &[Model], options: &JudgeOptions) -> Vec<(usize, Error)> {
    let error = options.scoring(evidence.class_count());
    let mut refusals: BTreeMap<usize, Vec<Error>> = BTreeMap::new();
    for model in models {
        let of_model = model.spaces.iter().flat_map(|space| pedigree::dear_broods(evidence, space, &error));
        // Under either sex system is dear enough.
        for (brood, why) in of_model.collect::<BTreeMap<_, _>>() {
            refusals.entry(brood).or_default().push(why);
        }
    }
    let most = |(brood, refusals): (usize, Vec<Error>)| {
        let dear = most(refusals.len(), models);
        Some((brood, refusals.into_iter().next().filter(|_| dear)?))
    };
    refusals.into_iter().filter_map(most).collect()
}
