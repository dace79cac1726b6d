//! The classes that a book has on each axis, and which of them a mistyped one may stand for.

use std::collections::{BTreeMap, BTreeSet};

use super::{Read, names};
use crate::error::Result;
use crate::sheet::{NOT_SHOWN, UNDECIDED};

/// Classes by axis.
pub type Classes = BTreeMap<String, BTreeSet<String>>;

/// Fewest letters of a class of which one wrong letter is taken for a slip: shorter ones differ by one as a matter of course.
const FEWEST_LETTERS: usize = 4;

/// The classes that stand in a book: counted by hand, written down of a fish, or said of one in a photo.
///
/// # Errors
/// The book cannot be read.
pub fn known(book: &Read<'_>) -> Result<Classes> {
    let mut statement = book.conn.prepare(
        "SELECT axis, class FROM current_hand_count
         UNION SELECT axis, value FROM current_fish WHERE field = 'class' AND value IS NOT NULL
         UNION SELECT axis, class FROM photo_tally WHERE class <> ''",
    )?;
    let rows = statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?;
    let mut all = Classes::new();
    for row in rows {
        let (axis, class): (String, String) = row?;
        if class != UNDECIDED && class != NOT_SHOWN {
            all.entry(axis).or_default().insert(class);
        }
    }
    Ok(all)
}

/// Of the classes of an axis another one that a class may be a slip for: it differs in case, blanks and marks alone, or in one letter
/// that is wrong, missing, too many or swapped with the next.
pub fn meant<'a>(class: &str, classes: impl IntoIterator<Item = &'a String>) -> Option<&'a str> {
    classes.into_iter().map(String::as_str).find(|other| *other != class && may_be_slip(class, other))
}

fn may_be_slip(typed: &str, other: &str) -> bool {
    let (a, b): (Vec<char>, Vec<char>) = (names::bare(typed).chars().collect(), names::bare(other).chars().collect());
    if a == b {
        return true;
    }
    if a.len().min(b.len()) < FEWEST_LETTERS {
        return false;
    }
    let before = a.iter().zip(&b).take_while(|(x, y)| x == y).count();
    let (a, b) = (&a[before..], &b[before..]);
    let after = a.iter().rev().zip(b.iter().rev()).take_while(|(x, y)| x == y).count();
    // Two numbers are two classes.
    let letters = |left: &[char]| left.iter().all(|c| c.is_alphabetic());
    match (&a[..a.len() - after], &b[..b.len() - after]) {
        ([p, q], [r, s]) => (p, q) == (s, r) && letters(&[*p, *q]),
        (a, b) => a.len() <= 1 && b.len() <= 1 && letters(a) && letters(b),
    }
}

#[cfg(test)]
mod tests {
    use super::may_be_slip;

    #[test]
    fn a_slip_is_one_letter_or_marks_and_case_alone() {
        for (typed, other) in [
            ("glod", "gold"),
            ("Plain", "plain"),
            ("plan", "plain"),
            ("plainn", "plain"),
            ("golt", "gold"),
            ("none-yet", "none yet"),
        ] {
            assert!(may_be_slip(typed, other) && may_be_slip(other, typed), "{typed} {other}");
        }
        for (typed, other) in
            [("gold", "plain"), ("red", "rod"), ("row 1", "row 2"), ("group1", "group2"), ("gold", "dlog")]
        {
            assert!(!may_be_slip(typed, other), "{typed} {other}");
        }
    }
}
