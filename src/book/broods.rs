//! Broods: young dropped between two days, their possible dams, and who may have fathered them.

use jiff::ToSpan;
use jiff::civil::Date;
use rusqlite::{OptionalExtension, params};
use serde::Serialize;

use super::crosses::{self, Dam, Stay};
use super::decisions::{self, By};
use super::fish::Gone;
use super::values::{day, letter, read_day};
use super::{Read, Write, fish};
use crate::error::{Error, Result};
use crate::units::Sex;

/// Shortest time from mating to drop in days: 21 to 30 days at 24 to 27 °C, common practice, no source.
pub const SHORTEST_GESTATION_DAYS: i64 = 21;

/// A male before the present sire, whose stored sperm may have fathered some of a brood.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum EarlierSire {
    /// A fish of the book.
    Fish(String),
    /// Some male of unknown class.
    Unknown,
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

/// A dam that may have dropped a brood: of which cross, and on which days with its sires.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PossibleDam {
    /// Who.
    pub dam: Dam,
    /// In which cross she was.
    pub cross: String,
    /// Her days there.
    pub stay: Stay,
    /// The sires of that cross whose days overlap hers, with the days they were together.
    pub with: Vec<(String, Stay)>,
}

/// A brood as the book has it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Brood {
    #[serde(skip)]
    pub(super) id: i64,
    #[serde(skip)]
    pub(super) cross_id: i64,
    /// Its name.
    pub name: String,
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
    /// Anything else.
    pub note: Option<String>,
}

/// Who fathered a brood, as far as the records tell.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Paternity {
    /// The sire.
    pub sire: Option<String>,
    /// Whose stored sperm may have fathered some.
    pub earlier: Option<EarlierSire>,
    /// Why it cannot be said whose young these are, where it cannot.
    pub doubt: Option<String>,
}

/// Writes down a brood.
///
/// # Errors
/// A name already taken; an unknown cross, dam or earlier sire; a first day after the last.
pub fn add(book: &Write<'_>, new: &NewBrood) -> Result<()> {
    if new.name.is_empty() {
        return Err(Error::usage("brood", "a brood needs a name", "give it one"));
    }
    if find(book, &new.name)?.is_some() {
        return Err(Error::failed(&new.name, "a brood of this name is in the book already", "choose another name"));
    }
    if let (Some(from), Some(to)) = (new.dropped_from, new.dropped_to)
        && to < from
    {
        return Err(Error::usage(&new.name, format!("dropped from {from} to {to}, which is earlier"), "swap the days"));
    }
    let cross = crosses::known_id(book, &new.cross)?;
    let (earlier, unknown) = match &new.earlier_sire {
        Some(EarlierSire::Fish(name)) => (Some(fish::known_id(book, name)?), false),
        Some(EarlierSire::Unknown) => (None, true),
        None => (None, false),
    };
    book.conn.execute(
        "INSERT INTO brood (name, cross_id, dropped_from, dropped_to, young, earlier_sire_id, earlier_unknown, note)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
        params![
            new.name,
            cross,
            day(new.dropped_from),
            day(new.dropped_to.or(new.dropped_from)),
            new.young,
            earlier,
            unknown,
            new.note
        ],
    )?;
    let brood = book.conn.last_insert_rowid();
    for dam in &new.dams {
        let row = dam_row(book, &new.name, cross, dam)?;
        book.conn.execute("INSERT OR IGNORE INTO brood_dam (brood_id, dam_id) VALUES (?1, ?2)", [brood, row])?;
    }
    Ok(())
}

/// Every brood in the order of writing down.
///
/// # Errors
/// The book cannot be read.
pub fn list(book: &Read<'_>) -> Result<Vec<Brood>> {
    let mut statement = book.conn.prepare_cached("SELECT name FROM brood ORDER BY id")?;
    let names = statement.query_map([], |row| row.get::<_, String>(0))?.collect::<rusqlite::Result<Vec<_>>>()?;
    names.iter().map(|name| known(book, name)).collect()
}

/// One brood by its name.
///
/// # Errors
/// No brood of this name is in the book.
pub fn known(book: &Read<'_>, name: &str) -> Result<Brood> {
    find(book, name)?.ok_or_else(|| {
        Error::failed(
            name,
            "no brood of this name is in the book",
            "see `broodhue brood list`, or write it down with `broodhue brood add`; names are matched exactly",
        )
    })
}

/// One brood by its name, if it is in the book.
///
/// # Errors
/// The book cannot be read.
pub fn find(book: &Read<'_>, name: &str) -> Result<Option<Brood>> {
    let mut statement = book.conn.prepare_cached(
        "SELECT b.*, c.name AS cross_name, e.name AS earlier_name
         FROM brood b JOIN crosses c ON c.id = b.cross_id LEFT JOIN fish e ON e.id = b.earlier_sire_id
         WHERE b.name = ?1",
    )?;
    let found = statement
        .query_row([name], |row| {
            let earlier: Option<String> = row.get("earlier_name")?;
            let unknown: bool = row.get("earlier_unknown")?;
            Ok(Brood {
                id: row.get("id")?,
                cross_id: row.get("cross_id")?,
                name: row.get("name")?,
                cross: row.get("cross_name")?,
                dropped_from: read_day(row, "dropped_from")?,
                dropped_to: read_day(row, "dropped_to")?,
                young: row.get("young")?,
                dams: Vec::new(),
                earlier_sire: earlier.map(EarlierSire::Fish).or(unknown.then_some(EarlierSire::Unknown)),
                note: row.get("note")?,
            })
        })
        .optional()?;
    let Some(mut brood) = found else { return Ok(None) };
    brood.dams = possible_dams(book, &brood)?;
    Ok(Some(brood))
}

/// Who fathered a brood: the one sire of its crosses, or of several the last one that was there long enough before the
/// drop, with the one before him as the earlier sire; in doubt where the records leave it open.
///
/// # Errors
/// The book cannot be read.
pub fn paternity(book: &Read<'_>, brood: &Brood) -> Result<Paternity> {
    let mut sires: Vec<(String, Stay)> = Vec::new();
    let mut crosses: Vec<&str> = brood.dams.iter().map(|d| d.cross.as_str()).collect();
    crosses.push(&brood.cross);
    crosses.sort_unstable();
    crosses.dedup();
    if !brood.dams.is_empty() && !brood.dams.iter().any(|d| d.cross == brood.cross) {
        crosses.retain(|c| *c != brood.cross);
    }
    for cross in &crosses {
        for sire in crosses::sires(book, crosses::known_id(book, cross)?)? {
            if !sires.iter().any(|(name, _)| *name == sire.0) {
                sires.push(sire);
            }
        }
    }
    let earlier = brood.earlier_sire.clone();
    if sires.len() <= 1 {
        return Ok(Paternity { sire: sires.pop().map(|(name, _)| name), earlier, doubt: None });
    }
    if crosses.len() > 1 {
        let doubt = format!("its possible dams were with different sires in crosses {}", crosses.join(" and "));
        return Ok(Paternity { sire: None, earlier, doubt: Some(doubt) });
    }
    Ok(succession(&sires, brood, earlier))
}

/// Several sires, one after another, in one cross.
fn succession(sires: &[(String, Stay)], brood: &Brood, recorded: Option<EarlierSire>) -> Paternity {
    let doubtful = |why: &str| Paternity { sire: None, earlier: recorded.clone(), doubt: Some(why.to_owned()) };
    let Some(dropped) = brood.dropped_from else {
        return doubtful("its cross had several sires and the day of the drop is not known");
    };
    let mut dated: Vec<(&str, Date)> = sires.iter().filter_map(|(n, s)| Some((n.as_str(), s.day_in?))).collect();
    if dated.len() < sires.len() {
        return doubtful("its cross had several sires and not all of their days are known");
    }
    dated.sort_by_key(|(_, day_in)| *day_in);
    let latest_mating = dropped.saturating_sub(SHORTEST_GESTATION_DAYS.days());
    let able: Vec<&str> = dated.iter().filter(|(_, d)| *d <= latest_mating).map(|(n, _)| *n).collect();
    match able.as_slice() {
        [] => doubtful("no sire of its cross was there long enough before the drop"),
        [only] => Paternity { sire: Some((*only).to_owned()), earlier: recorded, doubt: None },
        [before, last] => {
            let earlier = recorded.or_else(|| Some(EarlierSire::Fish((*before).to_owned())));
            Paternity { sire: Some((*last).to_owned()), earlier, doubt: None }
        }
        _ => doubtful("more than two sires of its cross can have fathered it"),
    }
}

/// Records that young left a brood unscored; a negative number takes some back.
///
/// # Errors
/// An unknown brood; a number of zero; more taken back than had left.
pub fn leave(
    book: &Write<'_>,
    brood: &str,
    what: Gone,
    sex: Option<Sex>,
    number: i32,
    on: Date,
    by: &By,
) -> Result<()> {
    let brood = known(book, brood)?;
    let so_far: i64 = book.conn.query_row(
        "SELECT coalesce(sum(number), 0) FROM departure WHERE brood_id = ?1 AND what = ?2 AND sex IS ?3",
        params![brood.id, what.word(), letter(sex)],
        |row| row.get(0),
    )?;
    if number == 0 || so_far + i64::from(number) < 0 {
        let said = format!("{number} {} cannot be: {so_far} are on record", what.word());
        return Err(Error::usage(&brood.name, said, "give the number that left"));
    }
    let decision = decisions::open(book, by, what.word(), None)?;
    book.conn.execute(
        "INSERT INTO departure (decision_id, brood_id, day, what, sex, number) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
        params![decision.0, brood.id, on.to_string(), what.word(), letter(sex), number],
    )?;
    Ok(())
}

/// The dam's row in the brood's own cross, else in the only other cross where she is.
fn dam_row(book: &Read<'_>, brood: &str, cross: i64, dam: &Dam) -> Result<i64> {
    let own = crosses::dams(book, cross)?.into_iter().find(|(_, d, _)| d == dam);
    if let Some((row, _, _)) = own {
        return Ok(row);
    }
    let mut elsewhere = Vec::new();
    for other in crosses::list(book)? {
        let rows = crosses::dams(book, crosses::known_id(book, &other.name)?)?;
        elsewhere.extend(rows.into_iter().filter(|(_, d, _)| d == dam).map(|(row, _, _)| row));
    }
    match elsewhere.as_slice() {
        [row] => Ok(*row),
        [] => Err(Error::failed(
            format!("brood {brood}"),
            format!("{dam} is not a dam of any cross"),
            "add her to a cross with `broodhue cross add`",
        )),
        _ => Err(Error::failed(
            format!("brood {brood}"),
            format!("{dam} is a dam of several crosses"),
            "write the brood down under the cross she was in",
        )),
    }
}

fn possible_dams(book: &Read<'_>, brood: &Brood) -> Result<Vec<PossibleDam>> {
    let mut statement = book.conn.prepare_cached(
        "SELECT d.cross_id, d.id, c.name FROM cross_dam d JOIN crosses c ON c.id = d.cross_id
         WHERE d.id IN (SELECT dam_id FROM brood_dam WHERE brood_id = ?1)
            OR (d.cross_id = ?2 AND NOT EXISTS (SELECT 1 FROM brood_dam WHERE brood_id = ?1))
         ORDER BY d.id",
    )?;
    let rows = statement.query_map([brood.id, brood.cross_id], |row| {
        Ok((row.get::<_, i64>(0)?, row.get::<_, i64>(1)?, row.get::<_, String>(2)?))
    })?;
    let chosen = rows.collect::<rusqlite::Result<Vec<_>>>()?;
    let mut out = Vec::new();
    for (cross_id, dam_id, cross) in chosen {
        let sires = crosses::sires(book, cross_id)?;
        for (_, dam, stay) in crosses::dams(book, cross_id)?.into_iter().filter(|(id, _, _)| *id == dam_id) {
            // A dam who came after the last day of the drop cannot have dropped it.
            if let (Some(day_in), Some(last)) = (stay.day_in, brood.dropped_to)
                && day_in > last
            {
                continue;
            }
            let with = sires.iter().filter_map(|(s, t)| Some((s.clone(), overlap(stay, *t)?))).collect();
            out.push(PossibleDam { dam, cross: cross.clone(), stay, with });
        }
    }
    Ok(out)
}

/// The days two animals were together; `None` when they never were.
fn overlap(a: Stay, b: Stay) -> Option<Stay> {
    let day_in = a.day_in.max(b.day_in);
    let day_out = match (a.day_out, b.day_out) {
        (Some(x), Some(y)) => Some(x.min(y)),
        (x, y) => x.or(y),
    };
    match (day_in, day_out) {
        (Some(from), Some(to)) if to < from => None,
        _ => Some(Stay { day_in, day_out }),
    }
}
