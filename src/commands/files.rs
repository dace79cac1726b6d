//! Files that a person names on the command line.

use std::path::Path;

use crate::error::{Error, Result};

/// The text of a file; `hint` says where such a file comes from.
pub(super) fn read_text(path: &Path, hint: &str) -> Result<String> {
    std::fs::read_to_string(path).map_err(|e| Error::failed(path.display(), e, hint))
}

/// Writes a file, making its folder.
pub(super) fn write(path: &Path, bytes: impl AsRef<[u8]>) -> Result<()> {
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty());
    folder
        .map_or(Ok(()), std::fs::create_dir_all)
        .and_then(|()| std::fs::write(path, bytes))
        .map_err(|e| Error::failed(path.display(), e, "choose a folder that can be written to"))
}
