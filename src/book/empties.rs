//! Photos of empty trays: kept beside the photos that were measured against them, so that these can be measured again.

use std::fs;
use std::path::PathBuf;

use super::originals::{self, Found};
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

/// The photo of an empty tray that the book keeps under a hash, not read yet.
#[derive(Debug, Clone)]
pub struct Kept {
    path: PathBuf,
    hash: String,
}

impl Kept {
    /// The file, held to the hash.
    pub fn look(&self) -> Found {
        originals::look(&self.path, &self.hash)
    }
}

/// The photo of an empty tray that is kept under this hash.
pub fn kept(book: &Read<'_>, hash: &str) -> Kept {
    Kept { path: path(book, hash), hash: hash.to_owned() }
}

fn path(book: &Read<'_>, hash: &str) -> PathBuf {
    book.dir.join(files::empty(hash))
}
