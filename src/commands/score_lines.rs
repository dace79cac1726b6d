//! Measured lines as `score --from` takes them in: looked over once for whose photos they are, and read again one by one
//! when their turn comes, so that a file of a hundred thousand fish is never in memory as a whole.

use std::fs::File;
use std::io::{BufRead, BufReader, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};

use jiff::civil::Date;
use serde::Deserialize;

use crate::error::{Error, Result};
use crate::pipeline::{PhotoReport, line};

/// Longest line in bytes: a thousand fish with finely drawn outlines need a tenth of it.
const LONGEST: u64 = 64 << 20;

/// What to do with a line that is none.
const HINT: &str = "take the lines as `broodhue measure --json` prints them; measure this photo again";

/// Where a line stands.
#[derive(Debug, Clone)]
pub(super) struct Place {
    file: PathBuf,
    number: usize,
    start: u64,
    bytes: usize,
}

/// Whose photo it is, as a line may say in the form that `score --json` prints.
#[derive(Debug, Clone, Default, PartialEq, Eq, Deserialize)]
#[serde(default)]
pub(super) struct Whose {
    pub(super) brood: Option<String>,
    pub(super) fish: Option<String>,
    pub(super) sitting: Option<Date>,
}

/// What a line says first of all.
#[derive(Debug, Clone, Deserialize)]
pub(super) struct Head {
    pub(super) photo: String,
    #[serde(default)]
    pub(super) hash: String,
    #[serde(default)]
    pub(super) kept: Whose,
    error: Option<String>,
    #[serde(default)]
    hint: String,
}

/// The lines of a file, each with its place; one that is no measured line, or tells of a photo that failed, is an error
/// of its own.
///
/// # Errors
/// A file that cannot be read; a line longer than any measurement.
pub(super) fn index(file: &Path) -> Result<Vec<Result<(Place, Head)>>> {
    let hint = "name a file of lines of `broodhue measure --json`";
    let failed = |e: std::io::Error| Error::failed(file.display(), e, hint);
    let mut reader = BufReader::new(File::open(file).map_err(failed)?);
    let (mut all, mut start, mut text) = (Vec::new(), 0_u64, Vec::new());
    for number in 1.. {
        text.clear();
        let bytes = reader.by_ref().take(LONGEST).read_until(b'\n', &mut text).map_err(failed)?;
        if bytes == 0 {
            break;
        }
        let place = Place { file: file.to_owned(), number, start, bytes };
        if std::str::from_utf8(&text).is_err() {
            return Err(Error::failed(file.display(), "is no text in UTF-8", hint));
        }
        if bytes as u64 == LONGEST {
            return Err(place.wrong(format!("is longer than {} MB", LONGEST >> 20)));
        }
        start += bytes as u64;
        if !text.trim_ascii().is_empty() {
            all.push(head(&place, &text).map(|head| (place, head)));
        }
    }
    Ok(all)
}

fn head(place: &Place, text: &[u8]) -> Result<Head> {
    let head: Head = serde_json::from_slice(text).map_err(|e| place.wrong(line::no_line(&e)))?;
    match &head.error {
        Some(error) => Err(Error::failed(&head.photo, error, &head.hint)),
        None => Ok(head),
    }
}

impl Place {
    /// The measurement that stands here.
    pub(super) fn read(&self) -> Result<PhotoReport> {
        let failed = |e: std::io::Error| self.wrong(e);
        let mut file = File::open(&self.file).map_err(failed)?;
        let mut text = vec![0; self.bytes];
        file.seek(SeekFrom::Start(self.start)).and_then(|_| file.read_exact(&mut text)).map_err(failed)?;
        let text = std::str::from_utf8(&text).map_err(|e| self.wrong(e))?;
        line::read(text).map_err(|e| self.wrong(e))
    }

    fn wrong(&self, what: impl std::fmt::Display) -> Error {
        Error::failed(format!("{}, line {}", self.file.display(), self.number), what, HINT)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_line_stands_for_itself() {
        let dir = tempfile::tempdir().unwrap();
        let file = dir.path().join("lines.jsonl");
        let kept = r#"{"photo":"a.jpg","hash":"ab","kept":{"brood":"K2-1","sitting":"2026-03-07","fish":null,"changed":null}}"#;
        let failed = r#"{"photo":"b.jpg","error":"cut short","hint":"copy it again"}"#;
        std::fs::write(&file, format!("{kept}\n\n{failed}\n[]\n{{\"photo\":\"c.j")).unwrap();
        let found = index(&file).unwrap();
        let (place, head) = found[0].as_ref().unwrap();
        assert_eq!((place.number, place.start, place.bytes), (1, 0, kept.len() + 1));
        assert_eq!((head.kept.brood.as_deref(), head.kept.sitting), (Some("K2-1"), "2026-03-07".parse().ok()));
        assert_eq!(found[1].as_ref().unwrap_err().to_string(), "b.jpg: cut short; hint: copy it again");
        for (i, said) in [(2, "line 4: is no line of `measure --json` (column 2); hint: "), (3, "line 5: is cut short")]
        {
            let wrong = found[i].as_ref().unwrap_err().to_string();
            assert!(wrong.contains(said), "{wrong}");
        }
        assert_eq!(found.len(), 4);
    }
}
