//! The scoring sheets that proposals were made with, kept by their hash: the one to measure with next, and the rules that hold for
//! what the book has already.

use super::Read;
use super::broods::Brood;
use crate::error::Result;
use crate::sheet::{self, Sheet};

/// The sheet of the latest measurement in the book, to measure with; the starting sheet in a book without any.
///
/// # Errors
/// The book cannot be read.
pub fn latest(book: &Read<'_>) -> Result<Sheet> {
    newest_first(book, 1)?.pop().map_or_else(Sheet::starting, Ok)
}

/// The rules by which the book's fish are confirmed and counted: those of [`latest`], and for each axis that it lacks those of the
/// newest sheet that has it. A short sheet for one brood leaves the axes of all others as they were.
///
/// # Errors
/// The book cannot be read.
pub fn rules(book: &Read<'_>) -> Result<Sheet> {
    let mut all = newest_first(book, u32::MAX)?.into_iter();
    let Some(mut rules) = all.next() else { return Sheet::starting() };
    all.for_each(|older| rules.add_axes_of(older));
    Ok(rules)
}

/// The rules that a person scores a brood's fish by: all of the newest sheet's axes, of the older ones' those on which something is
/// proposed or said in its photos. So no fish waits for a class on an axis that its breeder has given up.
///
/// # Errors
/// The book cannot be read.
pub fn in_play(book: &Read<'_>, (newest, rules): (&Sheet, &Sheet), brood: &Brood) -> Result<Sheet> {
    let mut statement = book.conn.prepare_cached(
        "SELECT 1 FROM sitting s JOIN photo p ON p.sitting_id = s.id
         WHERE s.brood_id = ?1 AND (EXISTS (SELECT 1 FROM photo_tally t WHERE t.photo_id = p.id AND t.axis = ?2)
             OR EXISTS (SELECT 1 FROM photo_unsorted u WHERE u.photo_id = p.id))",
    )?;
    let mut axes = Vec::new();
    for axis in &rules.axes {
        if newest.axis(&axis.name).is_some() || statement.exists((brood.id, &axis.name))? {
            axes.push(axis.clone());
        }
    }
    Ok(Sheet { axes, ..rules.clone() })
}

/// The axes on which the book's photos were measured and that a sheet lacks.
///
/// # Errors
/// The book cannot be read.
pub fn lacking(book: &Read<'_>, sheet: &Sheet) -> Result<Vec<String>> {
    let known = newest_first(book, u32::MAX)?.into_iter().flat_map(|older| older.axes).map(|axis| axis.name);
    let mut lacking = Vec::new();
    known.filter(|name| sheet.axis(name).is_none()).for_each(|name| {
        if !lacking.contains(&name) {
            lacking.push(name);
        }
    });
    Ok(lacking)
}

/// Whether a photo was measured with a sheet that has other axes, but not this one.
///
/// # Errors
/// The book cannot be read.
pub(super) fn left_out_of(book: &Read<'_>, photo: i64, axis: &str) -> Result<bool> {
    let mut statement = book.conn.prepare_cached(
        "SELECT sum(q.axis = ?2) = 0 FROM region r JOIN proposal q ON q.region_id = r.id WHERE r.photo_id = ?1 AND r.stands = 1",
    )?;
    // Without any proposal the sheet is not the reason.
    Ok(statement.query_row((photo, axis), |row| row.get::<_, Option<bool>>(0))?.unwrap_or(false))
}

/// The sheets of the book's measurements, at most so many, the one that was used last first.
fn newest_first(book: &Read<'_>, most: u32) -> Result<Vec<Sheet>> {
    let kept: u32 = book.conn.query_row("SELECT count(*) FROM sheet", [], |row| row.get(0))?;
    let mut measured = book.conn.prepare_cached("SELECT sheet_hash FROM measurement ORDER BY id DESC")?;
    let mut text = book.conn.prepare_cached("SELECT text FROM sheet WHERE hash = ?1")?;
    let mut rows = measured.query([])?;
    let (mut unseen, mut seen, mut sheets) = (kept.min(most), Vec::new(), Vec::new());
    // The newest measurements hold most sheets: the way back ends where all of them were met.
    while unseen > 0 {
        let Some(row) = rows.next()? else { break };
        let hash: String = row.get(0)?;
        if !seen.contains(&hash) {
            let text: String = text.query_row([&hash], |row| row.get(0))?;
            sheets.push(sheet::parse("the book's sheet", &text)?);
            seen.push(hash);
            unseen -= 1;
        }
    }
    Ok(sheets)
}
