//! From the book to the values a report is made from.

use std::collections::BTreeSet;
use std::fs;

use super::desk::today;
use crate::book::evidence::{self, Question};
use crate::book::lightness::{Album, card_points};
use crate::book::tallies::{self, Selection};
use crate::book::{Book, Read, broods, crosses, fish, generations, living, pedigree, photos, regions, scoring, sheets};
use crate::counts::Counts;
use crate::error::Result;
use crate::inherit::{
    DEFAULT_ERROR, DEFAULT_RECOMBINATION, JudgeOptions, Judgement, Mode, Model, SexSystem, SexSystems, built_in, judge,
};
use crate::lightness::{control_chart, trend};
use crate::pipeline::preview;
use crate::plan::{Aim, Setup, next_crosses};
use crate::report::{Crop, CrossBox, FishBox, Inheritance, ModeLine, NextCross, Story, TrendStory};
use crate::units::View;

/// Most pairs shown as next crosses, and most typical fish.
const MOST_SHOWN: usize = 8;

/// What the person asked the report to tell.
#[derive(Debug, Clone, Copy)]
pub(super) struct Wish<'a> {
    /// Axis and target class of the inheritance verdict.
    pub(super) question: Option<(&'a str, &'a str)>,
    /// The one line to follow.
    pub(super) line: Option<&'a str>,
    /// The feature to follow.
    pub(super) feature: &'a str,
    /// The heading.
    pub(super) title: Option<&'a str>,
}

/// Gathers everything.
pub(super) fn gather(book: &Book, wish: &Wish<'_>) -> Result<Story> {
    let read = book.read();
    let mut story = Story {
        title: wish.title.or(wish.line).unwrap_or("The line's story").to_owned(),
        made_on: today().to_string(),
        counts: counts(&read)?,
        ..Story::default()
    };
    parents(&read, wish, &mut story)?;
    if let Some((axis, target)) = wish.question {
        inheritance(&read, axis, target, &mut story)?;
        story.crops = crops(&read, axis)?;
    }
    let mut album = Album::default();
    story.trends = trends(&read, &mut album, wish)?;
    let points = card_points(&read, &mut album)?;
    story.control = control_chart(&points).map(|control| (control, points));
    Ok(story)
}

fn counts(read: &Read<'_>) -> Result<Vec<Counts>> {
    let sheet = sheets::latest(read)?;
    let selection = Selection { cross: None, view: View::Above, include_proposed: false };
    tallies::axes(read, &sheet)?.iter().map(|axis| tallies::counts(read, &sheet, axis, &selection)).collect()
}

fn parents(read: &Read<'_>, wish: &Wish<'_>, story: &mut Story) -> Result<()> {
    let axis = wish.question.map(|q| q.0);
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
        let counted = wish.question.and_then(|(axis, target)| tally(&story.counts, axis, target, &cross.name));
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
fn inheritance(read: &Read<'_>, axis: &str, target: &str, story: &mut Story) -> Result<()> {
    let question = Question { axis, target, middle: None, view: View::Above };
    let (evidence, _) = evidence::gather(read, &sheets::latest(read)?, &question)?;
    let options = JudgeOptions::new(scoring::error_rate(read, &question)?.unwrap_or(DEFAULT_ERROR));
    let systems = SexSystems::Known(SexSystem::Xy);
    let model = |mode: Mode| Model::new(mode.with_recombination(DEFAULT_RECOMBINATION), systems);
    let models: Vec<Model> = built_in()?.into_iter().map(model).collect();
    let judgement = match judge(&evidence, &models, &options) {
        Ok(judgement) => judgement,
        Err(why) => {
            story.no_verdict = Some(why.to_string());
            return Ok(());
        }
    };
    let modes: Vec<_> = judgement.modes.iter().map(|m| m.weight).zip(models).collect();
    let living = living::living(read, &evidence, today())?;
    let plan = next_crosses(
        &Setup {
            evidence: &evidence,
            modes: &modes,
            error: &options.scoring(evidence.class_count()),
            ancestry: &pedigree::ancestry(read)?,
            living: &living,
            aim: Aim::Mode,
        },
        &|_, _| (),
    );
    // Without a living male and female there is no pair to weigh, which the page says.
    let pairs = plan.map(|p| p.pairs).unwrap_or_default();
    story.next = pairs
        .into_iter()
        .take(MOST_SHOWN)
        .map(|p| NextCross {
            sire: p.sire,
            dam: p.dam,
            bits: p.bits[2],
            odds: p.target_odds,
            fry_for_95: p.fry_for_95,
            inbreeding: p.inbreeding,
            warnings: p.warnings,
        })
        .collect();
    story.inheritance = Some(verdict(&judgement));
    Ok(())
}

fn verdict(judgement: &Judgement) -> Inheritance {
    let mut modes: Vec<ModeLine> = judgement
        .modes
        .iter()
        .map(|m| ModeLine {
            mode: m.mode.clone(),
            weight: m.weight,
            verdict: serde_json::to_value(m.verdict)
                .ok()
                .and_then(|v| v.as_str().map(str::to_owned))
                .unwrap_or_default(),
            because: m.because.clone(),
        })
        .collect();
    modes.sort_by(|a, b| b.weight.total_cmp(&a.weight));
    Inheritance {
        question: format!("{}: {}", judgement.axis, judgement.target),
        verdict: judgement.verdict.clone(),
        modes,
        cautions: judgement.cautions.iter().map(ToString::to_string).collect(),
    }
}

fn trends(read: &Read<'_>, album: &mut Album, wish: &Wish<'_>) -> Result<Vec<TrendStory>> {
    let lines: BTreeSet<String> = match wish.line {
        Some(line) => BTreeSet::from([line.to_owned()]),
        None => fish::list(read)?.into_iter().filter_map(|f| f.line).collect(),
    };
    let mut out = Vec::new();
    for line in lines {
        let input = generations::of_line(read, album, &line, wish.feature, View::Above)?;
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
            if region.number != 1 || !region.flags.is_empty() || out.len() >= MOST_SHOWN || seen.contains(&class) {
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
