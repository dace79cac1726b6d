//! The scoring sheets that proposals were made with, kept by their hash.

use rusqlite::OptionalExtension;

use super::Read;
use crate::error::Result;
use crate::sheet::{self, Sheet};

/// The sheet of the latest measurement in the book; the starting sheet in a book without any.
///
/// # Errors
/// The book cannot be read.
pub fn latest(book: &Read<'_>) -> Result<Sheet> {
    let text: Option<String> = book
        .conn
        .query_row(
            "SELECT s.text FROM measurement m JOIN sheet s ON s.hash = m.sheet_hash ORDER BY m.id DESC LIMIT 1",
            [],
            |row| row.get(0),
        )
        .optional()?;
    text.map_or_else(Sheet::starting, |t| sheet::parse("the book's sheet", &t))
}
