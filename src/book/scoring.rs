//! How often the rules and the person disagree, how the classes differ in what was measured, and how two axes go together.
//!
//! Only the latest sitting of a brood counts, in one view, so that no fish is counted twice; and of its fish only those that
//! are in the counts.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::broods::Brood;
use super::evidence::Question;
use super::regions::{self, Region};
use super::seen::{Kind, why_gone};
use super::tallies::{Case, Tally, sort_in};
use super::{Read, broods, paternity, stock};
use crate::error::{Error, Result};
use crate::features::Feature;
use crate::inherit::contrast::{BroodValues, Contrast, contrast};
use crate::inherit::linkage::Joint;
use crate::inherit::traits::FEATURES;
use crate::sheet::{NOT_SHOWN, Sheet, UNDECIDED};

/// Fewest fish with both a proposal and a confirmed class for an error rate to be read off them.
const FEWEST_FISH: u32 = 50;

/// The share of fish whose confirmed class is another than the proposed one, once both are collapsed to target, middle
/// and other; `None` below 50 fish.
///
/// The rules are not the person, so this is an upper guess of the person's own error; half a fish is added so that no
/// disagreement at all is not taken for certainty.
pub fn error_rate(question: &Question<'_>, broods: &[(Brood, Tally)]) -> Option<f64> {
    let collapse = |class: &str| if class == question.target { 2 } else { u8::from(Some(class) == question.middle) };
    let (mut fish, mut differ) = (0_u32, 0_u32);
    for ((said, proposed), number) in broods.iter().flat_map(|(_, tally)| &tally.pairs) {
        if ![said, proposed].iter().any(|c| [UNDECIDED, NOT_SHOWN].contains(&c.as_str())) {
            fish += number;
            differ += if collapse(said) == collapse(proposed) { 0 } else { *number };
        }
    }
    let rate = (f64::from(differ) + 0.5) / (f64::from(fish) + 1.0);
    (fish >= FEWEST_FISH).then(|| rate.min(0.5))
}

/// The contrast between fish of the target class and their sibs in every feature a trait file may name, by that name.
///
/// # Errors
/// The book cannot be read.
pub fn contrasts(book: &Read<'_>, sheet: &Sheet, question: &Question<'_>) -> Result<BTreeMap<String, Contrast>> {
    let mut values: BTreeMap<&str, Vec<BroodValues>> = BTreeMap::new();
    let features: Vec<(&str, Feature)> = FEATURES
        .iter()
        .map(|(name, text)| Ok((*name, text.parse().map_err(|e: String| Error::failed(*name, e, ""))?)))
        .collect::<Result<_>>()?;
    for brood in broods::list(book)? {
        let mut of_brood: BTreeMap<&str, BroodValues> = BTreeMap::new();
        let latest = Latest::of(book, sheet, &brood, question)?;
        for region in latest.fish.iter().filter(|r| r.number == 1) {
            let Some(class) = latest.counted(region, question.axis) else { continue };
            for (name, feature) in &features {
                let Some(estimate) = feature.read(&region.features) else { continue };
                let entry = of_brood.entry(name).or_default();
                entry.brood.clone_from(&brood.name);
                let list = if class == question.target { &mut entry.target } else { &mut entry.other };
                list.push(estimate.value);
            }
        }
        for (name, one) in of_brood {
            values.entry(name).or_default().push(one);
        }
    }
    Ok(values.into_iter().filter_map(|(name, list)| Some((name.to_owned(), contrast(&list)?))).collect())
}

/// Fish confirmed on two axes, cross by cross.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JointCounts {
    /// The cross.
    pub cross: String,
    /// Neither target, second alone, first alone, both.
    pub counts: Joint,
}

/// How two axes go together in the fish that are confirmed on both; broods that count for no cross are left out.
///
/// # Errors
/// The book cannot be read.
pub fn joint(book: &Read<'_>, sheet: &Sheet, first: &Question<'_>, second: &Question<'_>) -> Result<Vec<JointCounts>> {
    let mut out: Vec<JointCounts> = vec![];
    for brood in broods::list(book)?.into_iter().filter(|b| paternity::of_brood(b).why_not_one().is_none()) {
        let latest = Latest::of(book, sheet, &brood, first)?;
        let mut counts = [0; 4];
        for region in &latest.fish {
            let of = |q: &Question<'_>| latest.counted(region, q.axis).map(|class| usize::from(class == q.target));
            if let Some((a, b)) = of(first).zip(of(second)) {
                counts[2 * a + b] += region.number;
            }
        }
        if counts == [0; 4] {
            continue;
        }
        match out.iter_mut().find(|c| c.cross == brood.cross) {
            Some(known) => known.counts.iter_mut().zip(counts).for_each(|(sum, n)| *sum += n),
            None => out.push(JointCounts { cross: brood.cross.clone(), counts }),
        }
    }
    Ok(out)
}

/// The fish of a brood's latest sitting.
struct Latest<'a> {
    sheet: &'a Sheet,
    brood: &'a Brood,
    day: Option<Date>,
    fish: Vec<Region>,
}

impl<'a> Latest<'a> {
    fn of(book: &Read<'_>, sheet: &'a Sheet, brood: &'a Brood, question: &Question<'_>) -> Result<Self> {
        let (photos, _) = stock::sat(book, brood, question.view)?;
        let fish = regions::of_latest_sitting(book, brood, question.view)?;
        Ok(Self { sheet, brood, day: photos.iter().map(|p| p.day).max(), fish })
    }

    /// The class that a fish is counted in on an axis, if it is counted: by the counts' own rules, so that one too young, or of a
    /// sex that does not show the axis, says nothing here either.
    fn counted(&self, region: &Region, axis: &str) -> Option<String> {
        let kind = Kind {
            sex: region.sex,
            set_aside: region.set_aside.is_some(),
            gone: region.gone.as_deref().map(why_gone),
            score: region.classes.get(axis).cloned(),
            proposed: None,
            not_asked: false,
        };
        let case = Case { sheet: self.sheet, axis, brood: self.brood, day: self.day?, kind: &kind };
        let mut tally = Tally::default();
        sort_in(&mut tally, &case, (1, region.number));
        tally.scored.pop().map(|scored| scored.score.class().to_owned())
    }
}
