//! Cells of a spreadsheet: made harmless on the way out, the same again on the way in.
//!
//! A cell of text that starts with one of `=`, `+`, `-`, `@`, tab or carriage return would run as a formula when the file
//! is opened (OWASP, "CSV Injection"); it gets an apostrophe in front. Numbers are left alone.

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

    proptest! {
        #[test]
        fn cells_come_back_unchanged(text in "['=+@\\-\t\rab]{0,6}") {
            let cell = harmless(&text);
            prop_assert!(!runs(&cell));
            prop_assert_eq!(original(&cell), text);
        }
    }
}
