//! The generations of a line: which broods belong to it, how many generations lie behind each, and what was measured.

use std::collections::{BTreeMap, BTreeSet};

use super::Read;
use super::broods::{self, Brood};
use super::crosses::{self, Cross, Dam};
use super::fish::{self, Fish};
use super::lightness;
use super::paternity::{self, Matings};
use super::regions::{self, SeenIn};
use crate::error::Result;
use crate::features::Feature;
use crate::lightness::{BroodPoint, TrendInput, feature_named};
use crate::units::View;

/// Measured broods of a line with their generation. A brood belongs to the line when a named fish of it does, or when all
/// named parents of its cross do; the line's first broods are generation 0.
///
/// # Errors
/// An unknown line or feature.
pub fn of_line(book: &Read<'_>, line: &str, name: &str, view: View) -> Result<TrendInput> {
    let fish = fish::list(book)?;
    let crosses = crosses::list(book)?;
    if !fish.iter().any(|f| f.line.as_deref() == Some(line)) {
        return Err(fish::no_such_line(line, &fish));
    }
    let feature = feature_named(name)?;
    let depth = generations(line, &fish, &crosses);
    let (mut points, mut sheets) = (Vec::new(), BTreeSet::new());
    book.at_one_moment(|| {
        for brood in broods::list(book)? {
            if let Some(&generation) = depth.get(brood.cross.as_str()) {
                let seen = regions::seen_in(book, &brood, view)?;
                points.extend(by_floor(book, &brood, generation, (&feature, view, &seen))?);
                sheets.extend(seen.into_iter().map(|s| s.sheet));
            }
        }
        Ok(())
    })?;
    let limits = Some(feature.limits());
    let (line, feature) = (line.to_owned(), name.to_owned());
    Ok(TrendInput { line, feature, limits, broods: points, sheets, other_floors: Vec::new() })
}

/// Generation of each cross of the line.
fn generations<'a>(line: &str, fish: &[Fish], crosses: &'a [Cross]) -> BTreeMap<&'a str, u32> {
    let of_line = |name: &str| fish.iter().any(|f| f.name == name && f.line.as_deref() == Some(line));
    let has_young =
        |cross: &str| fish.iter().any(|f| f.cross.as_deref() == Some(cross) && f.line.as_deref() == Some(line));
    let belongs: BTreeSet<&str> = crosses
        .iter()
        .filter(|c| {
            let parents = parents(c);
            has_young(&c.name) || (!parents.is_empty() && parents.iter().all(|p| of_line(p)))
        })
        .map(|c| c.name.as_str())
        .collect();
    let mut depth: BTreeMap<&str, u32> = BTreeMap::new();
    // Each round settles at least one more generation; a pedigree without loops settles within as many rounds as crosses.
    for _ in 0..crosses.len() {
        for cross in crosses.iter().filter(|c| belongs.contains(c.name.as_str())) {
            let behind = origins(cross, fish).into_iter().filter_map(|origin| depth.get(origin.as_str())).max();
            depth.insert(&cross.name, behind.map_or(0, |d| d + 1));
        }
    }
    depth
}

fn parents(cross: &Cross) -> Vec<&str> {
    let dams = cross.dams.iter().filter_map(|(dam, _)| match dam {
        Dam::Fish(name) => Some(name.as_str()),
        Dam::SisterOf(_) => None,
    });
    cross.sires.iter().map(|(sire, _)| sire.as_str()).chain(dams).collect()
}

/// The crosses that the parents of a cross came from.
fn origins(cross: &Cross, fish: &[Fish]) -> Vec<String> {
    let of = |name: &str| fish.iter().find(|f| f.name == name).and_then(|f| f.cross.clone());
    let sisters = cross.dams.iter().filter_map(|(dam, _)| match dam {
        Dam::SisterOf(origin) => Some(origin.clone()),
        Dam::Fish(_) => None,
    });
    parents(cross).into_iter().filter_map(of).chain(sisters).collect()
}

/// The brood's mean at its latest sitting, for each floor its fish lay over; nothing where nothing of it was measured.
fn by_floor(
    book: &Read<'_>,
    brood: &Brood,
    generation: u32,
    (feature, view, seen): (&Feature, View, &[SeenIn]),
) -> Result<Vec<BroodPoint>> {
    let Some((day, fish)) = regions::measured(book, brood, view)? else { return Ok(Vec::new()) };
    let floors: BTreeMap<i64, Option<&str>> = seen.iter().map(|s| (s.photo, s.floor.as_deref())).collect();
    let mut values: BTreeMap<Option<&str>, Vec<f64>> = BTreeMap::new();
    for (photo, features) in &fish {
        if let Some(read) = feature.read(features) {
            values.entry(floors.get(photo).copied().flatten()).or_default().push(read.value);
        }
    }
    // The middle of the days on which it can have been dropped.
    let dropped = brood
        .dropped_from
        .map(|from| f64::midpoint(lightness::days(from), lightness::days(brood.dropped_to.unwrap_or(from))));
    let point = |(floor, values): (Option<&str>, Vec<f64>)| {
        Ok(BroodPoint {
            brood: brood.label.clone(),
            generation,
            fish: values.len(),
            value: values.iter().sum::<f64>() / values.len() as f64,
            age: dropped.map(|dropped| lightness::days(day) - dropped),
            mid_parent: mid_parent(book, brood, feature, (view, floor))?,
            floor: floor.map(str::to_owned),
        })
    };
    values.into_iter().map(point).collect()
}

/// Mean of sire and dams, each from its own portraits from the view of the young, since a flank and a back differ in colour, and over
/// their floor where it is known, since fish change their shade with it; `None` unless both sexes were measured.
fn mid_parent(book: &Read<'_>, brood: &Brood, feature: &Feature, seen: (View, Option<&str>)) -> Result<Option<f64>> {
    let paternity = paternity::of_brood(brood);
    let Some(sire) = paternity.sire() else { return Ok(None) };
    let Some(father) = portrait(book, sire, feature, seen)? else { return Ok(None) };
    let mut mothers = Vec::new();
    for Matings { dam, .. } in &paternity.matings {
        let Dam::Fish(dam) = dam else { return Ok(None) };
        let Some(mother) = portrait(book, dam, feature, seen)? else { return Ok(None) };
        mothers.push(mother);
    }
    if mothers.is_empty() {
        return Ok(None);
    }
    Ok(Some(f64::midpoint(father, mothers.iter().sum::<f64>() / mothers.len() as f64)))
}

fn portrait(
    book: &Read<'_>,
    fish: &str,
    feature: &Feature,
    (view, floor): (View, Option<&str>),
) -> Result<Option<f64>> {
    let mut values = Vec::new();
    for region in regions::of_portraits_from(book, fish, view)?.iter().filter(|r| r.is_comparable()) {
        let own = lightness::conditions(book, &region.photo)?.floor;
        if floor.is_none_or(|floor| own.is_none_or(|own| own == floor)) {
            values.extend(feature.read(&region.features).map(|e| e.value));
        }
    }
    Ok((!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64))
}
