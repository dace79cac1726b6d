//! The photos that a book keeps as they came from the camera, held to the hash that they were taken in under.

use std::fs;
use std::io::ErrorKind;
use std::path::Path;

use serde::Serialize;

use super::{Read, check, files, photos};
use crate::error::Result;
use crate::photo::identity;

/// What is wrong with a kept file.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Wrong {
    /// It is not there.
    Missing,
    /// It is there and cannot be read, for this reason.
    Unreadable(String),
    /// It is another file than was taken in.
    Changed,
}

impl std::fmt::Display for Wrong {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Missing => write!(f, "is missing from the book's folder"),
            Self::Unreadable(why) => write!(f, "cannot be read ({why})"),
            Self::Changed => write!(f, "is not the file that was taken in"),
        }
    }
}

/// What lies where a file should.
#[derive(Debug)]
pub struct Found {
    /// Its bytes, where it can be read.
    pub bytes: Option<Vec<u8>>,
    /// What is wrong with it, if anything is.
    pub wrong: Option<Wrong>,
}

/// Reads a file that was taken in under this hash.
pub fn look(path: &Path, hash: &str) -> Found {
    match fs::read(path) {
        Ok(bytes) => {
            let wrong = (identity(&bytes) != hash).then_some(Wrong::Changed);
            Found { bytes: Some(bytes), wrong }
        }
        Err(e) if e.kind() == ErrorKind::NotFound => Found { bytes: None, wrong: Some(Wrong::Missing) },
        Err(e) => Found { bytes: None, wrong: Some(Wrong::Unreadable(e.to_string())) },
    }
}

/// A photo of which something is wrong with the file, by the name that a person knows it by.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Spoilt {
    /// The photo.
    pub photo: String,
    /// What is wrong.
    pub wrong: Wrong,
}

/// A file that a book should have.
pub(super) struct Original {
    /// Where it lies below the book's folder.
    pub(super) below: String,
    hash: String,
    /// The photo, by the name that a person knows it by.
    photo: String,
}

impl Original {
    /// Its bytes, where it can be read, and the photo by name where something is wrong with it.
    pub(super) fn look(self, dir: &Path) -> (Option<Vec<u8>>, Option<Spoilt>) {
        let Found { bytes, wrong } = look(&dir.join(&self.below), &self.hash);
        (bytes, wrong.map(|wrong| Spoilt { photo: self.photo, wrong }))
    }
}

/// The originals of all photos in the order of keeping, then the photos of empty trays.
///
/// # Errors
/// The records cannot be read.
pub(super) fn all(book: &Read<'_>) -> Result<Vec<Original>> {
    let photos = photos::list(book)?.into_iter().map(|photo| Original {
        below: below(book.dir, &photo.original),
        photo: format!("{} ({})", photo.name, photo.subject),
        hash: photo.hash,
    });
    let empties = check::empty_hashes(book.conn)?.into_iter().map(|hash| Original {
        below: files::empty(&hash),
        photo: format!("the photo of an empty tray ({})", hash.get(..12).unwrap_or(&hash)),
        hash,
    });
    Ok(photos.chain(empties).collect())
}

/// Where a file of the book lies below its folder.
fn below(dir: &Path, file: &Path) -> String {
    file.strip_prefix(dir).unwrap_or(file).to_string_lossy().replace('\\', "/")
}
