//! Measurements: what the program saw in a photo, with all that is needed to tell how; and measuring again, which makes
//! new regions, links them to the old ones and moves no score.

use rusqlite::{OptionalExtension, params};
use serde::Serialize;

use super::overlap::{Overlap, overlap};
use super::regions::OUTLINE_STANDS;
use super::values::{json, read_json};
use super::{Read, Write, photos};
use crate::error::Result;
use crate::features::Features;
use crate::geometry::{PixelBox, Point, Quad};
use crate::sheet::{Proposal, Sheet};

/// What one run of the program saw in a photo.
#[derive(Debug, Clone)]
pub struct Measured<'a> {
    /// Name and version of the program.
    pub program: &'a str,
    /// The sheet that made the proposals.
    pub sheet: &'a Sheet,
    /// The card's layout, where one was found.
    pub card_layout: Option<&'a str>,
    /// The edition of its published values.
    pub card_edition: Option<&'a str>,
    /// The options, as JSON.
    pub options: &'a serde_json::Value,
    /// `good`, `fair` or `poor`.
    pub verdict: &'a str,
    /// The whole report line of the photo, as JSON.
    pub report: &'a serde_json::Value,
    /// Its fish.
    pub fish: &'a [MeasuredFish],
}

/// One fish as measured.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasuredFish {
    /// Its number in the photo.
    pub n: u32,
    /// Mean place of its pixels.
    pub centre: Point,
    /// The box around it.
    pub bounds: PixelBox,
    /// Its outline.
    pub outline: Vec<Point>,
    /// Area in pixels.
    pub area_px: f64,
    /// Snout to tail tip in millimetres.
    pub length_mm: Option<f64>,
    /// Snout to end of the tail stalk in millimetres.
    pub standard_length_mm: Option<f64>,
    /// How many fish it is: 1, or the estimate for a cluster.
    pub number: u32,
    /// Names of its flags.
    pub flags: Vec<String>,
    /// What was measured on it.
    pub features: Features,
    /// What the sheet suggests.
    pub proposals: Vec<Proposal>,
}

/// What measuring again changed.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Difference {
    /// Fish that were there before and still are.
    pub same: usize,
    /// Fish that are new.
    pub new: usize,
    /// Unconfirmed fish that are no longer seen.
    pub lost: usize,
    /// Numbers of confirmed fish, not set aside, whose outline stays as it was, because nothing new is clearly the same fish.
    pub kept: Vec<u32>,
    /// Confirmed fish that were mended away and so set aside.
    pub set_aside: Vec<MendedAway>,
    /// `fish 3: red-body reduced → absent`: proposals that are not what they were.
    pub proposals: Vec<String>,
}

/// A confirmed fish that a correction did away with.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct MendedAway {
    /// Its number.
    pub n: u32,
    /// Why it is set aside.
    pub why: &'static str,
}

/// Overlap (area of both over area of either) from which two outlines are the same fish.
pub const SAME_FROM: f64 = 0.5;

/// Overlap from which they are, whatever else lies there: a scored outline that was mended away stays on record under what came of it.
const SURELY_SAME_FROM: f64 = 0.9;

/// Share of a fish's area that a third outline may cover before "the same" is no longer sure.
pub const STRANGER_UP_TO: f64 = 0.2;

/// Writes down a measurement of a photo in the book, and links its fish to those of the measurement before.
///
/// # Errors
/// An unknown photo; the book cannot be written to.
pub fn add(book: &Write<'_>, hash: &str, measured: &Measured<'_>, at: jiff::Timestamp) -> Result<Difference> {
    let photo = photos::named(book, hash)?.id;
    book.conn.execute(
        "INSERT OR IGNORE INTO sheet (hash, text, kept_at) VALUES (?1, ?2, ?3)",
        params![measured.sheet.hash, measured.sheet.text, at.to_string()],
    )?;
    book.conn.execute(
        "INSERT INTO measurement (photo_id, measured_at, program, sheet_hash, card_layout, card_edition, options, verdict, report)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
        params![
            photo,
            at.to_string(),
            measured.program,
            measured.sheet.hash,
            measured.card_layout,
            measured.card_edition,
            measured.options.to_string(),
            measured.verdict,
            measured.report.to_string()
        ],
    )?;
    let measurement = book.conn.last_insert_rowid();
    let before = standing(book, photo)?;
    let mut difference = Difference::default();
    let mut followed = vec![false; before.len()];
    for one in measured.fish {
        let overlaps: Vec<Overlap> = before.iter().map(|old| overlap(&old.outline, &one.outline)).collect();
        let same = same_fish(&before, measured.fish, one, &overlaps);
        let id = insert(book, measurement, photo, one, same.map(|i| before[i].root))?;
        for (old, o) in before.iter().zip(&overlaps).filter(|(_, o)| o.union > 0.0) {
            let is_same = same.is_some_and(|i| before[i].id == old.id);
            book.conn.execute(
                "INSERT INTO region_link (old_id, new_id, overlap, same) VALUES (?1, ?2, ?3, ?4)",
                params![old.id, id, o.union, is_same],
            )?;
        }
        match same {
            Some(i) => {
                followed[i] = true;
                difference.same += 1;
                difference.proposals.extend(changed(one.n, &proposals(book, before[i].id)?, &one.proposals));
            }
            None => difference.new += 1,
        }
    }
    for (old, followed) in before.iter().zip(followed) {
        if !followed && old.confirmed {
            difference.kept.extend((!old.set_aside).then_some(old.n));
        } else {
            difference.lost += usize::from(!followed);
            book.conn.execute("UPDATE region SET stands = 0 WHERE id = ?1", [old.id])?;
        }
    }
    Ok(difference)
}

/// How a photo was measured last.
#[derive(Debug, Clone, PartialEq)]
pub struct Provenance {
    /// Name and version of the program.
    pub program: String,
    /// Hash of the sheet.
    pub sheet: String,
    /// The options, as JSON.
    pub options: serde_json::Value,
    /// `good`, `fair` or `poor`.
    pub verdict: String,
    /// The report line of the photo without its fish, as JSON.
    pub report: serde_json::Value,
}

/// How a photo was measured last; `None` when it never was.
///
/// # Errors
/// The book cannot be read.
pub fn latest(book: &Read<'_>, hash: &str) -> Result<Option<Provenance>> {
    let found = book
        .conn
        .query_row(
            "SELECT m.* FROM measurement m JOIN photo p ON p.id = m.photo_id
             WHERE p.hash = ?1 ORDER BY m.id DESC LIMIT 1",
            [hash],
            |row| {
                Ok(Provenance {
                    program: row.get("program")?,
                    sheet: row.get("sheet_hash")?,
                    options: read_json(row, "options")?,
                    verdict: row.get("verdict")?,
                    report: read_json(row, "report")?,
                })
            },
        )
        .optional()?;
    Ok(found)
}

/// The corners of the card as a photo was measured last.
///
/// # Errors
/// The book cannot be read.
pub fn card_of(book: &Read<'_>, hash: &str) -> Result<Option<Quad>> {
    let report = latest(book, hash)?.map(|m| m.report);
    Ok(report.and_then(|r| serde_json::from_value(r["card"]["corners"].clone()).ok()))
}

/// The proposals of one region, in the order of their axes' names.
pub(super) fn proposals(book: &Read<'_>, region: i64) -> Result<Vec<Proposal>> {
    let mut statement = book.conn.prepare_cached("SELECT * FROM proposal WHERE region_id = ?1")?;
    let rows = statement.query_map([region], |row| {
        Ok(Proposal {
            axis: row.get("axis")?,
            class: row.get("class")?,
            confidence: row.get("confidence")?,
            because: read_json(row, "because")?,
        })
    })?;
    Ok(rows.collect::<rusqlite::Result<_>>()?)
}

/// A region that counts today, as far as linking needs it.
struct Standing {
    id: i64,
    root: i64,
    n: u32,
    outline: Vec<Point>,
    confirmed: bool,
    set_aside: bool,
}

fn standing(book: &Read<'_>, photo: i64) -> Result<Vec<Standing>> {
    let mut statement = book.conn.prepare_cached(&format!(
        "SELECT r.id, r.root_id, r.n, r.outline,
                EXISTS (SELECT 1 FROM current_region s
                        WHERE s.region_id = r.root_id AND s.field <> 'aside' AND s.value IS NOT NULL) AS confirmed,
                NOT {OUTLINE_STANDS} AS set_aside
         FROM region r WHERE r.photo_id = ?1 AND r.stands = 1 ORDER BY r.id"
    ))?;
    let rows = statement.query_map([photo], |row| {
        Ok(Standing {
            id: row.get("id")?,
            root: row.get("root_id")?,
            n: row.get("n")?,
            outline: read_json(row, "outline")?,
            confirmed: row.get("confirmed")?,
            set_aside: row.get("set_aside")?,
        })
    })?;
    Ok(rows.collect::<rusqlite::Result<_>>()?)
}

fn insert(book: &Write<'_>, measurement: i64, photo: i64, one: &MeasuredFish, root: Option<i64>) -> Result<i64> {
    // A new fish is its own root; the row's id is known only once it is there.
    let next: i64 = book.conn.query_row(
        "SELECT coalesce((SELECT seq FROM sqlite_sequence WHERE name = 'region'), 0) + 1",
        [],
        |row| row.get(0),
    )?;
    book.conn.prepare_cached(
        "INSERT INTO region (id, measurement_id, photo_id, n, root_id, stands, centre_x, centre_y, box, outline, features,
                             flags, number, area_px, length_mm, standard_mm)
         VALUES (?1, ?2, ?3, ?4, ?5, 1, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15)",
    )?
    .execute(params![
        next,
        measurement,
        photo,
        one.n,
        root.unwrap_or(next),
        one.centre.x,
        one.centre.y,
        json(&one.bounds)?,
        json(&one.outline)?,
        json(&one.features)?,
        json(&one.flags)?,
        one.number.max(1),
        one.area_px,
        one.length_mm,
        one.standard_length_mm
    ])?;
    for p in &one.proposals {
        book.conn
            .prepare_cached(
                "INSERT INTO proposal (region_id, axis, class, confidence, because) VALUES (?1, ?2, ?3, ?4, ?5)",
            )?
            .execute(params![next, p.axis, p.class, p.confidence.clamp(0.0, 1.0), json(&p.because)?])?;
    }
    Ok(next)
}

/// The old fish that `one` clearly is: overlapping it well, with no third outline on either.
fn same_fish(before: &[Standing], all: &[MeasuredFish], one: &MeasuredFish, overlaps: &[Overlap]) -> Option<usize> {
    let (best, overlap_of_best) = overlaps
        .iter()
        .enumerate()
        .filter(|(_, o)| o.union >= SAME_FROM)
        .max_by(|a, b| a.1.union.total_cmp(&b.1.union))?;
    if overlap_of_best.union >= SURELY_SAME_FROM {
        return Some(best);
    }
    let stranger_before = overlaps.iter().enumerate().any(|(i, o)| i != best && o.of_old > STRANGER_UP_TO);
    let old = &before[best].outline;
    let stranger_now = all.iter().filter(|f| f.n != one.n).any(|f| overlap(old, &f.outline).of_new > STRANGER_UP_TO);
    (!stranger_before && !stranger_now).then_some(best)
}

fn changed(n: u32, before: &[Proposal], now: &[Proposal]) -> Vec<String> {
    now.iter()
        .filter_map(|p| {
            let old = before.iter().find(|o| o.axis == p.axis)?;
            (old.class != p.class).then(|| format!("fish {n}: {} {} → {}", p.axis, old.class, p.class))
        })
        .collect()
}
