//! Scoring by a person: agreeing to proposals, correcting, setting aside, moved and died; and a second scorer's opinion.

use rusqlite::{OptionalExtension, params};
use serde::Serialize;

use super::decisions::{self, By, DecisionId};
use super::fish::{self, Gone};
use super::log::{Field, Target, current, record, say};
use super::regions::{Region, RegionId, said_by};
use super::{Read, Write, sheets};
use crate::error::{Error, Result};
use crate::score::Confirmed;
use crate::sheet::{NOT_SHOWN, Proposal, Sheet, UNDECIDED};
use crate::units::Sex;

/// A proposal that a person may agree to.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Acceptable {
    /// The fish.
    pub region: RegionId,
    /// Hash of its photo.
    pub photo: String,
    /// Its number there.
    pub n: u32,
    /// What is proposed.
    pub proposal: Proposal,
}

/// What a person says about one fish.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Said {
    /// Classes by axis.
    pub classes: Vec<(String, String)>,
    /// Its sex.
    pub sex: Option<Sex>,
}

/// The open proposals at or above a confidence, of fish that are not set aside and have no score on that axis yet.
pub fn acceptable(regions: &[Region], at_least: f64) -> Vec<Acceptable> {
    let here = regions.iter().filter(|r| r.set_aside.is_none());
    here.flat_map(|r| {
        let open = r.proposals.iter().filter(move |p| {
            p.confidence >= at_least && p.class != UNDECIDED && p.class != NOT_SHOWN && !r.classes.contains_key(&p.axis)
        });
        open.map(|p| Acceptable { region: r.id, photo: r.photo.clone(), n: r.n, proposal: p.clone() })
    })
    .collect()
}

/// How often the sheet could not tell, on one axis or on all: of fish that are not set aside and have no score there.
pub fn undecided(regions: &[Region], axis: Option<&str>) -> usize {
    let here = regions.iter().filter(|r| r.set_aside.is_none());
    let open = |r: &Region| {
        let asked = r.proposals.iter().filter(|p| axis.is_none_or(|axis| p.axis == axis));
        asked.filter(|p| p.class == UNDECIDED && !r.classes.contains_key(&p.axis)).count()
    };
    here.map(open).sum()
}

/// Makes scores of proposals that a person agrees to, as one decision; `None` when there is nothing to agree to.
///
/// # Errors
/// The book cannot be written to.
pub fn accept(book: &Write<'_>, chosen: &[Acceptable], why: Option<&str>, by: &By) -> Result<Option<DecisionId>> {
    if chosen.is_empty() {
        return Ok(None);
    }
    let decision = decisions::open(book, by, "accept", why)?;
    for one in chosen {
        score(book, decision, by, one.region, &Confirmed::agreed(&one.proposal, &by.name)?)?;
    }
    Ok(Some(decision))
}

/// Writes down what a person says about one fish. Says whether that changed anything.
///
/// # Errors
/// An axis or class that the book's sheet does not have.
pub fn correct(book: &Write<'_>, region: RegionId, said: &Said, why: Option<&str>, by: &By) -> Result<bool> {
    let sheet = sheets::rules(book)?;
    let mut scores = Vec::new();
    for (axis, class) in &said.classes {
        check_class(&sheet, axis, class)?;
        let score = Confirmed::said_by(&by.name, axis, class)?;
        if is_new(book, by, region, &score)? {
            scores.push(score);
        }
    }
    let target = Target::Region(region.0);
    let known = current(book, target, Field::Sex, &by.name)?;
    let sex = said.sex.map(Sex::letter).filter(|letter| known.as_deref() != Some(letter));
    if scores.is_empty() && sex.is_none() {
        return Ok(false);
    }
    let decision = decisions::open(book, by, "correct", why)?;
    for one in &scores {
        score(book, decision, by, region, one)?;
    }
    if let Some(letter) = sex {
        record(book, decision, &by.name, target, Field::Sex, Some(letter))?;
    }
    Ok(true)
}

/// Sets one fish of a photo aside with a reason, or brings it back (`None`). Says whether that changed anything.
///
/// # Errors
/// An empty reason; the book cannot be written to.
pub fn set_aside(book: &Write<'_>, region: RegionId, reason: Option<&str>, by: &By) -> Result<bool> {
    decisions::check_reason("fish", reason)?;
    let what = if reason.is_some() { "set-aside" } else { "bring-back" };
    decide(book, by, (what, reason), region, Field::Aside, reason)
}

/// Records that one fish of a photo has since moved or died. Says whether that changed anything.
///
/// # Errors
/// The book cannot be written to.
pub fn set_gone(book: &Write<'_>, region: RegionId, what: Gone, why: Option<&str>, by: &By) -> Result<bool> {
    decide(book, by, (what.word(), why), region, Field::Gone, Some(what.word()))
}

/// A second scorer's class, which leaves the first one's alone.
///
/// # Errors
/// An axis or class that the book's sheet does not have.
pub fn opinion(book: &Write<'_>, region: RegionId, axis: &str, class: &str, by: &By) -> Result<bool> {
    check_class(&sheets::rules(book)?, axis, class)?;
    decide(book, by, ("opinion", None), region, Field::Opinion(axis), Some(class))
}

/// Says one thing of a fish as a decision of its own, where it does not hold already. Says whether that changed anything.
fn decide(
    book: &Write<'_>,
    by: &By,
    (what, why): (&str, Option<&str>),
    region: RegionId,
    field: Field<'_>,
    new: Option<&str>,
) -> Result<bool> {
    let target = Target::Region(region.0);
    if current(book, target, field, &by.name)?.as_deref() == new {
        return Ok(false);
    }
    let decision = decisions::open(book, by, what, why)?;
    record(book, decision, &by.name, target, field, new)
}

/// One fish that two people scored on one axis.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct TwoScores {
    /// The fish.
    pub region: RegionId,
    /// What counts.
    pub first: Confirmed,
    /// The second scorer's opinion.
    pub second: Confirmed,
}

/// Every fish of the book that `second` scored as a second scorer on `axis` and that also has a score.
///
/// # Errors
/// The book cannot be read.
pub fn two_scores(book: &Read<'_>, axis: &str, second: &str) -> Result<Vec<TwoScores>> {
    let mut statement = book.conn.prepare_cached(&format!(
        "SELECT s.region_id, s.value, {}, o.new
         FROM current_region s JOIN decision d ON d.id = s.decision_id
         JOIN change o ON o.id = (
             SELECT max(l.id) FROM change l JOIN decision d ON d.id = l.decision_id
             WHERE l.region_id = s.region_id AND l.field = 'opinion' AND l.axis = s.axis AND d.made_by = ?2)
         WHERE s.field = 'class' AND s.axis = ?1 AND s.value IS NOT NULL AND o.new IS NOT NULL
         ORDER BY s.region_id",
        said_by()
    ))?;
    let rows = statement.query_map(params![axis, second], |row| {
        Ok((row.get::<_, i64>(0)?, row.get::<_, String>(1)?, row.get::<_, String>(2)?, row.get::<_, String>(3)?))
    })?;
    let mut out = Vec::new();
    for row in rows {
        let (region, class, by, other) = row?;
        out.push(TwoScores {
            region: RegionId(region),
            first: Confirmed::said_by(&by, axis, &class)?,
            second: Confirmed::said_by(second, axis, &other)?,
        });
    }
    Ok(out)
}

fn score(book: &Write<'_>, decision: DecisionId, by: &By, region: RegionId, score: &Confirmed) -> Result<()> {
    say(book, decision, &by.name, Target::Region(region.0), Field::Class(score.axis()), Some(score.class()))
}

/// Whether a score says anything that does not hold already; so does the same once more of a portrait, whose fish has been given another
/// class since.
fn is_new(book: &Read<'_>, by: &By, region: RegionId, score: &Confirmed) -> Result<bool> {
    let class = Some(score.class());
    if current(book, Target::Region(region.0), Field::Class(score.axis()), &by.name)?.as_deref() != class {
        return Ok(true);
    }
    let of_fish = portrait_of(book, region)?.map(|fish| fish::get(book, &fish)).transpose()?;
    Ok(of_fish.is_some_and(|fish| fish.classes.get(score.axis()).map(String::as_str) != class))
}

/// The fish whose portrait a region is of; `None` for one of a tray.
fn portrait_of(book: &Read<'_>, region: RegionId) -> Result<Option<String>> {
    let mut statement = book.conn.prepare_cached(
        "SELECT f.name FROM region r JOIN photo p ON p.id = r.photo_id JOIN fish f ON f.id = p.fish_id WHERE r.id = ?1",
    )?;
    Ok(statement.query_row([region.0], |row| row.get(0)).optional()?)
}

/// Holds a class to the sheet; `undecided` and `not shown` can always be said.
fn check_class(sheet: &Sheet, axis: &str, class: &str) -> Result<()> {
    let Some(known) = sheet.axis(axis) else {
        let names: Vec<&str> = sheet.axes.iter().map(|a| a.name.as_str()).collect();
        return Err(Error::usage(
            axis,
            "the sheet has no axis of this name",
            format!("its axes: {}", names.join(", ")),
        ));
    };
    if class == UNDECIDED || class == NOT_SHOWN || known.classes.iter().any(|c| c.name == class) {
        return Ok(());
    }
    let names: Vec<&str> = known.classes.iter().map(|c| c.name.as_str()).collect();
    let hint = format!("its classes: {}, {UNDECIDED}, {NOT_SHOWN}", names.join(", "));
    Err(Error::usage(format!("{axis}={class}"), format!("the axis {axis} has no class {class}"), hint))
}
