//! Settings kept in the book, such as the pitch of the breeder's colour card.

use rusqlite::OptionalExtension;

use super::broods::Brood;
use super::{Read, Write};
use crate::error::Result;

/// Distance between neighbouring patch centres of the 24-patch chart in use, in millimetres.
pub const CARD_PITCH_MM: &str = "card-pitch-mm";

/// Name under which decisions are logged when none is given.
pub const SCORER: &str = "scorer";

/// The value of a setting, if it was ever set.
///
/// # Errors
/// The book cannot be read.
pub fn get(book: &Read<'_>, name: &str) -> Result<Option<String>> {
    let value =
        book.conn.query_row("SELECT value FROM setting WHERE name = ?1", [name], |row| row.get(0)).optional()?;
    Ok(value)
}

/// The pitch of the breeder's colour card, where it was set.
///
/// # Errors
/// The book cannot be read.
pub fn card_pitch_mm(book: &Read<'_>) -> Result<Option<f64>> {
    Ok(get(book, CARD_PITCH_MM)?.and_then(|mm| mm.parse().ok()))
}

/// Sets a setting.
///
/// # Errors
/// The book cannot be written to.
pub fn set(book: &Write<'_>, name: &str, value: &str) -> Result<()> {
    book.conn.execute(
        "INSERT INTO setting (name, value) VALUES (?1, ?2) ON CONFLICT (name) DO UPDATE SET value = excluded.value",
        [name, value],
    )?;
    Ok(())
}

/// The ratio that a breeder expects of a brood, as it was written; empty where it was taken back.
///
/// # Errors
/// The book cannot be read.
pub fn expected_ratio(book: &Read<'_>, brood: &Brood) -> Result<Option<String>> {
    match get(book, &ratio_name(brood))? {
        // Older books keep it under what the brood was called.
        None => get(book, &format!("expected-ratio {}", brood.label)),
        kept => Ok(kept),
    }
}

/// Keeps the ratio of a brood under its row, since it is about to be called otherwise.
///
/// # Errors
/// The book cannot be written to.
pub(super) fn hold_ratio(book: &Write<'_>, brood: &Brood) -> Result<()> {
    expected_ratio(book, brood)?.map_or(Ok(()), |ratio| expect_ratio(book, brood, &ratio))
}

/// Keeps the ratio that a breeder expects of a brood.
///
/// # Errors
/// The book cannot be written to.
pub fn expect_ratio(book: &Write<'_>, brood: &Brood, ratio: &str) -> Result<()> {
    set(book, &ratio_name(brood), ratio)
}

/// By the brood's row: what it is called may come to be another's name.
fn ratio_name(brood: &Brood) -> String {
    format!("expected-ratio-of-brood {}", brood.id)
}
