//! The males that each named female was with, over all her crosses.

use std::collections::BTreeMap;

use jiff::civil::Date;
use rusqlite::Row;

use super::Read;
use super::broods::Brood;
use super::crosses::Stay;
use super::stays::{self, Female, InCross, overlap};
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
    /// Their days together. Where no last day is recorded, whatever ended the one's or the other's.
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

/// The males of every named dam, over all crosses that are not set aside.
///
/// # Errors
/// The book cannot be read.
pub(super) fn of_dams(book: &Read<'_>) -> Result<BTreeMap<String, Vec<Mate>>> {
    let females = stays::of_dams(book, None)?;
    Ok(females.into_iter().map(|(dam, female)| (dam, mates(&female))).collect())
}

/// The males that a dam of this cross was with in others, with what they came out of.
///
/// # Errors
/// The book cannot be read.
pub(super) fn elsewhere(book: &Read<'_>, female: &Female, cross: &str) -> Result<Vec<Mate>> {
    let others = mates(female).into_iter().filter(|mate| mate.cross != cross);
    let known = |mate: Mate| {
        let descent = mate.sire.as_deref().map_or(Ok(Vec::new()), |sire| descent(book, sire))?;
        Ok(Mate { descent, ..mate })
    };
    others.map(known).collect()
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

fn mates(female: &Female) -> Vec<Mate> {
    let mut out = Vec::new();
    for InCross { cross, stay, sires, .. } in &female.crosses {
        let mate = |sire, together| Mate { sire, cross: cross.clone(), together, descent: Vec::new() };
        if sires.is_empty() {
            out.push(mate(None, *stay));
        }
        for (sire, his) in sires.iter().map(|sire| sire.beside(*stay)) {
            out.extend(overlap(*stay, his).map(|together| mate(Some(sire), together)));
        }
    }
    // A virgin on that day: whatever stands before it was no mating.
    out.retain(|m| m.together.day_out.zip(female.virgin_on).is_none_or(|(last, virgin)| last > virgin));
    out
}
