//! The demo's invented breeder: records, drawn pictures and recorded answers, all inside the program.

use std::collections::BTreeMap;

use jiff::civil::Date;
use serde::Deserialize;

use crate::book::broods::NewBrood;
use crate::book::crosses::{Dam, NewCross, Stay};
use crate::book::fish::NewFish;
use crate::error::{Error, Result};
use crate::geometry::Point;
use crate::units::Sex;

/// The pictures by their names in the scenario.
pub(super) const PICTURES: [(&str, &[u8]); 8] = [
    ("K1-1.jpg", include_bytes!("../../../sample-images/K1-1.jpg")),
    ("K2-1-tray-a.jpg", include_bytes!("../../../sample-images/K2-1-tray-a.jpg")),
    ("K2-1-tray-b.jpg", include_bytes!("../../../sample-images/K2-1-tray-b.jpg")),
    ("K2-1-later.jpg", include_bytes!("../../../sample-images/K2-1-later.jpg")),
    ("K2-2-tray-a.jpg", include_bytes!("../../../sample-images/K2-2-tray-a.jpg")),
    ("K2-2-tray-b-hard.jpg", include_bytes!("../../../sample-images/K2-2-tray-b-hard.jpg")),
    ("K3-1.jpg", include_bytes!("../../../sample-images/K3-1.jpg")),
    ("K4-1.jpg", include_bytes!("../../../sample-images/K4-1.jpg")),
];

const RECORDS: &str = include_str!("../../../sample-images/scenario.json");

/// The records.
#[derive(Debug, Deserialize)]
pub(super) struct Scenario {
    /// What the breeder is after.
    pub(super) goal: Goal,
    fish: Vec<FishRecord>,
    crosses: Vec<CrossRecord>,
    broods: Vec<BroodRecord>,
    /// Sittings with their photos and the breeder's answers.
    pub(super) sittings: Vec<SittingRecord>,
}

/// The line to be fixed.
#[derive(Debug, Deserialize)]
pub(super) struct Goal {
    /// Its name.
    pub(super) line: String,
    /// The axis.
    pub(super) axis: String,
    /// The class wanted.
    pub(super) class: String,
}

#[derive(Debug, Deserialize)]
struct FishRecord {
    fish: String,
    sex: Option<Sex>,
    line: Option<String>,
    cross: Option<String>,
    born: Option<Date>,
    classes: BTreeMap<String, String>,
}

#[derive(Debug, Deserialize)]
struct CrossRecord {
    cross: String,
    sire: String,
    dams: Vec<DamRecord>,
}

#[derive(Debug, Deserialize)]
struct DamRecord {
    dam: String,
    virgin: bool,
    from: Option<Date>,
    to: Option<Date>,
}

#[derive(Debug, Deserialize)]
struct BroodRecord {
    brood: String,
    cross: String,
    dropped_from: Option<Date>,
    dropped_to: Option<Date>,
    possible_dams: Vec<String>,
}

/// One sitting.
#[derive(Debug, Deserialize)]
pub(super) struct SittingRecord {
    /// The brood.
    pub(super) brood: String,
    /// The day.
    pub(super) date: Date,
    /// Its parts.
    pub(super) photos: Vec<PhotoRecord>,
}

/// One picture of a sitting.
#[derive(Debug, Deserialize)]
pub(super) struct PhotoRecord {
    /// Its name in [`PICTURES`].
    pub(super) file: String,
    /// Pitch of the card in it.
    pub(super) card_pitch_mm: f64,
    /// What the breeder said of each fish.
    pub(super) answers: Vec<Answer>,
}

/// What the breeder said of the fish at a place.
#[derive(Debug, Clone, Deserialize)]
pub(super) struct Answer {
    /// Where the fish is, in pixels.
    pub(super) centre: Point,
    /// Its sex.
    pub(super) sex: Option<Sex>,
    /// Its classes by axis.
    pub(super) classes: BTreeMap<String, String>,
}

/// The scenario inside the program.
pub(super) fn read() -> Result<Scenario> {
    serde_json::from_str(RECORDS).map_err(|e| Error::failed("the demo's records", e, "please report this"))
}

/// A picture inside the program.
pub(super) fn picture(file: &str) -> Result<&'static [u8]> {
    let found = PICTURES.iter().find(|(name, _)| *name == file);
    found.map(|(_, bytes)| *bytes).ok_or_else(|| Error::failed(file, "is no picture of the demo", "please report this"))
}

impl Scenario {
    /// The fish; a virgin dam is one on the day she was put in.
    pub(super) fn fish(&self) -> Vec<NewFish> {
        let virgin_on = |name: &str| {
            let dams = self.crosses.iter().flat_map(|c| &c.dams);
            dams.filter(|d| d.virgin && d.dam == name).find_map(|d| d.from)
        };
        let fish = |f: &FishRecord| NewFish {
            name: f.fish.clone(),
            sex: f.sex,
            line: f.line.clone(),
            cross: f.cross.clone(),
            born: f.born,
            classes: f.classes.clone(),
            virgin_on: virgin_on(&f.fish),
            ..NewFish::default()
        };
        self.fish.iter().map(fish).collect()
    }

    /// The crosses.
    pub(super) fn crosses(&self) -> Vec<NewCross> {
        let stay = |d: &DamRecord| Stay { day_in: d.from, day_out: d.to };
        let cross = |c: &CrossRecord| NewCross {
            name: c.cross.clone(),
            sires: vec![(c.sire.clone(), Stay::default())],
            dams: c.dams.iter().map(|d| (Dam::Fish(d.dam.clone()), stay(d))).collect(),
            ..NewCross::default()
        };
        self.crosses.iter().map(cross).collect()
    }

    /// The broods.
    pub(super) fn broods(&self) -> Vec<NewBrood> {
        let brood = |b: &BroodRecord| NewBrood {
            name: b.brood.clone(),
            cross: b.cross.clone(),
            dropped_from: b.dropped_from,
            dropped_to: b.dropped_to,
            dams: b.possible_dams.iter().map(|d| Dam::Fish(d.clone())).collect(),
            ..NewBrood::default()
        };
        self.broods.iter().map(brood).collect()
    }

    /// Every photo with its sitting.
    pub(super) fn photos(&self) -> Vec<(&SittingRecord, &PhotoRecord)> {
        self.sittings.iter().flat_map(|s| s.photos.iter().map(move |p| (s, p))).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_picture_of_the_records_is_inside_the_program() {
        let scenario = read().unwrap();
        for (_, photo) in scenario.photos() {
            assert!(!picture(&photo.file).unwrap().is_empty());
        }
        assert_eq!(scenario.photos().len(), PICTURES.len());
        let wanted = &scenario.goal.class;
        assert!(scenario.fish().iter().any(|f| f.classes.values().any(|c| c == wanted)));
    }
}
