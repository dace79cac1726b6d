//! Aligned tables for a person.

use comfy_table::{CellAlignment, Table, presets};

/// Rows under their headings, without lines; the columns at the places `numbers` (from 0) stand to the
/// right. Ends with a line end.
pub(super) fn aligned(head: &[&str], rows: Vec<Vec<String>>, numbers: &[usize]) -> String {
    let mut table = Table::new();
    table.load_style(presets::NOTHING);
    table.set_header(head.iter().copied());
    table.add_rows(rows);
    for place in numbers {
        if let Some(column) = table.column_mut(*place) {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    table.trim_fmt() + "\n"
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_stand_to_the_right() {
        let rows = vec![vec!["a".to_owned(), "7".to_owned()], vec!["longer".to_owned(), "12".to_owned()]];
        assert_eq!(aligned(&["name", "n"], rows, &[1]), " name     n\n a        7\n longer  12\n");
    }
}
