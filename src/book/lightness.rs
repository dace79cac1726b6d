//! What the lightness questions need of the book: readings of fish and broods, generations of a line, the card over time,
//! and the set-ups' repeatability.

use std::collections::BTreeMap;

use jiff::civil::Date;
use rusqlite::OptionalExtension;
use serde::Deserialize;

use super::photos::Photo;
use super::regions::{PHOTO_STANDS, Region};
use super::{Read, Write, broods, fish, photos, regions, settings};
use crate::colour::{Lab, ciede2000};
use crate::error::{Error, Result};
use crate::lightness::{CardPoint, Conditions, Part, Reading, Seen, SetUp, reading};
use crate::units::View;

/// What a photo's fish are seen under: the photo itself and the conditions of its latest measurement.
#[derive(Debug, Clone)]
pub struct Taken {
    /// The photo.
    pub photo: Photo,
    /// Its conditions.
    pub conditions: Conditions,
}

/// Photos by hash, so that each is read once.
#[derive(Debug, Default)]
pub struct Album(BTreeMap<String, Taken>);

impl Album {
    /// A photo with its conditions.
    ///
    /// # Errors
    /// The book cannot be read.
    pub fn get(&mut self, book: &Read<'_>, hash: &str) -> Result<&Taken> {
        if !self.0.contains_key(hash) {
            let photo =
                photos::find(book, hash)?.ok_or_else(|| Error::failed(hash, "no such photo is in the book", ""))?;
            let conditions = conditions(book, hash)?;
            self.0.insert(hash.to_owned(), Taken { photo, conditions });
        }
        Ok(&self.0[hash])
    }
}

/// The conditions of a photo's latest measurement.
pub(super) fn conditions(book: &Read<'_>, hash: &str) -> Result<Conditions> {
    let found: Option<(String, String)> = book
        .conn
        .query_row(
            "SELECT m.report, m.sheet_hash FROM measurement m JOIN photo p ON p.id = m.photo_id WHERE p.hash = ?1
             ORDER BY m.id DESC LIMIT 1",
            [hash],
            |row| Ok((row.get(0)?, row.get(1)?)),
        )
        .optional()?;
    let Some((text, sheet)) = found else { return Ok(Conditions::default()) };
    let report: serde_json::Value = serde_json::from_str(&text).unwrap_or_default();
    let kept: Option<Conditions> = report.get("conditions").and_then(|c| serde_json::from_value(c.clone()).ok());
    Ok(Conditions { sheet: Some(sheet), ..kept.unwrap_or_default() })
}

/// Readings of a named fish from its portraits.
///
/// # Errors
/// An unknown fish.
pub fn of_fish(book: &Read<'_>, album: &mut Album, name: &str, part: Part) -> Result<Vec<Reading>> {
    let own = fish::get(book, name)?;
    let brood = match (&own.cross, &own.brood) {
        (Some(cross), Some(brood)) => broods::in_cross(book, cross, brood)?.map(|b| b.label),
        (cross, _) => cross.clone(),
    };
    let mut out = Vec::new();
    for region in regions::of_portraits(book, name)?.iter().filter(|r| r.is_comparable()) {
        out.extend(of_region(book, album, region, name.to_owned(), brood.clone(), part)?);
    }
    Ok(out)
}

/// Readings of a brood's latest sitting from one view, those of a class alone where one is named; each fish of the photos
/// counts as one.
///
/// # Errors
/// An unknown brood.
pub fn of_brood(
    book: &Read<'_>,
    album: &mut Album,
    name: &str,
    class: Option<(&str, &str)>,
    view: View,
    part: Part,
) -> Result<Vec<Reading>> {
    let brood = broods::known(book, name)?;
    let mut out = Vec::new();
    for region in regions::of_latest_sitting(book, &brood, view)?.iter().filter(|r| r.is_comparable()) {
        let fits = class.is_none_or(|(axis, class)| region.classes.get(axis).is_some_and(|c| c.class() == class));
        if fits {
            let fish = format!("{} fish {}", region.photo, region.id.number());
            out.extend(of_region(book, album, region, fish, Some(brood.label.clone()), part)?);
        }
    }
    Ok(out)
}

/// Lightness of each fish of a brood's latest sitting, and whether it is confirmed as `class` on `axis`; `None` where
/// nothing is confirmed there.
///
/// # Errors
/// An unknown brood.
pub fn lightness_and_class(
    book: &Read<'_>,
    brood: &str,
    (axis, class): (&str, &str),
    view: View,
    part: Part,
) -> Result<Vec<(f64, Option<bool>)>> {
    let brood = broods::known(book, brood)?;
    let regions = regions::of_latest_sitting(book, &brood, view)?;
    let of = |region: &Region| {
        let confirmed = region.classes.get(axis).map(|c| c.class() == class);
        part.of(&region.features).map(|colour| (colour.lightness, confirmed))
    };
    Ok(regions.iter().filter(|r| r.is_comparable()).filter_map(of).collect())
}

/// Reading of one region, under the name `fish`; `None` where its part cannot be read.
///
/// # Errors
/// The book cannot be read.
pub fn of_region(
    book: &Read<'_>,
    album: &mut Album,
    region: &Region,
    fish: String,
    brood: Option<String>,
    part: Part,
) -> Result<Option<Reading>> {
    let taken = album.get(book, &region.photo)?;
    let (photo, view, conditions) = (region.photo.clone(), taken.photo.view, &taken.conditions);
    let seen = Seen { fish, brood, photo, n: region.n, view, conditions };
    Ok(reading(seen, &region.features, part))
}

/// What the card's points need of a photo's report.
#[derive(Deserialize)]
struct Kept {
    conditions: Option<Conditions>,
}

/// The card in every photo that has one: the mean CIEDE2000 of its patches, as the file's profile reads them, from where
/// they were in the set-up's first photo, which is itself no point. Photos set aside are left out.
///
/// # Errors
/// The book cannot be read.
pub fn card_points(book: &Read<'_>) -> Result<Vec<CardPoint>> {
    let mut statement = book.conn.prepare_cached(&format!(
        "SELECT p.name, coalesce(s.day, substr(p.taken, 1, 10)) AS day, m.report
         FROM photo p LEFT JOIN sitting s ON s.id = p.sitting_id
         JOIN measurement m ON m.id = (SELECT max(l.id) FROM measurement l WHERE l.photo_id = p.id)
         WHERE {PHOTO_STANDS} ORDER BY day, p.taken, p.id"
    ))?;
    let mut rows = statement.query([])?;
    let mut first: BTreeMap<String, Vec<[f64; 3]>> = BTreeMap::new();
    let mut out = Vec::new();
    while let Some(row) = rows.next()? {
        let Some(day) = row.get::<_, Option<String>>("day")?.and_then(|d| d.parse().ok()) else { continue };
        let kept: Option<Kept> = serde_json::from_str(row.get_ref("report")?.as_str()?).ok();
        let conditions = kept.and_then(|k| k.conditions).unwrap_or_default();
        if conditions.patches_as_read.is_empty() {
            continue;
        }
        let set_up = conditions.set_up();
        let Some(start) = first.get(&set_up) else {
            first.insert(set_up, conditions.patches_as_read);
            continue;
        };
        if start.len() == conditions.patches_as_read.len() {
            let value = apart(start, &conditions.patches_as_read);
            out.push(CardPoint { photo: row.get("name")?, day: days(day), value, set_up });
        }
    }
    Ok(out)
}

fn apart(a: &[[f64; 3]], b: &[[f64; 3]]) -> f64 {
    let lab = |[l, a, b]: [f64; 3]| Lab::new(l, a, b);
    a.iter().zip(b).map(|(x, y)| ciede2000(lab(*x), lab(*y))).sum::<f64>() / a.len().max(1) as f64
}

/// Days since the start of the common era, as a plain number for regressions.
pub fn days(date: Date) -> f64 {
    let start = jiff::civil::date(1, 1, 1);
    f64::from(start.until(date).map_or(0, |span| span.get_days()))
}

/// The repeatability that applies to a comparison's readings: where all share a set-up that the book has repeats of.
///
/// # Errors
/// The book cannot be read.
pub fn shared_set_up<'a>(book: &Read<'_>, mut readings: impl Iterator<Item = &'a Reading>) -> Result<Option<SetUp>> {
    let Some(first) = readings.next() else { return Ok(None) };
    if readings.any(|r| r.set_up != first.set_up) {
        return Ok(None);
    }
    let text = settings::get(book, &setting(&first.set_up))?;
    Ok(text.and_then(|t| serde_json::from_str(&t).ok()))
}

/// Keeps the repeatability of a set-up.
///
/// # Errors
/// The book cannot be written to.
pub fn keep_set_up(book: &Write<'_>, setup: &SetUp) -> Result<()> {
    settings::set(book, &setting(&setup.name), &super::values::json(setup)?)
}

fn setting(name: &str) -> String {
    format!("set-up {name}")
}
