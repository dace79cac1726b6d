//! The fish of each photo sorted and added up, kept in step with the log: triggers note which photos a transaction
//! touched, and those are sorted anew before it is kept.
//!
//! The log can be read instead (for photos that are not sorted yet); `book check` holds one against the other.

use rusqlite::types::Value;
use rusqlite::{Connection, Row, Statement};

use super::seen::{Alike, Kind, why_gone};
use super::values::sex_of;
use super::{Read, Write};
use crate::error::Result;
use crate::score::Confirmed;

/// The rows of a photo out of its regions, their proposals and the log.
const SORTED: &str = include_str!("sort.sql");

const SORT: &str = concat!("INSERT INTO photo_tally ", include_str!("sort.sql"));

/// Sorts the photos anew that something has touched.
pub(super) fn sort(conn: &Connection) -> rusqlite::Result<()> {
    let mut statement = conn.prepare_cached("SELECT photo_id FROM photo_unsorted")?;
    let photos = statement.query_map([], |row| row.get(0))?.collect::<rusqlite::Result<Vec<i64>>>()?;
    for photo in &photos {
        conn.prepare_cached("DELETE FROM photo_tally WHERE photo_id = ?1")?.execute([photo])?;
        conn.prepare_cached(SORT)?.execute([photo])?;
    }
    if !photos.is_empty() {
        conn.execute("DELETE FROM photo_unsorted", [])?;
    }
    Ok(())
}

/// Whether some photo waits to be sorted: after a step up from an older layout, or when another program wrote here.
pub(super) fn is_due(conn: &Connection) -> rusqlite::Result<bool> {
    conn.query_row("SELECT EXISTS (SELECT 1 FROM photo_unsorted)", [], |row| row.get(0))
}

/// Whether one photo waits to be sorted.
pub(super) fn is_unsorted(book: &Read<'_>, photo: i64) -> Result<bool> {
    Ok(book.conn.prepare_cached("SELECT 1 FROM photo_unsorted WHERE photo_id = ?1")?.exists([photo])?)
}

/// For a book of the first layout that cannot be written to: today's tables beside it, with every photo unsorted, so that
/// the log is read.
pub(super) fn stand_in(conn: &Connection) -> rusqlite::Result<()> {
    conn.execute_batch(
        "PRAGMA temp_store = memory;
         CREATE TEMP TABLE photo_tally (photo_id, axis, sex, aside, gone, class, said_by, proposed, regions, number);
         CREATE TEMP TABLE photo_unsorted (photo_id INTEGER PRIMARY KEY);
         INSERT INTO photo_unsorted SELECT id FROM photo;
         CREATE TEMP TABLE scored_axis AS
             SELECT DISTINCT axis FROM change WHERE region_id IS NOT NULL AND field = 'class';",
    )
}

/// The fish of a photo as they were sorted.
pub(super) fn sorted(book: &Read<'_>, photo: i64, axis: &str) -> Result<Vec<Alike>> {
    let mut statement = book.conn.prepare_cached(
        "SELECT sex, aside, gone, class, said_by, proposed, regions, number FROM photo_tally
         WHERE photo_id = ?1 AND axis = ?2",
    )?;
    let mut all = Vec::new();
    for rows_of in [axis, ""] {
        let mut rows = statement.query((photo, rows_of))?;
        while let Some(row) = rows.next()? {
            all.push(Alike { kind: kind(row, axis)?, regions: row.get(6)?, number: row.get(7)? });
        }
        if !all.is_empty() {
            break;
        }
    }
    Ok(all)
}

fn kind(row: &Row<'_>, axis: &str) -> Result<Kind> {
    let said = |column: usize| -> Result<Option<&str>> {
        Ok(Some(row.get_ref(column)?.as_str()?).filter(|text| !text.is_empty()))
    };
    let by = said(4)?.unwrap_or_default();
    Ok(Kind {
        sex: said(0)?.and_then(sex_of),
        set_aside: row.get(1)?,
        gone: said(2)?.map(why_gone),
        score: said(3)?.map(|class| Confirmed::said_by(by, axis, class)).transpose()?,
        proposed: said(5)?.map(str::to_owned),
        not_asked: false,
    })
}

/// What is wrong with the sorted fish of any photo, held against the log.
pub(super) fn faults(book: &Read<'_>) -> Result<Vec<String>> {
    let mut photos = book
        .conn
        .prepare("SELECT id, name FROM photo WHERE id NOT IN (SELECT photo_id FROM photo_unsorted) ORDER BY id")?;
    let mut kept = book.conn.prepare("SELECT * FROM photo_tally WHERE photo_id = ?1 ORDER BY 2, 3, 4, 5, 6, 7, 8")?;
    let mut anew = book.conn.prepare(SORTED)?;
    let mut faults = Vec::new();
    let mut rows = photos.query([])?;
    while let Some(row) = rows.next()? {
        let photo: i64 = row.get(0)?;
        if plain(&mut kept, photo)? != plain(&mut anew, photo)? {
            let name: String = row.get(1)?;
            faults.push(format!(
                "book.sqlite: the sorted fish of photo {name} are not those of the log; `book recount` sorts anew"
            ));
        }
    }
    Ok(faults)
}

fn plain(statement: &mut Statement<'_>, photo: i64) -> Result<Vec<Vec<Value>>> {
    let columns = statement.column_count();
    let rows = statement.query_map([photo], |row| (0..columns).map(|i| row.get(i)).collect())?;
    Ok(rows.collect::<rusqlite::Result<_>>()?)
}

/// Sorts the fish of every photo anew; says of how many photos.
///
/// # Errors
/// The book cannot be written to.
pub fn recount(book: &Write<'_>) -> Result<usize> {
    book.conn.execute("DELETE FROM photo_tally", [])?;
    Ok(book.conn.execute("INSERT OR REPLACE INTO photo_unsorted SELECT id FROM photo", [])?)
}
