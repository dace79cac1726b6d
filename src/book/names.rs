//! Names that a breeder gives: kept exactly as typed, but never such that two look the same or a table breaks.

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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn odd_names_are_names_and_invisible_ones_are_not() {
        for name in ["K1-s", "Grüne Höhle 'Ñ', \"x\"; 3", "=SUM(A1)", "a#3", "?", "-dash"] {
            assert_eq!(check("fish", name), Ok(()));
        }
        for name in ["", " ", "\u{a0}", "K1-s ", "\tK1", "two\nlines", "nul\0"] {
            assert!(check("fish", name).is_err(), "{name:?}");
        }
    }
}
