//! A safe copy of everything in one file, and back: the records by SQLite's online backup, which also works while
//! another program writes, and the originals and previews as rows beside them.

use std::fs;
use std::path::Path;
use std::time::Duration;

use rusqlite::backup::Backup;
use rusqlite::{Connection, OpenFlags};

use super::open::FILE;
use super::originals::{self, Spoilt};
use super::{Book, Read, check, failure, files};
use crate::error::{Error, Result};

/// Pages a step; small enough that a writer never waits long.
const PAGES: i32 = 1000;

/// What to do with a file that is no backup.
const USE_A_BACKUP: &str = "name a file that `broodhue book backup` wrote";

/// What a backup holds.
#[derive(Debug, Clone, Default, PartialEq, Eq, serde::Serialize)]
pub struct Copied {
    /// Files of photos and previews.
    pub files: usize,
    /// Size of the backup in bytes.
    pub bytes: u64,
    /// Photos whose original is not in it as it was taken in.
    pub spoilt: Vec<Spoilt>,
}

/// Writes everything into `to`, which must not exist yet. An original that is missing or cannot be read is named and left out, so that no
/// lost photo keeps the rest from being safe; one that was changed is named and saved as it is. A preview that cannot be read is left out
/// unnamed: it can be made anew.
///
/// # Errors
/// The file exists, or cannot be written; a full disk.
pub fn write(book: &Book, to: &Path) -> Result<Copied> {
    if to.exists() {
        return Err(Error::failed(
            to.display(),
            "this file exists already",
            "name a new file, for example with the day in it",
        ));
    }
    let beside = files::unfinished(to);
    let outcome = fill(book, to, &beside);
    let copied = match outcome {
        Ok(copied) => copied,
        Err(e) => {
            // An unfinished backup is of no use; if removing it fails too, its name says that it is unfinished.
            let _left = fs::remove_file(&beside);
            return Err(e);
        }
    };
    fs::rename(&beside, to).map_err(|e| failure::file(to, &e))?;
    Ok(copied)
}

/// Makes a book in `dir` out of a backup; `dir` may not hold a book yet. Photos whose originals are not there as they were taken in are
/// named.
///
/// # Errors
/// A book is there; there is no such file; it is no backup, is damaged or of a newer program; a full disk.
pub fn restore(from: &Path, dir: &Path) -> Result<Copied> {
    if dir.join(FILE).exists() {
        return Err(Error::failed(
            dir.display(),
            "there is a book here already",
            "restore into another folder: --book DIR",
        ));
    }
    if !from.is_file() {
        let said = match from.try_exists() {
            _ if from.is_dir() => "is a folder, not a backup",
            Ok(true) => "is no backup, and no file at all",
            _ => "there is no such file",
        };
        return Err(Error::failed(from.display(), said, USE_A_BACKUP));
    }
    let failed = |e: rusqlite::Error| failure::of_backup(from, from, &e);
    let source = Connection::open_with_flags(from, OpenFlags::SQLITE_OPEN_READ_ONLY).map_err(failed)?;
    if super::open::is_stranger(&source).map_err(failed)? {
        return Err(Error::failed(from.display(), "this file is no backup of Broodhue", USE_A_BACKUP));
    }
    super::migrations::refuse_newer(from, &source)?;
    let mut copied = Copied { bytes: fs::metadata(from).map_or(0, |m| m.len()), ..Copied::default() };
    let mut statement = source
        .prepare("SELECT path, bytes FROM kept_file ORDER BY path")
        .map_err(|_| Error::failed(from.display(), "this is a book's own file, not a backup", USE_A_BACKUP))?;
    let mut rows = statement.query([]).map_err(failed)?;
    while let Some(row) = rows.next().map_err(failed)? {
        let (path, bytes): (String, Vec<u8>) = (row.get(0).map_err(failed)?, row.get(1).map_err(failed)?);
        files::write(dir, &safe(from, &path)?, &bytes)?;
        copied.files += 1;
    }
    let path = dir.join(FILE);
    fs::create_dir_all(dir).map_err(|e| failure::file(dir, &e))?;
    let beside = files::unfinished(&path);
    copy_records(&source, &beside, |copy| copy.execute_batch("DROP TABLE kept_file; VACUUM;"))
        .map_err(|e| failure::of_backup(from, dir, &e))?;
    fs::rename(&beside, &path).map_err(|e| failure::file(&path, &e))?;
    let book = Book::open(dir)?;
    let originals = originals::all(&book.read())?.into_iter();
    copied.spoilt = originals.filter_map(|original| original.look(dir).1).collect();
    Ok(copied)
}

fn fill(book: &Book, to: &Path, beside: &Path) -> Result<Copied> {
    let mut copied = Copied::default();
    let failed = |e: rusqlite::Error| failure::of(beside, &e);
    fs::File::create(beside).map_err(|e| unwritable(to, &e))?;
    let prepare = "CREATE TABLE kept_file (path TEXT PRIMARY KEY, bytes BLOB NOT NULL) STRICT;";
    copy_records(&book.conn, beside, |copy| copy.execute_batch(prepare)).map_err(failed)?;
    let mut copy = Connection::open(beside).map_err(failed)?;
    let transaction = copy.transaction().map_err(failed)?;
    let records = Read { conn: &transaction, dir: &book.dir };
    let mut save = |path: &str, bytes: &[u8]| {
        let sql = "INSERT OR IGNORE INTO kept_file (path, bytes) VALUES (?1, ?2)";
        copied.files += transaction.prepare_cached(sql)?.execute(rusqlite::params![path, bytes])?;
        Ok(())
    };
    let mut spoilt = Vec::new();
    for original in originals::all(&records)? {
        let path = original.below.clone();
        let (bytes, wrong) = original.look(&book.dir);
        bytes.map_or(Ok(()), |bytes| save(&path, &bytes)).map_err(failed)?;
        spoilt.extend(wrong);
    }
    for path in check::preview_paths(&transaction).map_err(failed)? {
        fs::read(book.dir.join(&path)).map_or(Ok(()), |bytes| save(&path, &bytes)).map_err(failed)?;
    }
    transaction.commit().map_err(failed)?;
    drop(copy);
    fs::File::open(beside).and_then(|f| f.sync_all()).map_err(|e| failure::file(beside, &e))?;
    copied.bytes = fs::metadata(beside).map_or(0, |m| m.len());
    copied.spoilt = spoilt;
    Ok(copied)
}

/// A backup that cannot be written where it was asked for.
fn unwritable(to: &Path, error: &std::io::Error) -> Error {
    let said = format!("the backup cannot be written here ({error})");
    Error::failed(to.display(), said, "name a file in a folder that is there and that you may write to")
}

/// Copies all records to a new file and finishes it with `then`; the copy is one plain file without a log beside it.
fn copy_records(
    source: &Connection,
    to: &Path,
    then: impl FnOnce(&Connection) -> rusqlite::Result<()>,
) -> rusqlite::Result<()> {
    let mut copy = Connection::open(to)?;
    Backup::new(source, &mut copy)?.run_to_completion(PAGES, Duration::from_millis(1), None)?;
    copy.pragma_update(None, "journal_mode", "delete")?;
    then(&copy)
}

/// A path of a backup, held to the two folders of a book: a forged backup writes nowhere else.
fn safe(from: &Path, path: &str) -> Result<String> {
    let plain = |part: &str| !part.is_empty() && !part.starts_with('.') && !part.contains(['\\', ':']);
    let mut parts = path.split('/');
    let folder = parts.next().unwrap_or_default();
    if (folder == "originals" || folder == "previews") && parts.all(plain) {
        return Ok(path.to_owned());
    }
    Err(Error::failed(
        from.display(),
        format!("the backup names a file outside the book: '{path}'"),
        "do not use this file",
    ))
}
