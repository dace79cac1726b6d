//! Mending what was written down of a cross.

use rusqlite::params;

use super::aside::Kind;
use super::consistent::{self, Parent};
use super::crosses::{self, Dam, Stay};
use super::decisions::By;
use super::revise::{Said, To, changed, in_words, keep, put};
use super::values::{day, read_day};
use super::{Read, Write, broods, fish, settings};
use crate::command_line::to_type;
use crate::error::{Error, Result};

/// What is to be changed of a cross.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct CrossChange {
    /// Its name; `None` stays. All that speaks of it goes by the new one.
    pub name: Option<String>,
    /// Parents as they were written down, by name or as `a sister of cross K1`, each with who it was instead; `None` takes it out.
    pub replace: Vec<(String, Option<String>)>,
    /// The day in: of the fish named in `of`, else of the cross and of all its parents that came with it.
    pub day_in: To<jiff::civil::Date>,
    /// The day out, likewise.
    pub day_out: To<jiff::civil::Date>,
    /// The parents whose days are meant.
    pub of: Vec<String>,
    /// Anything else.
    pub note: To<String>,
}

/// Changes a cross. Says what changed.
///
/// # Errors
/// An unknown cross; a name that is taken or no name; a fish that is no parent of it; one that cannot be a parent of it, or is one already; a dam taken out whom a brood
/// names; a last day before the first; days that births or broods forbid.
pub fn cross(book: &Write<'_>, name: &str, change: &CrossChange, by: &By) -> Result<Said> {
    let id = crosses::known_id(book, name)?;
    if let Some(new) = change.name.as_ref().filter(|new| *new != name) {
        crosses::check_new_name(book, new, "choose another name")?;
        broods::list(book)?.iter().filter(|b| b.cross_id == id).try_for_each(|b| settings::hold_ratio(book, b))?;
    }
    let mut said = Said::new();
    // As they stood before any was replaced, so that two can change places.
    let before = consistent::parents(book, id)?;
    for (old, new) in &change.replace {
        said.extend(replace(book, (name, &before), old, new.as_deref())?);
    }
    let (started, ended, note) =
        book.conn.query_row("SELECT started, ended, note FROM crosses WHERE id = ?1", [id], |row| {
            Ok((read_day(row, "started")?, read_day(row, "ended")?, row.get(2)?))
        })?;
    for parent in consistent::parents(book, id)? {
        let (named, old) = (change.of.contains(&parent.name()), parent.stay);
        // Who came and went with the cross goes along; who has days of its own keeps them.
        let along = |old: Option<_>, former: Option<_>| change.of.is_empty() && (old.is_none() || old == former);
        let meant = |to: &To<_>, is_meant| if is_meant { to.clone() } else { To::Same };
        let new_in = meant(&change.day_in, named || along(old.day_in, started));
        let new_out = meant(&change.day_out, named || along(old.day_out, ended));
        let stay = Stay { day_in: new_in.clone().over(old.day_in), day_out: new_out.clone().over(old.day_out) };
        crosses::days_in_order(name, stay)?;
        let columns =
            [("day_in", day(old.day_in), in_words(&new_in)), ("day_out", day(old.day_out), in_words(&new_out))];
        said.extend(
            put(book, parent.table, parent.row, columns)?.into_iter().map(|s| format!("{}: {s}", parent.name())),
        );
    }
    if change.of.is_empty() {
        let stay = Stay { day_in: change.day_in.clone().over(started), day_out: change.day_out.clone().over(ended) };
        crosses::days_in_order(name, stay)?;
        let columns = [
            ("started", day(started), in_words(&change.day_in)),
            ("ended", day(ended), in_words(&change.day_out)),
            ("note", note, change.note.clone()),
        ];
        said.extend(put(book, "crosses", id, columns)?);
    }
    said.extend(put(book, "crosses", id, [("name", Some(name.to_owned()), change.name.clone().into())])?);
    let called = change.name.as_deref().unwrap_or(name);
    if called != name {
        broods::under(book, called)?.iter().try_for_each(|b| broods::only_so_called(book, called, &b.name))?;
    }
    consistent::cross(book, called, &change.of)?;
    keep(book, name, &said, by)?;
    Ok(said)
}

/// Puts another parent in the place of one that was written down by mistake, with the same days, or takes it out. Broods that name a
/// dam follow.
fn replace(book: &Write<'_>, (cross, all): (&str, &[Parent]), old: &str, new: Option<&str>) -> Result<Said> {
    let place = format!("cross {cross}");
    let meant: Vec<&Parent> = all.iter().filter(|p| p.name() == old).collect();
    let Some(first) = meant.first() else { return Err(consistent::no_parent(cross, old)) };
    let role = if first.is_sire() { "sire" } else { "dam" };
    let Some(new) = new else {
        meant.iter().try_for_each(|parent| take_out(book, &place, parent))?;
        return Ok(vec![format!("{role} {old} taken out")]);
    };
    if all.iter().any(|p| p.is_sire() == first.is_sire() && p.name() == new) {
        let hint = format!(
            "to take {old} out: broodhue cross set {} --replace {}",
            to_type(cross),
            to_type(format!("{old}=none"))
        );
        return Err(Error::failed(place, format!("{new} is a {role} of it already"), hint));
    }
    let (named, sister_of) = match Dam::sister(new) {
        Some(Dam::SisterOf(_)) if first.is_sire() => {
            let said = format!("{new} cannot be a sire");
            return Err(Error::failed(place, said, "name the male that it was"));
        }
        Some(Dam::SisterOf(origin)) => (None, Some(crosses::known_id(book, &origin)?)),
        _ => (Some(fish::known_id(book, new)?), None),
    };
    for parent in meant {
        if parent.is_sire() {
            book.conn.execute("UPDATE cross_sire SET fish_id = ?2 WHERE id = ?1", params![parent.row, named])?;
        } else {
            let sql = "UPDATE cross_dam SET fish_id = ?2, sister_of = ?3 WHERE id = ?1";
            book.conn.execute(sql, params![parent.row, named, sister_of])?;
        }
    }
    Ok(vec![changed(role, Some(old), Some(new))])
}

fn take_out(book: &Write<'_>, place: &str, parent: &Parent) -> Result<()> {
    // What a brood that is set aside says of its dam holds nobody back: it is counted nowhere.
    if !parent.is_sire() {
        let aside = format!("DELETE FROM brood_dam WHERE dam_id = ?1 AND {} IS NOT NULL", Kind::Brood.why("brood_id"));
        book.conn.execute(&aside, [parent.row])?;
    }
    if let Some(brood) = brood_that_names(book, parent)? {
        let said = format!("{} is named as the dam of brood {brood}", parent.name());
        let hint = format!("say first whose it was: broodhue brood set {} --dam NAME, or --dam none", to_type(&brood));
        return Err(Error::failed(place, said, hint));
    }
    book.conn.execute(&format!("DELETE FROM {} WHERE id = ?1", parent.table), [parent.row])?;
    Ok(())
}

fn brood_that_names(book: &Read<'_>, parent: &Parent) -> Result<Option<String>> {
    if parent.is_sire() {
        return Ok(None);
    }
    let mut statement = book.conn.prepare_cached(
        "SELECT l.label FROM brood_dam b JOIN brood_label l ON l.id = b.brood_id WHERE b.dam_id = ?1 ORDER BY l.id LIMIT 1",
    )?;
    let mut rows = statement.query([parent.row])?;
    Ok(rows.next()?.map(|row| row.get(0)).transpose()?)
}
