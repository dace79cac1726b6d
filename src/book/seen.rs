//! The fish of a brood's photos, as far as counting needs them: sorted into kinds that are alike in all that it asks.

use std::collections::BTreeMap;

use rusqlite::params;

use super::values::read_sex;
use super::{Read, photo_tally, sheets};
use crate::counts::Why;
use crate::error::Result;
use crate::score::Confirmed;
use crate::units::Sex;

/// All that counting asks of a fish of a photo, for one axis.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Kind {
    /// Its sex, once a person has said so.
    pub(super) sex: Option<Sex>,
    /// Whether it is set aside.
    pub(super) set_aside: bool,
    /// Moved or died, if it left after this photo.
    pub(super) gone: Option<Why>,
    /// What a person said.
    pub(super) score: Option<Confirmed>,
    /// The class that the sheet suggests.
    pub(super) proposed: Option<String>,
    /// Nothing is said or suggested, because the sheet of its photo has other axes, but not this one.
    pub(super) not_asked: bool,
}

/// Fish of one photo that are of one kind.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Alike {
    pub(super) kind: Kind,
    /// How many outlines.
    pub(super) regions: u32,
    /// How many fish those are.
    pub(super) number: u32,
}

/// The fish of a photo: as they were sorted, else out of the log.
pub(super) fn of_photo(book: &Read<'_>, photo: i64, axis: &str) -> Result<Vec<Alike>> {
    let mut fish = if photo_tally::is_unsorted(book, photo)? {
        out_of_log(book, photo, axis)?
    } else {
        photo_tally::sorted(book, photo, axis)?
    };
    let silent = |one: &Alike| one.kind.score.is_none() && one.kind.proposed.is_none();
    if fish.iter().any(silent) && sheets::left_out_of(book, photo, axis)? {
        fish.iter_mut().filter(|one| silent(one)).for_each(|one| one.kind.not_asked = true);
    }
    Ok(fish)
}

/// The fish of a photo by its log alone: no outlines, no features.
///
/// A fish's part of the log lies in one piece of its index, oldest first: it is read in one go, and the last word holds.
fn out_of_log(book: &Read<'_>, photo: i64, axis: &str) -> Result<Vec<Alike>> {
    let mut statement = book.conn.prepare_cached(
        "SELECT r.id, r.number, q.class AS proposed, c.field, c.new, d.made_by
         FROM region r LEFT JOIN proposal q ON q.region_id = r.id AND q.axis = ?2
         LEFT JOIN change c INDEXED BY change_by_region
             ON c.region_id = r.root_id AND c.region_id IS NOT NULL AND c.field <> 'opinion' AND c.axis IN ('', ?2)
         LEFT JOIN decision d ON c.field = 'class' AND d.id = c.decision_id
         WHERE r.photo_id = ?1 AND r.stands = 1 ORDER BY r.id, c.id",
    )?;
    let mut rows = statement.query(params![photo, axis])?;
    let mut fish: BTreeMap<i64, (Kind, u32)> = BTreeMap::new();
    while let Some(row) = rows.next()? {
        let (id, number, proposed) = (row.get(0)?, row.get(1)?, row.get(2)?);
        let (one, _) = fish.entry(id).or_insert_with(|| (Kind { proposed, ..Kind::default() }, number));
        let Some(field) = row.get_ref(3)?.as_str_or_null()? else { continue };
        let new = row.get_ref(4)?.as_str_or_null()?;
        match field {
            "sex" => one.sex = read_sex(row, "new")?,
            "aside" => one.set_aside = new.is_some(),
            "gone" => one.gone = new.map(why_gone),
            _ => {
                let by: Option<String> = row.get(5)?;
                one.score = new.map(|c| Confirmed::said_by(by.as_deref().unwrap_or_default(), axis, c)).transpose()?;
            }
        }
    }
    let mut kinds: BTreeMap<Kind, (u32, u32)> = BTreeMap::new();
    for (kind, number) in fish.into_values() {
        let (regions, fish) = kinds.entry(kind).or_default();
        *regions += 1;
        *fish += number;
    }
    Ok(kinds.into_iter().map(|(kind, (regions, number))| Alike { kind, regions, number }).collect())
}

/// What the log says of a fish that left.
pub(super) fn why_gone(word: &str) -> Why {
    if word == "moved" { Why::Moved } else { Why::Died }
}
