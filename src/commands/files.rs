//! Files that a person names on the command line.

use std::io::Read;
use std::path::Path;

use crate::error::{Error, Result};

/// The text of a file; `hint` says where such a file comes from.
pub(super) fn read_text(path: &Path, hint: &str) -> Result<String> {
    let bytes = read_bytes(path, hint)?;
    text_of(&bytes).ok_or_else(|| Error::failed(path.display(), "is no text in UTF-8", hint))
}

/// A file, byte for byte; `hint` says where such a file comes from.
pub(super) fn read_bytes(path: &Path, hint: &str) -> Result<Vec<u8>> {
    std::fs::read(path).map_err(|e| match e.kind() {
        std::io::ErrorKind::NotFound => Error::failed(path.display(), "there is no such file", hint),
        _ => Error::failed(path.display(), e, hint),
    })
}

/// UTF-8 with or without its mark, or UTF-16 behind its mark, which is what `>` writes in some Windows shells.
pub(super) fn text_of(bytes: &[u8]) -> Option<String> {
    if let Some(rest) = bytes.strip_prefix(&[0xFF, 0xFE]) {
        let units: Vec<u16> = rest.chunks_exact(2).map(|pair| u16::from_le_bytes([pair[0], pair[1]])).collect();
        return String::from_utf16(&units).ok();
    }
    let rest = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    std::str::from_utf8(rest).ok().map(str::to_owned)
}

/// How far the beginnings of two files are compared: as long as the marks of PNG, PDF and HTML files.
const MARK: u64 = 4;

/// Writes a file, making its folder, by the rule of [`replace`].
pub(super) fn write(path: &Path, bytes: impl AsRef<[u8]>) -> Result<()> {
    if let Some(folder) = path.parent().filter(|p| !p.as_os_str().is_empty()) {
        std::fs::create_dir_all(folder).map_err(|e| unwritable(path, &e))?;
    }
    replace(path, bytes)
}

/// Writes a file. One that is there already is only replaced by one of its own kind, so that a slip of the pen
/// (`report photo.jpg`) costs no photo.
pub(super) fn replace(path: &Path, bytes: impl AsRef<[u8]>) -> Result<()> {
    let mut old = Vec::new();
    let there = std::fs::File::open(path).and_then(|file| file.take(MARK).read_to_end(&mut old)).is_ok();
    if there && !bytes.as_ref().starts_with(&old) {
        let said = "is there already and holds something else, which would be lost";
        return Err(Error::failed(path.display(), said, "name another file"));
    }
    std::fs::write(path, bytes).map_err(|e| unwritable(path, &e))
}

/// Refuses a name that can be no file of this kind: a folder, or one with the ending of another kind. `endings` are those it may
/// have, the first of them the usual one; without any ending it is taken as typed.
pub(super) fn check_name(path: &Path, endings: &[&str]) -> Result<()> {
    let usual = endings.first().copied().unwrap_or_default();
    refuse_folder(path, &format!("name.{usual}"))?;
    let ending = path.extension().map(|e| e.to_string_lossy().to_ascii_lowercase());
    match ending.filter(|ending| !endings.contains(&ending.as_str())) {
        None => Ok(()),
        Some(ending) => {
            let hint = format!("name it {}", path.with_extension(usual).display());
            Err(Error::usage(path.display(), format!("would be no {ending} file"), hint))
        }
    }
}

/// Refuses the name of a folder where that of a file is wanted, such as `example` in it.
pub(super) fn refuse_folder(path: &Path, example: &str) -> Result<()> {
    let as_typed = path.as_os_str().to_string_lossy();
    if path.is_dir() || path.file_name().is_none() || as_typed.ends_with(std::path::is_separator) {
        let hint = format!("name the file in it: {}", path.join(example).display());
        return Err(Error::usage(path.display(), "is a folder, not the name of a file", hint));
    }
    Ok(())
}

fn unwritable(path: &Path, error: &std::io::Error) -> Error {
    Error::failed(path.display(), error, "choose a folder that is there and can be written to")
}

/// Refuses to write over a file that the command reads.
pub(super) fn not_over(input: &Path, output: &Path) -> Result<()> {
    let same = input.canonicalize().ok().is_some_and(|input| output.canonicalize().is_ok_and(|output| output == input));
    if same {
        return Err(Error::usage(output.display(), "is the photo itself, which would be lost", "name another file"));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_file_of_the_same_kind_is_replaced() {
        let dir = tempfile::tempdir().unwrap();
        let file = dir.path().join("new/report.html");
        write(&file, "<!DOCTYPE html>first").unwrap();
        write(&file, "<!DOCTYPE html>second").unwrap();
        assert!(not_over(&file, &file).is_err());
        let refused = write(&file, "%PDF-1.7").unwrap_err().to_string();
        assert!(refused.contains("name another file"), "{refused}");
        assert_eq!(std::fs::read_to_string(&file).unwrap(), "<!DOCTYPE html>second");
    }

    #[test]
    fn a_name_has_the_ending_of_what_is_written() {
        let dir = tempfile::tempdir().unwrap();
        let said = |name: &str| check_name(&dir.path().join(name), &["html", "htm"]).err().map(|e| e.to_string());
        for good in ["line.html", "line.HTM", "line", "a.b.html"] {
            assert_eq!(said(good), None, "{good}");
        }
        assert!(said("line.pdf").is_some_and(|e| e.contains("would be no pdf file") && e.ends_with("line.html")));
        for folder in ["", "new/", "."] {
            assert!(said(folder).is_some_and(|e| e.contains("is a folder")), "{folder}");
        }
        assert!(refuse_folder(Path::new(".."), "x").is_err());
    }

    #[test]
    fn text_comes_in_three_ways() {
        let wide: Vec<u8> =
            [0xFF, 0xFE].into_iter().chain("ä = 1\n".encode_utf16().flat_map(u16::to_le_bytes)).collect();
        assert_eq!(text_of(&wide).as_deref(), Some("ä = 1\n"));
        assert_eq!(text_of("\u{feff}ä = 1".as_bytes()).as_deref(), Some("ä = 1"));
        assert_eq!(text_of("ä = 1".as_bytes()).as_deref(), Some("ä = 1"));
        assert_eq!(text_of(b"\x80"), None);
    }
}
