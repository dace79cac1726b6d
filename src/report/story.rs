//! What a report is made from.

use crate::counts::Counts;
use crate::lightness::{BroodPoint, CardPoint, Control, Trend};
use crate::units::Sex;

/// A fish in the pedigree drawing.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FishBox {
    /// Its name.
    pub name: String,
    /// Its sex.
    pub sex: Option<Sex>,
    /// The cross it came from; `None` for a founder.
    pub cross: Option<String>,
    /// Its class on the target axis, where known.
    pub class: Option<String>,
}

/// A cross in the pedigree drawing.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CrossBox {
    /// Its name.
    pub name: String,
    /// Sires, by name.
    pub sires: Vec<String>,
    /// Dams, by name.
    pub dams: Vec<String>,
    /// One line below it: its broods and what was counted.
    pub note: String,
}

/// A mode of inheritance in the verdict's table.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ModeLine {
    /// Its name.
    pub mode: String,
    /// Posterior weight over the modes listed, 0…1.
    pub weight: f64,
    /// `allowed`, `disfavoured`, `ruled-out`, `no-bearing`.
    pub verdict: String,
    /// One sentence.
    pub because: String,
}

/// The inheritance verdict.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Inheritance {
    /// The axis.
    pub axis: String,
    /// The axis and the target class.
    pub question: String,
    /// One paragraph.
    pub verdict: String,
    /// How the counts were read: scoring error, modes listed.
    pub read_as: String,
    /// The modes, heaviest first.
    pub modes: Vec<ModeLine>,
    /// What else could have made such counts.
    pub cautions: Vec<String>,
}

/// A cross to make next.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct NextCross {
    /// The male.
    pub sire: String,
    /// The female.
    pub dam: String,
    /// Expected information from 12 fry, in bits.
    pub bits: f64,
    /// Probability of the target class a young, 0…1.
    pub odds: f64,
    /// Fry needed for 95 %.
    pub fry_for_95: Option<u32>,
    /// Inbreeding coefficient of the young.
    pub inbreeding: f64,
    /// What to mind.
    pub warnings: Vec<String>,
}

/// A line over its generations.
#[derive(Debug, Clone, PartialEq)]
pub struct TrendStory {
    /// The line.
    pub line: String,
    /// The feature.
    pub feature: String,
    /// Its broods.
    pub broods: Vec<BroodPoint>,
    /// What they say.
    pub trend: Trend,
}

/// A typical fish of a class.
#[derive(Debug, Clone, PartialEq)]
pub struct Crop {
    /// The class and where the fish was seen.
    pub caption: String,
    /// A JPEG picture.
    pub jpeg: Vec<u8>,
}

/// Everything the page tells.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Story {
    /// Its title.
    pub title: String,
    /// The day it was made.
    pub made_on: String,
    /// Fish that are parents.
    pub fish: Vec<FishBox>,
    /// Crosses, in the order of writing down.
    pub crosses: Vec<CrossBox>,
    /// Counts, one an axis.
    pub counts: Vec<Counts>,
    /// The verdict, where an axis and a target were given.
    pub inheritance: Option<Inheritance>,
    /// Why there is no verdict, where there is none.
    pub no_verdict: Option<String>,
    /// Best pairs first.
    pub next: Vec<NextCross>,
    /// What holds for every one of them.
    pub next_advice: Option<String>,
    /// Lines over their generations.
    pub trends: Vec<TrendStory>,
    /// The card as control, with its photos.
    pub control: Option<(Control, Vec<CardPoint>)>,
    /// Typical fish.
    pub crops: Vec<Crop>,
}
