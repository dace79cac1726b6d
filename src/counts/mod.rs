//! Confirmed scores become counts per class, cross, brood, sitting and sex, each share with its exact interval and with
//! the bounds that the fish still open would allow.
//!
//! Only what a person confirmed is counted; a proposal does not compile here:
//!
//! ```compile_fail,E0308
//! # use broodhue::{counts, sheet::Proposal};
//! let place = counts::Place::default();
//! let proposal = Proposal { axis: "red-body".into(), class: "absent".into(), confidence: 1.0, because: vec![] };
//! counts::count("red-body", &[counts::Scored { place, score: proposal, number: 1 }], &[]);
//! ```
//!
//! Who wants unconfirmed fish counted says so, by [`count_with_proposed`], and the result says so too.

mod left_out;

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;
use serde::Serialize;

use crate::score::Confirmed;
use crate::sheet::{NOT_SHOWN, UNDECIDED};
use crate::stats::Interval;
use crate::stats::interval::clopper_pearson;
use crate::units::Sex;

pub use left_out::{Excluded, Why};

/// Two-sided confidence of the intervals.
pub const CONFIDENCE: f64 = 0.95;

/// Where a fish was counted.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct Place {
    /// The cross.
    pub cross: String,
    /// The brood.
    pub brood: String,
    /// The day of the sitting; `None` for a count out of a notebook.
    pub sitting: Option<Date>,
    /// The fish's sex, where a person said so.
    pub sex: Option<Sex>,
}

impl Place {
    /// Cross and brood, which name a brood for good.
    fn of_brood(&self) -> (&str, &str) {
        (&self.cross, &self.brood)
    }
}

/// Fish of one confirmed class.
#[derive(Debug, Clone, PartialEq)]
pub struct Scored {
    /// Where.
    pub place: Place,
    /// What a person said.
    pub score: Confirmed,
    /// How many fish: 1 for a fish in a photo.
    pub number: u32,
}

/// Fish of one proposed class that nobody confirmed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Suggested {
    /// Where.
    pub place: Place,
    /// The class that the rules suggest.
    pub class: String,
    /// How many.
    pub number: u32,
}

/// Fish that are in no class.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Open {
    /// Where.
    pub place: Place,
    /// Why.
    pub why: Why,
    /// How many.
    pub number: u32,
}

/// How many of one class, with the share of the same cross, brood, sitting and sex.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Row {
    /// Where.
    #[serde(flatten)]
    pub place: Place,
    /// The class.
    pub class: String,
    /// Fish that a person confirmed.
    pub confirmed: u32,
    /// Unconfirmed fish, counted because it was asked for.
    pub proposed: u32,
    /// All counted fish of this cross, brood, sitting and sex.
    pub of: u32,
    /// Share of the class among them, 0…1.
    pub share: f64,
    /// Lower end of the exact (Clopper–Pearson) 95 % interval of the share.
    pub low: f64,
    /// Its upper end.
    pub high: f64,
    /// Fish of this place (the unsexed included) that are still open.
    pub open: u32,
    /// The share if no open fish were of this class.
    pub least: f64,
    /// The share if all open fish were of this class.
    pub most: f64,
}

/// The counts of one axis.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Counts {
    /// `broodhue.counts/1`.
    pub schema: &'static str,
    /// The axis.
    pub axis: String,
    /// Whether unconfirmed fish are counted in `share`, because it was asked for.
    pub includes_proposed: bool,
    /// One row a class and place, in the order of cross, brood, sitting and sex.
    pub rows: Vec<Row>,
    /// Who is in no row.
    pub excluded: Excluded,
    /// What a reader should know.
    pub warnings: Vec<String>,
}

/// Counts confirmed scores of one axis. Scores of another axis, and those that are undecided or not shown, are not in a
/// row; `open` says where the others are.
pub fn count(axis: &str, scored: &[Scored], open: &[Open]) -> Counts {
    tally(axis, scored, &[], open)
}

/// As [`count`], with unconfirmed proposals counted beside the confirmed scores, in a column of their own.
pub fn count_with_proposed(axis: &str, scored: &[Scored], suggested: &[Suggested], open: &[Open]) -> Counts {
    let mut counts = tally(axis, scored, suggested, open);
    counts.includes_proposed = true;
    counts
}

fn tally(axis: &str, scored: &[Scored], suggested: &[Suggested], open: &[Open]) -> Counts {
    let mut numbers: BTreeMap<&Place, BTreeMap<&str, (u32, u32)>> = BTreeMap::new();
    for one in scored.iter().filter(|s| s.score.axis() == axis && s.score.counts() && s.number > 0) {
        numbers.entry(&one.place).or_default().entry(one.score.class()).or_default().0 += one.number;
    }
    for one in suggested.iter().filter(|s| s.class != UNDECIDED && s.class != NOT_SHOWN) {
        numbers.entry(&one.place).or_default().entry(&one.class).or_default().1 += one.number;
    }
    // A class seen anywhere on this axis is zero elsewhere, and a zero has an interval too.
    let classes: BTreeSet<&str> = numbers.values().flat_map(|c| c.keys().copied()).collect();
    let mut excluded = Excluded::default();
    let mut open_in: BTreeMap<(&str, &str), Vec<&Open>> = BTreeMap::new();
    for one in open {
        excluded.add(one);
        if one.why.still_open() {
            open_in.entry(one.place.of_brood()).or_default().push(one);
        }
    }
    let mut intervals = Intervals::default();
    let mut rows = Vec::new();
    for (place, by_class) in &numbers {
        let of = by_class.values().map(|(c, p)| c + p).sum();
        let open_here = open_in.get(&place.of_brood()).into_iter().flatten();
        let still_open = open_here.filter(|o| concerns(o, place)).map(|o| o.number).sum();
        for class in &classes {
            let (confirmed, proposed) = by_class.get(class).copied().unwrap_or_default();
            let interval = intervals.of(confirmed + proposed, of);
            rows.push(row(place, class, (confirmed, proposed), (of, still_open), interval));
        }
    }
    Counts {
        schema: "broodhue.counts/1",
        axis: axis.to_owned(),
        includes_proposed: false,
        rows,
        excluded,
        warnings: Vec::new(),
    }
}

/// Whether an open fish of the same brood could belong to the fish counted at `place`: it is not of the other sex.
fn concerns(open: &Open, place: &Place) -> bool {
    open.place.sex.is_none() || open.place.sex == place.sex
}

/// Exact intervals, each worked out once: in a large book the same small numbers come again and again.
#[derive(Default)]
struct Intervals(BTreeMap<(u32, u32), Interval>);

impl Intervals {
    fn of(&mut self, number: u32, of: u32) -> Interval {
        let new = || clopper_pearson(u64::from(number), u64::from(of), CONFIDENCE);
        *self.0.entry((number, of)).or_insert_with(new)
    }
}

fn row(
    place: &Place,
    class: &str,
    (confirmed, proposed): (u32, u32),
    (of, open): (u32, u32),
    interval: Interval,
) -> Row {
    let number = confirmed + proposed;
    let share = |x: u32, n: u32| f64::from(x) / f64::from(n);
    Row {
        place: place.clone(),
        class: class.to_owned(),
        confirmed,
        proposed,
        of,
        share: share(number, of),
        low: interval.low,
        high: interval.high,
        open,
        least: share(number, of + open),
        most: share(number + open, of + open),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn place(sex: Option<Sex>) -> Place {
        Place { cross: "K2".into(), brood: "K2-1".into(), sitting: Some(jiff::civil::date(2026, 5, 2)), sex }
    }

    fn scored(class: &str, number: u32) -> Scored {
        let score = Confirmed::said_by("Ann", "red-body", class).unwrap();
        Scored { place: place(None), score, number }
    }

    fn open(why: Why, sex: Option<Sex>, number: u32) -> Open {
        Open { place: place(sex), why, number }
    }

    #[test]
    fn shares_have_exact_intervals() {
        // 9 of 40: 0.108397 to 0.384512, Clopper–Pearson by R's binom.test.
        let counts = count("red-body", &[scored("absent", 9), scored("full", 31)], &[]);
        let row = &counts.rows[0];
        assert_eq!((row.class.as_str(), row.confirmed, row.of), ("absent", 9, 40));
        assert!((row.low - 0.108_397).abs() < 1e-6 && (row.high - 0.384_512).abs() < 1e-6);
        assert!((row.least - row.share).abs() < 1e-12 && (row.most - row.share).abs() < 1e-12);
    }

    #[test]
    fn open_fish_bound_the_share_from_both_sides() {
        let left = [open(Why::Moved, Some(Sex::Male), 6), open(Why::Died, None, 2), open(Why::SetAside, None, 5)];
        let mut males = scored("absent", 5);
        males.place.sex = Some(Sex::Male);
        let counts = count("red-body", &[males, scored("full", 10)], &left);
        let of = |sex| counts.rows.iter().find(|r| r.place.sex == sex && r.confirmed > 0).unwrap();
        // Unsexed places may only hold the two unsexed dead; the males' also the six moved males.
        assert_eq!((of(None).open, of(Some(Sex::Male)).open), (2, 8));
        assert!((of(Some(Sex::Male)).least - 5.0 / 13.0).abs() < 1e-12);
        assert!((of(Some(Sex::Male)).most - 1.0).abs() < 1e-12);
        assert_eq!((counts.excluded.moved, counts.excluded.died, counts.excluded.set_aside), (6, 2, 5));
    }

    #[test]
    fn proposals_stay_in_their_own_column() {
        let suggested =
            ["absent", UNDECIDED].map(|class| Suggested { place: place(None), class: class.into(), number: 1 });
        let counts = count_with_proposed("red-body", &[scored("full", 3)], &suggested, &[]);
        assert!(counts.includes_proposed);
        let numbers: Vec<_> = counts.rows.iter().map(|r| (r.class.as_str(), r.confirmed, r.proposed, r.of)).collect();
        assert_eq!(numbers, [("absent", 0, 1, 4), ("full", 3, 0, 4)]);
    }

    #[test]
    fn a_place_where_nothing_was_counted_has_no_share() {
        assert!(count("red-body", &[scored("absent", 0), scored("full", 0)], &[]).rows.is_empty());
    }

    #[test]
    fn another_axis_and_open_scores_are_in_no_row() {
        let other = Scored { place: place(None), score: Confirmed::said_by("Ann", "base", "grey").unwrap(), number: 1 };
        let counts = count("red-body", &[other, scored(UNDECIDED, 2), scored(NOT_SHOWN, 2)], &[]);
        assert!(counts.rows.is_empty());
    }
}
