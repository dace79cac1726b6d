//! From a path to a photo.

use std::fs;
use std::path::Path;

use crate::error::{Error, Result};
use crate::photo::{self, Limits, Photo};

/// Reads the photo in a file, looking at the file's size before its content.
///
/// # Errors
/// No such file, a folder, a file that may not be read or is too large, and all that [`photo::read`] refuses.
pub fn open(path: &Path, limits: Limits) -> Result<Photo> {
    photo::read(&path.to_string_lossy(), &bytes(path, limits)?, limits)
}

/// The bytes of the file at `path`, its size looked at first.
///
/// # Errors
/// No such file, a folder, a file that may not be read or is too large.
pub fn bytes(path: &Path, limits: Limits) -> Result<Vec<u8>> {
    let name = path.to_string_lossy();
    let about = fs::metadata(path).map_err(|e| match e.kind() {
        std::io::ErrorKind::NotFound => Error::failed(&name, "there is no such file", "check the name and the folder"),
        _ => Error::failed(&name, e, "check the name and whether you may read the file"),
    })?;
    if about.is_dir() {
        return Err(Error::failed(&name, "is a folder, not a photo", format!("name its photos: {name}/*.jpg")));
    }
    if about.len() > limits.bytes as u64 {
        let message = format!("the file has {} bytes, the limit is {}", about.len(), limits.bytes);
        return Err(Error::failed(&name, message, "export the photo as JPEG"));
    }
    fs::read(path).map_err(|e| Error::failed(&name, e, "check whether you may read the file"))
}
