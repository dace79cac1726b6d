//! Named fish: where they come from, what they are, and what a person knows about them.

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;
use rusqlite::{OptionalExtension, Row, params};
use serde::{Deserialize, Serialize};

use super::broods::Brood;
use super::decisions::{self, By, STANDS};
use super::log::{Field, Target, record, say};
use super::regions::{ONE_FISH, OUTLINE_STANDS, PHOTO_STANDS};
use super::values::{day, letter, read_day, read_sex};
use super::{Read, Write, broods, crosses, names};
use crate::error::{Error, Result};
use crate::units::Sex;

/// A fish to be written down.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct NewFish {
    /// Its name, kept exactly as typed.
    pub name: String,
    /// Its sex, where known.
    pub sex: Option<Sex>,
    /// Its line.
    pub line: Option<String>,
    /// The cross it came from; nothing for a founder.
    pub cross: Option<String>,
    /// The brood of that cross it came from.
    pub brood: Option<String>,
    /// Its day of birth.
    pub born: Option<Date>,
    /// Its own class per axis.
    pub classes: BTreeMap<String, String>,
    /// Known to carry no hidden allele for the target.
    pub pure: bool,
    /// Kept apart from every male from before it could mate until this day at least.
    pub virgin_on: Option<Date>,
    /// Kept apart from every male since this day.
    pub isolated_since: Option<Date>,
    /// Anything else.
    pub note: Option<String>,
}

/// A fish as the book has it today.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Fish {
    /// Its name.
    pub name: String,
    /// Its sex.
    pub sex: Option<Sex>,
    /// Its line.
    pub line: Option<String>,
    /// The cross it came from; `None` for a founder.
    pub cross: Option<String>,
    /// The brood it came from.
    pub brood: Option<String>,
    /// Its day of birth.
    pub born: Option<Date>,
    /// Its own class per axis: as recorded, or as confirmed on its portraits, whichever is later.
    pub classes: BTreeMap<String, String>,
    /// Known to carry no hidden allele for the target.
    pub pure: bool,
    /// Known to be a virgin on this day.
    pub virgin_on: Option<Date>,
    /// Apart from males since this day.
    pub isolated_since: Option<Date>,
    /// Why it is set aside, if it is.
    pub set_aside: Option<String>,
    /// `moved` or `died`, if it is no longer here.
    pub gone: Option<String>,
    /// The day on which it left, where that was said.
    pub gone_on: Option<Date>,
    /// Anything else.
    pub note: Option<String>,
}

impl Fish {
    /// Whether it can still be bred from.
    pub fn available(&self) -> bool {
        self.gone.is_none() && self.set_aside.is_none()
    }
}

/// Writes down a fish.
///
/// # Errors
/// A name already taken, empty, with blanks at its ends or that stands for no fish, or such a class; a cross or brood that is not in the book, or do not belong together; a birth that the
/// parents' own births forbid.
pub fn add(book: &Write<'_>, new: &NewFish, by: &By) -> Result<()> {
    check_new_name(book, &new.name)?;
    new.line.as_deref().map_or(Ok(()), |line| names::check("line", line))?;
    new.classes.iter().try_for_each(|(axis, class)| names::check_class(axis, class))?;
    let (cross, brood) = origin(book, &new.name, new.cross.as_deref(), new.brood.as_deref())?;
    book.conn.execute(
        "INSERT INTO fish (name, sex, line, cross_id, brood_id, born, pure, virgin_on, isolated_since, note)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
        params![
            new.name,
            letter(new.sex),
            new.line,
            cross,
            brood.map(|b| b.id),
            day(new.born),
            new.pure,
            day(new.virgin_on),
            day(new.isolated_since),
            new.note
        ],
    )?;
    let fish = book.conn.last_insert_rowid();
    if !new.classes.is_empty() {
        let decision = decisions::open(book, by, "record", None)?;
        for (axis, class) in &new.classes {
            record(book, decision, &by.name, Target::Fish(fish), Field::Class(axis), Some(class))?;
        }
    }
    crosses::check_births(book, &new.name)
}

/// Refuses a name that is none, or that another fish has.
pub(super) fn check_new_name(book: &Read<'_>, name: &str) -> Result<()> {
    names::check_fish(name)?;
    match id(book, name)? {
        Some(_) => Err(Error::failed(name, "a fish of this name is in the book already", "choose another name")),
        None => Ok(()),
    }
}

/// Every fish in the order of writing down.
///
/// # Errors
/// The book cannot be read.
pub fn list(book: &Read<'_>) -> Result<Vec<Fish>> {
    let mut classes = classes(book, None)?;
    let mut statement = book.conn.prepare_cached(&format!("{} ORDER BY f.id", select()))?;
    let rows = statement.query_map([], |row| Ok((row.get::<_, i64>("id")?, read(row)?)))?;
    let mut fish = Vec::new();
    for row in rows {
        let (id, mut one) = row?;
        one.classes = classes.remove(&id).unwrap_or_default();
        fish.push(one);
    }
    Ok(fish)
}

/// One fish by its name.
///
/// # Errors
/// No fish of this name is in the book.
pub fn get(book: &Read<'_>, name: &str) -> Result<Fish> {
    let found = book
        .conn
        .query_row(&format!("{} WHERE f.name = ?1", select()), [name], |row| Ok((row.get::<_, i64>("id")?, read(row)?)))
        .optional()?;
    let (id, mut fish) = found.ok_or_else(|| unknown(book, name))?;
    fish.classes = classes(book, Some(id))?.remove(&id).unwrap_or_default();
    Ok(fish)
}

/// Sets a fish aside with a reason, or brings it back (`reason` is `None`). Says whether anything changed.
///
/// # Errors
/// An unknown fish; an empty reason.
pub fn set_aside(book: &Write<'_>, name: &str, reason: Option<&str>, by: &By) -> Result<bool> {
    decisions::check_reason(name, reason)?;
    let what = if reason.is_some() { "set-aside" } else { "bring-back" };
    let fish = known_id(book, name)?;
    let decision = decisions::open(book, by, what, reason)?;
    record(book, decision, &by.name, Target::Fish(fish), Field::Aside, reason)
}

/// Records that a fish moved away or died, on a day where that is known, or is here after all (`what` is `None`). Says whether that
/// changed anything.
///
/// # Errors
/// An unknown fish; a day before its birth.
pub fn set_gone(book: &Write<'_>, name: &str, what: Option<Gone>, on: Option<Date>, by: &By) -> Result<bool> {
    let old = get(book, name)?;
    check_departure(name, old.born, on)?;
    let (fish, word) = (Target::Fish(known_id(book, name)?), what.map(Gone::word));
    let decision = decisions::open(book, by, word.unwrap_or("bring-back"), on.map(day_as_reason).as_deref())?;
    if record(book, decision, &by.name, fish, Field::Gone, word)? {
        return Ok(true);
    }
    // The same said with another day.
    let other_day = on.is_some() && on != old.gone_on;
    if other_day {
        say(book, decision, &by.name, fish, Field::Gone, word)?;
    }
    Ok(other_day)
}

/// Refuses a departure before the day of birth.
pub(super) fn check_departure(name: &str, born: Option<Date>, on: Option<Date>) -> Result<()> {
    match born.zip(on).filter(|(born, on)| on < born) {
        Some((born, on)) => Err(Error::failed(name, format!("left on {on}, but was born {born}"), "check both days")),
        None => Ok(()),
    }
}

/// The reason of a departure on a known day, which is the day.
fn day_as_reason(day: Date) -> String {
    format!("on {day}")
}

/// The day that the reason of a departure is; `None` where it is another.
fn day_of_reason(why: &str) -> Option<Date> {
    why.strip_prefix("on ")?.parse().ok()
}

/// How a fish left.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Gone {
    /// To another tank or keeper.
    Moved,
    /// It died.
    Died,
}

impl Gone {
    /// `moved` or `died`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Moved => "moved",
            Self::Died => "died",
        }
    }
}

/// What is said to a person who names a line that no fish belongs to: the lines there are.
pub fn no_such_line(line: &str, all: &[Fish]) -> Error {
    let lines: BTreeSet<&str> = all.iter().filter_map(|f| f.line.as_deref()).collect();
    let hint = if lines.is_empty() {
        "give fish their line with `broodhue fish add --line`".to_owned()
    } else {
        format!("lines of this book: {}", lines.into_iter().collect::<Vec<_>>().join(", "))
    };
    Error::failed(format!("line {line}"), "no fish of this book belongs to it", hint)
}

/// The rows of the cross and the brood that a fish is said to come from; a brood tells its cross.
pub(super) fn origin(
    book: &Read<'_>,
    name: &str,
    cross: Option<&str>,
    brood: Option<&str>,
) -> Result<(Option<i64>, Option<Brood>)> {
    let brood = brood.map(|b| brood_of(book, cross, b)).transpose()?;
    let cross = match (cross, &brood) {
        (Some(cross), Some(brood)) if *cross != brood.cross => {
            let said = format!("brood {} belongs to cross {}, not {cross}", brood.name, brood.cross);
            return Err(Error::failed(name, said, "name the brood or the cross alone"));
        }
        (Some(cross), _) => Some(crosses::known_id(book, cross)?),
        (None, Some(brood)) => Some(brood.cross_id),
        (None, None) => None,
    };
    Ok((cross, brood))
}

/// The brood that a fish is said to come from: within its cross where that is named.
fn brood_of(book: &Read<'_>, cross: Option<&str>, name: &str) -> Result<Brood> {
    let own = cross.map(|c| broods::in_cross(book, c, name)).transpose()?.flatten();
    own.map_or_else(|| broods::known(book, name), Ok)
}

/// The row of a fish, if it is in the book.
pub(super) fn id(book: &Read<'_>, name: &str) -> Result<Option<i64>> {
    Ok(book.conn.query_row("SELECT id FROM fish WHERE name = ?1", [name], |row| row.get(0)).optional()?)
}

/// The row of a fish that must be in the book.
pub(super) fn known_id(book: &Read<'_>, name: &str) -> Result<i64> {
    id(book, name)?.ok_or_else(|| unknown(book, name))
}

fn unknown(book: &Read<'_>, name: &str) -> Error {
    let hint = names::hint(book, "fish", name, "see `broodhue fish list`");
    Error::failed(name, "no fish of this name is in the book", hint)
}

/// Another fish of the book whose name differs in nothing but case, blanks and marks.
///
/// # Errors
/// The book cannot be read.
pub fn alike(book: &Read<'_>, name: &str) -> Result<Option<String>> {
    names::alike(book, "fish", name)
}

/// An SQL expression: with which reason, which is the day, fish `of` (an alias in the query) was last said to have left as it has; what was taken back, and the
/// taking back, are no saying.
pub(super) fn gone_why(of: &str) -> String {
    format!(
        "(SELECT d.why FROM current_fish a
          JOIN change l ON l.fish_id = a.fish_id AND l.field = a.field AND l.new = a.value
          JOIN decision d ON d.id = l.decision_id
          WHERE a.fish_id = {of}.id AND a.field = 'gone' AND {STANDS} ORDER BY l.id DESC LIMIT 1)"
    )
}

/// The day on which a fish left, out of a column that [`gone_why`] made.
pub(super) fn read_gone_on(row: &Row<'_>, column: &str) -> rusqlite::Result<Option<Date>> {
    Ok(row.get::<_, Option<String>>(column)?.and_then(|why| day_of_reason(&why)))
}

/// A query of fish `f`, to be followed by a condition or an order.
fn select() -> String {
    format!(
        "SELECT f.*, c.name AS cross_name, b.name AS brood_name,
         (SELECT value FROM current_fish a WHERE a.fish_id = f.id AND a.field = 'aside') AS aside,
         (SELECT value FROM current_fish a WHERE a.fish_id = f.id AND a.field = 'gone') AS gone,
         {} AS gone_why
         FROM fish f LEFT JOIN crosses c ON c.id = f.cross_id LEFT JOIN brood b ON b.id = f.brood_id",
        gone_why("f")
    )
}

fn read(row: &Row<'_>) -> rusqlite::Result<Fish> {
    Ok(Fish {
        name: row.get("name")?,
        sex: read_sex(row, "sex")?,
        line: row.get("line")?,
        cross: row.get("cross_name")?,
        brood: row.get("brood_name")?,
        born: read_day(row, "born")?,
        classes: BTreeMap::new(),
        pure: row.get("pure")?,
        virgin_on: read_day(row, "virgin_on")?,
        isolated_since: read_day(row, "isolated_since")?,
        set_aside: row.get("aside")?,
        gone: row.get("gone")?,
        gone_on: read_gone_on(row, "gone_why")?,
        note: row.get("note")?,
    })
}

/// Leaves of the entries `c` of the log the last class said of each fish, or region; what was taken back, and the taking back, are no
/// saying.
fn last_said(of: &str) -> String {
    format!(
        "c.field = 'class' AND c.id = (
             SELECT max(l.id) FROM change l JOIN decision d ON d.id = l.decision_id
             WHERE l.{of} = c.{of} AND l.field = 'class' AND l.axis = c.axis AND {STANDS})"
    )
}

/// The own classes of every fish, or of one: the latest that stands, whether it was recorded or confirmed on a portrait. Portraits
/// and outlines that were set aside say nothing, nor does a portrait of several fish, nor what was taken back; a class that was taken out is one
/// no more.
///
/// CROSS JOIN makes SQLite begin with the portraits, which are few, instead of with the log.
fn classes(book: &Read<'_>, only: Option<i64>) -> Result<BTreeMap<i64, BTreeMap<String, String>>> {
    let (of_fish, of_region) = (last_said("fish_id"), last_said("region_id"));
    let mut statement = book.conn.prepare_cached(&format!(
        "SELECT c.fish_id, c.axis, c.new, c.decision_id FROM change c
         WHERE c.fish_id IS NOT NULL AND (?1 IS NULL OR c.fish_id = ?1) AND {of_fish}
         UNION ALL
         SELECT p.fish_id, c.axis, c.new, c.decision_id
         FROM photo p CROSS JOIN region r ON r.photo_id = p.id AND r.stands = 1
         CROSS JOIN change c ON c.region_id = r.root_id
         WHERE p.fish_id IS NOT NULL AND (?1 IS NULL OR p.fish_id = ?1) AND {of_region} AND {PHOTO_STANDS} AND {OUTLINE_STANDS}
         AND {ONE_FISH}"
    ))?;
    let rows = statement.query_map([only], |row| Ok((row.get(3)?, row.get(0)?, row.get(1)?, row.get(2)?)))?;
    let mut said = rows.collect::<rusqlite::Result<Vec<(i64, i64, String, Option<String>)>>>()?;
    said.sort_by_key(|(decision, ..)| *decision);
    let mut all: BTreeMap<i64, BTreeMap<String, String>> = BTreeMap::new();
    for (_, fish, axis, class) in said {
        let classes = all.entry(fish).or_default();
        match class {
            Some(class) => classes.insert(axis, class),
            None => classes.remove(&axis),
        };
    }
    Ok(all)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn the_day_of_a_departure_is_read_as_it_was_written(year in 1900_i16..2300, of_year in 1_i16..=365) {
            let day = Date::new(year, 1, 1).unwrap().with().day_of_year(of_year).build().unwrap();
            prop_assert_eq!(day_of_reason(&day_as_reason(day)), Some(day));
        }

        #[test]
        fn no_other_reason_is_a_day(why in "(on )?[a-z ]{0,12}") {
            prop_assert_eq!(day_of_reason(&why), None);
        }
    }
}
