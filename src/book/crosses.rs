//! Crosses: sires with one or more dams, each with the days in and out.

use std::collections::BTreeSet;

use jiff::civil::Date;
use rusqlite::{OptionalExtension, Row, params};
use serde::Serialize;

use super::aside::Kind;
use super::fish::{self, Fish};
use super::values::{day, read_day};
use super::{Read, Write, broods, names};
use crate::error::{Error, Result};
use crate::units::Sex;

/// Days from which to which an animal was in a cross; an open end is unknown or not over.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
pub struct Stay {
    /// First day.
    #[serde(rename = "in")]
    pub day_in: Option<Date>,
    /// Last day.
    #[serde(rename = "out")]
    pub day_out: Option<Date>,
}

/// A dam: a named fish, or an unnamed sister out of a cross.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Dam {
    /// A fish of the book.
    Fish(String),
    /// "A sister of cross K1": female, out of that cross, not named.
    SisterOf(String),
}

impl Dam {
    /// How an unnamed one begins where she is written out.
    const SISTER: &'static str = "a sister of cross ";

    /// The unnamed dam that is written out so; `None` for any other text.
    pub(super) fn sister(text: &str) -> Option<Self> {
        text.strip_prefix(Self::SISTER).map(|cross| Self::SisterOf(cross.to_owned()))
    }
}

impl std::fmt::Display for Dam {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Fish(name) => write!(f, "{name}"),
            Self::SisterOf(cross) => write!(f, "{}{cross}", Self::SISTER),
        }
    }
}

/// A cross to be written down, or more sires and dams for one that is there.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct NewCross {
    /// Its name.
    pub name: String,
    /// Sires, usually one; several over time where one replaced another.
    pub sires: Vec<(String, Stay)>,
    /// Dams.
    pub dams: Vec<(Dam, Stay)>,
    /// First day of the cross.
    pub started: Option<Date>,
    /// Last day of the cross.
    pub ended: Option<Date>,
    /// Anything else.
    pub note: Option<String>,
}

/// A cross as the book has it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Cross {
    /// Its name.
    pub name: String,
    /// Its sires with their days.
    pub sires: Vec<(String, Stay)>,
    /// Its dams with their days.
    pub dams: Vec<(Dam, Stay)>,
    /// First day.
    pub started: Option<Date>,
    /// Last day.
    pub ended: Option<Date>,
    /// Why it is set aside, if it is: written down by mistake.
    pub set_aside: Option<String>,
    /// Anything else.
    pub note: Option<String>,
}

/// Writes down a cross.
///
/// # Errors
/// A name already taken; a last day before the first; an unknown parent; a female sire or male dam; a parent that descends from this very cross; a
/// cross dated before a parent was born.
pub fn add(book: &Write<'_>, new: &NewCross) -> Result<()> {
    check_new_name(book, &new.name, "add sires and dams to it with `broodhue cross add NAME --more`")?;
    days_in_order(&new.name, Stay { day_in: new.started, day_out: new.ended })?;
    book.conn.execute(
        "INSERT INTO crosses (name, started, ended, note) VALUES (?1, ?2, ?3, ?4)",
        params![new.name, day(new.started), day(new.ended), new.note],
    )?;
    add_parents(book, &new.name, &new.sires, &new.dams)
}

/// Opens a cross without parents, where the book does not have it.
pub(super) fn open(book: &Write<'_>, name: &str) -> Result<()> {
    match id(book, name)? {
        Some(_) => Ok(()),
        None => add(book, &NewCross { name: name.to_owned(), ..NewCross::default() }),
    }
}

/// Refuses a name that is none, or that another cross has; then the hint says what to do.
pub(super) fn check_new_name(book: &Read<'_>, name: &str, hint: &str) -> Result<()> {
    names::check("cross", name)?;
    match id(book, name)? {
        Some(_) => Err(Error::failed(name, "a cross of this name is in the book already", hint)),
        None => Ok(()),
    }
}

/// Adds sires and dams to a cross that is in the book.
///
/// # Errors
/// As [`add`]; an unknown cross.
pub fn add_parents(book: &Write<'_>, name: &str, sires: &[(String, Stay)], dams: &[(Dam, Stay)]) -> Result<()> {
    let cross = known_id(book, name)?;
    sires.iter().map(|(_, s)| s).chain(dams.iter().map(|(_, s)| s)).try_for_each(|stay| days_in_order(name, *stay))?;
    for (sire, stay) in sires {
        let parent = fish::get(book, sire)?;
        check_parent(book, name, &parent, Sex::Male, *stay)?;
        book.conn.execute(
            "INSERT INTO cross_sire (cross_id, fish_id, day_in, day_out) VALUES (?1, ?2, ?3, ?4)",
            params![cross, fish::known_id(book, sire)?, day(stay.day_in), day(stay.day_out)],
        )?;
    }
    for (dam, stay) in dams {
        let (named, sister) = match dam {
            Dam::Fish(dam) => {
                check_parent(book, name, &fish::get(book, dam)?, Sex::Female, *stay)?;
                (Some(fish::known_id(book, dam)?), None)
            }
            Dam::SisterOf(origin) => {
                check_origin(book, name, &dam.to_string(), origin)?;
                (None, Some(known_id(book, origin)?))
            }
        };
        book.conn.execute(
            "INSERT INTO cross_dam (cross_id, fish_id, sister_of, day_in, day_out) VALUES (?1, ?2, ?3, ?4, ?5)",
            params![cross, named, sister, day(stay.day_in), day(stay.day_out)],
        )?;
    }
    for child in names(book, "SELECT name FROM fish WHERE cross_id = ?1 ORDER BY id", cross)? {
        check_births(book, &child)?;
    }
    Ok(())
}

fn names(book: &Read<'_>, sql: &str, id: i64) -> Result<Vec<String>> {
    let mut statement = book.conn.prepare_cached(sql)?;
    let rows = statement.query_map([id], |row| row.get(0))?;
    Ok(rows.collect::<rusqlite::Result<_>>()?)
}

/// Every cross in the order of writing down, without those that are set aside.
///
/// # Errors
/// The book cannot be read.
pub fn list(book: &Read<'_>) -> Result<Vec<Cross>> {
    Ok(all(book)?.into_iter().filter(|c| c.set_aside.is_none()).collect())
}

/// The same with those that are set aside.
///
/// # Errors
/// The book cannot be read.
pub fn all(book: &Read<'_>) -> Result<Vec<Cross>> {
    let sql = format!("SELECT c.*, {} AS aside FROM crosses c ORDER BY c.id", Kind::Cross.why("c.id"));
    let mut statement = book.conn.prepare_cached(&sql)?;
    let rows = statement.query_map([], |row| {
        Ok((
            row.get::<_, i64>("id")?,
            Cross {
                name: row.get("name")?,
                sires: Vec::new(),
                dams: Vec::new(),
                started: read_day(row, "started")?,
                ended: read_day(row, "ended")?,
                set_aside: row.get("aside")?,
                note: row.get("note")?,
            },
        ))
    })?;
    let mut crosses = Vec::new();
    for row in rows {
        let (id, mut cross) = row?;
        cross.sires = sires(book, id)?;
        cross.dams = dams(book, id)?.into_iter().map(|(_, dam, stay)| (dam, stay)).collect();
        crosses.push(cross);
    }
    Ok(crosses)
}

/// The row of a cross, if it is in the book.
pub(super) fn id(book: &Read<'_>, name: &str) -> Result<Option<i64>> {
    Ok(book.conn.query_row("SELECT id FROM crosses WHERE name = ?1", [name], |row| row.get(0)).optional()?)
}

/// The row of a cross that must be in the book and not set aside.
pub(super) fn known_id(book: &Read<'_>, name: &str) -> Result<i64> {
    match among_all(book, name)? {
        (_, Some(why)) => Err(Kind::Cross.refusal(name, &why)),
        (id, None) => Ok(id),
    }
}

/// The row of a cross that must be in the book, and why it is set aside, if it is.
pub(super) fn among_all(book: &Read<'_>, name: &str) -> Result<(i64, Option<String>)> {
    let sql = format!("SELECT c.id, {} FROM crosses c WHERE c.name = ?1", Kind::Cross.why("c.id"));
    let mut statement = book.conn.prepare_cached(&sql)?;
    statement.query_row([name], |row| Ok((row.get(0)?, row.get(1)?))).optional()?.ok_or_else(|| {
        let hint = names::hint(book, "crosses", name, "see `broodhue cross list`");
        Error::failed(name, "no cross of this name is in the book", hint)
    })
}

/// The sires of a cross with their days.
pub(super) fn sires(book: &Read<'_>, cross: i64) -> Result<Vec<(String, Stay)>> {
    Ok(rows_of_sires(book, cross)?.into_iter().map(|(_, sire, stay)| (sire, stay)).collect())
}

/// The sires of a cross with their row and their days.
pub(super) fn rows_of_sires(book: &Read<'_>, cross: i64) -> Result<Vec<(i64, String, Stay)>> {
    let mut statement = book.conn.prepare_cached(
        "SELECT s.id, f.name, s.day_in, s.day_out FROM cross_sire s JOIN fish f ON f.id = s.fish_id
         WHERE s.cross_id = ?1 ORDER BY s.id",
    )?;
    let rows = statement.query_map([cross], |row| Ok((row.get(0)?, row.get(1)?, read_stay(row)?)))?;
    Ok(rows.collect::<rusqlite::Result<_>>()?)
}

fn read_stay(row: &Row<'_>) -> rusqlite::Result<Stay> {
    Ok(Stay { day_in: read_day(row, "day_in")?, day_out: read_day(row, "day_out")? })
}

/// The dams of a cross with their row and their days.
pub(super) fn dams(book: &Read<'_>, cross: i64) -> Result<Vec<(i64, Dam, Stay)>> {
    dams_where(book, "d.cross_id = ?1", cross)
}

/// The dams named with a brood; none stands for every dam of its cross.
pub(super) fn dams_of_brood(book: &Read<'_>, brood: i64) -> Result<Vec<Dam>> {
    let dams = dams_where(book, "d.id IN (SELECT dam_id FROM brood_dam WHERE brood_id = ?1)", brood)?;
    Ok(dams.into_iter().map(|(_, dam, _)| dam).collect())
}

/// The dams `d` of which a condition on `of` holds, with their row and their days.
fn dams_where(book: &Read<'_>, condition: &str, of: i64) -> Result<Vec<(i64, Dam, Stay)>> {
    let mut statement = book.conn.prepare_cached(&format!(
        "SELECT d.id, f.name, c.name AS sister_of, d.day_in, d.day_out
         FROM cross_dam d LEFT JOIN fish f ON f.id = d.fish_id LEFT JOIN crosses c ON c.id = d.sister_of
         WHERE {condition} ORDER BY d.id"
    ))?;
    let rows = statement.query_map([of], |row| {
        let dam = match row.get("name")? {
            Some(name) => Dam::Fish(name),
            None => Dam::SisterOf(row.get("sister_of")?),
        };
        Ok((row.get(0)?, dam, read_stay(row)?))
    })?;
    Ok(rows.collect::<rusqlite::Result<_>>()?)
}

/// Checks a fish's birth against the births of its parents and the drop of its brood.
pub(super) fn check_births(book: &Read<'_>, name: &str) -> Result<()> {
    let child = fish::get(book, name)?;
    let (Some(cross), Some(born)) = (&child.cross, child.born) else { return Ok(()) };
    let own = child.brood.as_deref().map(|brood| broods::in_cross(book, cross, brood)).transpose()?.flatten();
    if let Some(own) = own {
        let off =
            |when: &str, day: Date| Some(format!("born {born}, {when} its brood {} was dropped ({day})", own.label));
        let early = own.dropped_from.filter(|day| born < *day).and_then(|day| off("before", day));
        let late = own.dropped_to.filter(|day| born > *day).and_then(|day| off("after", day));
        if let Some(said) = early.or(late) {
            return Err(Error::failed(name, said, "check both days"));
        }
    }
    let cross = known_id(book, cross)?;
    let named = dams(book, cross)?.into_iter().filter_map(|(_, dam, _)| match dam {
        Dam::Fish(name) => Some(name),
        Dam::SisterOf(_) => None,
    });
    for parent in sires(book, cross)?.into_iter().map(|(name, _)| name).chain(named) {
        let parent = fish::get(book, &parent)?;
        if parent.born.is_some_and(|b| b >= born) {
            let said = format!("born {born}, before its parent {} ({})", parent.name, shown(parent.born));
            return Err(Error::failed(name, said, "check both days"));
        }
    }
    Ok(())
}

/// Refuses a last day before the first.
pub(super) fn days_in_order(cross: &str, stay: Stay) -> Result<()> {
    match (stay.day_in, stay.day_out) {
        (Some(from), Some(to)) if to < from => {
            let said = format!("from {from} to {to}, which is earlier");
            Err(Error::usage(format!("cross {cross}"), said, "swap the days"))
        }
        _ => Ok(()),
    }
}

/// Checks a fish as a parent of a cross: its sex, its descent, its birth.
pub(super) fn check_parent(book: &Read<'_>, cross: &str, parent: &Fish, role: Sex, stay: Stay) -> Result<()> {
    let place = format!("cross {cross}");
    check_sex(cross, parent, role, "check the sex in `broodhue fish show`")?;
    if let Some(origin) = &parent.cross {
        check_origin(book, cross, &parent.name, origin)?;
    }
    let started: Option<Date> =
        book.conn.query_row("SELECT started FROM crosses WHERE name = ?1", [cross], |row| read_day(row, "started"))?;
    if let (Some(born), Some(first)) = (parent.born, stay.day_in.or(started))
        && first <= born
    {
        let said = format!("dated {first}, but its parent {} was born {born}", parent.name);
        return Err(Error::failed(place, said, "check both days"));
    }
    Ok(())
}

/// Checks the sex of a parent of a cross; the hint says what to do where it is the wrong one.
pub(super) fn check_sex(cross: &str, parent: &Fish, role: Sex, hint: &str) -> Result<()> {
    if parent.sex.is_none_or(|sex| sex == role) {
        return Ok(());
    }
    let (found, wanted) = if role == Sex::Male { ("female", "sire") } else { ("male", "dam") };
    let said = format!("{} is {found} and cannot be a {wanted}", parent.name);
    Err(Error::failed(format!("cross {cross}"), said, hint))
}

/// Refuses a parent out of a cross that descends from the one it is to be a parent of.
pub(super) fn check_origin(book: &Read<'_>, cross: &str, parent: &str, origin: &str) -> Result<()> {
    if !descends(book, origin, cross)? {
        return Ok(());
    }
    Err(Error::failed(
        format!("cross {cross}"),
        format!("{parent} comes out of this cross and would be its own ancestor"),
        "check which cross the parent came from",
    ))
}

fn shown(day: Option<Date>) -> String {
    day.map_or_else(|| "day unknown".to_owned(), |d| d.to_string())
}

/// Whether the young of `origin` descend from cross `ancestor`: it is that cross, or a parent of it comes from there.
fn descends(book: &Read<'_>, origin: &str, ancestor: &str) -> Result<bool> {
    let mut seen = BTreeSet::new();
    let mut open = vec![origin.to_owned()];
    while let Some(cross) = open.pop() {
        if cross == ancestor {
            return Ok(true);
        }
        if !seen.insert(cross.clone()) {
            continue;
        }
        let mut statement = book.conn.prepare_cached(
            "SELECT o.name FROM crosses c JOIN cross_sire s ON s.cross_id = c.id JOIN fish f ON f.id = s.fish_id
                 JOIN crosses o ON o.id = f.cross_id WHERE c.name = ?1
             UNION
             SELECT o.name FROM crosses c JOIN cross_dam d ON d.cross_id = c.id LEFT JOIN fish f ON f.id = d.fish_id
                 JOIN crosses o ON o.id = coalesce(f.cross_id, d.sister_of) WHERE c.name = ?1",
        )?;
        let rows = statement.query_map([&cross], |row| row.get::<_, String>(0))?;
        for row in rows {
            open.push(row?);
        }
    }
    Ok(false)
}
