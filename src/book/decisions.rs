//! The log of decisions: who, when, what, why; and taking the last one back, at any depth.

use rusqlite::{OptionalExtension, Row, params};
use serde::Serialize;

use super::broods::Brood;
use super::photos::Photo;
use super::{Read, Write, aside};
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

/// Among which decisions the latest is sought.
#[derive(Debug, Clone, Copy)]
pub enum Within<'a> {
    /// All of them.
    Everything,
    /// Those about the fish of a brood's photos, and about young that left it.
    Brood(&'a Brood),
    /// Those about one photo and its fish.
    Photo(&'a Photo),
}

/// The condition on decisions `d` that they still say what they said: none of them takes one back, none was taken back.
pub(super) const STANDS: &str = "d.what <> 'undo' AND NOT EXISTS (SELECT 1 FROM decision u WHERE u.undoes = d.id)";

/// The condition on decisions `d` that they made an entry that can be taken back, of brood ?2 or photo ?3 where one is given.
const MADE_ENTRIES: &str = "(EXISTS (SELECT 1 FROM change c
        LEFT JOIN region r ON r.id = c.region_id LEFT JOIN photo p ON p.id = coalesce(c.photo_id, r.photo_id)
        LEFT JOIN sitting s ON s.id = p.sitting_id
        WHERE c.decision_id = d.id AND (?2 IS NULL OR s.brood_id = ?2) AND (?3 IS NULL OR p.id = ?3))
    OR EXISTS (SELECT 1 FROM correction k JOIN photo p ON p.id = k.photo_id LEFT JOIN sitting s ON s.id = p.sitting_id
        WHERE k.decision_id = d.id AND (?2 IS NULL OR s.brood_id = ?2) AND (?3 IS NULL OR p.id = ?3))
    OR EXISTS (SELECT 1 FROM departure l WHERE l.decision_id = d.id AND (?2 IS NULL OR l.brood_id = ?2) AND ?3 IS NULL))";

/// [`undo_within`] everything.
///
/// # Errors
/// As there.
pub fn undo(book: &Write<'_>, by: &By) -> Result<Option<Decision>> {
    undo_within(book, by, Within::Everything)
}

/// Takes back the latest decision of `by.name` that still stands, where a brood or a photo is given the latest about that;
/// `None` when none is left. What was said last and still stands holds again, and all of it stays in the log.
///
/// # Errors
/// Within everything the latest act changed a record or took in a table, which is not taken back but put right by its own command: it
/// is named, and no older decision is taken back in its place. A photo would stand again whose brood is set aside. The book cannot be written to.
pub fn undo_within(book: &Write<'_>, by: &By, within: Within<'_>) -> Result<Option<Decision>> {
    let (brood, photo) = match within {
        Within::Everything => (None, None),
        Within::Brood(brood) => (Some(brood.id), None),
        Within::Photo(photo) => (None, Some(photo.id)),
    };
    let also = if matches!(within, Within::Everything) {
        "d.what IN ('import', 'record') AND d.why IS NOT NULL OR"
    } else {
        ""
    };
    let last = book
        .conn
        .query_row(
            &format!(
                "SELECT d.id FROM decision d WHERE d.made_by = ?1 AND {STANDS}
                 AND ({also} d.what NOT IN ('import', 'record') AND {MADE_ENTRIES}) ORDER BY d.id DESC LIMIT 1"
            ),
            params![by.name, brood, photo],
            |row| row.get(0).map(DecisionId),
        )
        .optional()?;
    let Some(last) = last.map(|id| get(book, id)).transpose()?.flatten() else { return Ok(None) };
    if ["import", "record"].contains(&last.what.as_str()) {
        return Err(not_taken_back(book, &last));
    }
    let id = insert(book, by, "undo", None, Some(last.id.0))?;
    take_back(book, id, last.id, &by.name)?;
    aside::refuse_photos(book, id)?;
    get(book, id)
}

/// Writes the entries that take those of decision `last` back.
fn take_back(book: &Write<'_>, undo: DecisionId, last: DecisionId, by: &str) -> Result<()> {
    let latest = |what: &str, which: &str| {
        format!(
            "(SELECT {what} FROM change l JOIN decision d ON d.id = l.decision_id
              WHERE (l.region_id = c.region_id OR l.fish_id = c.fish_id OR l.photo_id = c.photo_id)
                AND l.field = c.field AND l.axis = c.axis AND (c.field <> 'opinion' OR d.made_by = ?3) AND {which}
              ORDER BY l.id DESC LIMIT 1)"
        )
    };
    let (now, before) = (latest("l.new", "TRUE"), latest("l.new", STANDS));
    // The day on which a fish left is the reason; it may be all that was said anew.
    let (day_now, day_before) = (latest("d.why", &format!("(d.id = ?2 OR {STANDS})")), latest("d.why", STANDS));
    book.conn.execute(
        &format!(
            "INSERT INTO change (decision_id, region_id, fish_id, photo_id, field, axis, old, new)
             SELECT ?1, region_id, fish_id, photo_id, field, axis, now, before FROM (
                 SELECT DISTINCT c.region_id, c.fish_id, c.photo_id, c.field, c.axis, {now} AS now, {before} AS before,
                     c.fish_id IS NOT NULL AND c.field = 'gone' AND {day_now} IS NOT {day_before} AS other_day
                 FROM change c WHERE c.decision_id = ?2)
             WHERE now IS NOT before OR other_day"
        ),
        params![undo.0, last.0, by],
    )?;
    book.conn.execute(
        "INSERT INTO departure (decision_id, brood_id, day, what, sex, number)
         SELECT ?1, brood_id, day, what, sex, -number FROM departure WHERE decision_id = ?2",
        [undo.0, last.0],
    )?;
    book.conn.execute(
        "INSERT INTO correction (decision_id, photo_id, edit, undoes)
         SELECT ?1, photo_id, edit, id FROM correction WHERE decision_id = ?2",
        [undo.0, last.0],
    )?;
    Ok(())
}

/// What is said where a person's latest act is none that can be taken back.
fn not_taken_back(book: &Read<'_>, last: &Decision) -> Error {
    let why = last.why.as_deref().unwrap_or_default();
    let (what, mend) = if last.what == "import" {
        let mend = "`broodhue fish set`, `fish left` and `fish set-aside` put its fish right; `import counts --replace` takes in \
                    another table of counts in its place";
        (format!("the table {why} was taken in"), mend.to_owned())
    } else {
        let mend = aside::way_back(book, why).map_or_else(
            || "`broodhue fish set`, `cross set`, `brood set` or `score PHOTO --instead` puts it right".to_owned(),
            |command| format!("`{command}` puts it right"),
        );
        (format!("'{why}' was written down"), mend)
    };
    Error::failed(
        &last.by,
        format!("did this last: {what}, which undo does not take back; nothing was taken back"),
        format!("{mend}; for what was decided before it of a brood: broodhue confirm --brood B --undo"),
    )
}

/// Refuses setting something aside with an empty reason.
///
/// # Errors
/// There is a reason and it says nothing.
pub(super) fn check_reason(place: &str, reason: Option<&str>) -> Result<()> {
    match reason {
        Some(reason) if reason.trim().is_empty() => {
            Err(Error::usage(place, "setting aside needs a reason", "say in a few words why"))
        }
        _ => Ok(()),
    }
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
