//! The males that each named female was with, over all her crosses.

use std::collections::BTreeMap;

use jiff::civil::Date;
use rusqlite::Row;

use super::Read;
use super::aside::Kind;
use super::broods::Brood;
use super::crosses::Stay;
use super::possible_dams::{in_turn, overlap};
use super::values::read_day;
use crate::error::Result;

/// Stored sperm has fathered young about a year on in the laboratory (check values, section 10; López-Sepulcre et al.
/// 2013).
pub(super) const STORED_DAYS: i32 = 365;

/// A male that a female was with in a cross.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Mate {
    /// The male; `None` where the cross has no sire on record.
    pub(super) sire: Option<String>,
    /// The cross.
    pub(super) cross: String,
    /// Their days together. Where no last day is recorded, the next cross she came into ended them, or her isolation.
    pub(super) together: Stay,
    /// The crosses and broods that he and his forebears came out of; read only where one cross is asked about, of males of others.
    pub(super) descent: Vec<Origin>,
}

/// What a fish came out of.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Origin {
    cross: String,
    /// The row of its brood, where it is recorded with one.
    brood: Option<i64>,
    born: Option<Date>,
}

impl Origin {
    /// Whether it came, or may have come, out of this brood: of a fish without a brood only its birth before the drop says that it
    /// did not.
    fn is(&self, brood: &Brood) -> bool {
        let before = || self.born.zip(brood.dropped_from).is_some_and(|(born, dropped)| born < dropped);
        self.cross == brood.cross && self.brood.map_or_else(|| !before(), |row| row == brood.id)
    }
}

impl Mate {
    /// Whether nothing is recorded of when they were together.
    pub(super) fn undated(&self) -> bool {
        self.together == Stay::default()
    }

    /// Whether sperm of his may still have been at work on `day`, as far as their last day tells.
    pub(super) fn stored_until(&self, day: Date) -> bool {
        self.together.day_out.is_none_or(|last| (day - last).get_days() <= STORED_DAYS)
    }

    /// Whether he came out of this brood, or descends from it, so that he cannot have fathered it.
    pub(super) fn descends_from(&self, brood: &Brood) -> bool {
        self.descent.iter().any(|origin| origin.is(brood))
    }

    /// Who he is, in words, and when: `S1 (cross A, until 2025-02-01)`.
    pub(super) fn described(&self) -> String {
        let name = self.sire.as_deref().unwrap_or("a male that is not recorded");
        let until = self.together.day_out.map_or(String::new(), |day| format!(", until {day}"));
        format!("{name} (cross {}{until})", self.cross)
    }
}

/// A female's row in a cross, with all the sires of that cross.
struct InCross {
    cross: String,
    stay: Stay,
    sires: Vec<(String, Stay)>,
}

/// What ends or empties what is stored: her isolation, and the day on which she was known to be a virgin.
#[derive(Debug, Clone, Copy, Default)]
struct Apart {
    isolated_since: Option<Date>,
    virgin_on: Option<Date>,
}

/// The males of every named dam of this cross, or of all named dams, over all crosses that are not set aside.
///
/// # Errors
/// The book cannot be read.
pub(super) fn of_dams(book: &Read<'_>, cross: Option<i64>) -> Result<BTreeMap<String, Vec<Mate>>> {
    let mut statement = book.conn.prepare_cached(&format!(
        "SELECT d.id, f.name AS dam, f.isolated_since, f.virgin_on, c.name AS cross_name, d.day_in, d.day_out,
                m.name AS sire, s.day_in AS sire_in, s.day_out AS sire_out
         FROM cross_dam d JOIN fish f ON f.id = d.fish_id JOIN crosses c ON c.id = d.cross_id
         LEFT JOIN cross_sire s ON s.cross_id = d.cross_id LEFT JOIN fish m ON m.id = s.fish_id
         WHERE (?1 IS NULL OR d.fish_id IN (SELECT fish_id FROM cross_dam WHERE cross_id = ?1 AND fish_id IS NOT NULL))
           AND {} IS NULL
         ORDER BY d.id, s.id",
        Kind::Cross.why("c.id")
    ))?;
    let mut dams: BTreeMap<String, (Apart, BTreeMap<i64, InCross>)> = BTreeMap::new();
    let mut rows = statement.query([cross])?;
    while let Some(row) = rows.next()? {
        let (apart, stays) = dams.entry(row.get("dam")?).or_default();
        *apart = Apart { isolated_since: read_day(row, "isolated_since")?, virgin_on: read_day(row, "virgin_on")? };
        let own = stays.entry(row.get("id")?).or_insert(in_cross(row)?);
        if let Some(sire) = row.get::<_, Option<String>>("sire")? {
            own.sires.push((sire, Stay { day_in: read_day(row, "sire_in")?, day_out: read_day(row, "sire_out")? }));
        }
    }
    let mut found: BTreeMap<String, Vec<Mate>> =
        dams.into_iter().map(|(dam, (apart, stays))| (dam, mates(apart, stays.into_values().collect()))).collect();
    if let Some(cross) = cross {
        let own: String = book.conn.query_row("SELECT name FROM crosses WHERE id = ?1", [cross], |row| row.get(0))?;
        for mate in found.values_mut().flatten().filter(|m| m.cross != own) {
            mate.descent = mate.sire.as_deref().map_or(Ok(Vec::new()), |sire| descent(book, sire))?;
        }
    }
    Ok(found)
}

/// What a fish and all its recorded forebears came out of: the parents of a brood are those of its cross, of the cross of a dam named
/// with it, and the earlier sire named with it.
fn descent(book: &Read<'_>, fish: &str) -> Result<Vec<Origin>> {
    let parents =
        "x.cross_id IN (SELECT o.cross_id UNION SELECT n.cross_id FROM brood_dam p JOIN cross_dam n ON n.id = p.dam_id
                                  WHERE p.brood_id = o.brood_id)";
    let mut statement = book.conn.prepare_cached(&format!(
        "WITH RECURSIVE origin (cross_id, brood_id, born) AS (
             SELECT cross_id, brood_id, born FROM fish WHERE name = ?1
             UNION SELECT f.cross_id, f.brood_id, f.born FROM origin o JOIN cross_sire x ON {parents} JOIN fish f ON f.id = x.fish_id
             UNION SELECT coalesce(f.cross_id, x.sister_of), f.brood_id, f.born
                   FROM origin o JOIN cross_dam x ON {parents} LEFT JOIN fish f ON f.id = x.fish_id
             UNION SELECT f.cross_id, f.brood_id, f.born
                   FROM origin o JOIN brood b ON b.id = o.brood_id JOIN fish f ON f.id = b.earlier_sire_id)
         SELECT c.name, o.brood_id, o.born FROM origin o JOIN crosses c ON c.id = o.cross_id"
    ))?;
    let origin = |row: &Row<'_>| {
        Ok(Origin { cross: row.get("name")?, brood: row.get("brood_id")?, born: read_day(row, "born")? })
    };
    Ok(statement.query_map([fish], origin)?.collect::<rusqlite::Result<_>>()?)
}

fn in_cross(row: &Row<'_>) -> rusqlite::Result<InCross> {
    let stay = Stay { day_in: read_day(row, "day_in")?, day_out: read_day(row, "day_out")? };
    Ok(InCross { cross: row.get("cross_name")?, stay, sires: Vec::new() })
}

fn mates(apart: Apart, stays: Vec<InCross>) -> Vec<Mate> {
    let came: Vec<Date> = stays.iter().filter_map(|s| s.stay.day_in).chain(apart.isolated_since).collect();
    let mut out = Vec::new();
    for InCross { cross, stay, sires } in stays {
        let next = stay.day_in.and_then(|own| came.iter().copied().filter(|day| *day > own).min());
        let stay = Stay { day_out: stay.day_out.or(next), ..stay };
        if sires.is_empty() {
            out.push(Mate { sire: None, cross, together: stay, descent: Vec::new() });
            continue;
        }
        for (sire, his) in in_turn(sires) {
            if let Some(together) = overlap(stay, his) {
                out.push(Mate { sire: Some(sire), cross: cross.clone(), together, descent: Vec::new() });
            }
        }
    }
    // A virgin on that day: whatever stands before it was no mating.
    out.retain(|m| m.together.day_out.zip(apart.virgin_on).is_none_or(|(last, virgin)| last > virgin));
    out
}
