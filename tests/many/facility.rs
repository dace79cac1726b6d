//! Fills a book with an invented facility.

use std::path::Path;

use broodhue::book::Book;
use broodhue::features::{Features, PartColour, Shares};
use broodhue::pipeline::MeasureOptions;
use broodhue::sheet::Sheet;
use rusqlite::{Connection, params};
use serde_json::json;

/// How large it is: eighty fish a brood.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Size {
    pub(crate) crosses: u32,
    /// Broods a cross.
    pub(crate) broods: u32,
    /// Lines that the crosses belong to in turn.
    pub(crate) lines: u32,
}

impl Size {
    pub(crate) const fn fish(self) -> u32 {
        self.crosses * self.broods * 80
    }
}

/// Makes the book in `dir`; no original and no preview is there.
pub(crate) fn facility(dir: &Path, size: Size) {
    drop(Book::create(dir).unwrap());
    let conn = Connection::open(dir.join("book.sqlite")).unwrap();
    let quick = "PRAGMA foreign_keys = off; PRAGMA synchronous = off; PRAGMA temp_store = memory; BEGIN;
        CREATE TEMP TABLE size (crosses, broods, lines);
        CREATE TEMP TABLE pattern (sheet_hash, sheet_text, options, report, features, outline, because);";
    conn.execute_batch(quick).unwrap();
    conn.execute("INSERT INTO size VALUES (?1, ?2, ?3)", [size.crosses, size.broods, size.lines]).unwrap();
    let sheet = Sheet::starting().unwrap();
    let pattern = params![
        sheet.hash,
        sheet.text,
        serde_json::to_string(&MeasureOptions::default()).unwrap(),
        report().to_string(),
        features().to_string(),
        outline().to_string(),
        json!(["red share of the trunk 1.2 % is below 3 %"]).to_string(),
    ];
    conn.execute("INSERT INTO pattern VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)", pattern).unwrap();
    conn.execute_batch(include_str!("fill.sql")).unwrap();
    conn.execute_batch("COMMIT; PRAGMA wal_checkpoint(truncate);").unwrap();
}

/// A fish as measured, its lightness left open as "?".
fn features() -> serde_json::Value {
    let colour = PartColour {
        lightness: 70.0,
        a: 1.234,
        b: 17.123,
        chroma: 17.167,
        hue: 85.881,
        saturation: 23.822,
        lightness_se: 0.712,
        a_se: 0.513,
        b_se: 0.617,
        chroma_se: 0.615,
        hue_se: 1.712,
    };
    let shares = Shares { trunk: Some(0.0123), finnage: Some(0.0345), fish: Some(0.0167) };
    let all = Features {
        trunk: Some(colour),
        finnage: Some(colour),
        ground: Some(colour),
        finnage_without_floor: Some(colour),
        red_share: shares,
        orange_share: shares,
        yellow_share: shares,
        ..Features::default()
    };
    let mut value = serde_json::to_value(all).unwrap();
    value["trunk"]["lightness"] = "?".into();
    value
}

/// An outline of a hundred places, about as long as a real one.
fn outline() -> serde_json::Value {
    let place = |i: u32| [f64::from(90 + i % 20) + 0.25, f64::from(95 + i / 10) + 0.75];
    (0..100).map(|i| serde_json::to_value(place(i)).unwrap()).collect()
}

/// A measured photo without its fish, its card read through the file's profile.
fn report() -> serde_json::Value {
    let patches: Vec<[f64; 3]> = (0..24).map(|i| [f64::from(20 + 3 * i), 1.5, -2.5]).collect();
    json!({ "schema": "broodhue.photo/1", "fish": null,
            "card": { "found": true, "layout": "chart-24", "verdict": "good", "patches": patches },
            "conditions": { "patches_as_read": patches }, "warnings": [] })
}
