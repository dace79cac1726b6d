//! Features by name: `trunk.lightness`, `red_share.finnage`, `yellow_share.fish + orange_share.fish`, `net`.

use std::fmt;
use std::str::FromStr;

use super::{Estimate, Features, PartColour, Shares, Strength};
use crate::stats::Interval;
use crate::units;

/// A feature, or a sum of shares, as a sheet or an option names it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Feature {
    terms: Vec<Term>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Term {
    Colour(Part, Quantity),
    Share(Cover, Place),
    RedStrength(Place),
    Net,
    Glare,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Part {
    Trunk,
    Finnage,
    Ground,
    Reflective,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Quantity {
    Lightness,
    A,
    B,
    Chroma,
    Hue,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Cover {
    Red,
    Orange,
    Yellow,
    Black,
    Reflective,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Place {
    Trunk,
    Finnage,
    Fish,
}

/// Chroma, and a* or b* on either side of 0, that no colour reaches: those that a camera can write down stay below half of it.
const FARTHEST: f64 = 500.0;

impl Feature {
    /// The value and standard error on one fish; `None` where a term cannot be seen. Errors of a sum add up without
    /// the square: its terms share limits, so their errors are not independent.
    pub fn read(&self, features: &Features) -> Option<Estimate> {
        self.terms.iter().try_fold(Estimate { value: 0.0, se: 0.0 }, |sum, term| {
            let one = term.read(features)?;
            Some(Estimate { value: sum.value + one.value, se: sum.se + one.se })
        })
    }

    /// Between which values it can lie at all: an interval that is worked out from a spread knows nothing of them.
    pub fn limits(&self) -> Interval {
        match self.terms.first() {
            _ if self.is_share() => Interval::new(0.0, 1.0),
            Some(Term::Colour(_, Quantity::Lightness)) => Interval::new(0.0, 100.0),
            Some(Term::Colour(_, Quantity::Chroma) | Term::RedStrength(_)) => Interval::new(0.0, FARTHEST),
            Some(Term::Colour(_, Quantity::Hue)) => Interval::new(0.0, 360.0),
            _ => Interval::new(-FARTHEST, FARTHEST),
        }
    }

    /// Between which values a measurement can put it: as [`Feature::limits`], but what is brighter than the card's white reads above 100.
    pub fn readable(&self) -> Interval {
        match self.terms.first() {
            Some(Term::Colour(_, Quantity::Lightness)) => Interval::new(0.0, 2.0 * self.limits().high),
            _ => self.limits(),
        }
    }

    /// Every feature that has a name of its own.
    pub fn every() -> Vec<Self> {
        names().into_iter().map(|(_, _, term)| Self { terms: vec![term] }).collect()
    }

    /// Whether it is a share, 0…1.
    pub fn is_share(&self) -> bool {
        matches!(self.terms.first(), Some(Term::Share(..) | Term::Net | Term::Glare))
    }

    /// A value of this feature with one digit more than [`Feature::print`] gives a share.
    pub fn print_fine(&self, value: f64) -> String {
        if self.is_share() { format!("{:.1} %", 100.0 * value) } else { self.print(value) }
    }

    /// A value of this feature as a person reads it: shares in percent.
    pub fn print(&self, value: f64) -> String {
        match self.terms.first() {
            _ if self.is_share() => units::percent(value),
            Some(Term::Colour(_, Quantity::Hue)) => format!("{value:.0}°"),
            _ => format!("{value:.1}"),
        }
    }
}

impl Term {
    fn read(self, f: &Features) -> Option<Estimate> {
        match self {
            Self::Colour(part, quantity) => part.of(f).map(|c| quantity.of(c)),
            Self::Share(cover, place) => {
                let (share, se) = cover.of(f);
                Some(Estimate { value: place.of(share)?, se: place.of(se).unwrap_or(0.0) })
            }
            Self::RedStrength(place) => {
                let of = |strength: Strength| match place {
                    Place::Trunk => strength.trunk,
                    Place::Finnage => strength.finnage,
                    Place::Fish => None,
                };
                Some(Estimate { value: of(f.red_strength)?, se: of(f.red_strength_se).unwrap_or(0.0) })
            }
            Self::Net => Some(Estimate { value: f.net?, se: f.net_se.unwrap_or(0.0) }),
            Self::Glare => Some(Estimate { value: f.glare_share?, se: 0.0 }),
        }
    }
}

impl Part {
    fn of(self, f: &Features) -> Option<PartColour> {
        match self {
            Self::Trunk => f.trunk,
            Self::Finnage => f.finnage,
            Self::Ground => f.ground,
            Self::Reflective => f.reflective,
        }
    }
}

impl Quantity {
    fn of(self, c: PartColour) -> Estimate {
        let (value, se) = match self {
            Self::Lightness => (c.lightness, c.lightness_se),
            Self::A => (c.a, c.a_se),
            Self::B => (c.b, c.b_se),
            Self::Chroma => (c.chroma, c.chroma_se),
            Self::Hue => (c.hue, c.hue_se),
        };
        Estimate { value, se }
    }
}

impl Cover {
    fn of(self, f: &Features) -> (Shares, Shares) {
        match self {
            Self::Red => (f.red_share, f.share_se.red),
            Self::Orange => (f.orange_share, f.share_se.orange),
            Self::Yellow => (f.yellow_share, f.share_se.yellow),
            Self::Black => (f.black_share, f.share_se.black),
            Self::Reflective => (f.reflective_share, f.share_se.reflective),
        }
    }
}

impl Place {
    fn of(self, shares: Shares) -> Option<f64> {
        match self {
            Self::Trunk => shares.trunk,
            Self::Finnage => shares.finnage,
            Self::Fish => shares.fish,
        }
    }
}

/// Every name a term can have, with the words for it.
fn names() -> Vec<(String, String, Term)> {
    let mut all = vec![
        ("net".to_owned(), "net".to_owned(), Term::Net),
        ("glare_share".to_owned(), "glare share".to_owned(), Term::Glare),
    ];
    let parts = [
        ("trunk", "trunk", Part::Trunk),
        ("finnage", "finnage", Part::Finnage),
        ("ground", "ground", Part::Ground),
        ("reflective", "reflective cover", Part::Reflective),
    ];
    let quantities = [
        ("lightness", "lightness", Quantity::Lightness),
        ("a", "a*", Quantity::A),
        ("b", "b*", Quantity::B),
        ("chroma", "chroma", Quantity::Chroma),
        ("hue", "hue", Quantity::Hue),
    ];
    for (part, part_words, p) in parts {
        for (quantity, words, q) in quantities {
            all.push((format!("{part}.{quantity}"), format!("{words} of the {part_words}"), Term::Colour(p, q)));
        }
    }
    let covers = [
        ("red", Cover::Red),
        ("orange", Cover::Orange),
        ("yellow", Cover::Yellow),
        ("black", Cover::Black),
        ("reflective", Cover::Reflective),
    ];
    let places = [
        ("trunk", "the trunk", Place::Trunk),
        ("finnage", "the finnage", Place::Finnage),
        ("fish", "the whole fish", Place::Fish),
    ];
    for (place, words, p) in places {
        for (cover, c) in covers {
            all.push((format!("{cover}_share.{place}"), format!("{cover} share of {words}"), Term::Share(c, p)));
        }
        if p != Place::Fish {
            all.push((format!("red_strength.{place}"), format!("red strength of {words}"), Term::RedStrength(p)));
        }
    }
    all
}

impl FromStr for Feature {
    type Err = String;

    /// Reads a name or names joined by `+`.
    ///
    /// # Errors
    /// A sentence that names the unknown feature and lists the known ones.
    fn from_str(text: &str) -> Result<Self, String> {
        let known = names();
        let term = |name: &str| {
            known.iter().find(|(n, _, _)| n == name).map(|(_, _, t)| *t).ok_or_else(|| {
                let list: Vec<&str> = known.iter().map(|(n, _, _)| n.as_str()).collect();
                format!("there is no feature '{name}'; features are {}", list.join(", "))
            })
        };
        let terms = text.split('+').map(|name| term(name.trim())).collect::<Result<Vec<_>, _>>()?;
        if terms.len() > 1 && !terms.iter().all(|t| matches!(t, Term::Share(..))) {
            return Err(format!("'{text}' adds features that are not shares; only shares can be added"));
        }
        Ok(Self { terms })
    }
}

impl fmt::Display for Feature {
    /// The feature in words: `yellow share of the whole fish plus orange share of the whole fish`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let known = names();
        let words = |t: &Term| known.iter().find(|(_, _, k)| k == t).map_or("", |(_, w, _)| w.as_str());
        let all: Vec<&str> = self.terms.iter().map(words).collect();
        f.write_str(&all.join(" plus "))
    }
}
