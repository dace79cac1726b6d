//! Names that a breeder gives: kept exactly as typed, but never such that two look the same or a table breaks.

use super::Read;
use super::broods::EarlierSire;
use super::revise::NONE;
use crate::error::{Error, Result};

/// Refuses a name that nobody could find again: an empty one, one with a line end or another control character, one with
/// blanks at its ends. `what` is what bears it: `fish`, `cross`, `brood`, `line`.
pub(super) fn check(what: &str, name: &str) -> Result<()> {
    let (said, hint) = if name.trim().is_empty() {
        (format!("a {what} needs a name"), "give it one")
    } else if name.chars().any(char::is_control) {
        (format!("the name {name:?} holds a line end, a tab or another control character"), "leave it out")
    } else if name.trim() != name {
        (format!("the name '{name}' begins or ends with a blank"), "leave it out")
    } else {
        return Ok(());
    };
    Err(Error::usage(what, said, hint))
}

/// Refuses the name of a fish as [`check`] does, and one that says something else where a command or a table names a fish.
pub(super) fn check_fish(name: &str) -> Result<()> {
    check("fish", name)?;
    let said = match name {
        NONE => "stands for no fish",
        EarlierSire::UNKNOWN => "stands for a fish that is not known",
        _ => return Ok(()),
    };
    Err(Error::usage("fish", format!("the name '{name}' {said}"), "choose another name"))
}

/// Refuses a class, or its axis, as [`check`] refuses a name: one with a blank beside it would be another class in every count.
pub(super) fn check_class(axis: &str, class: &str) -> Result<()> {
    check("class", axis)?;
    check("class", class)
}

/// Of the names in a table, one that differs in nothing but case, blanks and marks: what a person may have meant.
///
/// # Errors
/// The book cannot be read.
pub(super) fn alike(book: &Read<'_>, table: &str, typed: &str) -> Result<Option<String>> {
    let mut statement = book.conn.prepare(&format!("SELECT name FROM {table} WHERE name <> ?1 ORDER BY id"))?;
    let names = statement.query_map([typed], |row| row.get::<_, String>(0))?.collect::<rusqlite::Result<Vec<_>>>()?;
    Ok(names.into_iter().find(|name| bare(name) == bare(typed)))
}

/// The hint to who named what is not in a table.
pub(super) fn hint(book: &Read<'_>, table: &str, typed: &str, see: &str) -> String {
    match alike(book, table, typed) {
        Ok(Some(meant)) => format!("did you mean {meant}? names are matched exactly"),
        _ => format!("{see}; names are matched exactly"),
    }
}

/// Letters and digits in small letters; a name of marks alone stays itself.
pub(super) fn bare(name: &str) -> String {
    let bare: String = name.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect();
    if bare.is_empty() { name.to_owned() } else { bare }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_alike_differ_in_case_blanks_and_marks_alone() {
        for typed in ["lowmere1", "LOWMERE-1", "Lowmere 1", "Lowmere_1"] {
            assert_eq!(bare(typed), bare("Lowmere-1"));
        }
        assert_ne!(bare("Lowmere-2"), bare("Lowmere-1"));
        assert_ne!(bare("?"), bare("-"));
    }

    #[test]
    fn odd_names_are_names_and_invisible_ones_are_not() {
        for name in ["K1-s", "Grüne Höhle 'Ñ', \"x\"; 3", "=SUM(A1)", "a#3", "a+b", "-dash"] {
            assert_eq!(check_fish(name), Ok(()));
        }
        for name in ["", " ", "\u{a0}", "K1-s ", "\tK1", "two\nlines", "nul\0"] {
            assert!(check("fish", name).is_err(), "{name:?}");
        }
        for name in ["none", "?"] {
            assert!(check_fish(name).is_err() && check("brood", name).is_ok(), "{name:?}");
        }
    }
}
