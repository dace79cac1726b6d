//! The males that each named female was with, over all her crosses.

use std::collections::BTreeMap;

use jiff::civil::Date;
use rusqlite::Row;

use super::Read;
use super::aside::Kind;
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
    Ok(dams.into_iter().map(|(dam, (apart, stays))| (dam, mates(apart, stays.into_values().collect()))).collect())
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
            out.push(Mate { sire: None, cross, together: stay });
            continue;
        }
        for (sire, his) in in_turn(sires) {
            if let Some(together) = overlap(stay, his) {
                out.push(Mate { sire: Some(sire), cross: cross.clone(), together });
            }
        }
    }
    // A virgin on that day: whatever stands before it was no mating.
    out.retain(|m| m.together.day_out.zip(apart.virgin_on).is_none_or(|(last, virgin)| last > virgin));
    out
}
