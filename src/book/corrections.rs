//! What a person mended in a photo by hand, kept in order and replayed whenever the photo is measured again.

use rusqlite::params;

use super::decisions::{self, By, DecisionId};
use super::values::{json, read_json};
use super::{Read, Write, photos};
use crate::error::Result;
use crate::fish::Correction;

/// Keeps one correction of a photo.
///
/// # Errors
/// An unknown photo; the book cannot be written to.
pub fn add(book: &Write<'_>, photo: &str, correction: &Correction, by: &By) -> Result<DecisionId> {
    let photo = photos::named(book, photo)?;
    let decision = decisions::open(book, by, "mend", None)?;
    book.conn.execute(
        "INSERT INTO correction (decision_id, photo_id, edit) VALUES (?1, ?2, ?3)",
        params![decision.0, photo.id, json(correction)?],
    )?;
    Ok(decision)
}

/// The corrections of a photo that hold, in the order they were made.
///
/// # Errors
/// An unknown photo; the book cannot be read.
pub fn of_photo(book: &Read<'_>, photo: &str) -> Result<Vec<Correction>> {
    let photo = photos::named(book, photo)?;
    let mut statement = book.conn.prepare_cached(
        "SELECT k.edit FROM correction k
         WHERE k.photo_id = ?1 AND k.undoes IS NULL
           AND NOT EXISTS (SELECT 1 FROM correction u WHERE u.undoes = k.id)
         ORDER BY k.id",
    )?;
    let rows = statement.query_map([photo.id], |row| read_json(row, "edit"))?;
    Ok(rows.collect::<rusqlite::Result<_>>()?)
}
