//! How values stand in the book's columns: days, sexes, JSON.

use jiff::civil::Date;
use rusqlite::Row;
use rusqlite::types::Type;
use serde::Serialize;
use serde::de::DeserializeOwned;

use crate::error::{Error, Result};
use crate::units::Sex;

/// A day as it is stored, `YYYY-MM-DD`.
pub(super) fn day(date: Option<Date>) -> Option<String> {
    date.map(|d| d.to_string())
}

/// `m`, `f` or nothing.
pub(super) fn letter(sex: Option<Sex>) -> Option<&'static str> {
    sex.map(Sex::letter)
}

/// A stored day.
pub(super) fn read_day(row: &Row<'_>, column: &str) -> rusqlite::Result<Option<Date>> {
    let text: Option<String> = row.get(column)?;
    text.map(|t| t.parse().map_err(unreadable)).transpose()
}

/// A stored sex.
pub(super) fn read_sex(row: &Row<'_>, column: &str) -> rusqlite::Result<Option<Sex>> {
    let text: Option<String> = row.get(column)?;
    Ok(text.as_deref().and_then(sex_of))
}

/// The sex that a letter stands for.
pub(super) fn sex_of(letter: &str) -> Option<Sex> {
    match letter {
        "m" => Some(Sex::Male),
        "f" => Some(Sex::Female),
        _ => None,
    }
}

/// A stored JSON value.
pub(super) fn read_json<T: DeserializeOwned>(row: &Row<'_>, column: &str) -> rusqlite::Result<T> {
    let text: String = row.get(column)?;
    serde_json::from_str(&text).map_err(unreadable)
}

/// A value as JSON text.
pub(super) fn json<T: Serialize>(value: &T) -> Result<String> {
    serde_json::to_string(value).map_err(|e| Error::failed("", e, "this is a fault of the program: please report it"))
}

fn unreadable(error: impl std::error::Error + Send + Sync + 'static) -> rusqlite::Error {
    rusqlite::Error::FromSqlConversionFailure(0, Type::Text, Box::new(error))
}
