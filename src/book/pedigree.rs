//! The plain pedigree that kinship works on: every fish with its parents, unnamed sisters included.

use super::broods::{self, Brood};
use super::crosses::{self, Dam};
use super::possible_dams::PossibleDam;
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
            Some(brood) => of_brood(&one.name, brood),
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
pub(super) fn possible_dam_name(possible: &PossibleDam) -> String {
    dam_name(&possible.cross, possible.place, &possible.dam)
}

fn of_brood(name: &str, brood: &Brood) -> Ancestry {
    let sire = paternity::of_brood(brood).sire().map(str::to_owned);
    Ancestry { fish: name.to_owned(), sire, dams: brood.dams.iter().map(possible_dam_name).collect() }
}

fn of_cross(book: &Read<'_>, name: &str, cross: &str) -> Result<Ancestry> {
    let id = crosses::known_id(book, cross)?;
    let mut sires = crosses::sires(book, id)?;
    let sire = if sires.len() == 1 { sires.pop().map(|(sire, _)| sire) } else { None };
    let dams = crosses::dams(book, id)?.iter().enumerate().map(|(i, (_, dam, _))| dam_name(cross, i, dam)).collect();
    Ok(Ancestry { fish: name.to_owned(), sire, dams })
}
