//! Mending what was written down of a fish, a cross or a brood, or adding what became known since. What stood there before
//! stays in the log, as the reason of the decision that changed it.

use std::collections::BTreeMap;
use std::fmt::Display;

use jiff::civil::Date;
use rusqlite::types::Value;
use rusqlite::{params, params_from_iter};

use super::decisions::{self, By};
use super::fish::Fish;
use super::log::{Field, Target, say};
use super::values::day;
use super::{Write, broods, consistent, fish, names};
use crate::error::{Error, Result};
use crate::units::Sex;

pub use super::revise_brood::{BroodChange, brood};
pub use super::revise_cross::{CrossChange, cross};

/// The word that takes a value out where one is typed; no fish goes by it.
pub const NONE: &str = "none";

/// What becomes of a value that may be absent.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub enum To<T> {
    /// It stays.
    #[default]
    Same,
    /// It is taken out.
    Nothing,
    /// It is this from now on.
    Is(T),
}

impl<T> To<T> {
    /// What stands afterwards, where `old` stood.
    pub fn over(self, old: Option<T>) -> Option<T> {
        match self {
            Self::Same => old,
            Self::Nothing => None,
            Self::Is(new) => Some(new),
        }
    }

    /// The same in another form.
    pub fn map<U>(self, form: impl FnOnce(T) -> U) -> To<U> {
        match self {
            Self::Same => To::Same,
            Self::Nothing => To::Nothing,
            Self::Is(new) => To::Is(form(new)),
        }
    }
}

impl<T> From<Option<T>> for To<T> {
    /// Nothing typed leaves what stands.
    fn from(typed: Option<T>) -> Self {
        typed.map_or(Self::Same, Self::Is)
    }
}

/// What is to be changed of a fish.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct FishChange {
    /// Its name; `None` stays. All that speaks of it goes by the new one.
    pub name: Option<String>,
    /// The cross it came from; nothing makes it a founder. A brood of another cross goes with it.
    pub cross: To<String>,
    /// The brood it came from, whose cross is then its own.
    pub brood: To<String>,
    /// Its sex.
    pub sex: To<Sex>,
    /// Its line.
    pub line: To<String>,
    /// Its day of birth.
    pub born: To<Date>,
    /// Its own class on these axes; `None` takes it out.
    pub classes: BTreeMap<String, Option<String>>,
    /// Whether it is known to carry no hidden allele for the target; `None` stays.
    pub pure: Option<bool>,
    /// Kept apart from every male from before it could mate until this day at least.
    pub virgin_on: To<Date>,
    /// Kept apart from every male since this day.
    pub isolated_since: To<Date>,
    /// Anything else.
    pub note: To<String>,
}

/// What became of a change, in words: `sex f (was m)`.
pub(super) type Said = Vec<String>;

/// Changes a fish. Says what changed; nothing where all of it stood there already.
///
/// # Errors
/// An unknown fish, cross or brood; a name that is taken or no name; a brood of another cross; a cross of which it is an ancestor; a sex that its crosses forbid; a birth
/// that its parents' or its own crosses' days forbid, or after the day it left.
pub fn fish(book: &Write<'_>, name: &str, change: &FishChange, by: &By) -> Result<Said> {
    let id = fish::known_id(book, name)?;
    let old = fish::get(book, name)?;
    if let To::Is(line) = &change.line {
        names::check("line", line)?;
    }
    // One with blanks, out of an older book, can be taken out.
    let given = |(axis, class): (&String, &Option<String>)| class.as_ref().map(|class| names::check_class(axis, class));
    change.classes.iter().filter_map(given).collect::<Result<()>>()?;
    if let Some(new) = change.name.as_ref().filter(|new| *new != name) {
        fish::check_new_name(book, new)?;
    }
    let mut said = come_from(book, (id, &old), change)?;
    let letter = |sex: Sex| sex.letter().to_owned();
    let pure = |pure: bool| if pure { "1" } else { "0" }.to_owned();
    let columns = [
        ("name", Some(old.name), change.name.clone().into()),
        ("sex", old.sex.map(letter), change.sex.clone().map(letter)),
        ("line", old.line, change.line.clone()),
        ("born", day(old.born), in_words(&change.born)),
        ("pure", Some(pure(old.pure)), change.pure.map(pure).into()),
        ("virgin_on", day(old.virgin_on), in_words(&change.virgin_on)),
        ("isolated_since", day(old.isolated_since), in_words(&change.isolated_since)),
        ("note", old.note, change.note.clone()),
    ];
    said.extend(put(book, "fish", id, columns)?);
    let classes = change.classes.iter().filter(|(axis, class)| old.classes.get(*axis) != class.as_ref());
    let classes: Vec<_> = classes.collect();
    said.extend(classes.iter().map(|(axis, class)| changed(axis, old.classes.get(*axis), class.as_ref())));
    if let Some(decision) = keep(book, name, &said, by)? {
        for (axis, class) in classes {
            say(book, decision, &by.name, Target::Fish(id), Field::Class(axis), class.as_deref())?;
        }
    }
    consistent::fish(book, change.name.as_deref().unwrap_or(name))?;
    if (&change.cross, &change.brood) != (&To::Same, &To::Same) {
        consistent::ancestors(book)?;
    }
    Ok(said)
}

/// Says out of which cross and brood a fish came. Says what changed.
fn come_from(book: &Write<'_>, (id, old): (i64, &Fish), change: &FishChange) -> Result<Said> {
    if (&change.cross, &change.brood) == (&To::Same, &To::Same) {
        return Ok(Said::new());
    }
    let cross = match (&change.cross, &change.brood) {
        // A brood tells its cross, the fish's own first.
        (To::Same, To::Is(brood)) => {
            let own = old.cross.as_deref().map(|cross| broods::in_cross(book, cross, brood)).transpose()?;
            own.flatten().map(|brood| brood.cross)
        }
        _ => change.cross.clone().over(old.cross.clone()),
    };
    let brood = match &change.brood {
        To::Same => old.brood.clone().filter(|_| cross == old.cross),
        to => to.clone().over(None),
    };
    if let (To::Nothing, Some(brood)) = (&change.cross, &brood) {
        let said = format!("out of brood {brood} and out of no cross");
        return Err(Error::usage(&old.name, said, "name the brood alone, or --cross none alone"));
    }
    let (cross, brood) = fish::origin(book, &old.name, cross.as_deref(), brood.as_deref())?;
    book.conn.execute(
        "UPDATE fish SET cross_id = ?2, brood_id = ?3 WHERE id = ?1",
        params![id, cross, brood.map(|b| b.id)],
    )?;
    let new = fish::get(book, &old.name)?;
    let differs = |what: &str, old: &Option<String>, new: &Option<String>| {
        (old != new).then(|| changed(what, old.as_ref(), new.as_ref()))
    };
    let said = [differs("cross", &old.cross, &new.cross), differs("brood", &old.brood, &new.brood)];
    Ok(said.into_iter().flatten().collect())
}

/// A new value as it stands in its column.
pub(super) fn in_words(new: &To<impl Display>) -> To<String> {
    match new {
        To::Same => To::Same,
        To::Nothing => To::Nothing,
        To::Is(new) => To::Is(new.to_string()),
    }
}

/// Writes the new values that differ into their columns, and says which.
pub(super) fn put<'a>(
    book: &Write<'_>,
    table: &str,
    id: i64,
    columns: impl IntoIterator<Item = (&'a str, Option<String>, To<String>)>,
) -> Result<Said> {
    let differs = |(column, old, new): (&'a str, Option<String>, To<String>)| {
        let new = if new == To::Same { return None } else { new.over(None) };
        (new != old).then(|| (column, changed(&column.replace('_', " "), old.as_ref(), new.as_ref()), new))
    };
    let changes: Vec<_> = columns.into_iter().filter_map(differs).collect();
    if !changes.is_empty() {
        // In one go: a row may pass through no state that its table forbids.
        let places = changes.iter().enumerate().map(|(i, (column, ..))| format!("{column} = ?{}", i + 2));
        let sql = format!("UPDATE {table} SET {} WHERE id = ?1", places.collect::<Vec<_>>().join(", "));
        let new = changes.iter().map(|(.., new)| new.clone().map_or(Value::Null, Value::Text));
        book.conn.execute(&sql, params_from_iter([Value::Integer(id)].into_iter().chain(new)))?;
    }
    Ok(changes.into_iter().map(|(_, said, _)| said).collect())
}

/// A change in words: `sex f (was m)`, `line none (was Lowmere)`.
pub(super) fn changed(what: &str, old: Option<impl Display>, new: Option<impl Display>) -> String {
    let new = new.map_or_else(|| NONE.to_owned(), |new| new.to_string());
    match old {
        Some(old) => format!("{what} {new} (was {old})"),
        None => format!("{what} {new}"),
    }
}

/// Keeps what changed in the log, if anything did.
pub(super) fn keep(book: &Write<'_>, name: &str, said: &Said, by: &By) -> Result<Option<decisions::DecisionId>> {
    if said.is_empty() {
        return Ok(None);
    }
    decisions::open(book, by, "record", Some(&format!("{name}: {}", said.join("; ")))).map(Some)
}
