//! Counts out of a notebook: kept as they were counted, replaced by a later taking-in, and never added to what photos
//! of the same brood say on the same axis.

use std::collections::BTreeMap;

use rusqlite::params;

use super::broods::Brood;
use super::decisions::DecisionId;
use super::values::{letter, read_sex};
use super::{Read, Write};
use crate::error::{Error, Result};
use crate::units::Sex;

/// Fish counted by hand in one brood on one axis: number by class and sex.
pub type HandCount = BTreeMap<(String, Option<Sex>), u32>;

/// What became of counts by hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kept {
    /// They are the first of their brood and axis.
    New,
    /// They stand in the place of others.
    Replaced,
    /// The book has them just so.
    Known,
}

/// Keeps the counts of one brood and axis. The same counts again are no news; others replace them only when `replace`
/// says so, and stay on record.
///
/// # Errors
/// Other counts that are there already.
pub fn keep(
    book: &Write<'_>,
    decision: DecisionId,
    brood: &Brood,
    axis: &str,
    counts: &HandCount,
    replace: bool,
) -> Result<Kept> {
    let old = of_brood(book, brood)?.remove(axis);
    // A row of none says no more than no row.
    let some = |counts: &HandCount| counts.clone().into_iter().filter(|(_, n)| *n > 0).collect::<HandCount>();
    if old.as_ref().map(some) == Some(some(counts)) {
        return Ok(Kept::Known);
    }
    if old.is_some() && !replace {
        return Err(Error::failed(
            format!("brood {}", brood.label),
            format!("other counts by hand on axis {axis} are in the book already"),
            "check which are right; --replace puts these in their place",
        ));
    }
    for ((class, sex), number) in counts {
        book.conn.execute(
            "INSERT INTO hand_count (decision_id, brood_id, axis, class, sex, number) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
            params![decision.0, brood.id, axis, class, letter(*sex), number],
        )?;
    }
    Ok(if old.is_some() { Kept::Replaced } else { Kept::New })
}

/// The hand counts of a brood that hold, by axis.
///
/// # Errors
/// The book cannot be read.
pub fn of_brood(book: &Read<'_>, brood: &Brood) -> Result<BTreeMap<String, HandCount>> {
    let mut statement =
        book.conn.prepare_cached("SELECT h.* FROM current_hand_count h WHERE h.brood_id = ?1 ORDER BY h.id")?;
    let mut rows = statement.query([brood.id])?;
    let mut all: BTreeMap<String, HandCount> = BTreeMap::new();
    while let Some(row) = rows.next()? {
        let key = (row.get("class")?, read_sex(row, "sex")?);
        *all.entry(row.get("axis")?).or_default().entry(key).or_default() += row.get::<_, u32>("number")?;
    }
    Ok(all)
}
