//! Making and opening a book: write-ahead log, full sync, foreign keys, one writer at a time.

use std::fs;
use std::path::Path;
use std::time::Duration;

use rusqlite::{Connection, ErrorCode, OpenFlags};

use super::{Book, failure, migrations, photo_tally};
use crate::error::{Error, Result};

/// Where the book is when neither `--book` nor `BROODHUE_BOOK` says so.
pub const DEFAULT_DIR: &str = "broodhue-book";

/// The records' file inside the book's folder.
pub(super) const FILE: &str = "book.sqlite";

/// The mark that `schema-1.sql` sets.
const APPLICATION_ID: i32 = 1_114_793_064;

/// Pages of the file kept in memory, at most, in KiB: the sorted fish of 20 000 photos take half of it.
const CACHE_KIB: i64 = 64 << 10;

/// How long a second writer waits for the first: longer than any single command writes.
const PATIENCE: Duration = Duration::from_secs(5);

impl Book {
    /// Makes an empty book in `dir`, which may not hold one yet.
    ///
    /// # Errors
    /// A book is already there; the folder cannot be made or written to.
    pub fn create(dir: &Path) -> Result<Self> {
        if dir.is_file() {
            return Err(Error::failed(
                dir.display(),
                "is a file, not a folder",
                "name a folder, which may be a new one",
            ));
        }
        fs::create_dir_all(dir).map_err(|e| failure::file(dir, &e))?;
        let conn = connection(dir, OpenFlags::SQLITE_OPEN_CREATE)?;
        if migrations::version(&conn).map_err(|e| failure::of(dir, &e))? > 0 {
            return Err(Error::failed(
                dir.display(),
                "there is a book here already",
                "use it, or choose another --book DIR",
            ));
        }
        Self::ready(dir, conn)
    }

    /// Opens the book in `dir`, bringing an older layout up to today's. A book in a folder that cannot be written to
    /// opens for reading alone.
    ///
    /// # Errors
    /// No book there; a book newer than the program; a damaged file.
    pub fn open(dir: &Path) -> Result<Self> {
        let file = dir.join(FILE);
        if !file.is_file() {
            return Err(Error::failed(
                dir.display(),
                "there is no book here",
                "make one with `broodhue book new`, or name another folder with --book DIR",
            ));
        }
        if still(&file) {
            return Ok(Self { conn: connection_to_still(dir, &file)?, dir: dir.to_path_buf() });
        }
        Self::ready(dir, connection(dir, OpenFlags::empty())?)
    }

    fn ready(dir: &Path, mut conn: Connection) -> Result<Self> {
        let failed = |e: rusqlite::Error| failure::of(dir, &e);
        migrations::refuse_newer(dir, &conn)?;
        conn.pragma_update(None, "journal_mode", "wal").map_err(failed)?;
        conn.pragma_update(None, "synchronous", "full").map_err(failed)?;
        conn.pragma_update(None, "foreign_keys", true).map_err(failed)?;
        conn.pragma_update(None, "cache_size", -CACHE_KIB).map_err(failed)?;
        migrations::bring_up(dir, &mut conn)?;
        let mut book = Self { conn, dir: dir.to_path_buf() };
        if photo_tally::is_due(&book.conn).map_err(failed)? {
            book.write(|_| Ok(()))?;
        }
        Ok(book)
    }
}

fn connection(dir: &Path, create: OpenFlags) -> Result<Connection> {
    let failed = |e: rusqlite::Error| failure::of(dir, &e);
    let conn =
        Connection::open_with_flags(dir.join(FILE), OpenFlags::SQLITE_OPEN_READ_WRITE | create).map_err(failed)?;
    conn.busy_timeout(PATIENCE).map_err(failed)?;
    refuse_stranger(dir, &conn)?;
    Ok(conn)
}

/// Whether the file lies in a place where nothing can be written, with no log left to read in: asked of SQLite itself,
/// since permissions alone do not tell (a read-only or full disk, the machine's own administrator).
fn still(file: &Path) -> bool {
    let attempt = Connection::open_with_flags(file, OpenFlags::SQLITE_OPEN_READ_WRITE)
        .and_then(|conn| conn.busy_timeout(PATIENCE).and_then(|()| conn.execute_batch("BEGIN IMMEDIATE; ROLLBACK;")));
    let refused = matches!(
        attempt.as_ref().err().and_then(rusqlite::Error::sqlite_error_code),
        Some(
            ErrorCode::ReadOnly
                | ErrorCode::CannotOpen
                | ErrorCode::PermissionDenied
                | ErrorCode::DiskFull
                | ErrorCode::SystemIoFailure
        )
    );
    let log = file.with_extension("sqlite-wal");
    refused && fs::metadata(log).map_or(true, |m| m.len() == 0)
}

/// A connection that only reads and takes no locks, for a file that cannot change.
fn connection_to_still(dir: &Path, file: &Path) -> Result<Connection> {
    let path: String = file
        .to_string_lossy()
        .chars()
        .map(|c| match c {
            '%' => "%25".to_owned(),
            '?' => "%3f".to_owned(),
            '#' => "%23".to_owned(),
            other => other.to_string(),
        })
        .collect();
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI;
    let conn =
        Connection::open_with_flags(format!("file:{path}?immutable=1"), flags).map_err(|e| failure::of(dir, &e))?;
    refuse_stranger(dir, &conn)?;
    migrations::refuse_newer(dir, &conn)?;
    migrations::stand_in(dir, &conn)?;
    Ok(conn)
}

/// Whether this is another program's SQLite file.
pub(super) fn is_stranger(conn: &Connection) -> rusqlite::Result<bool> {
    let id: i32 = conn.pragma_query_value(None, "application_id", |row| row.get(0))?;
    let tables: i64 = conn.query_row("SELECT count(*) FROM sqlite_master", [], |row| row.get(0))?;
    Ok(id != APPLICATION_ID && tables > 0)
}

/// Refuses another program's SQLite file before anything is written to it.
pub(super) fn refuse_stranger(dir: &Path, conn: &Connection) -> Result<()> {
    if !is_stranger(conn).map_err(|e| failure::of(dir, &e))? {
        return Ok(());
    }
    Err(Error::failed(
        dir.join(FILE).display(),
        "this file is not a book of Broodhue",
        "name the book's folder with --book DIR",
    ))
}
