//! The one log under everything a person says about a region, a fish or a photo: from what to what.

use rusqlite::{OptionalExtension, params};

use super::decisions::DecisionId;
use super::{Read, Write};
use crate::error::Result;

/// What an entry speaks of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Target {
    /// A root region: one fish of one photo.
    Region(i64),
    /// A named fish.
    Fish(i64),
    /// A photo.
    Photo(i64),
}

/// What an entry says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Field<'a> {
    /// The class on an axis.
    Class(&'a str),
    /// A second scorer's class on an axis.
    Opinion(&'a str),
    /// The sex.
    Sex,
    /// Set aside, with the reason as the value.
    Aside,
    /// Moved or died.
    Gone,
}

impl<'a> Field<'a> {
    fn columns(self) -> (&'static str, &'a str) {
        match self {
            Self::Class(axis) => ("class", axis),
            Self::Opinion(axis) => ("opinion", axis),
            Self::Sex => ("sex", ""),
            Self::Aside => ("aside", ""),
            Self::Gone => ("gone", ""),
        }
    }
}

impl Target {
    fn columns(self) -> (&'static str, i64) {
        match self {
            Self::Region(id) => ("region_id", id),
            Self::Fish(id) => ("fish_id", id),
            Self::Photo(id) => ("photo_id", id),
        }
    }
}

/// What holds today; an opinion's is the latest of `by` alone.
pub(super) fn current(book: &Read<'_>, target: Target, field: Field<'_>, by: &str) -> Result<Option<String>> {
    let (column, id) = target.columns();
    let (field, axis) = field.columns();
    let sql = format!(
        "SELECT c.new FROM change c JOIN decision d ON d.id = c.decision_id
         WHERE c.{column} = ?1 AND c.field = ?2 AND c.axis = ?3 AND (c.field <> 'opinion' OR d.made_by = ?4)
         ORDER BY c.id DESC LIMIT 1"
    );
    let mut statement = book.conn.prepare_cached(&sql)?;
    Ok(statement.query_row(params![id, field, axis, by], |row| row.get(0)).optional()?.flatten())
}

/// Writes an entry, with what held before; says whether that changed anything. What already holds makes no entry.
pub(super) fn record(
    book: &Write<'_>,
    decision: DecisionId,
    by: &str,
    target: Target,
    field: Field<'_>,
    new: Option<&str>,
) -> Result<bool> {
    let old = current(book, target, field, by)?;
    if old.as_deref() == new {
        return Ok(false);
    }
    write(book, decision, target, field, (old.as_deref(), new))?;
    Ok(true)
}

/// Writes an entry even where the same was said here before: something said elsewhere since then holds instead, as a portrait's class does.
pub(super) fn say(
    book: &Write<'_>,
    decision: DecisionId,
    by: &str,
    target: Target,
    field: Field<'_>,
    new: Option<&str>,
) -> Result<()> {
    let old = current(book, target, field, by)?;
    write(book, decision, target, field, (old.as_deref(), new))
}

/// Writes an entry: from what to what.
fn write(
    book: &Write<'_>,
    decision: DecisionId,
    target: Target,
    field: Field<'_>,
    (old, new): (Option<&str>, Option<&str>),
) -> Result<()> {
    let (column, id) = target.columns();
    let (field, axis) = field.columns();
    let sql =
        format!("INSERT INTO change (decision_id, {column}, field, axis, old, new) VALUES (?1, ?2, ?3, ?4, ?5, ?6)");
    book.conn.prepare_cached(&sql)?.execute(params![decision.0, id, field, axis, old, new])?;
    Ok(())
}
