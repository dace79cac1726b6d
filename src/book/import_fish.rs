//! Taking in a breeder's own table of fish.

use jiff::civil::Date;

use super::broods::{self, NewBrood};
use super::crosses::{self, NewCross};
use super::decisions::{self, By};
use super::fish::{self, Gone, NewFish};
use super::import::Taken;
use super::sheet_rows::{Row, Rows};
use super::{Read, Write};
use crate::error::Result;

/// Columns of a table of fish that are not axes.
const COLUMNS: [&str; 13] = [
    "fish",
    "sex",
    "line",
    "cross",
    "brood",
    "born",
    "pure",
    "virgin_on",
    "isolated_since",
    "gone",
    "gone_on",
    "set_aside",
    "note",
];

/// Takes in a table of fish: `fish`, and where known `sex,line,cross,brood,born,pure,virgin_on,isolated_since,gone,gone_on,set_aside,note`
/// and one column an axis. A cross that is not known yet is opened without parents, a brood of it with nothing but its name.
///
/// # Errors
/// The first bad row, with file, line, column and value; a fish that is in the book otherwise.
pub fn fish(book: &Write<'_>, file: &str, text: &[u8], by: &By) -> Result<Taken> {
    let table = Rows::read(file, text)?;
    table.need(file, &COLUMNS[..1])?;
    let axes: Vec<&String> = table.columns.iter().filter(|c| !COLUMNS.contains(&c.as_str())).collect();
    let mut taken = Taken::default();
    for row in &table.rows {
        let new = new_fish(row, &axes)?;
        taken.classes.extend(new.classes.clone());
        open_origin(book, row, &new)?;
        let gone = gone(row)?;
        if fish::id(book, &new.name)?.is_some() {
            check_same(book, row, &new, gone)?;
            taken.known += 1;
        } else {
            fish::add(book, &new, by).map_err(|e| row.placed("fish", e))?;
            if gone.is_some() {
                let on = row.day("gone_on")?;
                fish::set_gone(book, &new.name, gone, on, by).map_err(|e| row.placed("gone_on", e))?;
            }
            if let Some(why) = row.get("set_aside") {
                fish::set_aside(book, &new.name, Some(why), by)?;
            }
            taken.new += 1;
        }
    }
    if taken.new > 0 {
        // It ends the table's own decisions, so that an undo names the table and takes none of its fish apart.
        decisions::open(book, by, "import", Some(file))?;
    }
    Ok(taken)
}

/// Opens the cross and the brood that a fish came from, where the book has them not.
fn open_origin(book: &Write<'_>, row: &Row, new: &NewFish) -> Result<()> {
    let Some(cross) = &new.cross else { return Ok(()) };
    if crosses::id(book, cross)?.is_none() {
        crosses::add(book, &NewCross { name: cross.clone(), ..NewCross::default() })
            .map_err(|e| row.placed("cross", e))?;
    }
    match &new.brood {
        Some(brood) if broods::in_cross(book, cross, brood)?.is_none() => {
            broods::add(book, &NewBrood { name: brood.clone(), cross: cross.clone(), ..NewBrood::default() })
                .map_err(|e| row.placed("brood", e))
        }
        _ => Ok(()),
    }
}

fn gone(row: &Row) -> Result<Option<Gone>> {
    let Some(word) = row.get("gone") else {
        return match row.get("gone_on") {
            Some(_) => Err(row.error("gone_on", "is a day, but gone is empty", "write moved or died")),
            None => Ok(None),
        };
    };
    let known = [Gone::Moved, Gone::Died].into_iter().find(|gone| gone.word() == word);
    known.map(Some).ok_or_else(|| row.error("gone", "is neither moved nor died", "write one of them or nothing"))
}

fn new_fish(row: &Row, axes: &[&String]) -> Result<NewFish> {
    let pure = match row.get("pure") {
        None | Some("no") => false,
        Some("yes") => true,
        Some(_) => return Err(row.error("pure", "is neither yes nor empty", "write yes or nothing")),
    };
    Ok(NewFish {
        name: row.need("fish")?.to_owned(),
        sex: row.sex("sex")?,
        line: row.get("line").map(str::to_owned),
        cross: row.get("cross").map(str::to_owned),
        brood: row.get("brood").map(str::to_owned),
        born: row.day("born")?,
        classes: axes.iter().filter_map(|a| Some(((*a).clone(), row.get(a)?.to_owned()))).collect(),
        pure,
        virgin_on: row.day("virgin_on")?,
        isolated_since: row.day("isolated_since")?,
        note: row.get("note").map(str::to_owned),
    })
}

/// A fish that is there already must be the same in all that the row says.
fn check_same(book: &Read<'_>, row: &Row, new: &NewFish, gone: Option<Gone>) -> Result<()> {
    let old = fish::get(book, &new.name)?;
    let text = |v: Option<String>| v.unwrap_or_default();
    let day = |d: Option<Date>| text(d.map(|d| d.to_string()));
    let mut pairs = vec![
        ("sex", text(old.sex.map(|s| s.letter().to_owned())), text(new.sex.map(|s| s.letter().to_owned()))),
        ("line", text(old.line), text(new.line.clone())),
        ("cross", text(old.cross), text(new.cross.clone())),
        ("brood", text(old.brood), text(new.brood.clone())),
        ("born", day(old.born), day(new.born)),
        ("virgin_on", day(old.virgin_on), day(new.virgin_on)),
        ("isolated_since", day(old.isolated_since), day(new.isolated_since)),
        ("gone", text(old.gone), gone.map_or("", Gone::word).to_owned()),
        ("gone_on", day(old.gone_on), day(row.day("gone_on")?)),
        ("set_aside", text(old.set_aside), row.get("set_aside").unwrap_or_default().to_owned()),
        ("note", text(old.note), text(new.note.clone())),
        ("pure", old.pure.to_string(), if new.pure { "true".to_owned() } else { old.pure.to_string() }),
    ];
    for (axis, class) in &new.classes {
        pairs.push((axis, text(old.classes.get(axis).cloned()), class.clone()));
    }
    // The cells of a table have no blanks at their ends; older books may hold some.
    match pairs.into_iter().find(|(_, old, new)| !new.is_empty() && old.trim() != new) {
        None => Ok(()),
        Some((column, old, _)) => {
            let said = format!("but {} is in the book with '{old}'", new.name);
            Err(row.error(column, &said, "correct the file, or give the fish another name"))
        }
    }
}
