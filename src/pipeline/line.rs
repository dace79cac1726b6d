//! A line of `measure --json`, read back: what was measured elsewhere, to be kept in a book.

use std::collections::BTreeSet;

use super::{PhotoReport, SCHEMA};

/// Most fish that one line may hold: a tray of a few hundred is full.
const MOST_FISH: usize = 10_000;

/// What is wrong with a text that is no such line, without the words of the reader, which name its own types.
pub fn no_line(error: &serde_json::Error) -> String {
    if error.is_eof() {
        return "is cut short: no whole line of `measure --json`".to_owned();
    }
    format!("is no line of `measure --json` (column {})", error.column())
}

/// The measurement in a line.
///
/// # Errors
/// What is wrong with it: not such a line, of another schema, a hash that is none, fish with one number.
pub fn read(text: &str) -> Result<PhotoReport, String> {
    let report: PhotoReport = serde_json::from_str(text).map_err(|e| no_line(&e))?;
    if report.schema != SCHEMA {
        return Err(format!("has the schema '{}', not '{SCHEMA}'", report.schema));
    }
    if report.hash.len() != 64 || !report.hash.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f')) {
        return Err(format!("'{}' is no hash of a photo", report.hash));
    }
    if report.fish.len() > MOST_FISH {
        return Err(format!("has {} fish, more than {MOST_FISH}", report.fish.len()));
    }
    let numbers: BTreeSet<u32> = report.fish.iter().map(|f| f.n).collect();
    if numbers.len() < report.fish.len() || numbers.contains(&0) {
        return Err("has two fish with one number, or one without".to_owned());
    }
    if let Some(one) = report.fish.iter().find(|f| f.outline.len() < 3) {
        return Err(format!("fish {} has no outline", one.n));
    }
    Ok(report)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::photo::{Limits, identity};
    use crate::pipeline::{self, Given, MeasureOptions};
    use crate::sheet::Sheet;

    /// The line of a small grey picture, in which nothing is found.
    fn grey() -> serde_json::Value {
        let bytes = include_bytes!("../../tests/fixtures/grey.jpg");
        let photo = crate::photo::read("grey.jpg", bytes, Limits::default()).unwrap();
        let (sheet, options) = (Sheet::starting().unwrap(), MeasureOptions::default());
        let report = pipeline::measure(&photo, Given { sheet: &sheet, empty: None }, &options).unwrap().report;
        assert_eq!(report.hash, identity(bytes));
        serde_json::from_str(&report.line().unwrap()).unwrap()
    }

    #[test]
    fn a_line_comes_back_as_it_was_written() {
        let text = grey().to_string();
        assert_eq!(read(&text).unwrap().line().unwrap(), text);
    }

    #[test]
    fn what_is_no_line_is_named() {
        for (key, value, said) in [
            ("schema", "broodhue.photo/9".into(), "schema"),
            ("hash", "../../etc/passwd".into(), "no hash"),
            ("hash", "ABCD".repeat(16).into(), "no hash"),
            ("width", serde_json::Value::Null, "is no line of `measure --json` (column"),
        ] {
            let mut line = grey();
            line[key] = value;
            let error = read(&line.to_string()).unwrap_err();
            assert!(error.contains(said), "{key}: {error}");
        }
        assert!(read("").is_err() && read("[1]").is_err());
        assert!(read(&"[".repeat(100_000)).is_err(), "nested beyond any depth");
    }
}
