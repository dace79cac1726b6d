//! The plain pedigree that kinship works on: every fish with its parents, unnamed sisters included.

use super::broods::{self, Brood, PossibleDam};
use super::crosses::{self, Dam};
use super::{Read, fish, paternity};
use crate::error::Result;
use crate::kin::Ancestry;

/// Every fish of the book with its sire and possible dams, and every unnamed sister that is a dam, named as
/// `dam_name` does.
///
/// # Errors
/// The book cannot be read.
pub fn ancestry(book: &Read<'_>) -> Result<Vec<Ancestry>> {
    let mut all = Vec::new();
    let broods = broods::list(book)?;
    for one in fish::list(book)? {
        let Some(cross) = &one.cross else {
            all.push(Ancestry { fish: one.name, ..Ancestry::default() });
            continue;
        };
        all.push(match broods::of_fish(&broods, &one) {
            Some(brood) => of_brood(book, &one.name, brood)?,
            None => of_cross(book, &one.name, cross)?,
        });
    }
    for cross in crosses::list(book)? {
        for (place, (dam, _)) in cross.dams.iter().enumerate() {
            if let Dam::SisterOf(origin) = dam {
                all.push(of_cross(book, &dam_name(&cross.name, place, dam), origin)?);
            }
        }
    }
    Ok(all)
}

/// The name of the dam at `place` (from 0) of a cross: a fish's own, or for an unnamed sister one that no two share.
pub(super) fn dam_name(cross: &str, place: usize, dam: &Dam) -> String {
    match dam {
        Dam::Fish(name) => name.clone(),
        Dam::SisterOf(_) => format!("{dam} (dam {} of {cross})", place + 1),
    }
}

/// The name of a possible dam of a brood, as `dam_name` gives it.
pub(super) fn possible_dam_name(book: &Read<'_>, possible: &PossibleDam) -> Result<String> {
    let dams = crosses::dams(book, crosses::known_id(book, &possible.cross)?)?;
    let place = dams.iter().position(|(row, _, _)| *row == possible.row).unwrap_or(0);
    Ok(dam_name(&possible.cross, place, &possible.dam))
}

fn of_brood(book: &Read<'_>, name: &str, brood: &Brood) -> Result<Ancestry> {
    let sire = paternity::of_brood(book, brood)?.sire().map(str::to_owned);
    let dams = brood.dams.iter().map(|d| possible_dam_name(book, d)).collect::<Result<_>>()?;
    Ok(Ancestry { fish: name.to_owned(), sire, dams })
}

fn of_cross(book: &Read<'_>, name: &str, cross: &str) -> Result<Ancestry> {
    let id = crosses::known_id(book, cross)?;
    let mut sires = crosses::sires(book, id)?;
    let sire = if sires.len() == 1 { sires.pop().map(|(sire, _)| sire) } else { None };
    let dams = crosses::dams(book, id)?.iter().enumerate().map(|(i, (_, dam, _))| dam_name(cross, i, dam)).collect();
    Ok(Ancestry { fish: name.to_owned(), sire, dams })
}
