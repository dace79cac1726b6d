//! Photos of empty trays: kept beside the photos that were measured against them, so that these can be measured again.

use std::fs;
use std::path::PathBuf;

use super::{Read, Write, files};
use crate::error::Result;

/// Keeps the file of an empty tray's photo under its hash, where it is not there or was changed.
///
/// # Errors
/// A full disk.
pub fn keep(book: &Write<'_>, hash: &str, bytes: &[u8]) -> Result<()> {
    if fs::read(path(book, hash)).is_ok_and(|kept| kept == bytes) {
        return Ok(());
    }
    files::write(book.dir, &files::empty(hash), bytes)
}

/// Where the file of this hash is kept.
pub fn path(book: &Read<'_>, hash: &str) -> PathBuf {
    book.dir.join(files::empty(hash))
}
