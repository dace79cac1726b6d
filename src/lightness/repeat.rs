//! Repeatability of a set-up: repeated photos of the same fish (or of the card) tell how far two readings of the same
//! thing differ.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::conditions::Conditions;
use super::reading::{Channel, Reading};
use crate::error::{Error, Result};
use crate::stats::Interval;
use crate::stats::repeatability::{self, DETECTABLE};
use crate::units::{View, counted};

/// What a set-up's error rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Basis {
    /// Repeated photos in this set-up.
    Repeats,
    /// No repeats: the calibration's error stands in.
    Calibration,
}

/// Spread of readings of the same thing in one channel.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Spread {
    /// Within-subject standard deviation s_w of single readings in different photos.
    pub within: f64,
    /// Its degrees of freedom.
    pub df: f64,
    /// What is left when all subjects of a photo move together; `None` when each photo shows one subject, so that the two
    /// cannot be told apart.
    pub same_photo: Option<SamePhoto>,
}

/// Spread of readings of the same thing once the common shift of each photo is taken off.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct SamePhoto {
    /// Standard deviation.
    pub sd: f64,
    /// Its degrees of freedom.
    pub df: f64,
    /// Standard deviation of the photos' common shift, from the mean square between photos; a little too large (it holds the
    /// own error of a mean over the subjects), which keeps intervals honest where few photos were repeated.
    pub photo_sd: f64,
    /// Its degrees of freedom: photos less one.
    pub photos_df: f64,
}

/// A set-up (camera, card, tray) with its error in every channel.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SetUp {
    /// Its name.
    pub name: String,
    /// L*, a*, b*, chroma.
    pub spread: [Spread; 4],
}

impl SetUp {
    /// Spread of a channel.
    pub fn of(&self, channel: Channel) -> Spread {
        self.spread[Channel::ALL.iter().position(|c| *c == channel).unwrap_or(0)]
    }

    /// The two ends between which a reading's error may divide into the fish's own and its photo's. They are one where the repeats
    /// tell the two apart; else the photo's share may be anything from none to all. The variance of a difference is linear in
    /// that share, so that one of the ends holds the largest.
    pub(super) fn splits(&self, channel: Channel) -> [Split; 2] {
        let Spread { within, df, same_photo } = self.of(channel);
        let (all, none) = ((within.powi(2), df), (0.0, df));
        same_photo.map_or([Split { own: all, photo: none }, Split { own: none, photo: all }], |same| {
            let known = Split { own: (same.sd.powi(2), same.df), photo: (same.photo_sd.powi(2), same.photos_df) };
            [known, known]
        })
    }
}

/// How a reading's error divides: variances, each with its degrees of freedom.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Split {
    /// What one fish in one photo has of its own.
    pub(super) own: (f64, f64),
    /// What all fish of one photo share.
    pub(super) photo: (f64, f64),
}

/// Repeatability of one set-up, ready to print.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Repeat {
    /// The set-up with its spreads, for the book.
    pub setup: SetUp,
    /// Number of subjects with repeats.
    pub subjects: usize,
    /// Number of photos.
    pub photos: usize,
    /// Smallest detectable difference of L*, 1.96·√2·s_w.
    pub smallest_detectable: f64,
    /// ICC(1,1) of L*; `None` with a single subject.
    pub icc: Option<f64>,
    /// Its 95 % interval.
    pub icc_interval: Option<Interval>,
    /// What the numbers rest on, in a sentence.
    pub because: String,
}

/// Reads repeated photos of the same subjects in one set-up.
///
/// # Errors
/// No subject seen in two photos.
pub fn repeatability(name: &str, readings: &[Reading]) -> Result<Repeat> {
    let table = subjects(readings, Channel::Lightness);
    let repeated: Vec<Vec<f64>> =
        table.values().filter(|v| v.len() > 1).map(|v| v.values().copied().collect()).collect();
    if repeated.is_empty() {
        let hint = "photograph the same fish at least twice, letting it swim and settle in between, in water and within a few minutes in all";
        return Err(Error::failed(name, "nothing was photographed twice in this set-up", hint));
    }
    let spread = Channel::ALL.map(|channel| spread(&subjects(readings, channel)));
    let photos = super::side::distinct(readings.iter().map(|r| r.photo.as_str()));
    let one_way = repeatability::one_way(&repeated);
    let within = spread[0].within;
    let because = format!(
        "{} in {photos} photos: single readings of the same subject spread by {within:.2} L* (standard \
         deviation, {}), so that two readings differ by more than {:.1} L* in only one case of twenty",
        counted(repeated.len(), "subject", "subjects"),
        counted(spread[0].df.round(), "degree of freedom", "degrees of freedom"),
        DETECTABLE * within
    );
    Ok(Repeat {
        setup: SetUp { name: name.to_owned(), spread },
        subjects: repeated.len(),
        photos,
        smallest_detectable: DETECTABLE * within,
        icc: one_way.map(|t| t.icc()),
        icc_interval: one_way.map(|t| t.icc_interval(0.95)),
        because,
    })
}

/// The card of one photo as so many subjects, one a patch, each as a calibration reads it that had not seen it: what is
/// left in them from photo to photo is what the set-up does to a colour it does not know. A fish also moves and bends, so
/// its own repeats differ more.
pub fn card_readings(photo: &str, conditions: &Conditions) -> Vec<Reading> {
    let patch = |(n, (index, lab)): (u32, &(usize, [f64; 3]))| Reading {
        fish: format!("patch {}", index + 1),
        brood: None,
        photo: photo.to_owned(),
        n,
        lab: *lab,
        own: [0.0; 3],
        calibration: [0.0; 3],
        floor: conditions.floor.clone(),
        view: View::Above,
        card: conditions.card.clone(),
        sheet: None,
        set_up: conditions.set_up(),
    };
    (1..).zip(&conditions.patches_unseen).map(patch).collect()
}

/// Values by subject and photo.
fn subjects(readings: &[Reading], channel: Channel) -> BTreeMap<&str, BTreeMap<&str, f64>> {
    let mut table: BTreeMap<&str, BTreeMap<&str, f64>> = BTreeMap::new();
    for reading in readings {
        table.entry(&reading.fish).or_default().insert(&reading.photo, reading.value(channel));
    }
    table
}

fn spread(table: &BTreeMap<&str, BTreeMap<&str, f64>>) -> Spread {
    let (mut squares, mut df) = (0.0, 0.0);
    for values in table.values().filter(|v| v.len() > 1) {
        let mean = values.values().sum::<f64>() / values.len() as f64;
        squares += values.values().map(|v| (v - mean).powi(2)).sum::<f64>();
        df += values.len() as f64 - 1.0;
    }
    // The table is full when every subject stands in every photo; then the photos' common share can be split off.
    let photos: Vec<&str> = table.values().next().map(|v| v.keys().copied().collect()).unwrap_or_default();
    let full = table.len() > 1 && table.values().all(|v| v.keys().copied().eq(photos.iter().copied()));
    let rows: Vec<Vec<f64>> = table.values().map(|v| v.values().copied().collect()).collect();
    let two_way = if full { repeatability::two_way(&rows) } else { None };
    let same_photo = two_way.map(|t| SamePhoto {
        sd: t.residual.sqrt(),
        df: t.residual_df(),
        photo_sd: (t.sessions / t.n).sqrt(),
        photos_df: t.k - 1.0,
    });
    Spread { within: (squares / df).sqrt(), df, same_photo }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reading(fish: &str, photo: &str, l: f64) -> Reading {
        Reading::drawn(fish, photo, [l, 0.0, 10.0], 0.2)
    }

    /// Two fish that move together by exactly 2 L* between two photos: all of the spread is the photos'.
    #[test]
    fn a_common_shift_is_the_photos_own() {
        let readings = [("a", "1", 70.0), ("a", "2", 72.0), ("b", "1", 60.0), ("b", "2", 62.0)];
        let set = repeatability("phone", &readings.map(|(f, p, l)| reading(f, p, l))).unwrap();
        assert!((set.setup.spread[0].within - 2f64.sqrt()).abs() < 1e-12);
        assert!(set.setup.spread[0].same_photo.unwrap().sd < 1e-6);
        assert!((set.smallest_detectable - DETECTABLE * 2f64.sqrt()).abs() < 1e-12);
    }

    #[test]
    fn one_fish_alone_gives_a_spread_but_no_icc() {
        let set = repeatability("phone", &[reading("a", "1", 70.0), reading("a", "2", 72.0)]).unwrap();
        assert!(set.icc.is_none() && set.setup.spread[0].same_photo.is_none());
    }

    /// One grey patch that reads 50 and 52 in two photos: s_w = √2.
    #[test]
    fn the_card_is_a_subject_a_patch() {
        let of = |l: f64| Conditions {
            patches_unseen: vec![(18, [l, 0.0, 0.0]), (19, [l + 20.0, 0.0, 0.0])],
            ..Conditions::default()
        };
        let readings = [card_readings("1", &of(50.0)), card_readings("2", &of(52.0))].concat();
        let found = repeatability("phone", &readings).unwrap();
        assert_eq!((found.subjects, readings[0].fish.as_str()), (2, "patch 19"));
        assert!((found.setup.spread[0].within - 2f64.sqrt()).abs() < 1e-12);
    }

    #[test]
    fn no_repeat_is_named() {
        let error = repeatability("phone", &[reading("a", "1", 70.0), reading("b", "1", 72.0)]).unwrap_err();
        assert!(error.to_string().contains("twice"));
    }
}
