//! The scoring sheet: features become proposals, each with its class, its confidence and its reasons in words.
//!
//! The sheet is a text file of axes, classes and conditions. A proposal's confidence is the share of the measurement's
//! own error distribution that lies on the class's side of the limits; below the sheet's limit it is [`UNDECIDED`].

mod compare;
mod describe;
mod fit;
mod knobs;
mod propose;
mod text;
mod weigh;

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test may panic")]
mod tests;

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::error::Result;
use crate::features::{Feature, Limits};
use crate::fish::Flag;
use crate::units::View;

pub use compare::{AxisComparison, Stored, compare, same_limits};
pub use describe::describe;
pub use fit::{Confusion, Example, Fit, FittedLimit, fit};
pub use knobs::{Knob, knobs};
pub use propose::{Subject, propose};
pub use text::parse;

/// The class of a proposal that the measurement cannot carry.
pub const UNDECIDED: &str = "undecided";
/// The class of a fish whose sex or age does not show the axis.
pub const NOT_SHOWN: &str = "not shown";

/// The sheet that comes with the program.
pub const STARTING: &str = include_str!("starting.toml");

/// A scoring sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// What its author calls it.
    pub name: String,
    /// The view it is made for; `None` when it holds for both.
    pub view: Option<View>,
    /// Least confidence of a proposal that is not `undecided`, 0…1.
    pub confidence: f64,
    /// The colour limits of the features.
    pub limits: Limits,
    /// The share of its confidence that a proposal keeps, by the flag the fish carries (`touching`, `cut`, …), 0…1.
    pub doubt: BTreeMap<Flag, f64>,
    /// What is scored, in the order of the file.
    pub axes: Vec<Axis>,
    /// SHA-256 of the canonical text (without comments, blank lines and trailing spaces), in hex: its identity.
    pub hash: String,
    /// The text it was read from.
    pub text: String,
}

impl Sheet {
    /// The starting sheet.
    ///
    /// # Errors
    /// Never for the sheet the program was tested with; the same as [`parse`].
    pub fn starting() -> Result<Self> {
        parse("the starting sheet", STARTING)
    }

    /// The axis of that name.
    pub fn axis(&self, name: &str) -> Option<&Axis> {
        self.axes.iter().find(|a| a.name == name)
    }

    /// Takes in the axes of an older sheet that this one lacks. Name, text and identity stay its own.
    pub fn add_axes_of(&mut self, older: Self) {
        let lacking = older.axes.into_iter().filter(|axis| self.axis(&axis.name).is_none());
        let lacking: Vec<Axis> = lacking.collect();
        self.axes.extend(lacking);
    }
}

/// One thing that is scored.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    /// Its name: `red-body`.
    pub name: String,
    /// Its classes, in the order of the file.
    pub classes: Vec<Class>,
    /// Whether only males show it.
    pub males_only: bool,
    /// Age in days from which it is shown at all.
    pub from_age_days: Option<u32>,
    /// Age in days at or after which a score is final.
    pub settled_age_days: Option<u32>,
}

/// One value of an axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Class {
    /// Its name: `absent`.
    pub name: String,
    /// What must hold for it.
    pub rule: Rule,
}

/// When a class holds.
#[derive(Debug, Clone, PartialEq)]
pub enum Rule {
    /// When all of these hold.
    When(Vec<Condition>),
    /// When no other class of the axis holds.
    Otherwise,
}

/// A condition over features.
#[derive(Debug, Clone, PartialEq)]
pub enum Condition {
    /// A feature on one side of a limit, or between two.
    Limit(Limit),
    /// At least `count` of the conditions hold.
    AtLeast {
        /// How many at least.
        count: usize,
        /// Out of these.
        of: Vec<Condition>,
    },
    /// All of the conditions hold.
    All(Vec<Condition>),
    /// The first condition whose features can be seen decides.
    FirstKnown(Vec<Condition>),
}

/// A feature's limits.
#[derive(Debug, Clone, PartialEq)]
pub struct Limit {
    /// The feature, or sum of shares.
    pub feature: Feature,
    /// It must not be below this, in the feature's unit.
    pub above: Option<f64>,
    /// It must be below this.
    pub below: Option<f64>,
    /// Softness of the limit: a standard deviation that adds to the measurement's own, in the feature's unit.
    pub margin: f64,
}

/// What the rules suggest for one axis of one fish. Only a person makes it a score.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Proposal {
    /// The axis.
    pub axis: String,
    /// One of its classes, or [`UNDECIDED`], or [`NOT_SHOWN`].
    pub class: String,
    /// 0…1, from the measurement's own error; of an undecided one, that of the class it leans to.
    pub confidence: f64,
    /// The reasons in words, with the numbers.
    pub because: Vec<String>,
}
