//! What stands on both sides of a comparison: a reading tells nothing of a difference from itself, and its error would count twice. The
//! same fish in two photos is another thing: whether it grew lighter may be asked.

use std::collections::BTreeSet;

use super::reading::Reading;
use super::side::distinct;
use crate::error::{Error, Result};
use crate::units::counted;

/// What a person named on one side, with its readings.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedReadings {
    /// As it was typed.
    pub name: String,
    /// Its readings.
    pub readings: Vec<Reading>,
}

/// Refuses fish of one photo that stand on both sides, also where each side names them otherwise.
///
/// # Errors
/// The first two names that have fish in common.
pub fn check_apart(a: &[NamedReadings], b: &[NamedReadings]) -> Result<()> {
    for (left, right) in a.iter().flat_map(|left| b.iter().map(move |right| (left, right))) {
        let said = match shared(&left.readings, &right.readings) {
            0 => continue,
            _ if left.name == right.name => format!("{} stands on both sides", left.name),
            fish => {
                format!("{} and {} have {} in common", left.name, right.name, counted(fish, "fish", "fish"))
            }
        };
        return Err(Error::usage("lighter", said, "name each fish on one side alone"));
    }
    Ok(())
}

/// All readings of a side, each once by whatever names: one that counted twice would halve its own error.
pub fn all_of(side: Vec<NamedReadings>) -> Vec<Reading> {
    let mut taken = BTreeSet::new();
    let readings = side.into_iter().flat_map(|named| named.readings);
    readings.filter(|r| taken.insert((r.photo.clone(), r.n))).collect()
}

/// How many fish of `a` are in `b` too, by their place in a photo.
fn shared(a: &[Reading], b: &[Reading]) -> usize {
    let places: BTreeSet<(&str, u32)> = b.iter().map(|r| (r.photo.as_str(), r.n)).collect();
    let too = |r: &&Reading| places.contains(&(r.photo.as_str(), r.n));
    distinct(a.iter().filter(too).map(|r| r.fish.as_str()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn named(name: &str, fish: &[(&str, &str, u32)]) -> NamedReadings {
        let one = |(fish, photo, n): &(&str, &str, u32)| Reading {
            n: *n,
            ..Reading::drawn(fish, photo, [70.0, 0.0, 10.0], 0.5)
        };
        NamedReadings { name: name.into(), readings: fish.iter().map(one).collect() }
    }

    #[test]
    fn a_reading_counts_once_on_its_side() {
        let brood = named("K2-1", &[("tray 1", "tray", 1), ("tray 2", "tray", 2)]);
        let again = named("K2-1/red-body=absent", &[("tray 2", "tray", 2), ("tray 2", "later", 2)]);
        let places: Vec<(String, u32)> = all_of(vec![brood, again]).into_iter().map(|r| (r.photo, r.n)).collect();
        assert_eq!(places, [("tray".to_owned(), 1), ("tray".to_owned(), 2), ("later".to_owned(), 2)]);
    }

    #[test]
    fn a_fish_is_on_one_side_alone() {
        let brood = named("K2-1", &[("tray 1", "tray", 1), ("tray 2", "tray", 2)]);
        let other = named("K4-1", &[("pot 1", "pot", 1)]);
        let said =
            |a: &NamedReadings, b: &[NamedReadings]| check_apart(std::slice::from_ref(a), b).unwrap_err().message;
        assert!(check_apart(std::slice::from_ref(&brood), std::slice::from_ref(&other)).is_ok());
        assert_eq!(said(&brood, &[other, brood.clone()]), "K2-1 stands on both sides");
        let by_number = named("t.jpg#2", &[("t.jpg#2", "tray", 2)]);
        assert_eq!(said(&brood, &[by_number]), "K2-1 and t.jpg#2 have 1 fish in common");
        let later = named("K1-s", &[("tray 1", "portrait", 1)]);
        assert!(check_apart(&[later], &[brood]).is_ok(), "the same fish in another photo");
    }
}
