//! What an undo took back, and what holds again, in words: of which brood, photo and fish.

use rusqlite::Row;

use super::Read;
use super::decisions::DecisionId;
use super::fish::gone_why;
use super::values::read_sex;
use crate::command_line::to_type;
use crate::error::Result;
use crate::units::{Sex, counted};

/// What an undo changed, one line for each photo or brood and each thing said of its fish, in the order of the log:
/// `brood K2-1, tray.jpg: fish 3, 5: red-body open (was absent)`. Nothing where what others have said since holds.
///
/// # Errors
/// The book cannot be read.
pub fn lines(book: &Read<'_>, undo: DecisionId) -> Result<Vec<String>> {
    let mut lines = of_log(book, undo)?;
    lines.extend(of_ledger(book, undo)?);
    lines.extend(of_corrections(book, undo)?);
    Ok(lines)
}

/// The photo of an SQL row as a person knows it: `brood K2-1, tray.jpg`, or `fish K1-s, portrait.jpg`.
const PLACE: &str = "CASE WHEN s.id IS NULL THEN 'fish ' || o.name
    ELSE 'brood ' || (SELECT label FROM brood_label b WHERE b.id = s.brood_id) END || ', ' || p.name";

fn of_log(book: &Read<'_>, undo: DecisionId) -> Result<Vec<String>> {
    let mut statement = book.conn.prepare_cached(&format!(
        "SELECT coalesce({PLACE}, 'fish ' || f.name) AS place, c.field, c.axis, c.old, c.new,
                CASE WHEN c.field = 'gone' THEN {} END AS day,
                CASE WHEN c.field = 'gone' AND c.fish_id IS NOT NULL THEN d.why END AS old_day,
                (SELECT t.n FROM region t WHERE t.root_id = c.region_id ORDER BY t.stands DESC, t.id DESC LIMIT 1) AS n
         FROM change c LEFT JOIN region r ON r.id = c.region_id
         LEFT JOIN photo p ON p.id = coalesce(c.photo_id, r.photo_id)
         LEFT JOIN sitting s ON s.id = p.sitting_id LEFT JOIN fish o ON o.id = p.fish_id
         LEFT JOIN fish f ON f.id = c.fish_id
         LEFT JOIN decision u ON u.id = c.decision_id LEFT JOIN decision d ON d.id = u.undoes
         WHERE c.decision_id = ?1 ORDER BY p.id, n, c.id",
        gone_why("f")
    ))?;
    let mut rows = statement.query([undo.0])?;
    let mut alike: Vec<(String, String, Vec<u32>)> = Vec::new();
    while let Some(row) = rows.next()? {
        let (place, said, n): (String, _, Option<u32>) = (row.get("place")?, in_words(row)?, row.get("n")?);
        match alike.iter_mut().find(|(p, s, _)| *p == place && *s == said) {
            Some((.., fish)) => fish.extend(n),
            None => alike.push((place, said, n.into_iter().collect())),
        }
    }
    let line = |(place, said, fish): (String, String, Vec<u32>)| {
        if fish.is_empty() {
            return format!("{place}: {said}");
        }
        let numbers: Vec<String> = fish.iter().map(u32::to_string).collect();
        format!("{place}: fish {}: {said}", numbers.join(", "))
    };
    Ok(alike.into_iter().map(line).collect())
}

/// What an entry says now, and what was said before: `red-body open (was absent)`, `died on 2026-02-02 (was here)`.
fn in_words(row: &Row<'_>) -> rusqlite::Result<String> {
    let (field, axis): (String, String) = (row.get("field")?, row.get("axis")?);
    let words = |value: Option<String>, day: Option<String>| match (field.as_str(), value) {
        ("class", value) => value.unwrap_or_else(|| "open".to_owned()),
        ("opinion" | "sex", value) => value.unwrap_or_else(|| "not said".to_owned()),
        ("aside", None) => "not set aside".to_owned(),
        ("aside", Some(reason)) => format!("set aside: {reason}"),
        (_, None) => "here".to_owned(),
        (_, Some(value)) => [Some(value), day].into_iter().flatten().collect::<Vec<_>>().join(" "),
    };
    let what = match field.as_str() {
        "class" => format!("{axis} "),
        "opinion" => format!("second opinion on {axis} "),
        "sex" => "sex ".to_owned(),
        _ => String::new(),
    };
    Ok(format!(
        "{what}{} (was {})",
        words(row.get("new")?, row.get("day")?),
        words(row.get("old")?, row.get("old_day")?)
    ))
}

fn of_ledger(book: &Read<'_>, undo: DecisionId) -> Result<Vec<String>> {
    let mut statement = book.conn.prepare_cached(
        "SELECT b.label, l.what, l.sex, l.number,
                (SELECT sum(t.number) FROM departure t
                 WHERE t.brood_id = l.brood_id AND t.what = l.what AND t.sex IS l.sex AND t.id <= l.id) AS now
         FROM departure l JOIN brood_label b ON b.id = l.brood_id WHERE l.decision_id = ?1 ORDER BY l.id",
    )?;
    let rows = statement.query_map([undo.0], |row| {
        let (brood, what): (String, String) = (row.get("label")?, row.get("what")?);
        let (now, change): (i64, i64) = (row.get("now")?, row.get("number")?);
        let left = match read_sex(row, "sex")? {
            Some(Sex::Male) => counted(now, "male", "males"),
            Some(Sex::Female) => counted(now, "female", "females"),
            None => now.to_string(),
        };
        Ok(format!("brood {brood}: {left} {what} unscored (was {})", now - change))
    })?;
    Ok(rows.collect::<rusqlite::Result<_>>()?)
}

fn of_corrections(book: &Read<'_>, undo: DecisionId) -> Result<Vec<String>> {
    let mut statement = book.conn.prepare_cached(&format!(
        "SELECT {PLACE}, p.name FROM correction k JOIN photo p ON p.id = k.photo_id
         LEFT JOIN sitting s ON s.id = p.sitting_id LEFT JOIN fish o ON o.id = p.fish_id
         WHERE k.decision_id = ?1 ORDER BY k.id"
    ))?;
    let rows = statement.query_map([undo.0], |row| {
        let (place, photo): (String, String) = (row.get(0)?, row.get(1)?);
        Ok(format!("{place}: mended no more; `broodhue score {} --again` measures it so", to_type(photo)))
    })?;
    Ok(rows.collect::<rusqlite::Result<_>>()?)
}
