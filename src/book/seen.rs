//! The fish of a brood's photos, as far as counting needs them.

use jiff::civil::Date;
use rusqlite::params;

use super::Read;
use super::broods::Brood;
use super::values::read_sex;
use crate::counts::Why;
use crate::error::Result;
use crate::score::Confirmed;
use crate::sheet::Proposal;
use crate::units::Sex;

/// What counting needs of one fish of a photo, for one axis.
#[derive(Debug, Default)]
pub(super) struct Seen {
    /// Hash of its photo.
    pub(super) photo: String,
    /// How many fish it is.
    pub(super) number: u32,
    /// Its sex, once a person has said so.
    pub(super) sex: Option<Sex>,
    /// Whether it is set aside.
    pub(super) set_aside: bool,
    /// Moved or died, if it left after this photo.
    pub(super) gone: Option<Why>,
    /// What a person said.
    pub(super) score: Option<Confirmed>,
    /// What the sheet suggests, without its reasons.
    pub(super) proposal: Option<Proposal>,
}

/// The fish of a brood's sittings from the day `from` on, and those of earlier ones that left since, in the order of day,
/// photo and number: no outlines, no features, so that a book of many years is counted in moments.
///
/// A fish's part of the log lies in one piece of its index, oldest first: it is read in one go, and the last word holds.
pub(super) fn seen(book: &Read<'_>, axis: &str, brood: &Brood, from: Option<Date>) -> Result<Vec<Seen>> {
    let mut statement = book.conn.prepare_cached(
        "SELECT r.id, p.hash, r.number, c.field, c.new, d.made_by, q.class AS proposed, q.confidence
         FROM sitting s JOIN photo p ON p.sitting_id = s.id JOIN region r ON r.photo_id = p.id AND r.stands = 1
         LEFT JOIN proposal q ON q.region_id = r.id AND q.axis = ?2
         LEFT JOIN change c INDEXED BY change_by_region
             ON c.region_id = r.root_id AND c.region_id IS NOT NULL AND c.field <> 'opinion' AND c.axis IN ('', ?2)
         LEFT JOIN decision d ON c.field = 'class' AND d.id = c.decision_id
         WHERE s.brood_id = ?1 AND (?3 IS NULL OR s.day >= ?3 OR EXISTS (
             SELECT 1 FROM change g WHERE g.region_id = r.root_id AND g.field = 'gone' AND g.new IS NOT NULL))
         ORDER BY s.day, p.id, r.n, r.id, c.id",
    )?;
    let mut rows = statement.query(params![brood.id, axis, from.map(|d| d.to_string())])?;
    let (mut all, mut last) = (Vec::<Seen>::new(), None);
    while let Some(row) = rows.next()? {
        let id: i64 = row.get(0)?;
        if last != Some(id) {
            last = Some(id);
            let proposed: Option<(String, f64)> = row.get::<_, Option<String>>(6)?.zip(row.get(7)?);
            let proposal = proposed.map(|(class, confidence)| Proposal {
                axis: axis.to_owned(),
                class,
                confidence,
                because: Vec::new(),
            });
            all.push(Seen { photo: row.get(1)?, number: row.get(2)?, proposal, ..Seen::default() });
        }
        let Some(one) = all.last_mut() else { continue };
        let Some(field) = row.get_ref(3)?.as_str_or_null()? else { continue };
        let new: Option<String> = row.get(4)?;
        match field {
            "sex" => one.sex = read_sex(row, "new")?,
            "aside" => one.set_aside = new.is_some(),
            "gone" => one.gone = new.map(|g| if g == "moved" { Why::Moved } else { Why::Died }),
            _ => {
                let by: Option<String> = row.get(5)?;
                one.score = new.map(|c| Confirmed::said_by(by.as_deref().unwrap_or_default(), axis, &c)).transpose()?;
            }
        }
    }
    Ok(all)
}
