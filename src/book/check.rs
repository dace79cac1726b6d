//! Is everything there and sound: the records' file, its links, what stands under what is set aside, every original by its hash.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use rusqlite::Connection;
use serde::Serialize;

use super::originals::{self, Found};
use super::{Read, SCHEMA_VERSION, aside, consistent, files, odd_days, photo_tally, photos, settings};
use crate::error::Result;

/// What a check found.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Findings {
    /// What is wrong, each with its place. Empty: all is sound.
    pub faults: Vec<String>,
    /// What is odd but does no harm to the records: days that contradict each other, files that no record names.
    pub remarks: Vec<String>,
    /// How many photos were read and compared with their hash.
    pub photos: usize,
}

/// What a book holds.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Info {
    /// Its folder.
    pub book: String,
    /// Layout number of its file.
    pub layout: u32,
    /// Who decides where no name is given.
    pub scorer: Option<String>,
    /// Distance between neighbouring patch centres of the chart in use.
    pub card_pitch_mm: Option<f64>,
    /// Named fish.
    pub fish: u32,
    /// Crosses.
    pub crosses: u32,
    /// Broods.
    pub broods: u32,
    /// Sittings.
    pub sittings: u32,
    /// Photos.
    pub photos: u32,
    /// Fish in photos, as they stand today.
    pub regions: u32,
    /// Scores that hold.
    pub scores: u32,
    /// Counts by hand that hold, in rows.
    pub hand_counts: u32,
    /// Entries of the log of decisions.
    pub decisions: u32,
}

/// Checks everything.
///
/// # Errors
/// The book cannot be read at all.
pub fn run(book: &Read<'_>) -> Result<Findings> {
    let mut found = Findings::default();
    let mut statement = book.conn.prepare("PRAGMA integrity_check")?;
    let lines = statement.query_map([], |row| row.get::<_, String>(0))?.collect::<rusqlite::Result<Vec<_>>>()?;
    found.faults.extend(lines.into_iter().filter(|l| l != "ok").map(|l| format!("book.sqlite: {l}")));
    let mut statement = book.conn.prepare("SELECT \"table\", rowid, parent FROM pragma_foreign_key_check")?;
    let links = statement.query_map([], |row| {
        let (table, row_id, parent): (String, Option<i64>, String) = (row.get(0)?, row.get(1)?, row.get(2)?);
        Ok(format!("book.sqlite: row {} of {table} points to nothing in {parent}", row_id.unwrap_or(0)))
    })?;
    found.faults.extend(links.collect::<rusqlite::Result<Vec<_>>>()?);
    roots(book, &mut found)?;
    found.faults.extend(photo_tally::faults(book)?);
    found.faults.extend(aside::faults(book)?);
    found.faults.extend(consistent::ancestors(book).err().map(|e| e.to_string()));
    found.remarks.extend(odd_days::of_book(book)?);
    originals(book, &mut found)?;
    empties(book, &mut found)?;
    strays(book, &mut found)?;
    Ok(found)
}

/// Counts what the book holds.
///
/// # Errors
/// The book cannot be read.
pub fn info(book: &Read<'_>) -> Result<Info> {
    let count = |sql: &str| book.conn.query_row(sql, [], |row| row.get::<_, u32>(0));
    Ok(Info {
        book: book.dir.display().to_string(),
        layout: SCHEMA_VERSION,
        scorer: settings::get(book, settings::SCORER)?,
        card_pitch_mm: settings::card_pitch_mm(book)?,
        fish: count("SELECT count(*) FROM fish")?,
        crosses: count("SELECT count(*) FROM crosses")?,
        broods: count("SELECT count(*) FROM brood")?,
        sittings: count("SELECT count(*) FROM sitting")?,
        photos: count("SELECT count(*) FROM photo")?,
        regions: count("SELECT count(*) FROM region WHERE stands = 1")?,
        scores: count("SELECT count(*) FROM current_region WHERE field = 'class' AND value IS NOT NULL")?,
        hand_counts: count("SELECT count(*) FROM current_hand_count")?,
        decisions: count("SELECT count(*) FROM decision")?,
    })
}

/// Paths of all previews below the book's folder.
pub(super) fn preview_paths(conn: &Connection) -> rusqlite::Result<Vec<String>> {
    let mut statement = conn.prepare("SELECT preview FROM photo WHERE preview IS NOT NULL ORDER BY 1")?;
    statement.query_map([], |row| row.get(0))?.collect()
}

pub(super) fn empty_hashes(conn: &Connection) -> rusqlite::Result<Vec<String>> {
    let mut statement = conn.prepare(
        "SELECT DISTINCT json_extract(options, '$.empty') AS empty FROM measurement WHERE empty IS NOT NULL ORDER BY 1",
    )?;
    statement.query_map([], |row| row.get(0))?.collect()
}

/// A region and its root are of one photo, and a root is its own root.
fn roots(book: &Read<'_>, found: &mut Findings) -> Result<()> {
    let mut statement = book.conn.prepare(
        "SELECT r.id FROM region r JOIN region o ON o.id = r.root_id
         WHERE o.photo_id <> r.photo_id OR o.root_id <> o.id",
    )?;
    let bad = statement.query_map([], |row| row.get::<_, i64>(0))?.collect::<rusqlite::Result<Vec<_>>>()?;
    found
        .faults
        .extend(bad.into_iter().map(|id| format!("book.sqlite: region {id} is tied to a fish of another photo")));
    Ok(())
}

fn originals(book: &Read<'_>, found: &mut Findings) -> Result<()> {
    for photo in photos::list(book)? {
        let Found { bytes, wrong } = originals::look(&photo.original, &photo.hash);
        found.photos += usize::from(bytes.is_some());
        found
            .faults
            .extend(wrong.map(|wrong| format!("{}: the original of {} {wrong}", photo.original.display(), photo.name)));
        if let Some(preview) = photo.preview.filter(|p| !p.is_file()) {
            found.remarks.push(format!("{}: a preview is missing; `score --again` makes it anew", preview.display()));
        }
    }
    Ok(())
}

/// Photos of empty trays against which others were measured.
fn empties(book: &Read<'_>, found: &mut Findings) -> Result<()> {
    for hash in empty_hashes(book.conn)? {
        let path = book.dir.join(files::empty(&hash));
        let wrong = originals::look(&path, &hash).wrong;
        found.faults.extend(wrong.map(|wrong| format!("{}: the photo of an empty tray {wrong}", path.display())));
    }
    Ok(())
}

/// Files that no record names: left by a run that was stopped before it could write the record.
fn strays(book: &Read<'_>, found: &mut Findings) -> Result<()> {
    let originals = originals::all(book)?.into_iter().map(|original| original.below);
    let known: BTreeSet<String> = originals.chain(preview_paths(book.conn)?).collect();
    for folder in ["originals", "previews"] {
        for file in below(&book.dir.join(folder)) {
            let relative = file.strip_prefix(book.dir).unwrap_or(&file).to_string_lossy().replace('\\', "/");
            if !known.contains(&relative) {
                found.remarks.push(format!("{}: no record names this file", file.display()));
            }
        }
    }
    Ok(())
}

fn below(folder: &Path) -> Vec<std::path::PathBuf> {
    let Ok(entries) = fs::read_dir(folder) else { return Vec::new() };
    let mut files = Vec::new();
    for entry in entries.flatten() {
        let path = entry.path();
        if path.is_dir() {
            files.extend(below(&path));
        } else {
            files.push(path);
        }
    }
    files.sort();
    files
}
