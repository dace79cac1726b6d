//! Is A lighter than B: differences with intervals, and a verdict.

use std::collections::BTreeSet;

use serde::Serialize;

use super::contrast::{Contrast, contrast, side_variance};
use super::reading::{Channel, Reading};
use super::repeat::{Basis, SetUp};
use super::side::{Unit, UnitMean, distinct, pooled, unit_means, unit_of};
use super::words;
use crate::colour::{Lab, ciede2000};
use crate::error::{Error, Result};
use crate::stats::interval::normal_quantile;
use crate::stats::repeatability::DETECTABLE;
use crate::stats::student::{Estimate, Ranged, mean, satterthwaite, t_critical};

/// One just-noticeable difference in CIELAB units: Mahy, Van Eycken & Oosterlinck 1994, Color Res. Appl. 19:105-121.
pub(super) const JUST_NOTICEABLE: f64 = 2.3;

/// Verdict on L*: of A against B.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Verdict {
    /// A is lighter.
    #[serde(rename = "lighter")]
    Lighter,
    /// A is darker.
    #[serde(rename = "darker")]
    Darker,
    /// The interval of the difference holds zero.
    #[serde(rename = "not told apart")]
    NotToldApart,
}

/// What the person explicitly allows.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Permitted {
    /// Compare fish over floors of different colour.
    pub across_floors: bool,
    /// Compare a view from above with one from the side.
    pub across_views: bool,
}

/// One side in the output.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SideReport {
    /// As the person named it.
    pub name: String,
    /// Number of fish.
    pub fish: usize,
    /// Number of broods known.
    pub broods: usize,
    /// Number of photos.
    pub photos: usize,
    /// Mean L*.
    pub lightness: f64,
    /// Its standard error, the calibration's included.
    pub se: f64,
    /// Mean b*.
    pub b: f64,
    /// Mean chroma.
    pub chroma: f64,
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Comparison {
    /// First side.
    pub a: SideReport,
    /// Second side.
    pub b: SideReport,
    /// Difference of L*, A less B.
    pub lightness: Ranged,
    /// Difference of b*; below zero: less yellow.
    pub yellow: Ranged,
    /// Difference of chroma.
    pub chroma: Ranged,
    /// CIEDE2000 between the two mean colours.
    pub de00: Ranged,
    /// Smallest difference of L* that two single readings of this set-up tell apart (1.96·√2·s).
    pub smallest_detectable: f64,
    /// What `smallest_detectable` rests on.
    pub basis: Basis,
    /// Unit of either side.
    pub units: [Unit; 2],
    /// The unit in words.
    pub unit: String,
    /// ΔE*ab between the two mean colours, in CIELAB units.
    pub distance: Ranged,
    /// Whether that is at least one just-noticeable difference, so that a viewer would see it; `None` where the interval of the distance leaves it open.
    pub visible: Option<bool>,
    /// How many more photos (or fish, or broods) a side would settle it if the difference seen is the true one; `None`
    /// when told apart or when there is nothing to settle.
    pub more_needed: Option<u64>,
    /// Verdict on L*.
    pub verdict: Verdict,
    /// The sentence to read out.
    pub because: String,
    /// What weakens the answer.
    pub cautions: Vec<String>,
}

/// Compares two sides; `setup` is the repeatability of the set-up where there is one.
///
/// # Errors
/// A side without a readable fish; floors or views that differ without permission.
pub fn compare(
    names: [&str; 2],
    a: &[Reading],
    b: &[Reading],
    setup: Option<&SetUp>,
    permitted: Permitted,
) -> Result<Comparison> {
    for (name, side) in names.iter().zip([a, b]) {
        if side.is_empty() {
            return Err(Error::failed(
                name,
                "no fish here has a readable colour",
                "measure it, or compare another part",
            ));
        }
    }
    let mut cautions = check_conditions(a, b, permitted)?;
    cautions.extend(words::photo_cautions(a, b));
    let same_brood = only_brood(a).is_some() && only_brood(a) == only_brood(b);
    let units = [unit_of(a), unit_of(b)];
    let channels = Channel::ALL.map(|c| contrast(a, b, units, c, setup));
    let lightness = channels[0].estimate;
    let verdict = verdict(&lightness);
    let single = single_error(a, b, setup);
    let distance = distance(&channels);
    let mut out = Comparison {
        a: side_report(names[0], a, units[0], setup),
        b: side_report(names[1], b, units[1], setup),
        lightness: lightness.into(),
        yellow: channels[2].estimate.into(),
        chroma: channels[3].estimate.into(),
        de00: de00(&channels),
        smallest_detectable: DETECTABLE * single,
        basis: if setup.is_some() { Basis::Repeats } else { Basis::Calibration },
        units,
        unit: words::unit(a, b, units, same_brood),
        visible: visible(&distance),
        distance,
        more_needed: more_needed(&lightness, units, a, b),
        verdict,
        because: String::new(),
        cautions,
    };
    out.because = words::because(&out);
    Ok(out)
}

fn only_brood(side: &[Reading]) -> Option<&str> {
    let first = side.first()?.brood.as_deref()?;
    side.iter().all(|r| r.brood.as_deref() == Some(first)).then_some(first)
}

/// Fish pale within minutes on a white floor, and a back is not a flank: such comparisons need permission.
fn check_conditions(a: &[Reading], b: &[Reading], permitted: Permitted) -> Result<Vec<String>> {
    let all = || a.iter().chain(b);
    let mut cautions = Vec::new();
    let floors: BTreeSet<&str> = all().filter_map(|r| r.floor.as_deref()).collect();
    if floors.len() > 1 {
        let found = format!("the fish stand on floors of different colour ({})", join(&floors));
        let hint =
            "fish pale within minutes on a white floor; photograph both on the same one, or ask with --across-floors";
        if !permitted.across_floors {
            return Err(Error::failed("", found, hint));
        }
        cautions.push(format!("{found}: fish change their shade with the floor, so the difference may be the floor's"));
    }
    let views: BTreeSet<bool> = all().map(|r| r.view == crate::units::View::Above).collect();
    if views.len() > 1 {
        let found = "one side is seen from above, the other from the side";
        if !permitted.across_views {
            return Err(Error::failed("", found, "photograph both from the same side, or ask with --across-views"));
        }
        cautions.push(format!("{found}: back and flank differ in colour, so the difference may be the view's"));
    }
    Ok(cautions)
}

fn join(names: &BTreeSet<&str>) -> String {
    names.iter().copied().collect::<Vec<_>>().join(", ")
}

fn verdict(lightness: &Estimate) -> Verdict {
    let interval = lightness.interval(0.95);
    match (interval.low > 0.0, interval.high < 0.0) {
        (true, _) => Verdict::Lighter,
        (_, true) => Verdict::Darker,
        _ => Verdict::NotToldApart,
    }
}

/// Error of one single reading of L*: from repeats, else own and calibration together (own alone within one photo).
fn single_error(a: &[Reading], b: &[Reading], setup: Option<&SetUp>) -> f64 {
    if let Some(setup) = setup {
        return setup.of(Channel::Lightness).within;
    }
    let one_photo = distinct(a.iter().chain(b).map(|r| r.photo.as_str())) == 1;
    let variances: Vec<f64> = a
        .iter()
        .chain(b)
        .map(|r| {
            let common = if one_photo { 0.0 } else { r.calibration_variance(Channel::Lightness) };
            r.own_variance(Channel::Lightness) + common
        })
        .collect();
    mean(&variances).unwrap_or(f64::NAN).sqrt()
}

fn side_report(name: &str, side: &[Reading], unit: Unit, setup: Option<&SetUp>) -> SideReport {
    let centre = |channel| pooled(&unit_means(side, unit, channel, None)).value;
    SideReport {
        name: name.to_owned(),
        fish: distinct(side.iter().map(|r| r.fish.as_str())),
        broods: distinct(side.iter().filter_map(|r| r.brood.as_deref())),
        photos: distinct(side.iter().map(|r| r.photo.as_str())),
        lightness: centre(Channel::Lightness),
        se: side_variance(side, unit, Channel::Lightness, setup).sqrt(),
        b: centre(Channel::B),
        chroma: centre(Channel::Chroma),
    }
}

/// CIEDE2000 of the mean colours; its error follows from those of L*, a* and b* through the formula's slopes.
fn de00(channels: &[Contrast; 4]) -> Ranged {
    let lab = |side: fn(&Contrast) -> &UnitMean| [0, 1, 2].map(|i| side(&channels[i]).value);
    let (a, b) = (lab(|c| &c.a), lab(|c| &c.b));
    let at = |shift: [f64; 3]| {
        let moved = Lab::new(a[0] + shift[0], a[1] + shift[1], a[2] + shift[2]);
        ciede2000(moved, Lab::new(b[0], b[1], b[2]))
    };
    let value = at([0.0; 3]);
    let step = 1e-3;
    let parts: Vec<(f64, f64)> = (0..3)
        .map(|i| {
            let mut shift = [0.0; 3];
            shift[i] = step;
            let up = at(shift);
            shift[i] = -step;
            let slope = (up - at(shift)) / (2.0 * step);
            // At equal colours the formula has a kink and the slope vanishes; one step then moves it by one step.
            let slope = if value < step { up / step } else { slope };
            ((slope * channels[i].estimate.se).powi(2), channels[i].estimate.df)
        })
        .collect();
    let (var, df) = satterthwaite(&parts);
    let half = t_critical(0.95, df) * var.sqrt();
    Ranged { value, low: (value - half).max(0.0), high: value + half }
}

/// ΔE*ab of the mean colours. Its interval takes the errors of L*, a* and b* together, whatever the direction: the distance
/// of two like colours is never below zero and grows with their errors, so that the error along it alone would be too narrow.
fn distance(channels: &[Contrast; 4]) -> Ranged {
    let parts: [Estimate; 3] = [0, 1, 2].map(|i| channels[i].estimate);
    let value = parts.iter().map(|e| e.value * e.value).sum::<f64>().sqrt();
    let (var, df) = satterthwaite(&parts.map(|e| (e.se.powi(2), e.df)));
    let half = t_critical(0.95, df) * var.sqrt();
    Ranged { value, low: (value - half).max(0.0), high: value + half }
}

/// Whether the distance lies on one side of one just-noticeable difference.
fn visible(distance: &Ranged) -> Option<bool> {
    match (distance.low >= JUST_NOTICEABLE, distance.high < JUST_NOTICEABLE) {
        (true, _) => Some(true),
        (_, true) => Some(false),
        _ => None,
    }
}

/// More photos of two fish (or fish, or broods of a group) a side, so that the interval of the difference seen would leave
/// zero out: its half-width shrinks with the square root.
fn more_needed(lightness: &Estimate, units: [Unit; 2], a: &[Reading], b: &[Reading]) -> Option<u64> {
    if verdict(lightness) != Verdict::NotToldApart || lightness.value.abs() < 1e-9 {
        return None;
    }
    let has = |side: &[Reading], unit: Unit| match unit {
        Unit::Reading => distinct(side.iter().map(|r| r.photo.as_str())),
        Unit::Fish => distinct(side.iter().map(|r| r.fish.as_str())),
        Unit::Brood => distinct(side.iter().filter_map(|r| r.brood.as_deref())),
    };
    let now = has(a, units[0]).min(has(b, units[1]));
    let goal = now as f64 * (normal_quantile(0.975) * lightness.se / lightness.value).powi(2);
    // With more units the t factor falls towards the normal one: a few rounds settle the number.
    let mut wanted = goal;
    for _ in 0..5 {
        let df = if lightness.df.is_infinite() { f64::INFINITY } else { (2.0 * wanted - 2.0).max(lightness.df) };
        wanted = goal * (t_critical(0.95, df) / normal_quantile(0.975)).powi(2);
    }
    (1..=1000u32).find(|n| f64::from(*n) >= wanted - now as f64).map(u64::from)
}
