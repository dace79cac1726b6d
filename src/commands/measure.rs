//! `measure`: photos in, one JSON line or one table a photo out; needs no book.

use std::io::{IsTerminal, Read};
use std::path::{Path, PathBuf};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::photo_args::PhotoArgs;
use super::{Done, desk, measure_table};
use crate::error::{Error, Result};
use crate::fish::Unmet;
use crate::photo::{Limits, Photo};
use crate::pipeline::{self, Given, MeasureOptions, PhotoReport};

/// Arguments of `measure`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example: broodhue measure tray.jpg --card-pitch-mm 13.5 --json\n\
                        Millimetres come from the card: say how far its patch centres are apart.")]
pub(super) struct Args {
    /// Photos; `-` reads their names from stdin, one a line (or separated by zero bytes).
    #[arg(required = true)]
    photos: Vec<PathBuf>,
    /// Print one JSON line a photo instead of tables.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    about: PhotoArgs,
}

/// Measures each photo; one that fails does not stop the others.
pub(super) fn run(args: &Args) -> Result<Done> {
    let options = args.about.options()?;
    let sheet = args.about.sheet()?;
    let empty = args.about.empty()?;
    let given = Given { sheet: &sheet, empty: empty.as_ref() };
    let photos = names(&args.photos)?;
    let progress = progress(photos.len());
    let (mut failed, mut fish, mut closed) = (0, 0, None);
    pipeline::in_order(
        &photos,
        rayon::current_num_threads(),
        |path| one(path, given, &options),
        |i, result| {
            let place = photos[i].to_string_lossy();
            let faults: Vec<Error> = match &result {
                Ok((_, unmet)) => unmet.iter().map(|unmet| unmet.failure(&place)).collect(),
                Err(error) => vec![error.clone()],
            };
            failed += usize::from(!faults.is_empty());
            progress.suspend(|| faults.iter().for_each(super::say));
            let result = result.map(|(report, _)| report);
            fish += result.as_ref().map_or(0, |r| r.fish.len());
            progress.set_message(format!("{fish} fish"));
            progress.inc(1);
            if closed.is_none() {
                closed = print(&photos[i], &result, args.json).err();
            }
        },
    );
    progress.finish_and_clear();
    closed.map_or_else(|| Ok(Done::of(failed, photos.len())), Err)
}

/// A photo measured, and what was said of its fish and met none.
fn one(path: &Path, given: Given<'_>, options: &MeasureOptions) -> Result<(PhotoReport, Vec<Unmet>)> {
    let photo: Photo = pipeline::open(path, Limits::default())?;
    pipeline::measure(&photo, given, options).map(|m| (m.report, m.unmet))
}

fn print(path: &Path, result: &Result<PhotoReport>, json: bool) -> Result<()> {
    let text = match (result, json) {
        (Ok(report), true) => report.line().map_err(|e| Error::failed(path.display(), e, "please report this"))?,
        (Ok(report), false) => measure_table::table(report),
        (Err(error), true) => pipeline::failure_line(&path.to_string_lossy(), error),
        (Err(_), false) => return Ok(()),
    };
    desk::print(format_args!("{text}\n"))
}

/// The photos named, those on stdin in the place of `-`.
fn names(typed: &[PathBuf]) -> Result<Vec<PathBuf>> {
    let mut all = Vec::new();
    for path in typed {
        if path.as_os_str() == "-" {
            let mut list = Vec::new();
            let read = std::io::stdin().lock().read_to_end(&mut list);
            read.map_err(|e| Error::failed("stdin", e, "give the names of the photos, one a line"))?;
            all.extend(listed(&list));
        } else {
            all.push(path.clone());
        }
    }
    if all.is_empty() {
        return Err(Error::usage("-", "no photo was named on stdin", "give the names of the photos, one a line"));
    }
    Ok(all)
}

/// Names in a list: separated by zero bytes where there are any, else by line ends.
fn listed(list: &[u8]) -> Vec<PathBuf> {
    let end = if list.contains(&0) { 0 } else { b'\n' };
    let name = |bytes: &[u8]| path_of(if end == 0 { bytes } else { bytes.strip_suffix(b"\r").unwrap_or(bytes) });
    list.split(|b| *b == end).filter(|n| !n.is_empty()).map(name).collect()
}

#[cfg(unix)]
fn path_of(bytes: &[u8]) -> PathBuf {
    use std::os::unix::ffi::OsStrExt;
    PathBuf::from(std::ffi::OsStr::from_bytes(bytes))
}

#[cfg(not(unix))]
fn path_of(bytes: &[u8]) -> PathBuf {
    PathBuf::from(String::from_utf8_lossy(bytes).into_owned())
}

/// A bar on stderr for a batch, when a person is looking.
pub(super) fn progress(photos: usize) -> ProgressBar {
    if photos < 2 || !std::io::stderr().is_terminal() {
        return ProgressBar::with_draw_target(None, ProgressDrawTarget::hidden());
    }
    let bar = ProgressBar::new(photos as u64);
    let style = ProgressStyle::with_template("{bar:30} {pos} of {len} photos, {msg}, {eta} left");
    bar.set_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()));
    bar
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lists_of_names() {
        let of = |list: &[u8]| listed(list);
        assert_eq!(of(b"a b.jpg\nc.jpg\r\n\n"), [PathBuf::from("a b.jpg"), PathBuf::from("c.jpg")]);
        assert_eq!(of(b"a\nb.jpg\0c.jpg\0"), [PathBuf::from("a\nb.jpg"), PathBuf::from("c.jpg")]);
        assert!(of(b"\n").is_empty());
    }
}
