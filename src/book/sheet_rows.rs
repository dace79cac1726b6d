//! Rows of a CSV file by the names of their columns, each failure with file, line, column and value.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::broods::MOST_YOUNG;
use crate::cells;
use crate::error::{Error, Result};
use crate::units::{Sex, counted};

/// A CSV file, read whole.
#[derive(Debug)]
pub(super) struct Rows {
    /// The names in the first line, in order.
    pub columns: Vec<String>,
    /// The rows below it.
    pub rows: Vec<Row>,
}

/// One row.
#[derive(Debug, Clone)]
pub(super) struct Row {
    file: String,
    line: u64,
    cells: BTreeMap<String, String>,
}

/// The line a record stands on. The reader's own place is before the empty lines that come first, and before the second byte
/// of a line end of two.
fn line_of(text: &[u8], record: &csv::StringRecord) -> u64 {
    record.position().map_or(0, |at| {
        let rest = usize::try_from(at.byte()).ok().and_then(|byte| text.get(byte..)).unwrap_or_default();
        let ends = rest.iter().take_while(|b| matches!(b, b'\r' | b'\n'));
        at.line() + ends.filter(|b| **b == b'\n').count() as u64
    })
}

/// A cell as it was before it was made harmless, without the blanks around it.
fn plain(cell: &str) -> String {
    cells::original(cell.trim()).to_owned()
}

impl Rows {
    /// Reads CSV text; comma, semicolon or tab separates, as the first line shows. Blanks around a cell are dropped.
    /// `name` is only for messages.
    pub(super) fn read(name: &str, text: &[u8]) -> Result<Self> {
        let text = text.strip_prefix(b"\xef\xbb\xbf").unwrap_or(text);
        if let Err(e) = std::str::from_utf8(text) {
            let line = 1 + text[..e.valid_up_to()].iter().filter(|b| **b == b'\n').count();
            let hint = "save the table as CSV in UTF-8";
            return Err(Error::failed(format!("{name}, line {line}"), "is not written in UTF-8", hint));
        }
        let first = text.split(|b| *b == b'\n').next().unwrap_or_default();
        let separator = *b",;\t".iter().find(|s| first.contains(s)).unwrap_or(&b',');
        let mut reader = csv::ReaderBuilder::new().delimiter(separator).flexible(true).from_reader(text);
        let broken = |e: csv::Error| Error::failed(name, e, "save the table as CSV in UTF-8, one row a line");
        let mut columns: Vec<String> = reader.headers().map_err(broken)?.iter().map(plain).collect();
        // Spreadsheets write the empty columns to the right of a table as well.
        while columns.last().is_some_and(String::is_empty) {
            columns.pop();
        }
        let mut rows = Vec::new();
        for record in reader.records() {
            let record = record.map_err(broken)?;
            if record.iter().all(|cell| cell.trim().is_empty()) {
                continue;
            }
            let line = line_of(text, &record);
            let beyond = record.iter().skip(columns.len()).find(|cell| !cell.trim().is_empty());
            if record.len() < columns.len() || beyond.is_some() {
                let cells = counted(record.len(), "cell", "cells");
                let said =
                    format!("{cells} where the first line names {}", counted(columns.len(), "column", "columns"));
                let hint = "put a text that holds the separator in \"quotes\", and as many separators in each line";
                return Err(Error::failed(format!("{name}, line {line}"), said, hint));
            }
            let cells = columns.iter().cloned().zip(record.iter().map(plain)).collect();
            rows.push(Row { file: name.to_owned(), line, cells });
        }
        let rows = Self { columns, rows };
        rows.check_columns(name)?;
        Ok(rows)
    }

    /// Refuses a file without one of the columns in `needed`.
    pub(super) fn need(&self, name: &str, needed: &[&str]) -> Result<()> {
        let missing: Vec<&str> = needed.iter().copied().filter(|n| !self.columns.iter().any(|c| c == n)).collect();
        if missing.is_empty() {
            return Ok(());
        }
        let word = if missing.len() == 1 { "column" } else { "columns" };
        let said = format!("the first line ({}) lacks the {word} {}", self.columns.join(","), missing.join(", "));
        Err(Error::failed(format!("{name}, line 1"), said, "names of columns are matched exactly, in small letters"))
    }

    fn check_columns(&self, name: &str) -> Result<()> {
        let place = || format!("{name}, line 1");
        for (i, column) in self.columns.iter().enumerate() {
            if column.is_empty() {
                return Err(Error::failed(place(), format!("column {} has no name", i + 1), "name it or remove it"));
            }
            if self.columns[..i].contains(column) {
                return Err(Error::failed(place(), format!("the column {column} stands twice"), "remove one of them"));
            }
        }
        Ok(())
    }
}

impl Row {
    /// A cell, `None` where it is empty or the file has no such column.
    pub(super) fn get(&self, column: &str) -> Option<&str> {
        self.cells.get(column).map(String::as_str).filter(|c| !c.is_empty())
    }

    /// A cell that may not be empty.
    pub(super) fn need(&self, column: &str) -> Result<&str> {
        self.get(column).ok_or_else(|| self.error(column, "is empty", "fill it in"))
    }

    /// A day, `YYYY-MM-DD`.
    pub(super) fn day(&self, column: &str) -> Result<Option<Date>> {
        let Some(text) = self.get(column) else { return Ok(None) };
        text.parse().map(Some).map_err(|_| self.error(column, "is no day", "write it as 2026-05-31"))
    }

    /// `m`, `f` or nothing.
    pub(super) fn sex(&self, column: &str) -> Result<Option<Sex>> {
        match self.get(column) {
            None => Ok(None),
            Some("m") => Ok(Some(Sex::Male)),
            Some("f") => Ok(Some(Sex::Female)),
            Some(_) => Err(self.error(column, "is no sex", "write m, f or nothing")),
        }
    }

    /// A whole number from 0 to [`MOST_YOUNG`].
    pub(super) fn number(&self, column: &str) -> Result<u32> {
        let text = self.need(column)?;
        let number = text.parse().ok().filter(|n| *n <= MOST_YOUNG);
        number.ok_or_else(|| self.error(column, "is no count", &format!("write a whole number from 0 to {MOST_YOUNG}")))
    }

    /// Something wrong with a cell of this row.
    pub(super) fn error(&self, column: &str, message: &str, hint: &str) -> Error {
        let value = self.cells.get(column).map_or("", String::as_str);
        Error::failed(self.place(), format!("column {column}: '{value}' {message}"), hint)
    }

    /// Puts this row's place before a failure that it led to.
    pub(super) fn placed(&self, column: &str, error: Error) -> Error {
        let value = self.cells.get(column).map_or("", String::as_str);
        let place = format!("{}, column {column}: '{value}'", self.place());
        let is_said = error.place.is_empty() || error.place == value;
        let message = if is_said { error.message } else { format!("{}: {}", error.place, error.message) };
        Error::failed(place, message, error.hint)
    }

    /// The line in its file.
    pub(super) const fn line(&self) -> u64 {
        self.line
    }

    fn place(&self) -> String {
        format!("{}, line {}", self.file, self.line)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_row_knows_its_line_however_lines_end() {
        for end in ["\n", "\r\n"] {
            let text = ["fish,sex", "A,m", "", "B,f"].join(end);
            let rows = Rows::read("fish.csv", text.as_bytes()).unwrap().rows;
            assert_eq!(rows.iter().map(Row::line).collect::<Vec<_>>(), [2, 4], "{end:?}");
        }
    }

    #[test]
    fn what_spreadsheets_add_is_no_part_of_the_table() {
        for separator in [",", ";", "\t"] {
            let text = "\u{feff}fish|sex||\r\n A |m||\r\nB|f|\r\n|||\r\n".replace('|', separator);
            let table = Rows::read("fish.csv", text.as_bytes()).unwrap();
            assert_eq!(table.columns, ["fish", "sex"]);
            let names: Vec<_> = table.rows.iter().map(|r| r.get("fish")).collect();
            assert_eq!(names, [Some("A"), Some("B")], "{separator:?}");
        }
    }

    #[test]
    fn a_line_that_does_not_fit_is_named() {
        let said = |text: &[u8]| Rows::read("fish.csv", text).unwrap_err().to_string();
        assert!(
            said(b"fish,sex\nA,m,x\n").starts_with("fish.csv, line 2: 3 cells where the first line names 2 columns")
        );
        assert!(
            said(b"fish,sex\nA,m\nB\n").starts_with("fish.csv, line 3: 1 cell where the first line names 2 columns")
        );
        assert!(said(b"fish,sex\nA,m\nB\xfc,f\n").starts_with("fish.csv, line 3: is not written in UTF-8"));
    }
}
