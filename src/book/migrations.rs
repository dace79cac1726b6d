//! The numbered steps of the book's layout, from an empty file to today's.

use std::path::Path;

use rusqlite::Connection;
use rusqlite_migration::{M, Migrations};

use super::{failure, photo_tally};
use crate::error::{Error, Result};

const STEPS: [&str; 2] = [include_str!("schema-1.sql"), include_str!("schema-2.sql")];

/// The first layout that keeps the fish of each photo sorted.
const SORTED_FROM: u32 = 2;

/// Layout number of a book that this program writes.
#[expect(clippy::cast_possible_truncation, reason = "a handful of steps")]
pub const SCHEMA_VERSION: u32 = STEPS.len() as u32;

/// Leaves a book of a later program untouched.
pub(super) fn refuse_newer(dir: &Path, conn: &Connection) -> Result<()> {
    let found = version(conn).map_err(|e| failure::of(dir, &e))?;
    if found <= SCHEMA_VERSION {
        return Ok(());
    }
    Err(Error::failed(
        dir.display(),
        format!("this book has layout {found}, the program knows layouts up to {SCHEMA_VERSION}"),
        "use the newer Broodhue that wrote it; nothing was changed",
    ))
}

/// Brings the book to today's layout, each step whole or not at all.
pub(super) fn bring_up(dir: &Path, conn: &mut Connection) -> Result<()> {
    if version(conn).map_err(|e| failure::of(dir, &e))? == SCHEMA_VERSION {
        return Ok(());
    }
    let steps = Migrations::new(STEPS.iter().map(|sql| M::up(sql).foreign_key_check()).collect());
    steps.to_latest(conn).map_err(|e| match e {
        rusqlite_migration::Error::RusqliteError { err, .. } => failure::of(dir, &err),
        other => Error::failed(dir.display(), other, "run `broodhue book check`"),
    })
}

/// What a book of an older layout lacks, beside it in memory, for a file that cannot be brought up because it cannot change.
pub(super) fn stand_in(dir: &Path, conn: &Connection) -> Result<()> {
    let failed = |e: rusqlite::Error| failure::of(dir, &e);
    if (1..SORTED_FROM).contains(&version(conn).map_err(failed)?) {
        photo_tally::stand_in(conn).map_err(failed)?;
    }
    Ok(())
}

/// The layout number found in the file; 0 for an empty one.
pub(super) fn version(conn: &Connection) -> rusqlite::Result<u32> {
    conn.pragma_query_value(None, "user_version", |row| row.get(0))
}
