//! What counting needs of a brood besides its fish, read once for all axes: its photos from one view, its counts by hand and
//! who left it unscored.

use std::collections::BTreeMap;

use jiff::civil::Date;
use rusqlite::params;

use super::broods::{self, Brood};
use super::departures::{self, Departure};
use super::hand::{self, HandCount};
use super::regions::PHOTO_STANDS;
use super::tallies::Selection;
use super::values::read_day;
use super::{Read, crosses, photos};
use crate::error::Result;
use crate::units::View;

/// A brood and what is known of it besides its fish.
pub(super) struct Stock {
    pub(super) brood: Brood,
    pub(super) photos: Vec<Sat>,
    /// Photos that were set aside whole.
    pub(super) aside: Vec<Sat>,
    /// Photos from another view than the one asked about.
    pub(super) other_views: u32,
    /// By axis.
    pub(super) by_hand: BTreeMap<String, HandCount>,
    pub(super) left: Vec<Departure>,
}

/// A photo of a sitting.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sat {
    /// Its row.
    pub(super) photo: i64,
    /// The day of the sitting.
    pub(super) day: Date,
}

/// The broods that are asked for, in the order of writing down.
///
/// # Errors
/// An unknown cross.
pub(super) fn of(book: &Read<'_>, selection: &Selection<'_>) -> Result<Vec<Stock>> {
    if let Some(cross) = selection.cross {
        crosses::known_id(book, cross)?;
    }
    let all = broods::list(book)?.into_iter().filter(|b| selection.cross.is_none_or(|c| b.cross == c));
    all.map(|brood| of_brood(book, brood, selection.view)).collect()
}

/// What is known of one brood.
pub(super) fn of_brood(book: &Read<'_>, brood: Brood, view: View) -> Result<Stock> {
    let (photos, other_views) = sat(book, &brood, view)?;
    let (aside, _) = photos_of(book, &brood, view, true)?;
    let (by_hand, left) = (hand::of_brood(book, &brood)?, departures::of_brood(book, &brood)?);
    Ok(Stock { brood, photos, aside, other_views, by_hand, left })
}

/// The photos of a brood from one view that show fish and are not set aside, and how many there are from others. A photo
/// of an empty tray is no sitting that could replace an earlier one.
pub(super) fn sat(book: &Read<'_>, brood: &Brood, view: View) -> Result<(Vec<Sat>, u32)> {
    photos_of(book, brood, view, false)
}

/// The same, or of those that are set aside.
fn photos_of(book: &Read<'_>, brood: &Brood, view: View, aside: bool) -> Result<(Vec<Sat>, u32)> {
    let mut statement = book.conn.prepare_cached(&format!(
        "SELECT p.id, p.view, s.day FROM photo p JOIN sitting s ON s.id = p.sitting_id
         WHERE s.brood_id = ?1 AND EXISTS (SELECT 1 FROM region r WHERE r.photo_id = p.id AND r.stands = 1)
         AND ?2 <> {PHOTO_STANDS} ORDER BY p.id"
    ))?;
    let mut rows = statement.query(params![brood.id, aside])?;
    let (mut all, mut other) = (Vec::new(), 0);
    while let Some(row) = rows.next()? {
        match read_day(row, "day")? {
            Some(day) if row.get_ref("view")?.as_str()? == photos::view_word(view) => {
                all.push(Sat { photo: row.get("id")?, day });
            }
            _ => other += 1,
        }
    }
    Ok((all, other))
}
