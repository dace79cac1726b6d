//! Classes that are kept as typed, since a breeder may score more than photos show; a slip of the pen looks the same, and would stand
//! as a class of its own in every count.

use std::collections::BTreeSet;

use super::desk;
use crate::book::classes::{self, Classes};
use crate::book::{Book, sheets};
use crate::error::Result;
use crate::sheet::{NOT_SHOWN, UNDECIDED};

/// The classes of a book before something is written down in it.
pub(super) struct Before(Classes);

impl Before {
    pub(super) fn of(book: &Book) -> Result<Self> {
        classes::known(&book.read()).map(Self)
    }

    /// Says of classes just written down which are not on the sheet and not in the book either, each once.
    pub(super) fn note_strange<'a>(&self, book: &Book, typed: impl Iterator<Item = (&'a str, &'a str)>) -> Result<()> {
        let sheet = sheets::rules(&book.read())?;
        let mut by_axis = Classes::new();
        for (axis, class) in typed.filter(|(_, class)| ![UNDECIDED, NOT_SHOWN].contains(class)) {
            by_axis.entry(axis.to_owned()).or_default().insert(class.to_owned());
        }
        for (axis, typed) in &by_axis {
            let of_sheet = sheet.axis(axis).map(|known| known.classes.iter().map(|c| c.name.clone()).collect());
            let of_book = self.0.get(axis).map(|known| known.iter().cloned().collect());
            match (of_sheet, of_book) {
                (Some(known), _) => note_new(axis, typed, known, "on the sheet"),
                (None, Some(known)) => note_new(axis, typed, known, "in the book so far"),
                (None, None) => note_first(axis, typed),
            }
        }
        Ok(())
    }
}

/// Classes that are new on an axis that has others.
fn note_new(axis: &str, typed: &BTreeSet<String>, known: Vec<String>, place: &str) {
    for class in typed.iter().filter(|class| !known.contains(class)) {
        let meant = classes::meant(class, known.iter().chain(typed));
        let meant = meant.map_or_else(String::new, |meant| format!("; did you mean {meant}?"));
        let known = known.join(", ");
        desk::note(format_args!("note: {axis} has no class {class} {place} ({known}); kept as typed{meant}"));
    }
}

/// The first classes of an axis that is on no sheet.
fn note_first(axis: &str, typed: &BTreeSet<String>) {
    desk::note(format_args!("note: the sheet has no axis {axis}; kept as typed"));
    for class in typed {
        if let Some(other) = classes::meant(class, typed.iter().filter(|other| *other > class)) {
            desk::note(format_args!("note: {axis}: {class} and {other} are kept as two classes; did you mean one?"));
        }
    }
}
