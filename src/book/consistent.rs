//! Whether a fish, its crosses and their broods still agree after something was changed.

use super::broods::{self, Brood, EarlierSire};
use super::crosses::{self, Dam, Stay};
use super::{Read, departures, fish, pedigree, photos, possible_dams};
use crate::command_line::to_type;
use crate::error::{Error, Result};
use crate::kin;
use crate::units::Sex;

/// A parent of a cross and where its days stand.
pub(super) struct Parent {
    pub(super) table: &'static str,
    pub(super) row: i64,
    /// Who; a sire always has a name.
    pub(super) who: Dam,
    pub(super) stay: Stay,
}

impl Parent {
    /// Whether it is a sire, else a dam.
    pub(super) fn is_sire(&self) -> bool {
        self.table == SIRES
    }

    /// Its name, or `a sister of cross K1`.
    pub(super) fn name(&self) -> String {
        self.who.to_string()
    }

    fn role(&self) -> Sex {
        if self.is_sire() { Sex::Male } else { Sex::Female }
    }
}

const SIRES: &str = "cross_sire";
const DAMS: &str = "cross_dam";

/// The sires and dams of a cross.
pub(super) fn parents(book: &Read<'_>, cross: i64) -> Result<Vec<Parent>> {
    let sires = crosses::rows_of_sires(book, cross)?.into_iter();
    let sires = sires.map(|(row, sire, stay)| Parent { table: SIRES, row, who: Dam::Fish(sire), stay });
    let dams = crosses::dams(book, cross)?.into_iter();
    Ok(sires.chain(dams.map(|(row, who, stay)| Parent { table: DAMS, row, who, stay })).collect())
}

/// Checks that no fish is its own ancestor, possible parents and earlier sires included.
pub(super) fn ancestors(book: &Read<'_>) -> Result<()> {
    kin::Pedigree::check(&pedigree::ancestry(book)?)
}

/// Checks a cross; `named` are to be parents of it.
pub(super) fn cross(book: &Read<'_>, name: &str, named: &[String]) -> Result<()> {
    let id = crosses::known_id(book, name)?;
    let all = parents(book, id)?;
    if let Some(stranger) = named.iter().find(|n| !all.iter().any(|p| p.name() == **n)) {
        return Err(no_parent(name, stranger));
    }
    for parent in &all {
        match &parent.who {
            Dam::Fish(fish) => crosses::check_parent(book, name, &fish::get(book, fish)?, parent.role(), parent.stay)?,
            Dam::SisterOf(origin) => crosses::check_origin(book, name, &parent.name(), origin)?,
        }
    }
    broods::under(book, name)?.iter().try_for_each(|own| brood(book, own))?;
    for child in fish::list(book)?.iter().filter(|f| f.cross.as_deref() == Some(name)) {
        crosses::check_births(book, &child.name)?;
    }
    Ok(())
}

/// Checks the days of a brood with those of its parents, its earlier sire, its sittings and the young that left it.
pub(super) fn brood(book: &Read<'_>, brood: &Brood) -> Result<()> {
    broods::check(book, brood.cross_id, &brood.name, brood.dropped_from.zip(brood.dropped_to), None)?;
    possible_dams::had_met(book, brood)?;
    if let (Some(EarlierSire::Fish(sire)), Some(last)) = (&brood.earlier_sire, brood.dropped_to)
        && let Some(born) = fish::get(book, sire)?.born.filter(|born| *born >= last)
    {
        let said = format!("dropped {last}, but its earlier sire {sire} was born {born}");
        return Err(Error::failed(format!("brood {}", brood.name), said, "check both days"));
    }
    photos::check_sittings(book, brood)?;
    departures::check(book, brood)
}

pub(super) fn no_parent(cross: &str, stranger: &str) -> Error {
    let hint = "`broodhue cross list` shows them; names are matched exactly";
    Error::failed(format!("cross {cross}"), format!("{stranger} is no parent of it"), hint)
}

/// Checks a fish with the day it left, the cross it came from, all crosses it is a parent of and all broods it is the earlier sire of.
pub(super) fn fish(book: &Read<'_>, name: &str) -> Result<()> {
    crosses::check_births(book, name)?;
    let known = fish::get(book, name)?;
    fish::check_departure(name, known.born, known.gone_on)?;
    for one in crosses::list(book)? {
        let id = crosses::known_id(book, &one.name)?;
        let parents = parents(book, id)?;
        let Some(parent) = parents.iter().find(|p| matches!(&p.who, Dam::Fish(fish) if fish == name)) else { continue };
        let (other, back) = (to_type(format!("{name}=OTHER")), to_type(format!("OTHER={name}")));
        let hint = format!(
            "say first who it was: broodhue cross set {} --replace {other}; where sire and dam were taken for one another, take both \
             sexes out with `fish set --sex none`, and then --replace {other} --replace {back}",
            to_type(&one.name)
        );
        crosses::check_sex(&one.name, &fish::get(book, name)?, parent.role(), &hint)?;
        cross(book, &one.name, &[])?;
    }
    let earlier = Some(EarlierSire::Fish(name.to_owned()));
    broods::list(book)?.iter().filter(|b| b.earlier_sire == earlier).try_for_each(|later| brood(book, later))
}
