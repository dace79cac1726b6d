//! The plain pedigree that kinship works on: every fish with its parents, unnamed sisters included.

use std::collections::BTreeSet;

use super::broods::{self, Brood, EarlierSire};
use super::crosses::{self, Dam};
use super::possible_dams::PossibleDam;
use super::{Read, fish, paternity};
use crate::error::Result;
use crate::inherit::EARLIER_SHARE;
use crate::kin::Ancestry;

/// Every fish of the book with its possible sires and dams, every unnamed sister that is a dam, named as `dam_name` does,
/// and the parents that are not recorded, one a cross and role.
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
            None => of_brood(book, &one.name, &broods::unrecorded(book, &broods, cross, one.born)?)?,
        });
    }
    for cross in crosses::list(book)? {
        for (place, (dam, _)) in cross.dams.iter().enumerate() {
            if let Dam::SisterOf(origin) = dam {
                let brood = broods::unrecorded(book, &broods, origin, None)?;
                all.push(of_brood(book, &dam_name(&cross.name, place, dam), &brood)?);
            }
        }
    }
    let known: BTreeSet<String> = all.iter().map(|a| a.fish.clone()).collect();
    let parents =
        all.iter().flat_map(|a| a.sire.iter().chain(a.other_sires.iter().map(|(sire, _)| sire)).chain(&a.dams));
    let unrecorded: BTreeSet<String> = parents.filter(|p| !known.contains(*p)).cloned().collect();
    all.extend(unrecorded.into_iter().map(|fish| Ancestry { fish, ..Ancestry::default() }));
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

/// The name of a parent of a cross that is not recorded: one fish a cross and role, so that its young are sibs.
pub(super) fn unrecorded(role: &str, cross: &str) -> String {
    format!("{cross}: {role} not recorded")
}

/// A fish with its possible parents. Each mating counts alike, and an earlier sire for what he is expected to have
/// fathered; of several sires of whom the days do not tell one, all that she met come into question.
fn of_brood(book: &Read<'_>, name: &str, brood: &Brood) -> Result<Ancestry> {
    let paternity = paternity::of_brood(brood);
    let own = || unrecorded("sire", &brood.cross);
    let met: BTreeSet<&String> = brood.dams.iter().flat_map(|d| d.with.iter().map(|(sire, _)| sire)).collect();
    let mut sires: Vec<String> = match &paternity.doubt {
        Some(_) => met.into_iter().cloned().collect(),
        None => paternity.matings.iter().flat_map(|m| &m.sires).map(|s| s.clone().unwrap_or_else(own)).collect(),
    };
    if brood.dams.is_empty() {
        let of_cross = crosses::sires(book, crosses::known_id(book, &brood.cross)?)?;
        sires.extend(if let [(only, _)] = of_cross.as_slice() { Some(only.clone()) } else { None });
    }
    if sires.is_empty() {
        sires.push(own());
    }
    // Each earlier sire by the share of the dams who may hold sperm of his.
    let stored = || paternity.matings.iter().filter_map(|m| m.stored.as_ref());
    let held = |sire: &EarlierSire| {
        let holders = stored().filter(|other| *other == sire).count();
        if brood.dams.is_empty() { 1.0 } else { holders as f64 / brood.dams.len() as f64 }
    };
    let earlier: BTreeSet<&EarlierSire> = stored().chain(&paternity.earlier).collect();
    let named = |sire: &EarlierSire| match sire {
        EarlierSire::Fish(sire) => sire.clone(),
        EarlierSire::Unknown => unrecorded("earlier sire", &brood.cross),
    };
    let earlier: Vec<(String, f64)> =
        earlier.into_iter().map(|sire| (named(sire), EARLIER_SHARE * held(sire))).collect();
    let each = (1.0 - earlier.iter().map(|(_, share)| share).sum::<f64>()) / sires.len() as f64;
    let mut shares: Vec<(String, f64)> = Vec::new();
    for (sire, share) in sires.into_iter().map(|s| (s, each)).chain(earlier) {
        match shares.iter_mut().find(|(known, _)| *known == sire) {
            Some((_, sum)) => *sum += share,
            None => shares.push((sire, share)),
        }
    }
    let sire = shares.remove(0).0;
    let mut dams: Vec<String> = brood.dams.iter().map(possible_dam_name).collect();
    if dams.is_empty() {
        dams.push(unrecorded("dam", &brood.cross));
    }
    Ok(Ancestry { fish: name.to_owned(), sire: Some(sire), other_sires: shares, dams })
}
