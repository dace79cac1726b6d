//! Broods: young dropped between two days, their possible dams, and who may have fathered them.

use jiff::civil::Date;
use rusqlite::{OptionalExtension, Row, ToSql, params};
use serde::Serialize;

use super::aside::Kind;
use super::consistent;
use super::crosses::{self, Dam};
use super::fish::Fish;
use super::possible_dams::{self, DamsOfCrosses, PossibleDam};
use super::values::{day, read_day};
use super::{Read, Write, fish, names};
use crate::error::{Error, Result};
use crate::units::Sex;

/// Most young that one entry may speak of: far above any brood, so that a larger number is a slip of the pen, and small
/// enough that sums over a book fit.
pub const MOST_YOUNG: u32 = 100_000;

/// A male before the present sire, whose stored sperm may have fathered some of a brood.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum EarlierSire {
    /// A fish of the book.
    Fish(String),
    /// Some male of unknown class.
    Unknown,
}

impl EarlierSire {
    /// `?` for a male that is not known.
    pub const UNKNOWN: &'static str = "?";

    /// The male that a name stands for.
    pub fn named(name: &str) -> Self {
        if name == Self::UNKNOWN { Self::Unknown } else { Self::Fish(name.to_owned()) }
    }

    /// The name it goes by.
    pub fn name(&self) -> &str {
        match self {
            Self::Fish(name) => name,
            Self::Unknown => Self::UNKNOWN,
        }
    }
}

/// A brood to be written down.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct NewBrood {
    /// Its name.
    pub name: String,
    /// The cross under which it is counted.
    pub cross: String,
    /// First day on which it can have been dropped.
    pub dropped_from: Option<Date>,
    /// Last day on which it can have been dropped.
    pub dropped_to: Option<Date>,
    /// How many young were dropped, where somebody counted.
    pub young: Option<u32>,
    /// Dams that may have dropped it, of this cross or of another in the same tank; empty: any dam of the cross.
    pub dams: Vec<Dam>,
    /// Stored sperm of this male may have fathered some.
    pub earlier_sire: Option<EarlierSire>,
    /// Anything else.
    pub note: Option<String>,
}

/// A brood as the book has it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Brood {
    #[serde(skip)]
    pub(super) id: i64,
    #[serde(skip)]
    pub(super) cross_id: i64,
    /// Its name, unique within its cross.
    pub name: String,
    /// What it is called where its cross is not named beside it: its name, or `CROSS/NAME` where that is needed.
    #[serde(skip)]
    pub label: String,
    /// The cross under which it is counted.
    pub cross: String,
    /// First possible day of the drop.
    pub dropped_from: Option<Date>,
    /// Last possible day of the drop.
    pub dropped_to: Option<Date>,
    /// How many were dropped, where known.
    pub young: Option<u32>,
    /// Its possible dams.
    pub dams: Vec<PossibleDam>,
    /// As recorded with the brood.
    pub earlier_sire: Option<EarlierSire>,
    /// Why it is set aside, if it is: written down by mistake.
    pub set_aside: Option<String>,
    /// Anything else.
    pub note: Option<String>,
}

/// The brood that a fish of a cross was born in on that day, as far as the book tells: of the same parents as the only one of `all` that
/// fits; else of any dam of the cross, and of the earlier sire whom every one that fits names.
pub(super) fn unrecorded(book: &Read<'_>, all: &[Brood], cross: &str, born: Option<Date>) -> Result<Brood> {
    let fitting = born_in(all, cross, born);
    if let [only] = fitting.as_slice() {
        return Ok(Brood { young: None, ..(*only).clone() });
    }
    let earlier = fitting.first().and_then(|first| first.earlier_sire.clone());
    let mut brood = Brood {
        id: 0,
        cross_id: 0,
        name: String::new(),
        label: String::new(),
        cross: cross.to_owned(),
        dropped_from: born,
        dropped_to: born,
        young: None,
        dams: Vec::new(),
        earlier_sire: earlier.filter(|_| fitting.windows(2).all(|two| two[0].earlier_sire == two[1].earlier_sire)),
        set_aside: None,
        note: None,
    };
    brood.dams = DamsOfCrosses::default().of_brood(book, &brood)?;
    Ok(brood)
}

/// Writes down a brood.
///
/// # Errors
/// A name already taken, alone or as `CROSS/NAME`; an unknown cross, dam or earlier sire; a female earlier sire; a first day after the
/// last; dropped before its parents or its earlier sire were born, or before its parents met.
pub fn add(book: &Write<'_>, new: &NewBrood) -> Result<()> {
    names::check("brood", &new.name)?;
    let cross = crosses::known_id(book, &new.cross)?;
    if let Some(old) = of_cross(book, &new.cross, &new.name)? {
        let of = if old.set_aside.is_some() { ", which is set aside" } else { "" };
        let said = format!("cross {} has a brood of this name already{of}", new.cross);
        return Err(Error::failed(&new.name, said, "choose another name"));
    }
    only_so_called(book, &new.cross, &new.name)?;
    book.conn.execute("INSERT INTO brood (name, cross_id) VALUES (?1, ?2)", params![new.name, cross])?;
    describe(book, (book.conn.last_insert_rowid(), cross), new)?;
    // A new brood has no young yet: only an earlier sire who is traced to it by his day can come out of it.
    match &new.earlier_sire {
        Some(EarlierSire::Fish(sire)) if fish::get(book, sire)?.cross.is_some() => consistent::ancestors(book),
        _ => Ok(()),
    }
}

/// Refuses a brood that could not be told from another of another cross: as `CROSS/NAME` it would be called like that one, or its name
/// alone is what that one is called so.
pub(super) fn only_so_called(book: &Read<'_>, cross: &str, name: &str) -> Result<()> {
    let other = "SELECT c.name, b.name FROM brood b JOIN crosses c ON c.id = b.cross_id
        WHERE c.name <> ?1 AND (?1 || '/' || ?2 IN (b.name, c.name || '/' || b.name) OR ?2 = c.name || '/' || b.name) LIMIT 1";
    let other: Option<(String, String)> =
        book.conn.query_row(other, [cross, name], |row| Ok((row.get(0)?, row.get(1)?))).optional()?;
    other.map_or(Ok(()), |(of, brood)| {
        let said =
            format!("brood {name} of cross {cross} could not be told from brood {brood} of cross {of} by CROSS/NAME");
        Err(Error::failed(name, said, "choose another name"))
    })
}

/// Whether nothing is recorded of a brood but its name.
pub(super) fn only_named(book: &Read<'_>, brood: &Brood) -> Result<bool> {
    let bare = "SELECT count(*) FROM brood b WHERE b.id = ?1 AND b.earlier_unknown = 0
        AND coalesce(b.dropped_from, b.dropped_to, b.young, b.earlier_sire_id, b.note) IS NULL
        AND NOT EXISTS (SELECT 1 FROM brood_dam d WHERE d.brood_id = b.id)";
    Ok(book.conn.query_row(bare, [brood.id], |row| row.get::<_, i64>(0))? == 1)
}

/// Writes down what is known of a brood of which nothing but the name is in the book: its row and its cross's.
///
/// # Errors
/// As [`add`].
pub(super) fn describe(book: &Write<'_>, (brood, cross): (i64, i64), new: &NewBrood) -> Result<()> {
    let dropped = new.dropped_from.or(new.dropped_to).zip(new.dropped_to.or(new.dropped_from));
    check(book, cross, &new.name, dropped, new.young)?;
    let (earlier, unknown) = earlier_columns(book, &new.name, new.earlier_sire.as_ref())?;
    book.conn.execute(
        "UPDATE brood SET dropped_from = ?2, dropped_to = ?3, young = ?4, earlier_sire_id = ?5, earlier_unknown = ?6, note = ?7
         WHERE id = ?1",
        params![
            brood,
            day(new.dropped_from),
            day(new.dropped_to.or(new.dropped_from)),
            new.young,
            earlier,
            unknown,
            new.note
        ],
    )?;
    possible_dams::name(book, &new.name, (brood, cross), &new.dams)?;
    consistent::brood(book, &of_id(book, brood)?)?;
    check_young(book, brood)
}

/// Checks the births of the fish that are recorded as out of a brood.
pub(super) fn check_young(book: &Read<'_>, brood: i64) -> Result<()> {
    young(book, brood)?.iter().try_for_each(|name| crosses::check_births(book, name))
}

/// The names of the fish that are recorded as out of a brood.
pub(super) fn young(book: &Read<'_>, brood: i64) -> Result<Vec<String>> {
    let mut statement = book.conn.prepare_cached("SELECT name FROM fish WHERE brood_id = ?1 ORDER BY id")?;
    let names = statement.query_map([brood], |row| row.get(0))?;
    Ok(names.collect::<rusqlite::Result<_>>()?)
}

/// Checks the days of the drop and the number of young: no brood is dropped before its parents are born.
pub(super) fn check(
    book: &Read<'_>,
    cross: i64,
    name: &str,
    dropped: Option<(Date, Date)>,
    young: Option<u32>,
) -> Result<()> {
    if let Some(n) = young.filter(|n| *n > MOST_YOUNG) {
        let said = format!("{n} young are more than the limit of {MOST_YOUNG}");
        return Err(Error::usage(name, said, "check the number"));
    }
    let Some((from, to)) = dropped else { return Ok(()) };
    if to < from {
        return Err(Error::usage(name, format!("dropped from {from} to {to}, which is earlier"), "swap the days"));
    }
    let late: Option<(String, String)> = book
        .conn
        .query_row(
            "SELECT name, born FROM fish WHERE born >= ?2 AND (id IN (SELECT fish_id FROM cross_sire WHERE cross_id = ?1)
                OR id IN (SELECT fish_id FROM cross_dam WHERE cross_id = ?1)) ORDER BY id LIMIT 1",
            params![cross, to.to_string()],
            |row| Ok((row.get(0)?, row.get(1)?)),
        )
        .optional()?;
    match late {
        None => Ok(()),
        Some((parent, born)) => {
            let said = format!("dropped {to}, but its parent {parent} was born {born}");
            Err(Error::failed(format!("brood {name}"), said, "check both days"))
        }
    }
}

/// How an earlier sire stands in its two columns: the row of a fish, and whether it is some male that is not known.
pub(super) fn earlier_columns(book: &Read<'_>, brood: &str, sire: Option<&EarlierSire>) -> Result<(Option<i64>, bool)> {
    match sire {
        None => Ok((None, false)),
        Some(EarlierSire::Unknown) => Ok((None, true)),
        Some(EarlierSire::Fish(name)) if fish::get(book, name)?.sex == Some(Sex::Female) => {
            let said = format!("{name} is female and cannot be an earlier sire");
            Err(Error::failed(format!("brood {brood}"), said, "check the sex in `broodhue fish show`"))
        }
        Some(EarlierSire::Fish(name)) => Ok((Some(fish::known_id(book, name)?), false)),
    }
}

/// Every brood in the order of writing down, without those that are set aside.
///
/// # Errors
/// The book cannot be read.
pub fn list(book: &Read<'_>) -> Result<Vec<Brood>> {
    Ok(all(book)?.into_iter().filter(|b| b.set_aside.is_none()).collect())
}

/// The same with those that are set aside.
///
/// # Errors
/// The book cannot be read.
pub fn all(book: &Read<'_>) -> Result<Vec<Brood>> {
    select(book, "1 = 1", &[])
}

/// The broods of one cross, without those that are set aside.
pub(super) fn under(book: &Read<'_>, cross: &str) -> Result<Vec<Brood>> {
    Ok(select(book, "c.name = ?1", &[&cross])?.into_iter().filter(|b| b.set_aside.is_none()).collect())
}

/// What every brood is called that is not set aside, in the order of writing down; cheaper than [`list`].
///
/// # Errors
/// The book cannot be read.
pub fn labels(book: &Read<'_>) -> Result<Vec<String>> {
    let stands = format!("SELECT l.label FROM brood_label l WHERE {} IS NULL ORDER BY l.id", Kind::Brood.why("l.id"));
    let mut statement = book.conn.prepare_cached(&stands)?;
    let rows = statement.query_map([], |row| row.get(0))?;
    Ok(rows.collect::<rusqlite::Result<_>>()?)
}

/// The brood that a person means: by its name, or as `CROSS/NAME` where several crosses have a brood of that name.
///
/// # Errors
/// No such brood; several of that name; one that is set aside.
pub fn known(book: &Read<'_>, name: &str) -> Result<Brood> {
    let brood = among_all(book, name)?;
    match &brood.set_aside {
        Some(why) => Err(Kind::Brood.refusal(&brood.label, why)),
        None => Ok(brood),
    }
}

/// The same, where one that is set aside may be meant if none else is.
pub(super) fn among_all(book: &Read<'_>, name: &str) -> Result<Brood> {
    let mut found = select(book, "b.name = ?1 OR c.name || '/' || b.name = ?1", &[&name])?;
    if found.iter().any(|b| b.set_aside.is_none()) {
        found.retain(|b| b.set_aside.is_none());
    }
    match (found.pop(), found.is_empty()) {
        (Some(brood), true) => Ok(brood),
        (Some(last), false) => {
            found.push(last);
            let each: Vec<String> = found.iter().map(|b| format!("{}/{}", b.cross, b.name)).collect();
            Err(Error::failed(name, "several broods have this name", format!("name one of {}", each.join(", "))))
        }
        (None, _) => {
            let see = "see `broodhue brood list`, or write it down with `broodhue brood add`";
            let hint = names::hint(book, "brood", name, see);
            Err(Error::failed(name, "no brood of this name is in the book", hint))
        }
    }
}

/// The brood of this name in a cross, if it is in the book and not set aside.
///
/// # Errors
/// The book cannot be read.
pub fn in_cross(book: &Read<'_>, cross: &str, name: &str) -> Result<Option<Brood>> {
    Ok(of_cross(book, cross, name)?.filter(|b| b.set_aside.is_none()))
}

/// The same with one that is set aside.
pub(super) fn of_cross(book: &Read<'_>, cross: &str, name: &str) -> Result<Option<Brood>> {
    Ok(select(book, "c.name = ?1 AND b.name = ?2", &[&cross, &name])?.pop())
}

/// The brood in a row.
pub(super) fn of_id(book: &Read<'_>, id: i64) -> Result<Brood> {
    select(book, "b.id = ?1", &[&id])?
        .pop()
        .ok_or_else(|| Error::failed("brood", "is gone", "run `broodhue book check`"))
}

/// The brood out of which a fish came: the one it is recorded with, else of its cross the only one, or the only one that
/// can have been dropped on the day it was born.
pub(super) fn of_fish<'a>(all: &'a [Brood], fish: &Fish) -> Option<&'a Brood> {
    let cross = fish.cross.as_ref()?;
    if let Some(name) = &fish.brood {
        return all.iter().find(|b| b.cross == *cross && b.name == *name);
    }
    match born_in(all, cross, fish.born).as_slice() {
        [only] => Some(only),
        _ => None,
    }
}

/// The broods of a cross that can have been dropped on the day a fish was born; all of them where no day is known.
fn born_in<'a>(all: &'a [Brood], cross: &str, born: Option<Date>) -> Vec<&'a Brood> {
    let on = |brood: &Brood, day: Date| {
        let last = brood.dropped_to.or(brood.dropped_from);
        brood.dropped_from.is_none_or(|first| first <= day) && last.is_none_or(|last| day <= last)
    };
    all.iter().filter(|b| b.cross == cross && born.is_none_or(|day| on(b, day))).collect()
}

fn select(book: &Read<'_>, condition: &str, args: &[&dyn ToSql]) -> Result<Vec<Brood>> {
    let mut statement = book.conn.prepare_cached(&format!(
        "SELECT b.*, c.name AS cross_name, e.name AS earlier_name, l.label, {} AS aside
         FROM brood b JOIN crosses c ON c.id = b.cross_id JOIN brood_label l ON l.id = b.id
         LEFT JOIN fish e ON e.id = b.earlier_sire_id
         WHERE {condition} ORDER BY b.id",
        Kind::Brood.why("b.id")
    ))?;
    let rows = statement.query_map(args, read)?;
    let mut broods = rows.collect::<rusqlite::Result<Vec<_>>>()?;
    let mut dams = DamsOfCrosses::default();
    for brood in &mut broods {
        brood.dams = dams.of_brood(book, brood)?;
    }
    Ok(broods)
}

fn read(row: &Row<'_>) -> rusqlite::Result<Brood> {
    let earlier: Option<String> = row.get("earlier_name")?;
    let unknown: bool = row.get("earlier_unknown")?;
    Ok(Brood {
        id: row.get("id")?,
        cross_id: row.get("cross_id")?,
        name: row.get("name")?,
        label: row.get("label")?,
        cross: row.get("cross_name")?,
        dropped_from: read_day(row, "dropped_from")?,
        dropped_to: read_day(row, "dropped_to")?,
        young: row.get("young")?,
        dams: Vec::new(),
        earlier_sire: earlier.map(EarlierSire::Fish).or(unknown.then_some(EarlierSire::Unknown)),
        set_aside: row.get("aside")?,
        note: row.get("note")?,
    })
}
