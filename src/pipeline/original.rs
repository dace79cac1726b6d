//! The files that the book keeps, read by the names that a person knows them by.

use crate::book::originals::{self, Found, Wrong};
use crate::book::{empties, photos};
use crate::command_line::to_type;
use crate::error::{Error, Result};
use crate::photo::{self, Limits, Photo};

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
/// The file is missing, cannot be read or is not the one that was taken in.
pub fn kept_empty(of: &str, empty: &empties::Kept) -> Result<Photo> {
    let Found { bytes, wrong } = empty.look();
    match (bytes, wrong) {
        (Some(bytes), None) => photo::read("the photo of the empty tray", &bytes, Limits::default()),
        (_, wrong) => {
            let wrong = wrong.unwrap_or(Wrong::Missing);
            let said = format!("the photo of the empty tray that it was measured against {wrong}");
            let hint = format!("name that photo: broodhue score {} --again --empty PHOTO", to_type(of));
            Err(Error::failed(of, said, hint))
        }
    }
}
