//! What the book holds as plain rows, for spreadsheets and statistics programs.

use serde_json::{Map, Value, json};

use super::broods::EarlierSire;
use super::photos::Subject;
use super::{Read, broods, cells, fish, hand, paternity, photos, regions, tallies};
use crate::error::{Error, Result};
use crate::sheet::Sheet;
use crate::units::View;

/// Which table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Table {
    /// One row a fish.
    Fish,
    /// One row a class, brood, sitting and sex.
    Counts,
    /// One row a fish of a photo, with all that was measured.
    Measurements,
    /// One row an entry of the log of scores.
    Scores,
}

/// A table as rows of named values; every row has the same names in the same order.
pub type Records = Vec<Map<String, Value>>;

/// The rows of a table.
///
/// # Errors
/// The book cannot be read.
pub fn records(book: &Read<'_>, sheet: &Sheet, table: Table) -> Result<Records> {
    match table {
        Table::Fish => fish_rows(book),
        Table::Counts => count_rows(book, sheet),
        Table::Measurements => measurement_rows(book),
        Table::Scores => score_rows(book),
    }
}

/// Rows as CSV, text cells made harmless for spreadsheets.
///
/// # Errors
/// Never for rows of [`records`].
pub fn csv(records: &Records) -> Result<String> {
    let failed = |e: &dyn std::fmt::Display| Error::failed("", e, "this is a fault of the program: please report it");
    let mut writer = csv::Writer::from_writer(Vec::new());
    if let Some(first) = records.first() {
        writer.write_record(first.keys()).map_err(|e| failed(&e))?;
    }
    for row in records {
        let cells = row.values().map(|value| match value {
            Value::Null => String::new(),
            Value::String(text) => cells::harmless(text),
            other => other.to_string(),
        });
        writer.write_record(cells).map_err(|e| failed(&e))?;
    }
    let bytes = writer.into_inner().map_err(|e| failed(&e))?;
    String::from_utf8(bytes).map_err(|e| failed(&e))
}

/// The columns that `import fish` takes, and more.
fn fish_rows(book: &Read<'_>) -> Result<Records> {
    let all = fish::list(book)?;
    let mut axes: Vec<&String> = all.iter().flat_map(|f| f.classes.keys()).collect();
    axes.sort();
    axes.dedup();
    let mut rows = Records::new();
    for one in &all {
        let mut row = row(json!({
            "fish": one.name, "sex": one.sex, "line": one.line, "cross": one.cross, "born": one.born,
            "pure": one.pure.then_some("yes"),
        }));
        for axis in &axes {
            row.insert((*axis).clone(), json!(one.classes.get(*axis)));
        }
        rows.push(row);
    }
    Ok(rows)
}

/// The columns that `import counts` takes, with the sitting and the interval beside them; confirmed fish only.
fn count_rows(book: &Read<'_>, sheet: &Sheet) -> Result<Records> {
    let mut rows = Records::new();
    let selection = tallies::Selection { cross: None, view: View::Above, include_proposed: false };
    let axes = tallies::axes(book, sheet)?;
    for (axis, counts) in axes.iter().zip(tallies::counts(book, sheet, &axes, &selection)?) {
        for counted in counts.rows {
            let Some(brood) = broods::in_cross(book, &counted.place.cross, &counted.place.brood)? else { continue };
            let sire = paternity::of_brood(&brood).sire().map(str::to_owned);
            let dams: Vec<String> = brood.dams.iter().map(|d| d.dam.to_string()).collect();
            let by_hand = counted.place.sitting.is_none() && hand::of_brood(book, &brood)?.contains_key(axis);
            rows.push(row(json!({
                "cross": brood.cross, "sire": sire, "dam": dams.join("+"), "brood": brood.name,
                "dropped": brood.dropped_to,
                "earlier_sire": brood.earlier_sire.as_ref().map(EarlierSire::name), "axis": axis, "class": counted.class, "sex": counted.place.sex,
                "count": counted.confirmed, "sitting": counted.place.sitting, "by_hand": by_hand, "of": counted.of,
                "share": counted.share, "low": counted.low, "high": counted.high, "open": counted.open,
            })));
        }
    }
    Ok(rows)
}

fn measurement_rows(book: &Read<'_>) -> Result<Records> {
    let mut rows = Records::new();
    for photo in photos::list(book)? {
        let (brood, sitting, portrait) = match &photo.subject {
            Subject::Sitting { brood, day } => (Some(brood), Some(day), None),
            Subject::Portrait(fish) => (None, None, Some(fish)),
        };
        for region in regions::of_photo(book, &photo)? {
            let mut row = row(json!({
                "photo": photo.name, "hash": photo.hash, "taken": photo.taken, "view": photo.view, "brood": brood,
                "sitting": sitting, "portrait": portrait, "region": region.id, "n": region.n, "sex": region.sex,
                "set_aside": region.set_aside, "number": region.number, "x": region.centre.x, "y": region.centre.y,
                "area_px": region.area_px, "length_mm": region.length_mm,
                "standard_length_mm": region.standard_length_mm, "flags": region.flags.join(" "),
            }));
            flatten("", &json!(region.features), &mut row);
            rows.push(row);
        }
    }
    Ok(same_columns(rows))
}

fn score_rows(book: &Read<'_>) -> Result<Records> {
    let mut statement = book.conn.prepare_cached(
        "SELECT c.id, d.made_at, d.made_by, d.what, d.why, p.name AS photo, p.hash, r.n, c.region_id, f.name AS fish,
                c.field, c.axis, c.old, c.new
         FROM change c JOIN decision d ON d.id = c.decision_id
         LEFT JOIN region r ON r.id = c.region_id LEFT JOIN photo p ON p.id = coalesce(c.photo_id, r.photo_id)
         LEFT JOIN fish f ON f.id = c.fish_id ORDER BY c.id",
    )?;
    let text = |row: &rusqlite::Row<'_>, column: &str| row.get::<_, Option<String>>(column);
    let rows = statement.query_map([], |r| {
        Ok(row(json!({
            "entry": r.get::<_, i64>("id")?, "at": text(r, "made_at")?, "by": text(r, "made_by")?,
            "what": text(r, "what")?, "why": text(r, "why")?, "photo": text(r, "photo")?, "hash": text(r, "hash")?,
            "n": r.get::<_, Option<u32>>("n")?, "region": r.get::<_, Option<i64>>("region_id")?,
            "fish": text(r, "fish")?, "field": text(r, "field")?,
            "axis": text(r, "axis")?.filter(|a| !a.is_empty()), "from": text(r, "old")?, "to": text(r, "new")?,
        })))
    })?;
    Ok(rows.collect::<rusqlite::Result<_>>()?)
}

fn row(value: Value) -> Map<String, Value> {
    match value {
        Value::Object(map) => map,
        _ => Map::new(),
    }
}

/// `{"trunk": {"a": 1}}` becomes a column `trunk.a`.
fn flatten(prefix: &str, value: &Value, into: &mut Map<String, Value>) {
    let Value::Object(map) = value else {
        into.insert(prefix.to_owned(), value.clone());
        return;
    };
    for (name, inner) in map {
        let name = if prefix.is_empty() { name.clone() } else { format!("{prefix}.{name}") };
        flatten(&name, inner, into);
    }
}

/// Gives every row every column. A part that one fish lacks is a single empty value there and several elsewhere; the
/// single one is dropped where the several exist.
fn same_columns(rows: Records) -> Records {
    let mut columns: Vec<String> = Vec::new();
    for name in rows.iter().flat_map(Map::keys) {
        if !columns.contains(name) {
            columns.push(name.clone());
        }
    }
    let part = |c: &String| columns.iter().any(|o| o.strip_prefix(c.as_str()).is_some_and(|r| r.starts_with('.')));
    let kept: Vec<String> = columns.iter().filter(|c| !part(c)).cloned().collect();
    let fill = |row: Map<String, Value>| {
        kept.iter().map(|c| (c.clone(), row.get(c).cloned().unwrap_or(Value::Null))).collect()
    };
    rows.into_iter().map(fill).collect()
}
