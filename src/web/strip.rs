//! The count strip: what this sitting's confirmed scores add up to as they grow, and what a ratio would lead to expect.
//!
//! Expected numbers stay hidden until every fish is scored, unless asked for: who knows that one more pale fish is
//! "needed" sees pale fish. Scoring blind to the expectation is good practice in any count.

use std::collections::BTreeSet;

use maud::{Markup, html};

use crate::book::regions::Region;
use crate::counts::{self, Counts, Place, Scored};
use crate::error::{Error, Result};
use crate::sheet::{NOT_SHOWN, Sheet};
use crate::units::{percent_range, share_percent};

/// A ratio that the breeder expects on one axis: `red-body: full 3, absent 1`.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Ratio {
    pub(super) axis: String,
    pub(super) parts: Vec<(String, f64)>,
}

impl Ratio {
    /// Reads `axis: class number, class number, …`; `None` when it is not of that form or no number is above zero.
    pub(super) fn parse(text: &str) -> Option<Self> {
        let (axis, rest) = text.split_once(':')?;
        let part = |p: &str| {
            let (class, number) = p.trim().rsplit_once(' ')?;
            let number: f64 = number.parse().ok()?;
            (number.is_finite() && number >= 0.0).then(|| (class.trim().to_owned(), number))
        };
        let parts: Vec<_> = rest.split(',').map(part).collect::<Option<_>>()?;
        let sound = parts.iter().map(|p| p.1).sum::<f64>() > 0.0;
        sound.then(|| Self { axis: axis.trim().to_owned(), parts })
    }

    /// Reads a ratio of an axis and of classes that the sheet has, or that fish of the brood were given.
    ///
    /// # Errors
    /// Names what cannot be read, or is none of them, and what there is.
    pub(super) fn read(text: &str, sheet: &Sheet, fish: &[Region]) -> Result<Self> {
        let wrong = |said: String, hint: String| Error::usage("ratio", said, hint);
        let form = "write it as red-body: full 3, absent 1, with a comma between two classes";
        let ratio = Self::parse(text).ok_or_else(|| wrong(format!("“{text}” cannot be read"), form.to_owned()))?;
        let Some(axis) = sheet.axes.iter().find(|a| a.name == ratio.axis) else {
            let axes: Vec<&str> = sheet.axes.iter().map(|a| a.name.as_str()).collect();
            let said = format!("the sheet has no axis “{}”", ratio.axis);
            return Err(wrong(said, format!("its axes are {}", axes.join(", "))));
        };
        let given = fish.iter().filter_map(|r| r.classes.get(&axis.name)).filter(|c| c.counts()).map(|c| c.class());
        let known: BTreeSet<&str> = axis.classes.iter().map(|c| c.name.as_str()).chain(given).collect();
        if let Some((class, _)) = ratio.parts.iter().find(|(class, _)| !known.contains(class.as_str())) {
            let classes: Vec<&str> = known.into_iter().collect();
            let hint = format!("its classes are {}; a comma stands between two of them", classes.join(", "));
            return Err(wrong(format!("{} has no class “{class}”", axis.name), hint));
        }
        Ok(ratio)
    }

    fn share(&self, class: &str) -> f64 {
        let all: f64 = self.parts.iter().map(|p| p.1).sum();
        self.parts.iter().filter(|p| p.0 == class).map(|p| p.1).sum::<f64>() / all
    }
}

/// How many fish of the sitting still want a class on this axis.
fn open(regions: &[Region], axis: &str) -> usize {
    let wants = |r: &&Region| {
        r.set_aside.is_none()
            && !r.classes.contains_key(axis)
            && !r.proposals.iter().any(|p| p.axis == axis && p.class == NOT_SHOWN)
    };
    regions.iter().filter(wants).count()
}

/// What the strip is drawn from.
#[derive(Debug)]
pub(super) struct Tallied<'a> {
    counts: Vec<(Counts, usize, Option<&'a Ratio>)>,
    ask: bool,
}

/// Counts the fish of one sitting; `ask` shows expected numbers before all are scored.
pub(super) fn tallied<'a>(regions: &[Region], sheet: &Sheet, ratio: Option<&'a Ratio>, ask: bool) -> Tallied<'a> {
    let scored: Vec<Scored> = regions
        .iter()
        .filter(|r| r.set_aside.is_none())
        .flat_map(|r| r.classes.values().map(|score| (score.clone(), r.number)))
        .map(|(score, number)| Scored { place: Place::default(), score, number })
        .collect();
    let of = |axis: &str| (counts::count(axis, &scored, &[]), open(regions, axis), ratio.filter(|r| r.axis == axis));
    Tallied { counts: sheet.axes.iter().map(|a| of(&a.name)).collect(), ask }
}

impl Tallied<'_> {
    fn expected(&self, open: usize, ratio: Option<&Ratio>, class: &str, of: u32) -> Option<String> {
        let shown = ratio.filter(|_| open == 0 || self.ask)?;
        Some(format!("{:.1}", shown.share(class) * f64::from(of)))
    }

    /// The strip: the numbers alone, to be taken in at a glance.
    pub(super) fn strip(&self) -> Markup {
        html! {
            @for (counts, open, ratio) in &self.counts {
                dl {
                    dt { (counts.axis) }
                    @for row in counts.rows.iter().filter(|r| r.confirmed > 0) {
                        dd { (row.class) " " strong { (row.confirmed) }
                            @if let Some(e) = self.expected(*open, *ratio, &row.class, row.of) { " (expected " (e) ")" }
                        }
                    }
                    dd.quiet { (open) " to go" }
                    @if ratio.is_some() && *open > 0 && !self.ask { dd.quiet { "expected when all are scored" } }
                }
            }
        }
    }

    /// The same with shares and their intervals, as a table.
    pub(super) fn shares(&self) -> Markup {
        html! {
            table {
                thead { tr {
                    th scope="col" { "Axis" } th scope="col" { "Class" } th scope="col" { "Fish" }
                    th scope="col" { "Share, 95 % interval" } th scope="col" { "Expected" }
                } }
                tbody { @for (counts, open, ratio) in &self.counts {
                    @for row in counts.rows.iter().filter(|r| r.confirmed > 0) { tr {
                        th scope="row" { (counts.axis) } td { (row.class) }
                        td.number { (row.confirmed) " of " (row.of) }
                        td { (share_percent(row.share)) " (" (percent_range(row.low, row.high)) ")" }
                        td { @match self.expected(*open, *ratio, &row.class, row.of) {
                            Some(e) => (e),
                            None if ratio.is_some() => "when all are scored",
                            None => "no ratio set",
                        } }
                    } }
                } }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ratio_is_read_and_shares_add_up() {
        let ratio = Ratio::parse("red-body: full 9, none yet 3, absent 4").unwrap();
        assert_eq!(ratio.axis, "red-body");
        assert!((ratio.share("none yet") - 3.0 / 16.0).abs() < 1e-12);
        assert!((ratio.share("full") + ratio.share("none yet") + ratio.share("absent") - 1.0).abs() < 1e-12);
        for broken in ["", "red-body", "red-body: full", "red-body: full -1", "red-body: full 0", "x: a 1, b NaN"] {
            assert_eq!(Ratio::parse(broken), None, "{broken}");
        }
    }
}
