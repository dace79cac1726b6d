//! What SQLite says, in a breeder's words.

use std::path::Path;

use rusqlite::ErrorCode;

use crate::error::Error;

impl From<rusqlite::Error> for Error {
    fn from(error: rusqlite::Error) -> Self {
        let (message, hint) = words(&error);
        Self::failed("", message, hint)
    }
}

impl From<rusqlite::types::FromSqlError> for Error {
    fn from(error: rusqlite::types::FromSqlError) -> Self {
        rusqlite::Error::from(error).into()
    }
}

/// The failure with the book's folder as its place.
pub(super) fn of(dir: &Path, error: &rusqlite::Error) -> Error {
    let (message, hint) = words(error);
    Error::failed(dir.display(), message, hint)
}

/// A failure while a backup is read, and at `there` whatever else fails.
pub(super) fn of_backup(from: &Path, there: &Path, error: &rusqlite::Error) -> Error {
    match error.sqlite_error_code() {
        Some(ErrorCode::NotADatabase | ErrorCode::DatabaseCorrupt) => Error::failed(
            from.display(),
            "this file is damaged, or is no backup",
            "copy it again from where it was kept, or take another backup, an older one if need be",
        ),
        _ => of(there, error),
    }
}

/// Gives the book's folder to a failure that has no place yet.
pub(super) fn placed(dir: &Path, mut error: Error) -> Error {
    if error.place.is_empty() {
        error.place = dir.display().to_string();
    }
    error
}

/// A failed reading or writing of a file of the book.
pub(super) fn file(path: &Path, error: &std::io::Error) -> Error {
    let hint = match error.kind() {
        std::io::ErrorKind::StorageFull | std::io::ErrorKind::FileTooLarge => "make room on the disk and try again",
        std::io::ErrorKind::PermissionDenied | std::io::ErrorKind::ReadOnlyFilesystem => {
            "choose a folder that you may write to with --book DIR"
        }
        std::io::ErrorKind::NotFound => "check the name",
        _ => "check the folder and the disk",
    };
    Error::failed(path.display(), error, hint)
}

fn words(error: &rusqlite::Error) -> (String, &'static str) {
    let code = error.sqlite_error_code();
    let (message, hint) = match code {
        Some(ErrorCode::DiskFull) => ("the disk is full; nothing was changed", "make room on the disk and try again"),
        Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied) => (
            "the book cannot be written to",
            "make room on its disk, or choose a folder that you may write to with --book DIR",
        ),
        Some(ErrorCode::CannotOpen) => {
            ("the book's file cannot be opened", "check the folder's name and that you may write to it")
        }
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => {
            ("another program is writing to this book", "wait until it is done, or close it, and try again")
        }
        Some(ErrorCode::NotADatabase | ErrorCode::DatabaseCorrupt) => {
            ("the book's file is damaged or is not a book", "take the last backup: broodhue book restore FILE")
        }
        Some(ErrorCode::SystemIoFailure) => {
            return (
                format!("the disk failed ({error}); nothing was changed"),
                "check the disk and the room left on it",
            );
        }
        _ => return (format!("the book could not do this ({error})"), "run `broodhue book check`"),
    };
    (message.to_owned(), hint)
}
