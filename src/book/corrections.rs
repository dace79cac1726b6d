//! What a person mended in a photo by hand, kept in order and replayed whenever the photo is measured again.

use rusqlite::{OptionalExtension, params};
use serde::{Deserialize, Serialize};

use super::decisions::{self, By, DecisionId};
use super::log::{Field, Target, record};
use super::measurements::MendedAway;
use super::values::{json, read_json};
use super::{Read, Write, photos, regions, scores};
use crate::error::Result;
use crate::fish::{Correction, Spot};
use crate::geometry::{Quad, polygon_contains};
use crate::units::tidy;

/// One line of the log: about a fish, or about the card.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
enum Edit {
    Fish(Correction),
    Card(Moved),
}

/// The card's corners, pointed out by hand.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct Moved {
    corners: Quad,
    /// Those given before; `None` where the card was found without help.
    from: Option<Quad>,
}

/// Keeps one correction of a photo's fish, once the photo has been measured with it. A scored outline that it did away with keeps its
/// score but is set aside, so that what it shows is not counted twice; these come back.
///
/// # Errors
/// An unknown photo; the book cannot be written to.
pub fn add(book: &Write<'_>, photo: &str, correction: &Correction, by: &By) -> Result<Vec<MendedAway>> {
    let decision = insert(book, photo, &Edit::Fish(correction.clone()), by)?;
    let (spots, reason) = match correction {
        Correction::Add { .. } => return Ok(Vec::new()),
        Correction::Drop { was, .. } => (was.iter().collect::<Vec<_>>(), NOT_A_FISH),
        Correction::Split { was, .. } => (was.iter().collect(), "mended: taken apart"),
        Correction::Merge { was, .. } => (was.iter().flatten().collect(), "mended: joined"),
    };
    let mut gone = Vec::new();
    for region in regions::of_photo(book, &photos::named(book, photo)?)?.iter().filter(|r| r.from_earlier) {
        let meant = |spot: &&Spot| spot.is_of(region.area_px) && polygon_contains(&region.outline, spot.at);
        if region.set_aside.is_none() && spots.iter().any(meant) {
            record(book, decision, &by.name, Target::Region(region.id.0), Field::Aside, Some(reason))?;
            gone.push(MendedAway { n: region.n, why: reason });
        }
    }
    Ok(gone)
}

/// Why a fish is set aside that was mended away.
const NOT_A_FISH: &str = "mended: not a fish";

/// Sets fish `n` of a photo aside as no fish, where it stands with the outline of an earlier measurement, as one does that was brought
/// back after it had been mended away; `None` where there is none such.
///
/// # Errors
/// An unknown photo; the book cannot be written to.
pub fn drop_earlier(book: &Write<'_>, photo: &str, n: u32, by: &By) -> Result<Option<MendedAway>> {
    let Some(photo) = photos::find(book, photo)? else { return Ok(None) };
    let all = regions::of_photo(book, &photo)?;
    let Some(one) = all.iter().find(|r| r.n == n && r.from_earlier && r.set_aside.is_none()) else { return Ok(None) };
    scores::set_aside(book, one.id, Some(NOT_A_FISH), by)?;
    Ok(Some(MendedAway { n, why: NOT_A_FISH }))
}

/// Keeps that a photo's card lies at `corners`; `from` are those it was measured with before.
///
/// # Errors
/// An unknown photo; the book cannot be written to.
pub fn move_card(book: &Write<'_>, photo: &str, corners: Quad, from: Option<Quad>, by: &By) -> Result<DecisionId> {
    insert(book, photo, &Edit::Card(Moved { corners, from }), by)
}

fn insert(book: &Write<'_>, photo: &str, edit: &Edit, by: &By) -> Result<DecisionId> {
    let photo = photos::named(book, photo)?;
    // Places are kept as a measurement keeps its options, so that the two can be compared.
    let mut kept: serde_json::Value = serde_json::from_str(&json(edit)?).unwrap_or_default();
    tidy(&mut kept);
    let decision = decisions::open(book, by, "mend", None)?;
    book.conn.execute(
        "INSERT INTO correction (decision_id, photo_id, edit) VALUES (?1, ?2, ?3)",
        params![decision.0, photo.id, kept.to_string()],
    )?;
    Ok(decision)
}

/// The corrections of a photo's fish that hold, in the order they were made.
///
/// # Errors
/// An unknown photo; the book cannot be read.
pub fn of_photo(book: &Read<'_>, photo: &str) -> Result<Vec<Correction>> {
    let standing = edits(book, photo)?.into_iter().filter(|(_, holds)| *holds);
    Ok(standing
        .filter_map(|(edit, _)| match edit {
            Edit::Fish(correction) => Some(correction),
            Edit::Card(_) => None,
        })
        .collect())
}

/// Where a photo's card lies by hand, when it was last measured with the corners `measured`: those pointed out last and
/// not taken back. Corners that were never pointed out here were given elsewhere since, and hold.
///
/// # Errors
/// An unknown photo; the book cannot be read.
pub fn card_of_photo(book: &Read<'_>, photo: &str, measured: Option<Quad>) -> Result<Option<Quad>> {
    let moves: Vec<(Moved, bool)> = edits(book, photo)?
        .into_iter()
        .filter_map(|(edit, holds)| match edit {
            Edit::Card(moved) => Some((moved, holds)),
            Edit::Fish(_) => None,
        })
        .collect();
    let Some((first, _)) = moves.first() else { return Ok(measured) };
    let given_here = measured == first.from || moves.iter().any(|(m, _)| Some(m.corners) == measured);
    if !given_here {
        return Ok(measured);
    }
    Ok(moves.iter().rfind(|(_, holds)| *holds).map_or(first.from, |(m, _)| Some(m.corners)))
}

/// The hash of the photo that a decision mended; `None` for a decision about anything else.
///
/// # Errors
/// The book cannot be read.
pub fn photo_of(book: &Read<'_>, decision: DecisionId) -> Result<Option<String>> {
    let mut statement = book.conn.prepare_cached(
        "SELECT p.hash FROM correction k JOIN photo p ON p.id = k.photo_id WHERE k.decision_id = ?1 LIMIT 1",
    )?;
    Ok(statement.query_row([decision.0], |row| row.get(0)).optional()?)
}

/// Every edit of a photo in the order of the log, and whether it still holds.
fn edits(book: &Read<'_>, photo: &str) -> Result<Vec<(Edit, bool)>> {
    let photo = photos::named(book, photo)?;
    let mut statement = book.conn.prepare_cached(
        "SELECT k.edit, NOT EXISTS (SELECT 1 FROM correction u WHERE u.undoes = k.id) AS holds FROM correction k
         WHERE k.photo_id = ?1 AND k.undoes IS NULL ORDER BY k.id",
    )?;
    let rows = statement.query_map([photo.id], |row| Ok((read_json(row, "edit")?, row.get("holds")?)))?;
    Ok(rows.collect::<rusqlite::Result<_>>()?)
}
