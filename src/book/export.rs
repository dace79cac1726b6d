//! What the book holds as plain rows, for spreadsheets and statistics programs.

use serde_json::{Map, Value, json};

use super::broods::EarlierSire;
use super::photos::Subject;
use super::{Read, broods, fish, hand, paternity, photos, regions, tallies};
use crate::cells::{self, Cell};
use crate::error::Result;
use crate::sheet::Sheet;
use crate::units::View;

/// Which table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Table {
    /// One row a fish.
    Fish,
    /// One row a class, brood, sitting and sex, from photos of this view and by hand.
    Counts(View),
    /// One row a fish of a photo, with all that was measured.
    Measurements,
    /// One row an entry of the log of scores.
    Scores,
}

/// A table as rows of named values; every row has the same names in the same order.
pub type Records = Vec<Map<String, Value>>;

/// A table and what its reader has to know of it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Exported {
    /// Its rows.
    pub rows: Records,
    /// What is not as it looks, or not in it.
    pub notes: Vec<String>,
}

/// The rows of a table.
///
/// # Errors
/// The book cannot be read.
pub fn table(book: &Read<'_>, sheet: &Sheet, table: Table) -> Result<Exported> {
    let plain = |rows| Exported { rows, notes: Vec::new() };
    match table {
        Table::Fish => fish_rows(book).map(plain),
        Table::Counts(view) => counted(book, sheet, view),
        Table::Measurements => measurement_rows(book).map(plain),
        Table::Scores => score_rows(book).map(plain),
    }
}

/// Rows as CSV, names of columns and cells of text made harmless for spreadsheets; several words in one cell have blanks between
/// them. Nothing at all where there is no row.
pub fn csv(records: &Records) -> String {
    let Some(first) = records.first() else { return String::new() };
    let head: Vec<&str> = first.keys().map(String::as_str).collect();
    let rows: Vec<Vec<Cell>> = records.iter().map(|row| row.values().map(cell).collect()).collect();
    cells::csv(&head, &rows)
}

fn cell(value: &Value) -> Cell {
    match value {
        Value::Null => Cell::text(""),
        Value::String(text) => Cell::text(text),
        Value::Array(words) => {
            Cell::text(words.iter().map(|w| w.as_str().unwrap_or_default()).collect::<Vec<_>>().join(" "))
        }
        other => Cell::number(other),
    }
}

/// The columns that `import fish` takes.
fn fish_rows(book: &Read<'_>) -> Result<Records> {
    let all = fish::list(book)?;
    let mut axes: Vec<&String> = all.iter().flat_map(|f| f.classes.keys()).collect();
    axes.sort();
    axes.dedup();
    let mut rows = Records::new();
    for one in &all {
        let mut row = row(json!({
            "fish": one.name, "sex": one.sex, "line": one.line, "cross": one.cross, "brood": one.brood,
            "born": one.born, "pure": one.pure.then_some("yes"), "virgin_on": one.virgin_on,
            "isolated_since": one.isolated_since, "gone": one.gone, "gone_on": one.gone_on,
            "set_aside": one.set_aside, "note": one.note,
        }));
        for axis in &axes {
            row.insert((*axis).clone(), json!(one.classes.get(*axis)));
        }
        rows.push(row);
    }
    Ok(rows)
}

/// The columns that `import counts` takes, with the sitting and the interval beside them; confirmed fish only.
fn counted(book: &Read<'_>, sheet: &Sheet, view: View) -> Result<Exported> {
    let mut rows = Records::new();
    let mut notes: Vec<(String, Vec<String>)> = Vec::new();
    let axes = tallies::axes(book, sheet)?;
    let selection = tallies::Selection { cross: None, view, include_proposed: false };
    for counts in tallies::counts(book, sheet, &axes, &selection)? {
        let axis = &counts.axis;
        for warning in counts.warnings {
            note(&mut notes, warning, axis);
        }
        for counted in counts.rows {
            let Some(brood) = broods::in_cross(book, &counted.place.cross, &counted.place.brood)? else { continue };
            let paternity = paternity::of_brood(&brood);
            let (sire, earlier) = paternity.in_table(&brood);
            if let Some(lost) = paternity.lost_in_table(&brood) {
                note(&mut notes, lost, axis);
            }
            let dams: Vec<String> = brood.dams.iter().map(|d| d.dam.to_string()).collect();
            let dams = (!dams.is_empty()).then(|| dams.join("+"));
            let by_hand = counted.place.sitting.is_none() && hand::of_brood(book, &brood)?.contains_key(axis);
            rows.push(row(json!({
                "cross": brood.cross, "sire": sire, "dam": dams, "brood": brood.name,
                "dropped": brood.dropped_to, "dropped_from": brood.dropped_from.filter(|day| Some(*day) != brood.dropped_to),
                "young": brood.young,
                "earlier_sire": earlier.as_ref().map(EarlierSire::name), "axis": axis, "class": counted.class,
                "sex": counted.place.sex,
                "count": counted.confirmed, "sitting": counted.place.sitting, "by_hand": by_hand, "of": counted.of,
                "share": counted.share, "low": counted.low, "high": counted.high, "open": counted.open,
            })));
        }
    }
    let said = |(said, of): (String, Vec<String>)| {
        if of.len() == axes.len() { said } else { format!("{}: {said}", of.join(", ")) }
    };
    Ok(Exported { rows, notes: notes.into_iter().map(said).collect() })
}

/// Notes what holds for an axis; what holds for several is said once.
fn note(notes: &mut Vec<(String, Vec<String>)>, text: String, axis: &str) {
    match notes.iter_mut().find(|(said, _)| *said == text) {
        Some((_, of)) if of.iter().any(|known| known == axis) => {}
        Some((_, of)) => of.push(axis.to_owned()),
        None => notes.push((text, vec![axis.to_owned()])),
    }
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
                "standard_length_mm": region.standard_length_mm, "flags": region.flags,
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
