//! The files that the book keeps, read by the names that a person knows them by.

use std::path::Path;

use super::open::open;
use crate::book::originals::{self, Found, Wrong};
use crate::book::photos;
use crate::error::{Error, Result};
use crate::photo::{Limits, Photo};

/// The bytes of a photo of the book.
///
/// # Errors
/// The file is missing, cannot be read or is not the one that was taken in, which would become a photo of its own.
pub fn original(kept: &photos::Photo) -> Result<Vec<u8>> {
    let Found { bytes, wrong } = originals::look(&kept.original, &kept.hash);
    match (bytes, wrong) {
        (Some(bytes), None) => Ok(bytes),
        (_, wrong) => Err(photos::spoilt(kept, &wrong.unwrap_or(Wrong::Missing))),
    }
}

/// The photo of an empty tray that the book keeps with another photo, here called `of`.
///
/// # Errors
/// The file is missing or cannot be read.
pub fn kept_empty(of: &str, path: &Path) -> Result<Photo> {
    if !path.exists() {
        let said = "the photo of the empty tray that it was measured against is missing from the book's folder";
        return Err(Error::failed(of, said, format!("name that photo: broodhue score {of} --again --empty PHOTO")));
    }
    open(path, Limits::default())
}
