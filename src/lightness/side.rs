//! One side of a comparison: its readings gathered into units, and the error of their mean.

use std::collections::BTreeMap;

use serde::Serialize;

use super::reading::{Channel, Reading};
use super::repeat::Split;

/// What is counted as one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Unit {
    /// A single fish: the claim is about this very fish and rests on measurement error.
    #[serde(rename = "photo")]
    Reading,
    /// Sibs, or the fish of one photo: the claim is about this brood or these fish.
    #[serde(rename = "fish")]
    Fish,
    /// Broods: the claim is about the line.
    #[serde(rename = "brood")]
    Brood,
}

/// A unit's mean in one channel, and how its weight is spread over photos.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct UnitMean {
    pub(super) value: f64,
    /// Variance of the mean from the readings' own errors.
    pub(super) own: f64,
    /// Weight of each photo, summing to 1.
    pub(super) photos: BTreeMap<String, f64>,
}

/// The unit of a side: broods where there are several.
pub(super) fn unit_of(readings: &[Reading]) -> Unit {
    let fish = distinct(readings.iter().map(|r| r.fish.as_str()));
    let broods = distinct(readings.iter().filter_map(|r| r.brood.as_deref()));
    match (fish, broods) {
        (0 | 1, _) => Unit::Reading,
        (_, 2..) => Unit::Brood,
        _ => Unit::Fish,
    }
}

/// How many different names.
pub(super) fn distinct<'a>(names: impl Iterator<Item = &'a str>) -> usize {
    names.collect::<std::collections::BTreeSet<_>>().len()
}

/// Means of each fish over its photos, then of each brood over its fish where broods are the unit.
pub(super) fn unit_means(readings: &[Reading], unit: Unit, channel: Channel, split: Option<&Split>) -> Vec<UnitMean> {
    let mut fish: BTreeMap<&str, Vec<&Reading>> = BTreeMap::new();
    for reading in readings {
        fish.entry(&reading.fish).or_default().push(reading);
    }
    let single = |r: &&Reading| UnitMean {
        value: r.value(channel),
        own: split.map_or_else(|| r.own_variance(channel), |s| s.own.0),
        photos: BTreeMap::from([(r.photo.clone(), 1.0)]),
    };
    let means = fish.values().map(|of_fish| {
        let parts: Vec<UnitMean> = of_fish.iter().map(single).collect();
        (of_fish[0].brood.as_deref().unwrap_or(""), pooled(&parts))
    });
    if unit != Unit::Brood {
        return means.map(|(_, mean)| mean).collect();
    }
    let mut broods: BTreeMap<&str, Vec<UnitMean>> = BTreeMap::new();
    for (brood, mean) in means {
        broods.entry(brood).or_default().push(mean);
    }
    broods.values().map(|members| pooled(members)).collect()
}

/// Mean of several parts, each with the same weight.
pub(super) fn pooled(parts: &[UnitMean]) -> UnitMean {
    let n = parts.len() as f64;
    let mut photos = BTreeMap::new();
    for part in parts {
        for (photo, weight) in &part.photos {
            *photos.entry(photo.clone()).or_insert(0.0) += weight / n;
        }
    }
    UnitMean {
        value: parts.iter().map(|p| p.value).sum::<f64>() / n,
        own: parts.iter().map(|p| p.own).sum::<f64>() / (n * n),
        photos,
    }
}

/// How much of each photo's error variance the spread between the units already shows: what an average over the sample
/// variance of the units, divided by their number, expects of it.
pub(super) fn shown_by_spread(units: &[UnitMean], mean: &UnitMean, photo: &str) -> f64 {
    let n = units.len() as f64;
    if n < 2.0 {
        return 0.0;
    }
    let weight = |u: &UnitMean| u.photos.get(photo).copied().unwrap_or(0.0);
    units.iter().map(|u| (weight(u) - weight(mean)).powi(2)).sum::<f64>() / (n * (n - 1.0))
}
