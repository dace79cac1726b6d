//! Taking in a breeder's own table of fish.

use jiff::civil::Date;

use super::Write;
use super::broods::{self, NewBrood};
use super::crosses;
use super::decisions::{self, By};
use super::fish::{self, Fish, Gone, NewFish};
use super::import::Taken;
use super::revise::{self, FishChange, To};
use super::sheet_rows::{Row, Rows};
use crate::command_line::to_type;
use crate::error::Result;
use crate::units::Sex;

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
/// and one column an axis. A cross that is not known yet is opened without parents, a brood of it with nothing but its name. Of a fish that
/// is in the book already, what the book does not know is taken over.
///
/// # Errors
/// The first bad row, with file, line, column and value; a fish that is otherwise in the book, or in an earlier row.
pub fn fish(book: &Write<'_>, file: &str, text: &[u8], by: &By) -> Result<Taken> {
    let table = Rows::read(file, text)?;
    table.need(file, &COLUMNS[..1])?;
    let axes: Vec<&String> = table.columns.iter().filter(|c| !COLUMNS.contains(&c.as_str())).collect();
    let mut taken = Taken::default();
    for (i, row) in table.rows.iter().enumerate() {
        let new = new_fish(row, &axes)?;
        taken.classes.extend(new.classes.clone());
        open_origin(book, row, &new)?;
        let gone = gone(row)?;
        let named = new.name.clone();
        let dated = [
            ("born", new.born),
            ("a virgin until", new.virgin_on),
            ("apart from males since", new.isolated_since),
            ("left", row.day("gone_on")?),
        ];
        let brought = (taken.new, taken.filled_in.len());
        if fish::id(book, &new.name)?.is_some() {
            let old = fish::get(book, &new.name)?;
            let earlier = table.rows[..i].iter().rfind(|other| other.get("fish") == Some(&new.name));
            check_same(&old, row, &new, gone, earlier)?;
            let said =
                revise::fish(book, &new.name, &unknown_so_far(&old, &new), by).map_err(|e| row.placed("fish", e))?;
            if said.is_empty() {
                taken.known += 1;
            } else {
                taken.filled_in.push((new.name, said));
            }
        } else {
            if let (None, Some(brood)) = (&new.cross, &new.brood) {
                broods::known(book, brood).map_err(|e| row.placed("brood", e))?;
            }
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
        if brought != (taken.new, taken.filled_in.len()) {
            taken
                .days
                .extend(dated.into_iter().filter_map(|(what, day)| Some((format!("fish {named}: {what}"), day?))));
            taken.fish.push(named);
        }
    }
    if taken.new > 0 || !taken.filled_in.is_empty() {
        // It ends the table's own decisions, so that an undo names the table and takes none of its fish apart.
        decisions::open(book, by, "import", Some(file))?;
    }
    Ok(taken)
}

/// Opens the cross and the brood that a fish came from, where the book has them not.
fn open_origin(book: &Write<'_>, row: &Row, new: &NewFish) -> Result<()> {
    let Some(cross) = &new.cross else { return Ok(()) };
    crosses::open(book, cross).map_err(|e| row.placed("cross", e))?;
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

/// What a row knows of a fish and the book does not.
fn unknown_so_far(old: &Fish, new: &NewFish) -> FishChange {
    fn only<T: Clone>(old: Option<&T>, new: Option<&T>) -> To<T> {
        new.filter(|_| old.is_none()).cloned().into()
    }
    let classes = new.classes.iter().filter(|(axis, _)| !old.classes.contains_key(*axis));
    FishChange {
        brood: only(old.brood.as_ref(), new.brood.as_ref()),
        sex: only(old.sex.as_ref(), new.sex.as_ref()),
        line: only(old.line.as_ref(), new.line.as_ref()),
        born: only(old.born.as_ref(), new.born.as_ref()),
        classes: classes.map(|(axis, class)| (axis.clone(), Some(class.clone()))).collect(),
        pure: new.pure.then_some(true),
        virgin_on: only(old.virgin_on.as_ref(), new.virgin_on.as_ref()),
        isolated_since: only(old.isolated_since.as_ref(), new.isolated_since.as_ref()),
        note: only(old.note.as_ref(), new.note.as_ref()),
        ..FishChange::default()
    }
}

/// A fish that is there already must be the same in all that the row says and the book knows. Without a cross, without a departure and not
/// set aside is known, too: a founder, and here. `earlier` is the row of the same file that named it before.
fn check_same(old_fish: &Fish, row: &Row, new: &NewFish, gone: Option<Gone>, earlier: Option<&Row>) -> Result<()> {
    let text = |v: &Option<String>| v.clone().unwrap_or_default();
    let day = |d: Option<Date>| d.map(|d| d.to_string()).unwrap_or_default();
    let letter = |sex: Option<Sex>| sex.map(|s| s.letter().to_owned()).unwrap_or_default();
    let mut pairs = vec![
        ("sex", letter(old_fish.sex), letter(new.sex)),
        ("line", text(&old_fish.line), text(&new.line)),
        ("cross", text(&old_fish.cross), text(&new.cross)),
        ("brood", text(&old_fish.brood), text(&new.brood)),
        ("born", day(old_fish.born), day(new.born)),
        ("virgin_on", day(old_fish.virgin_on), day(new.virgin_on)),
        ("isolated_since", day(old_fish.isolated_since), day(new.isolated_since)),
        ("gone", text(&old_fish.gone), gone.map_or("", Gone::word).to_owned()),
        ("gone_on", day(old_fish.gone_on), day(row.day("gone_on")?)),
        ("set_aside", text(&old_fish.set_aside), row.get("set_aside").unwrap_or_default().to_owned()),
        ("note", text(&old_fish.note), text(&new.note)),
    ];
    for (axis, class) in &new.classes {
        pairs.push((axis, text(&old_fish.classes.get(axis).cloned()), class.clone()));
    }
    // The cells of a table have no blanks at their ends; older books may hold some.
    let differs = |(column, old, new): &&(&str, String, String)| {
        !new.is_empty() && old.trim() != new && (!old.is_empty() || put_right(column, old_fish).is_some())
    };
    let Some((column, known, _)) = pairs.iter().find(differs) else { return Ok(()) };
    if let Some(other) = earlier.filter(|other| other.get(column).unwrap_or_default() == known.trim()) {
        let known = if known.is_empty() { "leaves it empty".to_owned() } else { format!("says '{known}'") };
        let said = format!("but line {} {known} for the same fish {}", other.line(), new.name);
        return Err(row.error(column, &said, "correct one of the two rows, or give two fish two names"));
    }
    let (known, hint) = match put_right(column, old_fish).filter(|_| known.is_empty()) {
        Some((known, command)) => {
            (known.to_owned(), format!("where the table is right, write that down first: {command}"))
        }
        None => {
            let set = format!("broodhue fish set {}", to_type(&new.name));
            (
                format!("with '{known}'"),
                format!("correct the file, or the book with `{set}`; another fish needs another name"),
            )
        }
    };
    Err(row.error(column, &format!("but {} is in the book {known}", new.name), &hint))
}

/// What an empty value says of a fish, in words, and what changes it; `None` where it only says that nobody knows.
fn put_right(column: &str, of: &Fish) -> Option<(&'static str, String)> {
    let fish = to_type(&of.name);
    match column {
        "brood" if of.cross.is_none() => Some(("as a founder", format!("`broodhue fish set {fish} --brood BROOD`"))),
        "cross" => Some(("as a founder", format!("`broodhue fish set {fish} --cross CROSS`"))),
        "gone" => Some(("as one that is here", format!("`broodhue fish left {fish} --moved`, or --died"))),
        "gone_on" => Some(("without that day", format!("`broodhue fish left {fish} --moved --on DAY`, or --died"))),
        "set_aside" => Some(("and not set aside", format!("`broodhue fish set-aside {fish} --why REASON`"))),
        _ => None,
    }
}
