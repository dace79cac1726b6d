//! The card as control: does the set-up stay where it was, and if not, when did it move?

use std::collections::BTreeSet;

use serde::Serialize;

use crate::stats::Interval;
use crate::stats::slope::{median, theil_sen};

/// Mean length of a month in days.
const MONTH: f64 = 365.25 / 12.0;

/// Most points that drift and changes are sought in: their cost grows with the pairs, half a million here.
const MOST_PAIRED: usize = 1000;

/// The card in one photo.
#[derive(Debug, Clone, PartialEq)]
pub struct CardPoint {
    /// The photo.
    pub photo: String,
    /// Day of the photo, counted from any day.
    pub day: f64,
    /// The quantity under control, e.g. the mean CIEDE2000 of the card's patches from where they were at first.
    pub value: f64,
    /// Camera, card and tray.
    pub set_up: String,
}

/// A moment from which on the card reads differently.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ChangePoint {
    /// First photo after the change.
    pub photo: String,
    /// Its day.
    pub day: f64,
    /// Median after less median before; `None` when only the set-up's name changed.
    pub shift: Option<f64>,
    /// p of the change (Pettitt 1979); `None` when the set-up itself was changed.
    pub p: Option<f64>,
    /// In words.
    pub because: String,
}

/// The control chart.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Control {
    /// Number of photos.
    pub photos: usize,
    /// Centre line.
    pub mean: f64,
    /// Limits of single values.
    pub limits: Interval,
    /// Photos outside the limits.
    pub outside: Vec<String>,
    /// Theil–Sen drift a month; `None` below two days.
    pub per_month: Option<f64>,
    /// Its 95 % interval; `None` below five photos.
    pub per_month_interval: Option<Interval>,
    /// Changes, in order of time.
    pub changes: Vec<ChangePoint>,
}

/// Individuals chart with moving ranges (Shewhart; limits mean ± 2.66 mean ranges, 2.66 = 3/1.128), drift and changes.
/// `None` below two photos.
pub fn control_chart(points: &[CardPoint]) -> Option<Control> {
    if points.len() < 2 {
        return None;
    }
    let mut points = points.to_vec();
    points.sort_by(|x, y| x.day.total_cmp(&y.day).then_with(|| x.photo.cmp(&y.photo)));
    let values: Vec<f64> = points.iter().map(|p| p.value).collect();
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    let range = values.windows(2).map(|w| (w[1] - w[0]).abs()).sum::<f64>() / (values.len() - 1) as f64;
    let limits = Interval::around(mean, 3.0 / 1.128 * range);
    let mut changes = new_set_ups(&points);
    let few = thinned(&points);
    let (months, means): (Vec<f64>, Vec<f64>) = few.iter().map(|p| (p.day / MONTH, p.value)).unzip();
    let drift = theil_sen(&months, &means, 0.95);
    pettitt(&few, &mut changes);
    changes.sort_by(|x, y| x.day.total_cmp(&y.day));
    Some(Control {
        photos: points.len(),
        mean,
        limits,
        outside: points.iter().filter(|p| !limits.holds(p.value)).map(|p| p.photo.clone()).collect(),
        per_month: drift.map(|d| d.slope),
        per_month_interval: drift.filter(|_| points.len() >= 5).map(|d| d.interval),
        changes,
    })
}

/// Neighbouring points of one set-up averaged, so that no more are left than pairs of them can be looked at; the name and
/// place of the first stands for all of them.
fn thinned(points: &[CardPoint]) -> Vec<CardPoint> {
    let together = points.len().div_ceil(MOST_PAIRED);
    let alike = points.chunk_by(|a, b| a.set_up == b.set_up).flat_map(|part| part.chunks(together));
    alike
        .map(|some| {
            let mean = |of: fn(&CardPoint) -> f64| some.iter().map(of).sum::<f64>() / some.len() as f64;
            CardPoint { day: mean(|p| p.day), value: mean(|p| p.value), ..some[0].clone() }
        })
        .collect()
}

/// Where a camera, card or tray comes in for the first time; going back to one is no news.
fn new_set_ups(points: &[CardPoint]) -> Vec<ChangePoint> {
    let mut met: BTreeSet<&str> = points.iter().take(1).map(|p| p.set_up.as_str()).collect();
    let changed = points.windows(2).filter(|w| met.insert(&w[1].set_up));
    changed
        .map(|w| ChangePoint {
            photo: w[1].photo.clone(),
            day: w[1].day,
            shift: None,
            p: None,
            because: format!("from {} on the set-up is '{}', before it was '{}'", w[1].photo, w[1].set_up, w[0].set_up),
        })
        .collect()
}

/// Pettitt's (1979) rank test for one change, applied again to either part while it finds one at p < 0.01 (a level that
/// keeps a whole chart near 5 %).
fn pettitt(points: &[CardPoint], found: &mut Vec<ChangePoint>) {
    let n = points.len();
    if n < 6 {
        return;
    }
    let (mut u, mut best) = (0.0f64, (0usize, 0.0f64));
    for t in 0..n - 1 {
        u += points.iter().map(|p| f64::from(points[t].value.total_cmp(&p.value) as i8)).sum::<f64>();
        if u.abs() > best.1 {
            best = (t + 1, u.abs());
        }
    }
    let size = n as f64;
    let p = (2.0 * (-6.0 * best.1.powi(2) / (size.powi(3) + size.powi(2))).exp()).min(1.0);
    if p >= 0.01 {
        return;
    }
    let (before, after) = points.split_at(best.0);
    let middle = |part: &[CardPoint]| median(&mut part.iter().map(|p| p.value).collect::<Vec<_>>());
    let shift = middle(after).zip(middle(before)).map(|(a, b)| a - b);
    found.push(ChangePoint {
        photo: after[0].photo.clone(),
        day: after[0].day,
        shift,
        p: Some(p),
        because: format!(
            "from {} on the card reads differently (shift {:.1}, p {}): was the lamp, the phone or the tray changed?",
            after[0].photo,
            shift.unwrap_or(f64::NAN),
            crate::units::p_value(p)
        ),
    });
    pettitt(before, found);
    pettitt(after, found);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::random::Random;

    fn chart(values: impl Iterator<Item = f64>) -> Vec<CardPoint> {
        let point =
            |(i, value)| CardPoint { photo: format!("p{i}"), day: i as f64 * 10.0, value, set_up: "phone".into() };
        values.enumerate().map(point).collect()
    }

    #[test]
    fn a_new_lamp_is_found_at_its_photo() {
        let mut random = Random::new(3);
        let points = chart((0..24).map(|i| if i < 14 { 1.0 } else { 3.0 } + 0.2 * random.normal()));
        let control = control_chart(&points).unwrap();
        assert_eq!(control.changes.len(), 1, "{:?}", control.changes);
        assert_eq!(control.changes[0].photo, "p14");
        assert!((control.changes[0].shift.unwrap() - 2.0).abs() < 0.3);
    }

    #[test]
    fn a_steady_drift_shows_its_pace_and_an_outlier_its_name() {
        let points = chart((0..10).map(|i| 1.0 + 0.1 * f64::from(i) + if i == 5 { 6.0 } else { 0.0 }));
        let control = control_chart(&points).unwrap();
        assert!((control.per_month.unwrap() - 0.1 * MONTH / 10.0).abs() < 1e-9);
        assert_eq!(control.outside, ["p5"]);
    }

    #[test]
    fn a_long_chart_finds_the_same_change_in_averaged_points() {
        let mut random = Random::new(5);
        let points = chart((0..5000).map(|i| if i < 3000 { 1.0 } else { 3.0 } + 0.3 * random.normal()));
        assert_eq!(thinned(&points).len(), 1000);
        let control = control_chart(&points).unwrap();
        assert_eq!((control.photos, control.changes.len()), (5000, 1), "{:?}", control.changes);
        assert_eq!(control.changes[0].photo, "p3000");
        assert_eq!(thinned(&points[..1000]), &points[..1000]);
    }

    #[test]
    fn a_steady_card_gives_no_alarm() {
        let false_alarms = (0..200)
            .filter(|seed| {
                let mut random = Random::new(*seed);
                let points = chart((0..30).map(|_| random.normal()));
                !control_chart(&points).unwrap().changes.is_empty()
            })
            .count();
        assert!(false_alarms <= 10, "{false_alarms} of 200");
    }

    #[test]
    fn another_phone_is_named() {
        let mut points = chart([1.0, 1.1, 1.0].into_iter());
        points[2].set_up = "new phone".into();
        assert!(control_chart(&points).unwrap().changes[0].because.contains("new phone"));
        points.extend(chart([1.0].into_iter()).into_iter().map(|p| CardPoint { day: 90.0, ..p }));
        assert_eq!(control_chart(&points).unwrap().changes.len(), 1, "the old phone again is no change");
        assert!(control_chart(&points[..1]).is_none());
    }
}
