//! Rows of a CSV file by the names of their columns, each failure with file, line, column and value.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::cells;
use crate::error::{Error, Result};
use crate::units::Sex;

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

impl Rows {
    /// Reads CSV text; a comma or a semicolon separates, as the first line shows. `name` is only for messages.
    pub(super) fn read(name: &str, text: &[u8]) -> Result<Self> {
        let text = text.strip_prefix(b"\xef\xbb\xbf").unwrap_or(text);
        let first = text.split(|b| *b == b'\n').next().unwrap_or_default();
        let separator = if first.contains(&b';') && !first.contains(&b',') { b';' } else { b',' };
        let mut reader = csv::ReaderBuilder::new().delimiter(separator).flexible(false).from_reader(text);
        let broken = |e: csv::Error| Error::failed(name, e, "save the table as CSV in UTF-8, one row a line");
        let columns: Vec<String> = reader.headers().map_err(broken)?.iter().map(|c| c.trim().to_owned()).collect();
        let mut rows = Vec::new();
        for record in reader.records() {
            let record = record.map_err(broken)?;
            if record.iter().all(|cell| cell.trim().is_empty()) {
                continue;
            }
            let cells = columns.iter().cloned().zip(record.iter().map(|c| cells::original(c).to_owned())).collect();
            rows.push(Row { file: name.to_owned(), line: line_of(text, &record), cells });
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
        let said = format!("the first line lacks the columns {}", missing.join(", "));
        Err(Error::failed(format!("{name}, line 1"), said, format!("it needs {}", needed.join(","))))
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
        text.trim().parse().map(Some).map_err(|_| self.error(column, "is no day", "write it as 2026-05-31"))
    }

    /// `m`, `f` or nothing.
    pub(super) fn sex(&self, column: &str) -> Result<Option<Sex>> {
        match self.get(column).map(str::trim) {
            None | Some("") => Ok(None),
            Some("m") => Ok(Some(Sex::Male)),
            Some("f") => Ok(Some(Sex::Female)),
            Some(_) => Err(self.error(column, "is no sex", "write m, f or nothing")),
        }
    }

    /// A whole number from 0 on.
    pub(super) fn number(&self, column: &str) -> Result<u32> {
        let text = self.need(column)?;
        text.trim().parse().map_err(|_| self.error(column, "is no count", "write a whole number from 0 on"))
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
        let message =
            if error.place.is_empty() { error.message } else { format!("{}: {}", error.place, error.message) };
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
}
