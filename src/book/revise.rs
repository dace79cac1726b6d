//! Mending what was written down of a fish, a cross or a brood, or adding what became known since. What stood there before
//! stays in the log, as the reason of the decision that changed it.

use std::collections::BTreeMap;
use std::fmt::Display;

use jiff::civil::Date;
use rusqlite::types::Value;
use rusqlite::{params, params_from_iter};

use super::broods::{self, EarlierSire};
use super::crosses::{self, Stay};
use super::decisions::{self, By};
use super::log::{Field, Target, say};
use super::values::{day, read_day};
use super::{Write, consistent, fish, names, possible_dams};
use crate::error::Result;
use crate::units::Sex;

/// What is to be changed of a fish; what is `None` stays.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct FishChange {
    /// Its sex.
    pub sex: Option<Sex>,
    /// Its line.
    pub line: Option<String>,
    /// Its day of birth.
    pub born: Option<Date>,
    /// Its own class on these axes.
    pub classes: BTreeMap<String, String>,
    /// Whether it is known to carry no hidden allele for the target.
    pub pure: Option<bool>,
    /// Kept apart from every male from before it could mate until this day at least.
    pub virgin_on: Option<Date>,
    /// Kept apart from every male since this day.
    pub isolated_since: Option<Date>,
    /// Anything else.
    pub note: Option<String>,
}

/// What is to be changed of a cross; what is `None` stays.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct CrossChange {
    /// The days in and out: of the fish named in `of`, else of the cross and of all its parents that came and went with it.
    pub stay: Stay,
    /// The parents whose days are meant.
    pub of: Vec<String>,
    /// Anything else.
    pub note: Option<String>,
}

/// What is to be changed of a brood; what is `None` stays.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct BroodChange {
    /// First and last possible day of the drop.
    pub dropped: Option<(Date, Date)>,
    /// How many young were dropped.
    pub young: Option<u32>,
    /// Stored sperm of this male may have fathered some.
    pub earlier_sire: Option<EarlierSire>,
    /// Anything else.
    pub note: Option<String>,
}

/// What became of a change, in words: `sex f (was m)`.
type Said = Vec<String>;

/// Changes a fish. Says what changed; nothing where all of it stood there already.
///
/// # Errors
/// An unknown fish; a sex that its crosses forbid; a birth that its parents' or its own crosses' days forbid.
pub fn fish(book: &Write<'_>, name: &str, change: &FishChange, by: &By) -> Result<Said> {
    let id = fish::known_id(book, name)?;
    let old = fish::get(book, name)?;
    change.line.as_deref().map_or(Ok(()), |line| names::check("line", line))?;
    let letter = |sex: Option<Sex>| sex.map(|s| s.letter().to_owned());
    let pure = |pure: bool| Some(if pure { "1" } else { "0" }.to_owned());
    let columns = [
        ("sex", letter(old.sex), letter(change.sex)),
        ("line", old.line, change.line.clone()),
        ("born", day(old.born), day(change.born)),
        ("pure", pure(old.pure), change.pure.and_then(pure)),
        ("virgin_on", day(old.virgin_on), day(change.virgin_on)),
        ("isolated_since", day(old.isolated_since), day(change.isolated_since)),
        ("note", old.note, change.note.clone()),
    ];
    let mut said = put(book, "fish", id, columns)?;
    let classes = change.classes.iter().filter(|(axis, class)| old.classes.get(*axis) != Some(class));
    let classes: Vec<_> = classes.collect();
    said.extend(classes.iter().map(|(axis, class)| changed(axis, old.classes.get(*axis), class)));
    if let Some(decision) = keep(book, name, &said, by)? {
        for (axis, class) in classes {
            say(book, decision, &by.name, Target::Fish(id), Field::Class(axis), Some(class))?;
        }
    }
    consistent::fish(book, name)?;
    Ok(said)
}

/// Changes a cross. Says what changed.
///
/// # Errors
/// An unknown cross; a fish that is no parent of it; a last day before the first; days that births or broods forbid.
pub fn cross(book: &Write<'_>, name: &str, change: &CrossChange, by: &By) -> Result<Said> {
    let id = crosses::known_id(book, name)?;
    let mut said = Said::new();
    let (started, ended, note) =
        book.conn.query_row("SELECT started, ended, note FROM crosses WHERE id = ?1", [id], |row| {
            Ok((read_day(row, "started")?, read_day(row, "ended")?, row.get(2)?))
        })?;
    let Stay { day_in, day_out } = change.stay;
    for parent in consistent::parents(book, id)? {
        let (named, old) = (change.of.contains(&parent.name), parent.stay);
        // Who came and went with the cross goes along; who has days of its own keeps them.
        let along = |old: Option<Date>, former: Option<Date>| change.of.is_empty() && (old.is_none() || old == former);
        let new_in = day_in.filter(|_| named || along(old.day_in, started));
        let new_out = day_out.filter(|_| named || along(old.day_out, ended));
        crosses::days_in_order(name, Stay { day_in: new_in.or(old.day_in), day_out: new_out.or(old.day_out) })?;
        let columns = [("day_in", day(old.day_in), day(new_in)), ("day_out", day(old.day_out), day(new_out))];
        said.extend(put(book, parent.table, parent.row, columns)?.into_iter().map(|s| format!("{}: {s}", parent.name)));
    }
    if change.of.is_empty() {
        crosses::days_in_order(name, Stay { day_in: day_in.or(started), day_out: day_out.or(ended) })?;
        let columns = [
            ("started", day(started), day(day_in)),
            ("ended", day(ended), day(day_out)),
            ("note", note, change.note.clone()),
        ];
        said.extend(put(book, "crosses", id, columns)?);
    }
    consistent::cross(book, name, &change.of)?;
    keep(book, name, &said, by)?;
    Ok(said)
}

/// Changes a brood. Says what changed.
///
/// # Errors
/// An unknown brood; a first day after the last; dropped before its parents were born or met; a female earlier sire.
pub fn brood(book: &Write<'_>, name: &str, change: &BroodChange, by: &By) -> Result<Said> {
    let old = broods::known(book, name)?;
    let number = |n: Option<u32>| n.map(|n| n.to_string());
    let columns = [
        ("dropped_from", day(old.dropped_from), day(change.dropped.map(|(from, _)| from))),
        ("dropped_to", day(old.dropped_to), day(change.dropped.map(|(_, to)| to))),
        ("young", number(old.young), number(change.young)),
        ("note", old.note.clone(), change.note.clone()),
    ];
    broods::check(book, old.cross_id, name, change.dropped, change.young)?;
    let mut said = put(book, "brood", old.id, columns)?;
    if let Some(new) = change.earlier_sire.as_ref().filter(|new| old.earlier_sire.as_ref() != Some(*new)) {
        let (sire, unknown) = broods::earlier_columns(book, name, Some(new))?;
        book.conn.execute(
            "UPDATE brood SET earlier_sire_id = ?2, earlier_unknown = ?3 WHERE id = ?1",
            params![old.id, sire, unknown],
        )?;
        said.push(changed("earlier sire", old.earlier_sire.as_ref().map(EarlierSire::name), &new.name()));
    }
    possible_dams::had_met(book, &broods::known(book, name)?)?;
    keep(book, name, &said, by)?;
    Ok(said)
}

/// Writes the new values that differ into their columns, and says which.
fn put<'a>(
    book: &Write<'_>,
    table: &str,
    id: i64,
    columns: impl IntoIterator<Item = (&'a str, Option<String>, Option<String>)>,
) -> Result<Said> {
    let differs = |(column, old, new): (&'a str, Option<String>, Option<String>)| {
        let new = new.filter(|new| old.as_ref() != Some(new))?;
        Some((column, changed(&column.replace('_', " "), old.as_ref(), &new), new))
    };
    let changes: Vec<_> = columns.into_iter().filter_map(differs).collect();
    if !changes.is_empty() {
        // In one go: a row may pass through no state that its table forbids.
        let places = changes.iter().enumerate().map(|(i, (column, ..))| format!("{column} = ?{}", i + 2));
        let sql = format!("UPDATE {table} SET {} WHERE id = ?1", places.collect::<Vec<_>>().join(", "));
        let new = changes.iter().map(|(.., new)| Value::Text(new.clone()));
        book.conn.execute(&sql, params_from_iter([Value::Integer(id)].into_iter().chain(new)))?;
    }
    Ok(changes.into_iter().map(|(_, said, _)| said).collect())
}

fn changed(what: &str, old: Option<impl Display>, new: &impl Display) -> String {
    match old {
        Some(old) => format!("{what} {new} (was {old})"),
        None => format!("{what} {new}"),
    }
}

/// Keeps what changed in the log, if anything did.
fn keep(book: &Write<'_>, name: &str, said: &Said, by: &By) -> Result<Option<decisions::DecisionId>> {
    if said.is_empty() {
        return Ok(None);
    }
    decisions::open(book, by, "record", Some(&format!("{name}: {}", said.join("; ")))).map(Some)
}
