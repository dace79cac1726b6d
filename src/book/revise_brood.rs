//! Mending what was written down of a brood.

use jiff::civil::Date;
use rusqlite::params;

use super::broods::{self, Brood, EarlierSire};
use super::crosses::{self, Dam};
use super::decisions::By;
use super::revise::{Said, To, changed, in_words, keep, put};
use super::values::day;
use super::{Write, consistent, names, possible_dams, settings};
use crate::error::{Error, Result};

/// What is to be changed of a brood.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct BroodChange {
    /// Its name; `None` stays. All that speaks of it goes by the new one.
    pub name: Option<String>,
    /// The cross under which it is counted, `None` where that stays. Fish written down as out of it go along.
    pub cross: Option<String>,
    /// The dams that may have dropped it; nothing stands for every dam of its cross.
    pub dams: To<Vec<Dam>>,
    /// First and last possible day of the drop.
    pub dropped: To<(Date, Date)>,
    /// How many young were dropped.
    pub young: To<u32>,
    /// Stored sperm of this male may have fathered some.
    pub earlier_sire: To<EarlierSire>,
    /// Anything else.
    pub note: To<String>,
}

/// Changes a brood. Says what changed.
///
/// # Errors
/// An unknown brood, cross or dam; a cross that has a brood of this name, or one that could not be told from it; no name; a first day after
/// the last; dropped before its parents were born or met, or after a fish of it was born, a sitting of it or young of it that left; a fish
/// out of it that would be its own ancestor, or was born before its parents; an earlier sire who is female or was born later.
pub fn brood(book: &Write<'_>, name: &str, change: &BroodChange, by: &By) -> Result<Said> {
    let old = broods::known(book, name)?;
    let mut said = Said::new();
    let new_name = change.name.as_deref().unwrap_or(&old.name);
    if new_name != old.name {
        names::check("brood", new_name)?;
        settings::hold_ratio(book, &old)?;
        said.push(changed("name", Some(&old.name), Some(new_name)));
    }
    let new_cross = change.cross.as_deref().unwrap_or(&old.cross);
    let cross = crosses::known_id(book, new_cross)?;
    let young = if cross == old.cross_id { Vec::new() } else { broods::young(book, old.id)? };
    if (cross, new_name) != (old.cross_id, old.name.as_str()) {
        move_to(book, &old, (cross, new_cross), new_name)?;
    }
    if cross != old.cross_id {
        let moved = changed("cross", Some(&old.cross), Some(new_cross));
        said.push(moved.clone());
        said.extend(young.iter().map(|child| format!("{child}: {moved}")));
    }
    set_dams(book, &old, cross, &change.dams, &mut said)?;
    let dropped = change.dropped.clone().over(old.dropped_from.zip(old.dropped_to));
    broods::check(book, cross, name, dropped, change.young.clone().over(None))?;
    let columns = [
        ("dropped_from", day(old.dropped_from), in_words(&change.dropped.clone().map(|(from, _)| from))),
        ("dropped_to", day(old.dropped_to), in_words(&change.dropped.clone().map(|(_, to)| to))),
        ("young", old.young.map(|n| n.to_string()), in_words(&change.young)),
        ("note", old.note.clone(), change.note.clone()),
    ];
    said.extend(put(book, "brood", old.id, columns)?);
    let earlier = change.earlier_sire.clone().over(old.earlier_sire.clone());
    if earlier != old.earlier_sire {
        let (sire, unknown) = broods::earlier_columns(book, name, earlier.as_ref())?;
        book.conn.execute(
            "UPDATE brood SET earlier_sire_id = ?2, earlier_unknown = ?3 WHERE id = ?1",
            params![old.id, sire, unknown],
        )?;
        let names = [&old.earlier_sire, &earlier].map(|sire| sire.as_ref().map(EarlierSire::name));
        said.push(changed("earlier sire", names[0], names[1]));
    }
    consistent::brood(book, &broods::of_id(book, old.id)?)?;
    broods::check_young(book, old.id)?;
    young.iter().try_for_each(|child| consistent::fish(book, child))?;
    consistent::ancestors(book)?;
    keep(book, &old.label, &said, by)?;
    Ok(said)
}

/// Puts a brood under another cross, another name or both, and with it the fish written down as out of it.
fn move_to(book: &Write<'_>, old: &Brood, (id, cross): (i64, &str), name: &str) -> Result<()> {
    if let Some(other) = broods::of_cross(book, cross, name)? {
        let of = if other.set_aside.is_some() { ", which is set aside" } else { "" };
        let said = format!("cross {cross} has a brood of this name already{of}");
        return Err(Error::failed(name, said, "give this one another name with --name"));
    }
    broods::only_so_called(book, cross, name)?;
    book.conn.execute("UPDATE brood SET cross_id = ?2, name = ?3 WHERE id = ?1", params![old.id, id, name])?;
    book.conn.execute("UPDATE fish SET cross_id = ?2 WHERE brood_id = ?1", [old.id, id])?;
    Ok(())
}

/// Says which dams may have dropped a brood. Under another cross those named before stay where they are dams of that one too.
fn set_dams(book: &Write<'_>, old: &Brood, cross: i64, to: &To<Vec<Dam>>, said: &mut Said) -> Result<()> {
    let before = crosses::dams_of_brood(book, old.id)?;
    let new: Vec<Dam> = match to {
        To::Same if cross == old.cross_id => return Ok(()),
        To::Same => {
            let there = crosses::dams(book, cross)?.into_iter().map(|(_, dam, _)| dam).collect();
            possible_dams::apart(&before, there).0
        }
        To::Nothing => Vec::new(),
        To::Is(dams) => dams.clone(),
    };
    book.conn.execute("DELETE FROM brood_dam WHERE brood_id = ?1", [old.id])?;
    possible_dams::name(book, &old.name, (old.id, cross), &new)?;
    let words = |dams: &[Dam]| match dams {
        [] => "any of its cross".to_owned(),
        dams => dams.iter().map(Dam::to_string).collect::<Vec<_>>().join(", "),
    };
    if new != before {
        said.push(changed("dam", Some(words(&before)), Some(words(&new))));
    }
    Ok(())
}
