//! A safe copy of everything in one file, and back: the records by SQLite's online backup, which also works while
//! another program writes, and the originals and previews as rows beside them.

use std::fs;
use std::io::ErrorKind;
use std::path::Path;
use std::time::Duration;

use rusqlite::backup::Backup;
use rusqlite::{Connection, OpenFlags};

use super::open::FILE;
use super::{Book, Read, check, empties, failure, files, photos};
use crate::error::{Error, Result};

/// Pages a step; small enough that a writer never waits long.
const PAGES: i32 = 1000;

/// What a backup holds.
#[derive(Debug, Clone, Default, PartialEq, Eq, serde::Serialize)]
pub struct Copied {
    /// Files of photos and previews.
    pub files: usize,
    /// Size of the backup in bytes.
    pub bytes: u64,
    /// Photos whose original is not in it, by the names that a person knows them by.
    pub without: Vec<String>,
}

/// Writes everything into `to`, which must not exist yet. An original that is missing is named and left out, so that no lost photo keeps the
/// rest from being safe; so is, unnamed, a missing preview: it can be made anew.
///
/// # Errors
/// The file exists; a full disk; an original that is there and cannot be read.
pub fn write(book: &Book, to: &Path) -> Result<Copied> {
    if to.exists() {
        return Err(Error::failed(
            to.display(),
            "this file exists already",
            "name a new file, for example with the day in it",
        ));
    }
    let beside = files::unfinished(to);
    let outcome = fill(book, &beside);
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

/// Makes a book in `dir` out of a backup; `dir` may not hold a book yet. Originals that were missing when it was written are named.
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
        let said = if from.is_dir() { "is a folder, not a backup" } else { "there is no such file" };
        return Err(Error::failed(from.display(), said, "name the file that `broodhue book backup` wrote"));
    }
    let failed = |e: rusqlite::Error| failure::of(from, &e);
    let source = Connection::open_with_flags(from, OpenFlags::SQLITE_OPEN_READ_ONLY).map_err(failed)?;
    super::open::refuse_stranger(from, &source)?;
    super::migrations::refuse_newer(from, &source)?;
    let mut copied = Copied { bytes: fs::metadata(from).map_or(0, |m| m.len()), ..Copied::default() };
    let mut statement = source.prepare("SELECT path, bytes FROM kept_file ORDER BY path").map_err(|_| {
        Error::failed(
            from.display(),
            "this is a book's own file, not a backup",
            "use a file that `broodhue book backup` wrote",
        )
    })?;
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
        .map_err(|e| failure::of(dir, &e))?;
    fs::rename(&beside, &path).map_err(|e| failure::file(&path, &e))?;
    let book = Book::open(dir)?;
    copied.without = without(&book.read())?;
    Ok(copied)
}

fn fill(book: &Book, beside: &Path) -> Result<Copied> {
    let mut copied = Copied::default();
    let failed = |e: rusqlite::Error| failure::of(beside, &e);
    if beside.exists() {
        fs::remove_file(beside).map_err(|e| failure::file(beside, &e))?;
    }
    let prepare = "CREATE TABLE kept_file (path TEXT PRIMARY KEY, bytes BLOB NOT NULL) STRICT;";
    copy_records(&book.conn, beside, |copy| copy.execute_batch(prepare)).map_err(failed)?;
    let mut copy = Connection::open(beside).map_err(failed)?;
    let transaction = copy.transaction().map_err(failed)?;
    for path in super::check::kept_paths(&transaction).map_err(failed)? {
        let file = book.dir.join(&path);
        let bytes = match fs::read(&file) {
            Err(e) if e.kind() == ErrorKind::NotFound => continue,
            read => read.map_err(|e| failure::file(&file, &e))?,
        };
        transaction
            .execute("INSERT INTO kept_file (path, bytes) VALUES (?1, ?2)", rusqlite::params![path, bytes])
            .map_err(failed)?;
        copied.files += 1;
    }
    transaction.commit().map_err(failed)?;
    drop(copy);
    fs::File::open(beside).and_then(|f| f.sync_all()).map_err(|e| failure::file(beside, &e))?;
    copied.bytes = fs::metadata(beside).map_or(0, |m| m.len());
    copied.without = without(&book.read())?;
    Ok(copied)
}

/// The photos, those of empty trays too, whose originals are missing.
fn without(book: &Read<'_>) -> Result<Vec<String>> {
    let photos = photos::list(book)?.into_iter().filter(|photo| !photo.original.exists());
    let mut all: Vec<String> = photos.map(|photo| format!("{} ({})", photo.name, photo.subject)).collect();
    let empties = check::empty_hashes(book.conn)?.into_iter().filter(|hash| !empties::path(book, hash).exists());
    all.extend(empties.map(|hash| format!("the photo of an empty tray ({})", hash.get(..12).unwrap_or(&hash))));
    Ok(all)
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
