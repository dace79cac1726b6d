//! Medians, shares and classes from a fish's visible pixels.

use broodhue::colour::{Lab, chroma};

use super::fish::Seen;
use super::{FishTruth, Shares};
use crate::common::render::fish::Part;

/// The share of each part's pixels for which `f` holds.
pub(super) fn shares(all: &[&Seen], f: &dyn Fn(&Seen) -> bool) -> Shares {
    let of = |parts: &[Part]| {
        let members: Vec<_> = all.iter().filter(|s| parts.contains(&s.0)).collect();
        members.iter().filter(|s| f(s)).count() as f64 / members.len().max(1) as f64
    };
    Shares { trunk: of(&[Part::Trunk]), finnage: of(&[Part::Finnage]), fish: of(&[Part::Trunk, Part::Finnage]) }
}

/// Median of L*, a* and b*, each on its own.
pub(super) fn median(colours: Vec<Lab>) -> Option<Lab> {
    let middle = |f: fn(&Lab) -> f64| {
        let mut v: Vec<f64> = colours.iter().map(f).collect();
        v.sort_by(f64::total_cmp);
        v[v.len() / 2]
    };
    (!colours.is_empty()).then(|| Lab::new(middle(|c| c.l), middle(|c| c.a), middle(|c| c.b)))
}

/// Classes of the starting sheet, by its own limits on the true numbers.
pub(super) fn classes(f: &FishTruth, grey: bool) -> Vec<(&'static str, &'static str)> {
    let three = |share: f64| {
        if share > 0.15 {
            "full"
        } else if share >= 0.03 {
            "reduced"
        } else {
            "absent"
        }
    };
    let covers = [("red", f.red.trunk), ("orange", f.orange.trunk), ("yellow", f.yellow.trunk)];
    let strong: Vec<_> = covers.iter().filter(|c| c.1 >= 0.30).collect();
    let pale = covers.iter().all(|c| c.1 < 0.03) && f.trunk.is_some_and(|l| l.l >= 77.0 && chroma(l) <= 14.0);
    let body = match strong.as_slice() {
        [] if pale => "white",
        [] => "none yet",
        [one] => one.0,
        _ => "mixed",
    };
    let yellow = f.yellow.fish + f.orange.fish >= 0.05;
    vec![
        ("base", if grey { "grey" } else { "blond" }),
        ("body-colour", body),
        ("red-body", three(f.red.trunk)),
        ("red-finnage", three(f.red.finnage)),
        ("yellow", if yellow { "present" } else { "absent" }),
    ]
}
