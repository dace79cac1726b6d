//! Tables for spreadsheets: written as CSV with every cell of text made harmless, the same again on the way in.
//!
//! A cell of text that starts with one of `=`, `+`, `-`, `@`, tab or carriage return would run as a formula when the file
//! is opened (OWASP, "CSV Injection"); it gets an apostrophe in front. Numbers are left alone.

use std::fmt::Display;

/// A cell of text that no spreadsheet runs.
pub fn harmless(text: &str) -> String {
    if runs(text.trim_start_matches('\'')) { format!("'{text}") } else { text.to_owned() }
}

/// What [`harmless`] was given.
pub fn original(cell: &str) -> &str {
    match cell.strip_prefix('\'') {
        Some(rest) if runs(rest.trim_start_matches('\'')) => rest,
        _ => cell,
    }
}

/// A cell of a table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Cell {
    /// Words that a person typed, or the program's own.
    Text(String),
    /// A number as it is to be written; a minus sign in front of it is no formula.
    Number(String),
}

impl Cell {
    /// A cell of text.
    pub fn text(text: impl Into<String>) -> Self {
        Self::Text(text.into())
    }

    /// A cell with a number, or with nothing.
    pub fn number(number: impl Display) -> Self {
        Self::Number(number.to_string())
    }
}

/// A table as CSV (RFC 4180, lines ending in a line feed): the names of its columns, which are cells of text too, and its rows.
pub fn csv(head: &[&str], rows: &[Vec<Cell>]) -> String {
    let head: Vec<Cell> = head.iter().copied().map(Cell::text).collect();
    let mut out = line(&head);
    rows.iter().for_each(|row| out += &line(row));
    out
}

fn line(cells: &[Cell]) -> String {
    let written: Vec<String> = cells.iter().map(written).collect();
    written.join(",") + "\n"
}

fn written(cell: &Cell) -> String {
    let plain = match cell {
        Cell::Text(text) => harmless(text),
        Cell::Number(number) => number.clone(),
    };
    if plain.contains([',', '"', '\n', '\r']) { format!("\"{}\"", plain.replace('"', "\"\"")) } else { plain }
}

fn runs(text: &str) -> bool {
    text.starts_with(['=', '+', '-', '@', '\t', '\r'])
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn formulas_get_an_apostrophe_and_plain_text_none() {
        assert_eq!(harmless("=1+1"), "'=1+1");
        assert_eq!(harmless("-x"), "'-x");
        assert_eq!(harmless("Lowmere-1"), "Lowmere-1");
        assert_eq!(harmless("'tis"), "'tis");
    }

    #[test]
    fn names_of_columns_are_made_harmless_too_and_numbers_are_not() {
        let rows = [vec![Cell::text("=SUM(A1)"), Cell::number("-1.5")]];
        assert_eq!(csv(&["=1+1", "b"], &rows), "'=1+1,b\n'=SUM(A1),-1.5\n");
    }

    proptest! {
        /// Read back by the csv library.
        #[test]
        fn what_is_written_is_read_as_it_was(cells in proptest::collection::vec("[=,\";'\r\nab ]{0,5}", 2..4)) {
            let row: Vec<Cell> = cells.iter().map(Cell::text).collect();
            let head: Vec<&str> = cells.iter().map(String::as_str).collect();
            let text = csv(&head, &[row]);
            let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes());
            for record in reader.records() {
                let read: Vec<String> = record.unwrap().iter().map(|c| original(c).to_owned()).collect();
                prop_assert_eq!(&read, &cells);
            }
        }

        #[test]
        fn cells_come_back_unchanged(text in "['=+@\\-\t\rab]{0,6}") {
            let cell = harmless(&text);
            prop_assert!(!runs(&cell));
            prop_assert_eq!(original(&cell), text);
        }
    }
}
