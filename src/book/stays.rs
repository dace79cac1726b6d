//! The days of parents in their crosses, and what ended them where nobody wrote it down: the next cross, the next sire, isolation, and
//! for whoever left or died that day at the latest.

use std::collections::BTreeMap;

use jiff::civil::Date;
use rusqlite::{Row, params};

use super::aside::Kind;
use super::crosses::Stay;
use super::values::read_day;
use super::{Read, fish};
use crate::error::Result;

/// A sire of a cross.
#[derive(Debug)]
pub(super) struct Sire {
    /// His name.
    name: String,
    /// His days there.
    stay: Stay,
    /// The day on which he left or died.
    gone_on: Option<Date>,
}

impl Sire {
    /// His name and his days beside a dam with hers: of a male without any days it is only known that he was gone at the end, which
    /// says when they were together as far as her own first day does.
    pub(super) fn beside(&self, dam: Stay) -> (String, Stay) {
        let gone = self.gone_on.filter(|_| self.stay == Stay::default() && dam.day_in.is_some());
        (self.name.clone(), Stay { day_out: self.stay.day_out.or(gone), ..self.stay })
    }
}

/// A female's days in one of her crosses.
#[derive(Debug)]
pub(super) struct InCross {
    /// Her row there.
    pub(super) row: i64,
    /// The cross.
    pub(super) cross: String,
    /// Her days; where no last one is recorded, what ended them.
    pub(super) stay: Stay,
    /// The sires of that cross, in turn.
    pub(super) sires: Vec<Sire>,
}

/// A named female over all her crosses that are not set aside.
#[derive(Debug, Default)]
pub(super) struct Female {
    /// Until when she is known to have been a virgin.
    pub(super) virgin_on: Option<Date>,
    /// Since when she was apart from males.
    isolated_since: Option<Date>,
    /// The day on which she left or died.
    pub(super) gone_on: Option<Date>,
    /// In the order of writing down.
    pub(super) crosses: Vec<InCross>,
}

/// Every named dam of this cross, or every named dam, with all her crosses.
///
/// # Errors
/// The book cannot be read.
pub(super) fn of_dams(book: &Read<'_>, cross: Option<i64>) -> Result<BTreeMap<String, Female>> {
    let mut statement = book.conn.prepare_cached(&format!(
        "SELECT d.id, f.name AS dam, f.isolated_since, f.virgin_on, {} AS dam_gone, c.name AS cross_name, d.day_in, d.day_out,
                m.name AS sire, s.day_in AS sire_in, s.day_out AS sire_out, {} AS sire_gone
         FROM cross_dam d JOIN fish f ON f.id = d.fish_id JOIN crosses c ON c.id = d.cross_id
         LEFT JOIN cross_sire s ON s.cross_id = d.cross_id LEFT JOIN fish m ON m.id = s.fish_id
         WHERE (?1 IS NULL OR d.fish_id IN (SELECT fish_id FROM cross_dam WHERE cross_id = ?1 AND fish_id IS NOT NULL))
           AND {} IS NULL
         ORDER BY d.id, s.id",
        fish::gone_why("f"),
        fish::gone_why("m"),
        Kind::Cross.why("c.id")
    ))?;
    let mut found: BTreeMap<String, Female> = BTreeMap::new();
    let mut rows = statement.query([cross])?;
    while let Some(row) = rows.next()? {
        let female = found.entry(row.get("dam")?).or_default();
        female.virgin_on = read_day(row, "virgin_on")?;
        female.isolated_since = read_day(row, "isolated_since")?;
        female.gone_on = fish::read_gone_on(row, "dam_gone")?;
        let id = row.get("id")?;
        if female.crosses.last().is_none_or(|own| own.row != id) {
            let stay = Stay { day_in: read_day(row, "day_in")?, day_out: read_day(row, "day_out")? };
            female.crosses.push(InCross { row: id, cross: row.get("cross_name")?, stay, sires: Vec::new() });
        }
        if let Some(own) = female.crosses.last_mut() {
            own.sires.extend(sire(row)?);
        }
    }
    Ok(found.into_iter().map(|(dam, female)| (dam, in_order(female))).collect())
}

/// The sires of a cross with their days, in turn.
///
/// # Errors
/// The book cannot be read.
pub(super) fn sires(book: &Read<'_>, cross: i64) -> Result<Vec<Sire>> {
    let mut statement = book.conn.prepare_cached(&format!(
        "SELECT m.name AS sire, s.day_in AS sire_in, s.day_out AS sire_out, {} AS sire_gone
         FROM cross_sire s JOIN fish m ON m.id = s.fish_id WHERE s.cross_id = ?1 ORDER BY s.id",
        fish::gone_why("m")
    ))?;
    let recorded = statement.query_map(params![cross], sire)?.collect::<rusqlite::Result<Vec<_>>>()?;
    Ok(in_turn(recorded.into_iter().flatten().collect()))
}

/// The sire of a row, as he is recorded.
fn sire(row: &Row<'_>) -> rusqlite::Result<Option<Sire>> {
    let Some(name) = row.get("sire")? else { return Ok(None) };
    let stay = Stay { day_in: read_day(row, "sire_in")?, day_out: read_day(row, "sire_out")? };
    Ok(Some(Sire { name, stay, gone_on: fish::read_gone_on(row, "sire_gone")? }))
}

/// A female's crosses follow one another, so that the next one's first day ends an open stay, as her isolation does.
fn in_order(female: Female) -> Female {
    let came = female.crosses.iter().filter_map(|own| own.stay.day_in);
    let ends: Vec<Date> = came.chain(female.isolated_since).collect();
    let closed = |own: InCross| InCross {
        stay: until(own.stay, next(&ends, own.stay), female.gone_on),
        sires: in_turn(own.sires),
        ..own
    };
    Female { crosses: female.crosses.into_iter().map(closed).collect(), ..female }
}

/// Sires with the days they left: the sires of a cross follow one another, so that the next one's coming ends an open stay.
fn in_turn(sires: Vec<Sire>) -> Vec<Sire> {
    let came: Vec<Date> = sires.iter().filter_map(|sire| sire.stay.day_in).collect();
    let closed = |sire: Sire| Sire { stay: until(sire.stay, next(&came, sire.stay), sire.gone_on), ..sire };
    sires.into_iter().map(closed).collect()
}

/// The first of these days after a stay began.
fn next(days: &[Date], stay: Stay) -> Option<Date> {
    stay.day_in.and_then(|own| days.iter().copied().filter(|day| *day > own).min())
}

/// A stay without a last day until `end`, and any stay until the fish was gone. Of one that began after it was gone a day is wrong, and
/// of one of which no day is recorded nothing is known; both stay as they are.
fn until(stay: Stay, end: Option<Date>, gone: Option<Date>) -> Stay {
    let day_out = stay.day_out.or(end);
    let gone = gone.filter(|gone| stay.day_in.map_or(day_out.is_some(), |first| first <= *gone));
    Stay { day_out: day_out.into_iter().chain(gone).min(), ..stay }
}

/// The days two animals were together; `None` when they never were.
pub(super) fn overlap(a: Stay, b: Stay) -> Option<Stay> {
    let day_in = a.day_in.max(b.day_in);
    let day_out = a.day_out.into_iter().chain(b.day_out).min();
    match (day_in, day_out) {
        (Some(from), Some(to)) if to < from => None,
        _ => Some(Stay { day_in, day_out }),
    }
}
