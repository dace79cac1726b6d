//! From the book to what [`crate::counts`] counts: for one axis, which fish are scored, which are only proposed, which
//! are in no class and why.
//!
//! Of a brood's sittings the latest counts, its parts added up; fish that left after an earlier sitting count with what
//! was said of them then. A brood counted by hand and from photos counts from the photos.

use std::collections::BTreeMap;

use jiff::civil::Date;
use rusqlite::params;

use super::broods::{self, Brood};
use super::seen::{Seen, seen};
use super::values::{read_day, read_sex};
use super::{Read, hand, paternity};
use crate::counts::{self, Counts, Open, Place, Scored, Suggested, Why};
use crate::error::{Error, Result};
use crate::score::Confirmed;
use crate::sheet::{self, NOT_SHOWN, Sheet, UNDECIDED};
use crate::units::{Sex, View};

/// What is to be counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Selection<'a> {
    /// Only this cross.
    pub cross: Option<&'a str>,
    /// Photos from this view.
    pub view: View,
    /// Whether unconfirmed proposals are counted too, in a column of their own.
    pub include_proposed: bool,
}

/// The fish of one brood on one axis.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Tally {
    /// With a confirmed class.
    pub scored: Vec<Scored>,
    /// With a proposal only.
    pub suggested: Vec<Suggested>,
    /// In no class.
    pub open: Vec<Open>,
    /// Of fish of the latest sitting with a class and a proposal: both, the confirmed one first, and how many.
    pub pairs: BTreeMap<(String, String), u32>,
    /// What a reader should know.
    pub warnings: Vec<String>,
}

/// The names of all axes: those of the sheet first, in its order, then those counted by hand alone.
///
/// # Errors
/// The book cannot be read.
pub fn axes(book: &Read<'_>, sheet: &Sheet) -> Result<Vec<String>> {
    let mut names: Vec<String> = sheet.axes.iter().map(|a| a.name.clone()).collect();
    let mut statement = book.conn.prepare_cached(
        "SELECT DISTINCT axis FROM hand_count
         UNION SELECT DISTINCT axis FROM change WHERE field = 'class' AND region_id IS NOT NULL ORDER BY axis",
    )?;
    for axis in statement.query_map([], |row| row.get::<_, String>(0))? {
        let axis = axis?;
        if !names.contains(&axis) {
            names.push(axis);
        }
    }
    Ok(names)
}

/// The broods that were asked for with their fish on one axis, in the order of writing down.
///
/// # Errors
/// An axis that is neither in the sheet nor in the book; an unknown cross.
pub fn tallies(book: &Read<'_>, sheet: &Sheet, axis: &str, selection: &Selection<'_>) -> Result<Vec<(Brood, Tally)>> {
    check_axis(book, sheet, axis)?;
    let of = |brood: Brood| Ok((brood.clone(), of_brood(book, sheet, axis, &brood, selection.view)?));
    selected(book, selection)?.into_iter().map(of).collect()
}

/// The counts of one axis over the selected broods.
///
/// # Errors
/// As [`tallies`].
pub fn counts(book: &Read<'_>, sheet: &Sheet, axis: &str, selection: &Selection<'_>) -> Result<Counts> {
    let broods = tallies(book, sheet, axis, selection)?;
    added_up(book, axis, broods, selection)
}

/// The tallies of broods added up; fish in doubt count for no cross.
///
/// # Errors
/// The book cannot be read.
pub fn added_up(book: &Read<'_>, axis: &str, broods: Vec<(Brood, Tally)>, selection: &Selection<'_>) -> Result<Counts> {
    let mut all = Tally::default();
    for (brood, mut one) in broods {
        if let Some(doubt) = paternity::of_brood(book, &brood)?.why_not_one() {
            set_in_doubt(&mut one, &doubt, &brood);
        }
        all.scored.extend(one.scored);
        all.suggested.extend(one.suggested);
        all.open.extend(one.open);
        all.warnings.extend(one.warnings);
    }
    let mut result = if selection.include_proposed {
        all.open.retain(|o| o.why != Why::Unconfirmed);
        counts::count_with_proposed(axis, &all.scored, &all.suggested, &all.open)
    } else {
        counts::count(axis, &all.scored, &all.open)
    };
    result.warnings = all.warnings;
    Ok(result)
}

/// The fish of one brood on one axis, by the rules at the head of this file.
///
/// # Errors
/// The book cannot be read.
pub fn of_brood(book: &Read<'_>, sheet: &Sheet, axis: &str, brood: &Brood, view: View) -> Result<Tally> {
    let photos = photos(book, brood, view)?;
    let mut tally = Tally { warnings: photos.warnings.clone(), ..Tally::default() };
    let latest = photos.days.values().max().copied();
    for fish in seen(book, axis, brood, latest)? {
        let Some(&day) = photos.days.get(&fish.photo) else { continue };
        if let (true, Some(said), Some(proposed)) = (Some(day) == latest, &fish.score, &fish.proposal) {
            *tally.pairs.entry((said.class().to_owned(), proposed.class.clone())).or_default() += 1;
        }
        if Some(day) == latest || fish.gone.is_some() {
            sort_in(&mut tally, &Case { sheet, axis, brood, day, fish: &fish });
        }
    }
    if photos.days.is_empty() || tally.scored.is_empty() {
        by_hand(book, axis, brood, &mut tally)?;
    } else if hand::of_brood(book, brood)?.contains_key(axis) {
        tally.warnings.push(format!(
            "brood {} was counted by hand and from photos on {axis}: the photos count, the count by hand stays on record",
            brood.label
        ));
    }
    left(book, brood, latest, &mut tally)?;
    if unknown_age(sheet, axis, brood) && !tally.scored.is_empty() && latest.is_some() {
        let said =
            format!("brood {}: the day of the drop is not known, so its fish are taken as old enough", brood.label);
        tally.warnings.push(said);
    }
    Ok(tally)
}

fn check_axis(book: &Read<'_>, sheet: &Sheet, axis: &str) -> Result<()> {
    let known = axes(book, sheet)?;
    if known.iter().any(|a| a == axis) {
        return Ok(());
    }
    Err(Error::usage(
        axis,
        "there is no axis of this name in the sheet or the book",
        format!("axes: {}", known.join(", ")),
    ))
}

/// The broods to count, in the order of writing down.
fn selected(book: &Read<'_>, selection: &Selection<'_>) -> Result<Vec<Brood>> {
    if let Some(cross) = selection.cross {
        super::crosses::known_id(book, cross)?;
    }
    let all = broods::list(book)?;
    Ok(all.into_iter().filter(|b| selection.cross.is_none_or(|c| b.cross == c)).collect())
}

pub(super) struct Photos {
    /// Day of the sitting by the photo's hash, of one view.
    pub(super) days: BTreeMap<String, Date>,
    warnings: Vec<String>,
}

/// The photos of a brood from one view that are not set aside.
pub(super) fn photos(book: &Read<'_>, brood: &Brood, view: View) -> Result<Photos> {
    let mut statement = book.conn.prepare_cached(
        "SELECT p.hash, p.view, s.day FROM photo p JOIN sitting s ON s.id = p.sitting_id
         WHERE s.brood_id = ?1 AND NOT EXISTS (
             SELECT 1 FROM current_photo a WHERE a.photo_id = p.id AND a.field = 'aside' AND a.value IS NOT NULL)
         ORDER BY p.id",
    )?;
    let mut rows = statement.query([brood.id])?;
    let (mut days, mut other) = (BTreeMap::new(), 0);
    while let Some(row) = rows.next()? {
        let found: String = row.get("view")?;
        match read_day(row, "day")? {
            Some(day) if found == super::photos::view_word(view) => {
                days.insert(row.get("hash")?, day);
            }
            _ => other += 1,
        }
    }
    let mut warnings = Vec::new();
    if other > 0 {
        warnings.push(format!("brood {}: {other} photos from another view are not counted", brood.label));
    }
    Ok(Photos { days, warnings })
}

/// One fish and all that decides where it is counted.
pub(super) struct Case<'a> {
    pub(super) sheet: &'a Sheet,
    pub(super) axis: &'a str,
    pub(super) brood: &'a Brood,
    pub(super) day: Date,
    pub(super) fish: &'a Seen,
}

impl Case<'_> {
    fn place(&self) -> Place {
        place(self.brood, Some(self.day), self.fish.sex)
    }

    /// Days since the last day on which it can have been dropped.
    fn age_days(&self) -> Option<i64> {
        let dropped = self.brood.dropped_to.or(self.brood.dropped_from)?;
        Some(i64::from(dropped.until(self.day).map_or(0, |span| span.get_days())))
    }

    fn rule(&self) -> Option<&sheet::Axis> {
        self.sheet.axis(self.axis)
    }

    fn unsettled(&self) -> bool {
        let limit = self.rule().and_then(|a| a.settled_age_days).map(i64::from);
        limit.zip(self.age_days()).is_some_and(|(limit, age)| age < limit)
    }

    /// Whether the axis does not show, or not yet, in this fish.
    fn hidden(&self) -> Option<Why> {
        let rule = self.rule()?;
        if rule.males_only && self.fish.sex == Some(Sex::Female) {
            return Some(Why::NotShown);
        }
        let young = rule.from_age_days.map(i64::from).zip(self.age_days()).is_some_and(|(from, age)| age < from);
        (young || (rule.males_only && self.fish.sex.is_none())).then_some(Why::NotShownYet)
    }
}

/// Puts one fish where it belongs; the first reason that holds decides.
pub(super) fn sort_in(tally: &mut Tally, case: &Case<'_>) {
    let Seen { number, gone, score, proposal, .. } = case.fish;
    let class = score.as_ref().map(Confirmed::class).or(proposal.as_ref().map(|p| p.class.as_str()));
    let why = if case.fish.set_aside {
        Why::SetAside
    } else if let Some(hidden) = case.hidden() {
        hidden
    } else if class == Some(NOT_SHOWN) {
        Why::NotShownYet
    } else if case.unsettled() {
        gone.unwrap_or(Why::Unsettled)
    } else if let Some(score) = score.as_ref().filter(|s| s.counts()) {
        tally.scored.push(Scored { place: case.place(), score: score.clone(), number: *number });
        return;
    } else if let Some(gone) = gone {
        *gone
    } else if score.is_some() || class.is_none_or(|c| c == UNDECIDED) {
        Why::Undecided
    } else {
        Why::Unconfirmed
    };
    if why == Why::Unconfirmed
        && let Some(proposal) = proposal
    {
        tally.suggested.push(Suggested { place: case.place(), proposal: proposal.clone() });
    }
    tally.open.push(Open { place: case.place(), why, number: *number });
}

fn place(brood: &Brood, sitting: Option<Date>, sex: Option<Sex>) -> Place {
    Place { cross: brood.cross.clone(), brood: brood.name.clone(), sitting, sex }
}

/// Counts by hand take the place of photos that say nothing on this axis; what the photos left open is the same fish.
fn by_hand(book: &Read<'_>, axis: &str, brood: &Brood, tally: &mut Tally) -> Result<()> {
    let Some(counted) = hand::of_brood(book, brood)?.remove(axis) else { return Ok(()) };
    if !tally.open.is_empty() {
        tally.warnings.push(format!(
            "brood {}: the count by hand on {axis} is used until a fish of its photos is confirmed on this axis",
            brood.label
        ));
    }
    let (warnings, pairs) = (std::mem::take(&mut tally.warnings), std::mem::take(&mut tally.pairs));
    *tally = Tally { warnings, pairs, ..Tally::default() };
    for ((class, sex), number) in counted {
        if class == UNDECIDED || class == NOT_SHOWN {
            let why = if class == UNDECIDED { Why::Undecided } else { Why::NotShownYet };
            tally.open.push(Open { place: place(brood, None, sex), why, number });
        } else {
            let score = Confirmed::said_by("count by hand", axis, &class)?;
            tally.scored.push(Scored { place: place(brood, None, sex), score, number });
        }
    }
    Ok(())
}

/// Young that left unscored on or before the latest sitting, and young that were dropped but never seen.
fn left(book: &Read<'_>, brood: &Brood, latest: Option<Date>, tally: &mut Tally) -> Result<()> {
    let mut statement = book.conn.prepare_cached(
        "SELECT what, sex, sum(number) AS number FROM departure
         WHERE brood_id = ?1 AND (?2 IS NULL OR day <= ?2) GROUP BY what, sex HAVING sum(number) > 0",
    )?;
    let mut rows = statement.query(params![brood.id, latest.map(|d| d.to_string())])?;
    while let Some(row) = rows.next()? {
        let what: String = row.get("what")?;
        let why = if what == "moved" { Why::Moved } else { Why::Died };
        let place = place(brood, latest, read_sex(row, "sex")?);
        tally.open.push(Open { place, why, number: row.get("number")? });
    }
    let set_aside = |o: &&Open| o.why != Why::SetAside;
    let seen = tally.scored.iter().map(|s| s.number).sum::<u32>()
        + tally.open.iter().filter(set_aside).map(|o| o.number).sum::<u32>();
    let missing = brood.young.unwrap_or(0).saturating_sub(seen);
    if missing > 0 && seen > 0 {
        tally.open.push(Open { place: place(brood, latest, None), why: Why::NotSeen, number: missing });
    }
    Ok(())
}

/// Fish whose parents are in doubt say nothing about a cross.
fn set_in_doubt(tally: &mut Tally, doubt: &str, brood: &Brood) {
    let number: u32 = tally.scored.iter().map(|s| s.number).sum();
    if number == 0 {
        return;
    }
    tally.warnings.push(format!("brood {} is left out: {doubt}", brood.label));
    for scored in std::mem::take(&mut tally.scored) {
        tally.open.push(Open { place: scored.place, why: Why::DoubtfulPaternity, number: scored.number });
    }
    tally.suggested.clear();
}

fn unknown_age(sheet: &Sheet, axis: &str, brood: &Brood) -> bool {
    brood.dropped_from.is_none() && sheet.axis(axis).is_some_and(|a| a.settled_age_days.is_some())
}
