//! Taking in a breeder's own tables: all of a file or nothing of it.

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;

use super::broods::{self, Brood, EarlierSire, NewBrood};
use super::crosses::{self, Dam, Stay};
use super::decisions::{self, By, DecisionId};
use super::fish;
use super::hand::{self, HandCount, Kept};
pub use super::import_fish::fish;
use super::sheet_rows::{Row, Rows};
use super::{Read, Write, paternity, possible_dams};
use crate::command_line::to_type;
use crate::error::{Error, Result};

/// Columns that a table of counts needs.
const COUNTS: [&str; 9] = ["cross", "sire", "dam", "brood", "dropped", "axis", "class", "sex", "count"];

/// Columns that it may have; `dropped_from` is the first day of a drop of several, of which `dropped` is the last.
const MORE: [&str; 3] = ["dropped_from", "young", "earlier_sire"];

/// Columns that `export counts` adds to those, and that say nothing new.
const EXPORTED: [&str; 7] = ["sitting", "by_hand", "of", "share", "low", "high", "open"];

/// What a file brought.
#[derive(Debug, Clone, Default, PartialEq, Eq, serde::Serialize)]
pub struct Taken {
    /// Rows (of fish) or counted broods by axis that are new.
    pub new: usize,
    /// Counted broods by axis that stand in the place of other counts.
    pub replaced: usize,
    /// Those that were in the book already, just so.
    pub known: usize,
    /// Fish that were in the book already and of which the file knew more, with what was taken over.
    pub filled_in: Vec<(String, Vec<String>)>,
    /// Every fish of which it brought something new.
    pub fish: Vec<String>,
    /// Every day that is new, with what happened on it.
    pub days: Vec<(String, Date)>,
    /// Every class in it, by axis.
    pub classes: BTreeSet<(String, String)>,
}

/// Takes in a table of counts. Its fish must be in the book; crosses get its sire where they have none, and its dams.
///
/// # Errors
/// The first bad row, with file, line, column and value; a brood that is in the book otherwise; counts that are, unless `replace`.
pub fn counts(book: &Write<'_>, file: &str, text: &[u8], replace: bool, by: &By) -> Result<Taken> {
    let table = Rows::read(file, text)?;
    table.need(file, &COUNTS)?;
    let known = |c: &str| [&COUNTS[..], &MORE, &EXPORTED].concat().contains(&c);
    if let Some(column) = table.columns.iter().find(|c| !known(c)) {
        let hint = format!("the columns are {},{}", COUNTS.join(","), MORE.join(","));
        return Err(Error::failed(format!("{file}, line 1"), format!("there is no column {column}"), hint));
    }
    let decision = decisions::open(book, by, "import", Some(file))?;
    let mut taken = Taken::default();
    for group in by_brood(&table.rows)? {
        take_brood(book, decision, &group, replace, &mut taken)?;
    }
    Ok(taken)
}

/// The rows of each brood, in the order in which broods first appear; what belongs to the brood must not differ.
fn by_brood(rows: &[Row]) -> Result<Vec<Vec<&Row>>> {
    let mut groups: Vec<Vec<&Row>> = Vec::new();
    let mut place: BTreeMap<(&str, &str), usize> = BTreeMap::new();
    for row in rows {
        let key = (row.need("cross")?, row.need("brood")?);
        let at = *place.entry(key).or_insert_with(|| {
            groups.push(Vec::new());
            groups.len() - 1
        });
        if let Some(first) = groups[at].first() {
            for column in ["sire", "dam", "dropped", "dropped_from", "young", "earlier_sire"] {
                if row.get(column) != first.get(column) {
                    let said = format!("differs from line {} of the same brood", first.line());
                    return Err(row.error(
                        column,
                        &said,
                        "a brood has one sire, one list of dams, one day and one number of young",
                    ));
                }
            }
        }
        groups[at].push(row);
    }
    Ok(groups)
}

fn take_brood(book: &Write<'_>, decision: DecisionId, rows: &[&Row], replace: bool, taken: &mut Taken) -> Result<()> {
    let Some(first) = rows.first() else { return Ok(()) };
    let dams = parents(book, first)?;
    let brood = match broods::in_cross(book, first.need("cross")?, first.need("brood")?)? {
        Some(brood) if broods::only_named(book, &brood)? => {
            let new = new_brood(book, first, dams, taken)?;
            broods::describe(book, (brood.id, brood.cross_id), &new).map_err(|e| first.placed("brood", e))?;
            brood
        }
        Some(brood) => {
            same_brood(first, &brood, &dams)?;
            brood
        }
        None => {
            let new = new_brood(book, first, dams, taken)?;
            broods::add(book, &new).map_err(|e| first.placed("brood", e))?;
            broods::in_cross(book, &new.cross, &new.name)?
                .ok_or_else(|| first.error("brood", "was not kept", "run `broodhue book check`"))?
        }
    };
    let mut axes: BTreeMap<&str, HandCount> = BTreeMap::new();
    for row in rows {
        taken.classes.insert((row.need("axis")?.to_owned(), row.need("class")?.to_owned()));
        let key = (row.need("class")?.to_owned(), row.sex("sex")?);
        if axes.entry(row.need("axis")?).or_default().insert(key, row.number("count")?).is_some() {
            return Err(row.error(
                "class",
                "stands twice for this brood, axis and sex",
                "add the numbers up in one row",
            ));
        }
    }
    for (axis, counts) in axes {
        let kept = hand::keep(book, decision, &brood, axis, &counts, replace).map_err(|e| first.placed("brood", e))?;
        *match kept {
            Kept::New => &mut taken.new,
            Kept::Replaced => &mut taken.replaced,
            Kept::Known => &mut taken.known,
        } += 1;
    }
    Ok(())
}

/// A brood that is there already must be the same in all that the row says of it.
fn same_brood(row: &Row, brood: &Brood, dams: &[Dam]) -> Result<()> {
    let hint = "correct the file, or the book with `broodhue brood set`";
    let otherwise = |column: &str, known: &str| {
        let said = format!("but brood {} is in the book with {known}", brood.label);
        Err(row.error(column, &said, hint))
    };
    if let Some(day) = row.day("dropped")? {
        let (from, to) = (brood.dropped_from, brood.dropped_to.or(brood.dropped_from));
        match from.zip(to) {
            Some((from, to)) if (from..=to).contains(&day) => {}
            Some((from, to)) if from == to => return otherwise("dropped", &format!("'{from}'")),
            Some((from, to)) => return otherwise("dropped", &format!("'{from}' to '{to}'")),
            None => return otherwise("dropped", "no day"),
        }
    }
    if let Some(first) = row.day("dropped_from")?.filter(|first| Some(*first) != brood.dropped_from) {
        let known = brood.dropped_from.map_or("no day".to_owned(), |day| format!("'{day}'"));
        return otherwise("dropped_from", &format!("{known}, not '{first}'"));
    }
    if row.get("young").is_some() && Some(row.number("young")?) != brood.young {
        return otherwise("young", &brood.young.map_or("no number".to_owned(), |n| format!("'{n}'")));
    }
    let known: Vec<Dam> = brood.dams.iter().map(|d| d.dam.clone()).collect();
    if !dams.is_empty() && (known.len() != dams.len() || !possible_dams::apart(dams, known.clone()).1.is_empty()) {
        let known: Vec<String> = known.iter().map(ToString::to_string).collect();
        return otherwise("dam", &format!("'{}'", known.join("+")));
    }
    // What the days in the crosses tell counts like what was written down: an exported table comes back as it went.
    let (_, earlier) = paternity::of_brood(brood).in_table(brood);
    match row.get("earlier_sire").map(EarlierSire::named) {
        Some(new) if earlier.as_ref() != Some(&new) => {
            otherwise("earlier_sire", earlier.as_ref().map_or("none", EarlierSire::name))
        }
        _ => Ok(()),
    }
}

/// Makes sure that the cross is there with the row's sire and dams, and hands back the dams.
fn parents(book: &Write<'_>, row: &Row) -> Result<Vec<Dam>> {
    let cross = row.need("cross")?;
    crosses::open(book, cross).map_err(|e| row.placed("cross", e))?;
    let id = crosses::known_id(book, cross)?;
    if let Some(sire) = row.get("sire") {
        fish::known_id(book, sire).map_err(|e| row.placed("sire", import_first(e)))?;
        let there = crosses::sires(book, id)?;
        match there.first() {
            None => crosses::add_parents(book, cross, &[(sire.to_owned(), Stay::default())], &[])
                .map_err(|e| row.placed("sire", e))?,
            Some(_) if there.iter().any(|(name, _)| name == sire) || is_of(book, row, sire)? => {}
            Some((other, _)) => {
                let said = format!("is not the sire of cross {cross}, which is {other}");
                let hint = format!(
                    "name another cross, or say from which day on he was in this one: `broodhue cross add {cross} --more --sire \
                     {sire} --from DAY`"
                );
                return Err(row.error("sire", &said, &hint));
            }
        }
    }
    let dams = dams(book, row)?;
    let there = crosses::dams(book, id)?.into_iter().map(|(_, dam, _)| dam).collect();
    for dam in possible_dams::apart(&dams, there).1 {
        if let Dam::SisterOf(origin) = &dam {
            crosses::open(book, origin).map_err(|e| row.placed("dam", e))?;
        }
        crosses::add_parents(book, cross, &[], &[(dam, Stay::default())]).map_err(|e| row.placed("dam", e))?;
    }
    Ok(dams)
}

/// Whether the days in the crosses tell that the row's brood is all of this male, of another cross: an exported table comes back as it
/// went.
fn is_of(book: &Read<'_>, row: &Row, sire: &str) -> Result<bool> {
    let brood = broods::in_cross(book, row.need("cross")?, row.need("brood")?)?;
    Ok(brood.is_some_and(|brood| paternity::of_brood(&brood).in_table(&brood).0 == Some(sire)))
}

/// `D1`, or several as `D1+D2`, or unnamed ones as they are written out; a fish whose own name has a plus sign is taken by that name,
/// unless that could be several as well.
fn dams(book: &Read<'_>, row: &Row) -> Result<Vec<Dam>> {
    let Some(text) = row.get("dam") else { return Ok(Vec::new()) };
    let names: Vec<&str> = text.split('+').map(str::trim).collect();
    if fish::id(book, text)?.is_some() {
        let several = names.iter().map(|name| Ok(fish::id(book, name)?.is_some())).collect::<Result<Vec<bool>>>()?;
        if names.len() > 1 && several.iter().all(|known| *known) {
            let rename = format!("broodhue fish set {} --name NEW", to_type(text));
            let hint = format!("name the several in another order, or give the one another name: {rename}");
            return Err(row.error("dam", "is one fish by its name, and several by theirs", &hint));
        }
        return Ok(vec![Dam::Fish(text.to_owned())]);
    }
    let named = names.iter().enumerate().map(|(i, name)| {
        if let Some(sister) = Dam::sister(name) {
            return Ok(sister);
        }
        fish::known_id(book, name).map_err(|e| row.placed("dam", import_first(e)))?;
        if names[..i].contains(name) {
            return Err(row.error("dam", &format!("names {name} twice"), "name each dam once"));
        }
        Ok(Dam::Fish((*name).to_owned()))
    });
    named.collect()
}

fn import_first(error: Error) -> Error {
    Error {
        hint: "import the fish first: broodhue import fish FILE.csv; names are matched exactly".to_owned(),
        ..error
    }
}

fn new_brood(book: &Read<'_>, row: &Row, dams: Vec<Dam>, taken: &mut Taken) -> Result<NewBrood> {
    let earlier_sire = row.get("earlier_sire").map(EarlierSire::named);
    if let Some(EarlierSire::Fish(name)) = &earlier_sire {
        fish::known_id(book, name).map_err(|e| row.placed("earlier_sire", import_first(e)))?;
    }
    let dropped = row.day("dropped")?;
    taken.days.extend(dropped.map(|day| (format!("brood {}: dropped", row.get("brood").unwrap_or_default()), day)));
    Ok(NewBrood {
        name: row.need("brood")?.to_owned(),
        cross: row.need("cross")?.to_owned(),
        dropped_from: row.day("dropped_from")?.or(dropped),
        dropped_to: dropped,
        dams,
        young: row.get("young").map(|_| row.number("young")).transpose()?,
        earlier_sire,
        ..NewBrood::default()
    })
}
