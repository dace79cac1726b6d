//! The words of a comparison: the unit, the sentence a club judge can read out, the cautions.

use std::collections::BTreeSet;

use super::compare::{Comparison, JUST_NOTICEABLE, Verdict};
use super::reading::Reading;
use super::repeat::Basis;
use super::side::{Unit, distinct};
use crate::stats::student::Ranged;

/// The unit in words.
pub(super) fn unit(a: &[Reading], b: &[Reading], units: [Unit; 2], same_brood: bool) -> String {
    let photos = distinct(a.iter().chain(b).map(|r| r.photo.as_str()));
    let place = if photos == 1 { "within one photo" } else { "across photos" };
    match units {
        [Unit::Reading, Unit::Reading] => format!("two fish {place}"),
        [Unit::Brood, Unit::Brood] => "broods".to_owned(),
        [Unit::Fish, Unit::Fish] if same_brood && photos > 1 => "fish within one brood".to_owned(),
        [Unit::Fish, Unit::Fish] => format!("fish {place}"),
        [x, y] => format!("{} against {} {place}", word(x), word(y)),
    }
}

fn word(unit: Unit) -> &'static str {
    match unit {
        Unit::Reading => "one fish",
        Unit::Fish => "fish",
        Unit::Brood => "broods",
    }
}

/// Said where photos were read with different sheets.
pub(super) const DIFFERENT_SHEETS: &str = "different sheets: the trunk's colour does not stand on their limits, but ground, \
     fins and shares do; measure the photos again under one sheet to compare those";

/// What the cards of the photos, and the sheets they were read with, leave open.
pub(super) fn photo_cautions(a: &[Reading], b: &[Reading]) -> Vec<String> {
    let all = || a.iter().chain(b);
    let bare: BTreeSet<&str> = all().filter(|r| r.card.is_none()).map(|r| r.photo.as_str()).collect();
    let cards: BTreeSet<&str> = all().filter_map(|r| r.card.as_deref()).collect();
    let mut out = Vec::new();
    if !bare.is_empty() {
        let names = bare.into_iter().collect::<Vec<_>>().join(", ");
        out.push(format!(
            "no usable card in {names}: its colours are the camera's own guess, which widens the interval"
        ));
    }
    if cards.len() > 1 {
        let names = cards.into_iter().collect::<Vec<_>>().join(", ");
        out.push(format!("different cards ({names}): an error in the published values of one of them does not cancel"));
    }
    let sheets: BTreeSet<&str> = all().filter_map(|r| r.sheet.as_deref()).collect();
    if sheets.len() > 1 {
        out.push(DIFFERENT_SHEETS.to_owned());
    }
    out
}

/// The answer in one breath: verdict, number, what kind of difference, on what it rests, and what would settle it.
pub(super) fn because(c: &Comparison) -> String {
    let (a, b, d) = (&c.a.name, &c.b.name, &c.lightness);
    let head = match c.verdict {
        Verdict::Lighter => format!("{a} is lighter than {b} by {}", amount(d)),
        Verdict::Darker => {
            let turned = Ranged { value: -d.value, low: -d.high, high: -d.low };
            format!("{a} is darker than {b} by {}", amount(&turned))
        }
        Verdict::NotToldApart => {
            format!("{a} and {b} are not told apart in lightness: the difference is {}", amount(d))
        }
    };
    let mut parts = vec![head, colour(c), sight(c), rests_on(c)];
    parts.extend(settle(c));
    parts.join("; ")
}

fn amount(d: &Ranged) -> String {
    format!("{:.1} L* (95 % interval {:.1} to {:.1})", d.value, d.low, d.high)
}

/// "Lighter" and "less yellow" are two things, and are said apart.
fn colour(c: &Comparison) -> String {
    let (b, yellow) = (&c.b.name, &c.yellow);
    let numbers = format!("b* differs by {:.1}, {:.1} to {:.1}", yellow.value, yellow.low, yellow.high);
    match (yellow.high < 0.0, yellow.low > 0.0, c.verdict) {
        (true, _, Verdict::Lighter) => format!("it is also less yellow ({numbers})"),
        (true, _, _) => format!("but it is less yellow than {b} ({numbers}), which the eye may take for lighter"),
        (_, true, _) => format!("it is yellower than {b} ({numbers})"),
        _ => format!("no difference in yellow is shown ({numbers})"),
    }
}

fn sight(c: &Comparison) -> String {
    let answer = match c.visible {
        Some(true) => "a viewer would see a difference",
        Some(false) => "a viewer would see no difference",
        None => "whether a viewer would see a difference cannot be told from these photos",
    };
    format!(
        "{answer} (the colours are {:.1} CIELAB units apart, {:.1} to {:.1}; one just-noticeable difference is \
         {JUST_NOTICEABLE}, Mahy and others 1994)",
        c.distance.value, c.distance.low, c.distance.high
    )
}

fn rests_on(c: &Comparison) -> String {
    let error = match c.basis {
        Basis::Repeats => "the error comes from repeated photos in this set-up",
        Basis::Calibration => "no repeated photos of this set-up: the calibration's error stands in",
    };
    let claim = match c.units {
        [Unit::Reading, Unit::Reading] => "this speaks of these two fish, not of their lines",
        [Unit::Brood, Unit::Brood] => "broods counted as one each, so this speaks of the lines",
        _ => "this speaks of these very fish and broods; a claim about lines needs two broods a side",
    };
    format!("{error}; {claim}")
}

fn settle(c: &Comparison) -> Option<String> {
    if c.verdict != Verdict::NotToldApart {
        return None;
    }
    let what = match c.units {
        [Unit::Reading, Unit::Reading] => "photo",
        [Unit::Brood, _] | [_, Unit::Brood] => "brood",
        _ => "fish",
    };
    Some(match c.more_needed {
        Some(n) => {
            let plural = if n == 1 || what == "fish" { "" } else { "s" };
            format!("if the difference seen is the true one, {n} more {what}{plural} a side would settle it")
        }
        None => "the difference seen is too small for any reasonable number of further photos to settle".to_owned(),
    })
}
