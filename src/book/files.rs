//! Files inside the book's folder: written beside, synced, then renamed, so that a name never stands for half a file.

use std::fs::{self, File};
use std::io::Write as _;
use std::path::{Path, PathBuf};

use super::failure;
use crate::error::Result;

/// Where a photo's original lies below the book's folder; the name's ending is kept when it is a plain word.
pub(super) fn original(hash: &str, name: &str) -> String {
    let plain = |e: &str| (1..=5).contains(&e.len()) && e.chars().all(|c| c.is_ascii_alphanumeric());
    let ending = Path::new(name).extension().and_then(|e| e.to_str()).map(str::to_ascii_lowercase);
    let ending = ending.filter(|e| plain(e)).unwrap_or_else(|| "photo".to_owned());
    format!("originals/{}/{hash}.{ending}", &hash[..2])
}

/// Where a photo's preview lies below the book's folder.
pub(super) fn preview(hash: &str) -> String {
    format!("previews/{}/{hash}.jpg", &hash[..2])
}

/// Where the photo of an empty tray lies below the book's folder.
pub(super) fn empty(hash: &str) -> String {
    format!("originals/{}/{hash}.empty", hash.get(..2).unwrap_or_default())
}

/// Writes `bytes` to `below` under `dir`, whole or not at all.
pub(super) fn write(dir: &Path, below: &str, bytes: &[u8]) -> Result<()> {
    write_file(&dir.join(below), |file| file.write_all(bytes))
}

/// Writes a file through `fill`, whole or not at all: a file of that name is replaced only by a finished one.
pub(super) fn write_file(path: &Path, fill: impl FnOnce(&mut File) -> std::io::Result<()>) -> Result<()> {
    let failed = |e: std::io::Error| failure::file(path, &e);
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    fs::create_dir_all(folder).map_err(failed)?;
    let beside = unfinished(path);
    let written = File::create(&beside)
        .and_then(|mut file| fill(&mut file).and_then(|()| file.sync_all()))
        .and_then(|()| fs::rename(&beside, path));
    if let Err(e) = written {
        // The half-written file is of no use to anyone; if even removing it fails, its name says that it is unfinished.
        let _left = fs::remove_file(&beside);
        return Err(failed(e));
    }
    sync_folder(folder);
    Ok(())
}

/// The name beside `path` under which it is written until it is whole.
pub(super) fn unfinished(path: &Path) -> PathBuf {
    let mut name = path.file_name().unwrap_or_default().to_os_string();
    name.push(".unfinished");
    path.with_file_name(name)
}

/// Makes a rename last through a power cut, where the system can sync a folder at all.
fn sync_folder(folder: &Path) {
    if let Ok(open) = File::open(folder) {
        let _not_everywhere = open.sync_all();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn endings_are_kept_only_when_plain() {
        let hash = "ab".repeat(32);
        assert_eq!(original(&hash, "tray.JPG"), format!("originals/ab/{hash}.jpg"));
        assert_eq!(original(&hash, "x.../../y"), format!("originals/ab/{hash}.photo"));
        assert_eq!(original(&hash, "noending"), format!("originals/ab/{hash}.photo"));
    }

    #[test]
    fn a_failed_write_leaves_the_old_file_and_nothing_beside_it() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("a.txt");
        write(dir.path(), "a.txt", b"old").unwrap();
        let full = || std::io::Error::from(std::io::ErrorKind::StorageFull);
        let error = write_file(&path, |f| f.write_all(b"ne").and(Err(full()))).unwrap_err();
        assert!(error.hint.contains("make room"), "{error}");
        assert_eq!(fs::read(&path).unwrap(), b"old");
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 1);
    }
}
