//! Days of fish, crosses and broods that contradict each other though each could be written down: which of them is the slip only a
//! person knows, so they are said and not refused.

use std::collections::BTreeMap;

use super::broods::{self, Brood};
use super::crosses::{self, Cross, Dam, Stay};
use super::fish::{self, Fish};
use super::possible_dams::{self, PossibleDam};
use super::{Read, consistent, paternity};
use crate::error::Result;
use crate::units::Sex;

/// Where a fish's own days contradict each other or its sex, or its crosses and broods the day on which it left, or until which it was a
/// virgin.
///
/// # Errors
/// An unknown fish; the book cannot be read.
pub fn of_fish(book: &Read<'_>, name: &str) -> Result<Vec<String>> {
    of_each_fish(book, &[name])
}

/// The same of several fish.
///
/// # Errors
/// As [`of_fish`].
pub fn of_each_fish(book: &Read<'_>, names: &[&str]) -> Result<Vec<String>> {
    let fish = names.iter().map(|name| fish::get(book, name)).collect::<Result<Vec<_>>>()?;
    let mut found: Vec<String> = fish.iter().flat_map(own_days).collect();
    found.extend(contradictions(book, &fish, &crosses::list(book)?, &broods::list(book)?)?);
    Ok(found)
}

/// Where a cross contradicts what is recorded of its parents, and what a person should know of the fathers of its broods; nothing for
/// a cross that is not in the book.
///
/// # Errors
/// The book cannot be read.
pub fn of_cross(book: &Read<'_>, name: &str) -> Result<Vec<String>> {
    let of_name: Vec<Cross> = crosses::list(book)?.into_iter().filter(|c| c.name == name).collect();
    let broods = broods::under(book, name)?;
    let mut found = contradictions(book, &fish::list(book)?, &of_name, &broods)?;
    found.extend(broods.iter().flat_map(|brood| paternity::of_brood(brood).remarks(brood)));
    Ok(found)
}

/// Which of these new parents of a cross are on record as gone, where no day tells that the cross was before.
///
/// # Errors
/// An unknown fish; the book cannot be read.
pub fn gone_already<'a>(
    book: &Read<'_>,
    cross: &str,
    parents: impl Iterator<Item = (&'a str, Stay)>,
) -> Result<Vec<String>> {
    let mut found = Vec::new();
    for (name, stay) in parents {
        let one = fish::get(book, name)?;
        let undated = stay.day_in.is_none() || one.gone_on.is_none();
        found.extend(one.gone.filter(|_| undated).map(|left| {
            let on = one.gone_on.map_or(String::new(), |day| format!(" on {day}"));
            format!("fish {name}: {left}{on}, and nothing says that it was in cross {cross} before: note both days")
        }));
    }
    Ok(found)
}

/// What a person should know of the fathers of a brood, and where it contradicts what is recorded of its dam.
///
/// # Errors
/// The book cannot be read.
pub fn of_brood(book: &Read<'_>, brood: &Brood) -> Result<Vec<String>> {
    let mut found = paternity::of_brood(brood).remarks(brood);
    found.extend(contradictions(book, &fish::list(book)?, &[], std::slice::from_ref(brood))?);
    Ok(found)
}

/// Where days of the whole book contradict each other, those that the commands refuse today included.
///
/// # Errors
/// The book cannot be read.
pub(super) fn of_book(book: &Read<'_>) -> Result<Vec<String>> {
    let (fish, crosses, broods) = (fish::list(book)?, crosses::list(book)?, broods::list(book)?);
    let births = fish.iter().map(|one| crosses::check_births(book, &one.name));
    let departures = fish.iter().map(|one| fish::check_departure(&one.name, one.born, one.gone_on));
    let drops = broods.iter().map(|brood| consistent::brood(book, brood));
    let mut found: Vec<String> =
        births.chain(departures).chain(drops).filter_map(|days| Some(days.err()?.to_string())).collect();
    found.extend(fish.iter().flat_map(own_days));
    found.extend(contradictions(book, &fish, &crosses, &broods)?);
    let fathers = broods.iter().map(|brood| (brood, paternity::of_brood(brood)));
    found.extend(fathers.filter(|(_, found)| found.doubt.is_some()).flat_map(|(brood, found)| found.remarks(brood)));
    Ok(found)
}

/// What was said of a fish as of a female that had yet to mate or was kept from males: before it was born, or of a male.
fn own_days(fish: &Fish) -> Vec<String> {
    let days = [("a virgin until", fish.virgin_on), ("apart from males since", fish.isolated_since)];
    let said = days.into_iter().filter_map(|(what, day)| {
        let day = day?;
        let born = fish.born.filter(|born| day < *born).map(|born| format!("born {born}: check both days"));
        let male = (fish.sex == Some(Sex::Male)).then(|| "a male: check its sex, or take the day out".to_owned());
        Some(format!("fish {}: {what} {day}, but {}", fish.name, born.or(male)?))
    });
    said.collect()
}

/// The places where these crosses and broods contradict what is recorded of these fish.
fn contradictions(book: &Read<'_>, fish: &[Fish], crosses: &[Cross], broods: &[Brood]) -> Result<Vec<String>> {
    let known: BTreeMap<&str, &Fish> = fish.iter().map(|f| (f.name.as_str(), f)).collect();
    let named = |dam: &Dam| match dam {
        Dam::Fish(name) => known.get(name.as_str()).copied(),
        Dam::SisterOf(_) => None,
    };
    let mut found = Vec::new();
    for cross in crosses {
        let sires = cross.sires.iter().filter_map(|(name, stay)| Some((*known.get(name.as_str())?, *stay)));
        let dams = cross.dams.iter().filter_map(|(dam, stay)| Some((named(dam)?, *stay)));
        found.extend(sires.chain(dams.clone()).filter_map(|(fish, stay)| left_before(fish, cross, stay)));
        if dams.clone().any(|(dam, _)| dam.virgin_on.is_some()) {
            let dams = possible_dams::of_cross(book, &cross.name)?;
            found.extend(dams.iter().filter_map(|dam| with_a_male(named(&dam.dam)?, dam)));
        }
    }
    for brood in broods {
        found.extend(brood.dams.iter().filter_map(|possible| dropped_by(named(&possible.dam)?, brood)));
    }
    Ok(found)
}

/// A fish that left before it came into a cross, or before it was taken out of it.
fn left_before(fish: &Fish, cross: &Cross, stay: Stay) -> Option<String> {
    let (left, on) = (fish.gone.as_ref()?, fish.gone_on?);
    let came = stay.day_in.or(cross.started).filter(|day| *day > on);
    let words = came.map(|day| format!("was put into cross {} on {day}", cross.name));
    let until = stay.day_out.filter(|day| *day > on);
    let words = words.or_else(|| Some(format!("was in cross {} until {}", cross.name, until?)))?;
    Some(format!("fish {}: {left} on {on}, but {words}: check both days", fish.name))
}

/// A virgin who was with a male before.
fn with_a_male(fish: &Fish, dam: &PossibleDam) -> Option<String> {
    let virgin = fish.virgin_on?;
    let (sire, day) =
        dam.with.iter().filter_map(|(sire, stay)| Some((sire, stay.day_in?))).min_by_key(|(_, day)| *day)?;
    (day < virgin).then(|| {
        format!(
            "fish {}: a virgin until {virgin}, but with {sire} in cross {} from {day}: check both days",
            fish.name, dam.cross
        )
    })
}

/// A dam who had left, or was a virgin yet, when her brood was dropped.
fn dropped_by(fish: &Fish, brood: &Brood) -> Option<String> {
    let first = brood.dropped_from.or(brood.dropped_to)?;
    let last = brood.dropped_to.or(brood.dropped_from)?;
    let left = fish.gone.as_ref().zip(fish.gone_on).filter(|(_, on)| *on < first);
    let left = left.map(|(left, on)| (format!("{left} on {on}"), first));
    let virgin = fish.virgin_on.filter(|day| *day >= last).map(|day| (format!("a virgin until {day}"), last));
    let (what, dropped) = left.or(virgin)?;
    Some(format!(
        "fish {}: {what}, but brood {} of hers was dropped on {dropped}: check both days",
        fish.name, brood.label
    ))
}
