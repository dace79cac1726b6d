//! The fish of a brood's photos, as far as counting needs them.

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

/// The fish of a brood's photos in the order of day, photo and number: no outlines, no features, so that a book of many
/// years is counted in moments.
pub(super) fn seen(book: &Read<'_>, axis: &str, brood: &Brood) -> Result<Vec<Seen>> {
    let latest = |field: &str, axis: &str| {
        format!(
            "(SELECT c.id FROM change c WHERE c.region_id = r.root_id AND c.field = '{field}' AND c.axis = {axis}
              ORDER BY c.id DESC LIMIT 1)"
        )
    };
    let (sex, aside, gone) = (latest("sex", "''"), latest("aside", "''"), latest("gone", "''"));
    let class = latest("class", "?2");
    let mut statement = book.conn.prepare_cached(&format!(
        "SELECT p.hash, r.number, x.new AS sex, a.new AS aside, g.new AS gone, k.new AS class, d.made_by,
                q.class AS proposed, q.confidence
         FROM sitting s JOIN photo p ON p.sitting_id = s.id JOIN region r ON r.photo_id = p.id AND r.stands = 1
         LEFT JOIN change x ON x.id = {sex} LEFT JOIN change a ON a.id = {aside}
         LEFT JOIN change g ON g.id = {gone} LEFT JOIN change k ON k.id = {class}
         LEFT JOIN decision d ON d.id = k.decision_id
         LEFT JOIN proposal q ON q.region_id = r.id AND q.axis = ?2
         WHERE s.brood_id = ?1 ORDER BY s.day, p.id, r.n, r.id"
    ))?;
    let mut rows = statement.query(params![brood.id, axis])?;
    let mut all = Vec::new();
    while let Some(row) = rows.next()? {
        let class: Option<String> = row.get("class")?;
        let by: Option<String> = row.get("made_by")?;
        let proposed: Option<String> = row.get("proposed")?;
        let confidence: Option<f64> = row.get("confidence")?;
        all.push(Seen {
            photo: row.get("hash")?,
            number: row.get("number")?,
            sex: read_sex(row, "sex")?,
            set_aside: row.get::<_, Option<String>>("aside")?.is_some(),
            gone: row.get::<_, Option<String>>("gone")?.map(|g| if g == "moved" { Why::Moved } else { Why::Died }),
            score: class.map(|c| Confirmed::said_by(by.as_deref().unwrap_or_default(), axis, &c)).transpose()?,
            proposal: proposed.zip(confidence).map(|(class, confidence)| Proposal {
                axis: axis.to_owned(),
                class,
                confidence,
                because: Vec::new(),
            }),
        });
    }
    Ok(all)
}
