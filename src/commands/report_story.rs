//! From the book to the values a report is made from.

use std::collections::BTreeSet;
use std::fs;

use super::desk::{self, today};
use super::patience;
use crate::book::lightness::card_points;
use crate::book::tallies::{self, Selection};
use crate::book::{Book, Read, broods, crosses, fish, generations, living, pedigree, photos, regions, sheets};
use crate::counts::Counts;
use crate::error::Result;
use crate::inherit::{Evidence, JudgeOptions, Judgement, Model, Progress, judge_within_reach};
use crate::lightness::{control_chart, trend};
use crate::pipeline::preview;
use crate::plan::{Aim, Pair, SURPLUS, Setup, next_crosses};
use crate::report::{Crop, CrossBox, FishBox, Inheritance, ModeLine, NextCross, Story, TrendStory};
use crate::units::{View, percent};

/// Most pairs shown as next crosses, and most typical fish.
const MOST_SHOWN: usize = 8;

/// The evidence on one axis and how it is to be read.
pub(super) struct Heard {
    /// Counts and pedigree.
    pub(super) evidence: Evidence,
    /// How far scores are trusted.
    pub(super) options: JudgeOptions,
    /// The modes listed.
    pub(super) models: Vec<Model>,
    /// What the next crosses are ranked by.
    pub(super) aim: Aim,
}

/// What the person asked the report to tell.
#[derive(Clone, Copy)]
pub(super) struct Wish<'a> {
    /// What the inheritance verdict is to be made from.
    pub(super) heard: Option<&'a Heard>,
    /// The view whose photos count.
    pub(super) view: View,
    /// The one line to follow.
    pub(super) line: Option<&'a str>,
    /// The feature to follow.
    pub(super) feature: &'a str,
    /// The heading.
    pub(super) title: Option<&'a str>,
}

impl Wish<'_> {
    /// Axis and target class asked about.
    fn question(&self) -> Option<(&str, &str)> {
        self.heard.map(|h| (h.evidence.axis.as_str(), h.evidence.target.as_str()))
    }
}

/// Gathers everything.
pub(super) fn gather(book: &Book, wish: &Wish<'_>) -> Result<Story> {
    let read = book.read();
    let mut story = Story {
        title: wish.title.or(wish.line).unwrap_or("The line's story").to_owned(),
        made_on: today().to_string(),
        counts: counts(&read, wish.view)?,
        ..Story::default()
    };
    parents(&read, wish, &mut story)?;
    if let Some(heard) = wish.heard {
        inheritance(&read, heard, &mut story)?;
        story.crops = crops(&read, &heard.evidence.axis)?;
    }
    story.trends = trends(&read, wish)?;
    let points = card_points(&read)?;
    story.control = control_chart(&points).map(|control| (control, points));
    Ok(story)
}

fn counts(read: &Read<'_>, view: View) -> Result<Vec<Counts>> {
    let sheet = sheets::rules(read)?;
    let selection = Selection { cross: None, view, include_proposed: false };
    tallies::counts(read, &sheet, &tallies::axes(read, &sheet)?, &selection)
}

fn parents(read: &Read<'_>, wish: &Wish<'_>, story: &mut Story) -> Result<()> {
    let axis = wish.question().map(|q| q.0);
    story.fish = fish::list(read)?
        .into_iter()
        .map(|f| FishBox {
            class: axis.and_then(|a| f.classes.get(a).cloned()),
            name: f.name,
            sex: f.sex,
            cross: f.cross,
        })
        .collect();
    let all = broods::list(read)?;
    for cross in crosses::list(read)? {
        let of: Vec<&str> = all.iter().filter(|b| b.cross == cross.name).map(|b| b.name.as_str()).collect();
        let counted = wish.question().and_then(|(axis, target)| tally(&story.counts, axis, target, &cross.name));
        story.crosses.push(CrossBox {
            note: counted.unwrap_or_else(|| if of.is_empty() { "no brood yet".to_owned() } else { of.join(", ") }),
            sires: cross.sires.into_iter().map(|(sire, _)| sire).collect(),
            dams: cross.dams.into_iter().map(|(dam, _)| dam.to_string()).collect(),
            name: cross.name,
        });
    }
    Ok(())
}

/// `12 of 49 absent` for a cross.
fn tally(counts: &[Counts], axis: &str, target: &str, cross: &str) -> Option<String> {
    let rows = &counts.iter().find(|c| c.axis == axis)?.rows;
    let of_cross = || rows.iter().filter(|r| r.place.cross == cross);
    let all: u32 = of_cross().map(|r| r.confirmed).sum();
    let hits: u32 = of_cross().filter(|r| r.class == target).map(|r| r.confirmed).sum();
    (all > 0).then(|| format!("{hits} of {all} {target}"))
}

/// Verdict and next crosses; what stands against a verdict is told instead of it.
fn inheritance(read: &Read<'_>, heard: &Heard, story: &mut Story) -> Result<()> {
    let Heard { evidence, options, models, aim } = heard;
    let (mut evidence, mut models) = (evidence.clone(), models.clone());
    let judge = |progress: Progress<'_>| judge_within_reach(&mut evidence, &mut models, options, progress);
    let judgement = match patience::telling("modes judged", judge) {
        Ok(judgement) => judgement,
        Err(why) => {
            story.no_verdict = Some(why.to_string());
            return Ok(());
        }
    };
    let modes: Vec<_> = judgement.modes.iter().map(|m| m.weight).zip(models).collect();
    let setup = Setup {
        evidence: &evidence,
        modes: &modes,
        error: &options.scoring(evidence.class_count()),
        ancestry: &pedigree::ancestry(read)?,
        living: &living::living(read, &evidence, today())?,
        aim: *aim,
    };
    // Without a living male and female there is no pair to weigh, which the page says.
    if let Ok(plan) = patience::telling("sires weighed", |progress| next_crosses(&setup, progress)) {
        story.next = plan.pairs.into_iter().take(MOST_SHOWN).map(next_cross).collect();
        story.next_advice = Some(plan.advice);
    }
    story.inheritance = Some(verdict(&judgement, options));
    Ok(())
}

fn next_cross(pair: Pair) -> NextCross {
    NextCross {
        sire: pair.sire,
        dam: pair.dam,
        bits: pair.bits[2],
        odds: pair.target_odds,
        fry_for_95: pair.fry_for_95,
        inbreeding: pair.inbreeding,
        // What goes with every pair is said once, with the table.
        warnings: pair.warnings.into_iter().filter(|w| !w.starts_with(SURPLUS)).collect(),
    }
}

fn verdict(judgement: &Judgement, options: &JudgeOptions) -> Inheritance {
    let mut modes: Vec<ModeLine> = judgement
        .modes
        .iter()
        .map(|m| ModeLine {
            mode: m.mode.clone(),
            weight: m.weight,
            verdict: desk::word(m.verdict),
            because: m.because.clone(),
        })
        .collect();
    modes.sort_by(|a, b| b.weight.total_cmp(&a.weight));
    Inheritance {
        axis: judgement.axis.clone(),
        question: format!("{}: {}", judgement.axis, judgement.target),
        verdict: judgement.verdict.clone(),
        read_as: format!(
            "Read with a scoring error of {} (founders {}), of the {} modes listed, each as likely as the other beforehand.",
            percent(options.error_rate),
            percent(options.founder_error.unwrap_or(options.error_rate)),
            judgement.modes.len()
        ),
        modes,
        cautions: judgement.left_out.iter().chain(&judgement.cautions).map(ToString::to_string).collect(),
    }
}

fn trends(read: &Read<'_>, wish: &Wish<'_>) -> Result<Vec<TrendStory>> {
    let lines: BTreeSet<String> = match wish.line {
        Some(line) => BTreeSet::from([line.to_owned()]),
        None => fish::list(read)?.into_iter().filter_map(|f| f.line).collect(),
    };
    let mut out = Vec::new();
    for line in lines {
        let input = generations::of_line(read, &line, wish.feature, wish.view)?.over_one_floor();
        if !input.broods.is_empty() {
            let (trend, feature) = (trend(&input)?, input.feature);
            out.push(TrendStory { line, feature, broods: input.broods, trend });
        }
    }
    Ok(out)
}

/// The first clean fish of each confirmed class of each brood, cut out of the kept previews.
fn crops(read: &Read<'_>, axis: &str) -> Result<Vec<Crop>> {
    let mut seen = BTreeSet::new();
    let mut out = Vec::new();
    for brood in broods::list(read)? {
        for region in regions::of_brood(read, &brood)? {
            let Some(class) = region.classes.get(axis).map(|c| c.class().to_owned()) else { continue };
            let clean = region.number == 1 && region.flags.is_empty() && region.set_aside.is_none();
            if !clean || out.len() >= MOST_SHOWN || seen.contains(&class) {
                continue;
            }
            let Some(photo) = photos::find(read, &region.photo)? else { continue };
            let Some(bytes) = photo.preview.as_ref().and_then(|path| fs::read(path).ok()) else { continue };
            let jpeg = preview::crop(&bytes, photo.width, region.bounds)?;
            let caption = format!("{axis} {class}: fish {} of brood {}", region.n, brood.label);
            seen.insert(class);
            out.push(Crop { caption, jpeg });
        }
    }
    Ok(out)
}
