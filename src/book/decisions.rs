//! The log of decisions: who, when, what, why; and taking the last one back, at any depth.

use rusqlite::{OptionalExtension, Row, params};
use serde::Serialize;

use super::{Read, Write};
use crate::error::{Error, Result};

/// Who decides, and when.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct By {
    /// The person's name as they gave it.
    pub name: String,
    /// The moment.
    pub at: jiff::Timestamp,
}

/// The number of a decision in the log.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub struct DecisionId(pub(super) i64);

/// One line of the log.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Decision {
    /// Its number.
    pub id: DecisionId,
    /// When, RFC 3339 in UTC.
    pub at: String,
    /// Who.
    pub by: String,
    /// What kind: `accept`, `correct`, `set-aside`, `undo`, …
    pub what: String,
    /// The reason given.
    pub why: Option<String>,
    /// The decision that this one took back.
    pub undoes: Option<DecisionId>,
    /// How many entries of the logs it made.
    pub entries: u32,
}

/// Opens a decision, to which the entries of the logs are then tied.
///
/// # Errors
/// An empty name; the book cannot be written to.
pub fn open(book: &Write<'_>, by: &By, what: &str, why: Option<&str>) -> Result<DecisionId> {
    insert(book, by, what, why, None)
}

const SELECT: &str = "SELECT d.*, (SELECT count(*) FROM change c WHERE c.decision_id = d.id)
    + (SELECT count(*) FROM departure p WHERE p.decision_id = d.id)
    + (SELECT count(*) FROM correction k WHERE k.decision_id = d.id) AS entries FROM decision d";

/// The latest decisions first, at most `limit`.
///
/// # Errors
/// The book cannot be read.
pub fn latest(book: &Read<'_>, limit: u32) -> Result<Vec<Decision>> {
    let mut statement = book.conn.prepare_cached(&format!("{SELECT} ORDER BY d.id DESC LIMIT ?1"))?;
    let rows = statement.query_map([limit], read)?;
    Ok(rows.collect::<rusqlite::Result<_>>()?)
}

/// One decision; `None` where there is none of this number.
///
/// # Errors
/// The book cannot be read.
pub fn get(book: &Read<'_>, id: DecisionId) -> Result<Option<Decision>> {
    let mut statement = book.conn.prepare_cached(&format!("{SELECT} WHERE d.id = ?1"))?;
    Ok(statement.query_row([id.0], read).optional()?)
}

fn read(row: &Row<'_>) -> rusqlite::Result<Decision> {
    Ok(Decision {
        id: DecisionId(row.get("id")?),
        at: row.get("made_at")?,
        by: row.get("made_by")?,
        what: row.get("what")?,
        why: row.get("why")?,
        undoes: row.get::<_, Option<i64>>("undoes")?.map(DecisionId),
        entries: row.get("entries")?,
    })
}

/// The number of the latest decision; 0 in a book without any. It tells whether somebody decided something since.
///
/// # Errors
/// The book cannot be read.
pub fn latest_number(book: &Read<'_>) -> Result<i64> {
    Ok(book.conn.query_row("SELECT coalesce(max(id), 0) FROM decision", [], |row| row.get(0))?)
}

/// Takes back the latest decision of `by.name` that still stands; `None` when none is left. What was said before it
/// holds again, except where another person has since said otherwise, and both stay in the log.
///
/// # Errors
/// The book cannot be written to.
pub fn undo(book: &Write<'_>, by: &By) -> Result<Option<Decision>> {
    let last: Option<i64> = book
        .conn
        .query_row(
            "SELECT d.id FROM decision d
             WHERE d.made_by = ?1 AND d.what NOT IN ('undo', 'import', 'record')
               AND NOT EXISTS (SELECT 1 FROM decision u WHERE u.undoes = d.id)
               AND (EXISTS (SELECT 1 FROM change c WHERE c.decision_id = d.id)
                    OR EXISTS (SELECT 1 FROM departure p WHERE p.decision_id = d.id)
                    OR EXISTS (SELECT 1 FROM correction k WHERE k.decision_id = d.id))
             ORDER BY d.id DESC LIMIT 1",
            [&by.name],
            |row| row.get(0),
        )
        .optional()?;
    let Some(last) = last else { return Ok(None) };
    let id = insert(book, by, "undo", None, Some(last))?;
    book.conn.execute(
        "INSERT INTO change (decision_id, region_id, fish_id, photo_id, field, axis, old, new)
         SELECT ?1, c.region_id, c.fish_id, c.photo_id, c.field, c.axis, c.new, c.old
         FROM change c WHERE c.decision_id = ?2 AND (c.field = 'opinion' OR c.new IS (
             SELECT l.new FROM change l
             WHERE (l.region_id = c.region_id OR l.fish_id = c.fish_id OR l.photo_id = c.photo_id)
               AND l.field = c.field AND l.axis = c.axis ORDER BY l.id DESC LIMIT 1)
           AND NOT EXISTS (
             SELECT 1 FROM change l JOIN decision d ON d.id = l.decision_id
             WHERE (l.region_id = c.region_id OR l.fish_id = c.fish_id OR l.photo_id = c.photo_id)
               AND l.field = c.field AND l.axis = c.axis AND l.id > c.id AND d.made_by <> ?3 AND d.what <> 'undo'
               AND NOT EXISTS (SELECT 1 FROM decision u WHERE u.undoes = d.id)))
         ORDER BY c.id DESC",
        params![id.0, last, by.name],
    )?;
    book.conn.execute(
        "INSERT INTO departure (decision_id, brood_id, day, what, sex, number)
         SELECT ?1, brood_id, day, what, sex, -number FROM departure WHERE decision_id = ?2",
        [id.0, last],
    )?;
    book.conn.execute(
        "INSERT INTO correction (decision_id, photo_id, edit, undoes)
         SELECT ?1, photo_id, edit, id FROM correction WHERE decision_id = ?2",
        [id.0, last],
    )?;
    Ok(latest(book, 1)?.pop())
}

fn insert(book: &Write<'_>, by: &By, what: &str, why: Option<&str>, undoes: Option<i64>) -> Result<DecisionId> {
    if by.name.trim().is_empty() {
        return Err(Error::usage("--by", "a decision needs a name", "give your name with --by NAME"));
    }
    book.conn.execute(
        "INSERT INTO decision (made_at, made_by, what, why, undoes) VALUES (?1, ?2, ?3, ?4, ?5)",
        params![by.at.to_string(), by.name, what, why, undoes],
    )?;
    Ok(DecisionId(book.conn.last_insert_rowid()))
}
