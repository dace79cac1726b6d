//! Lighter or not, and is the line getting lighter: repeatability of a set-up, disputes between fish and groups, groups
//! within a brood, generations, and the card as control.
//!
//! Fish of one brood are not independent, nor are ten pictures of one evening; every answer names the unit that was
//! counted as one.

mod age;
mod compare;
mod conditions;
mod contrast;
mod control;
mod groups;
mod overlap;
mod part;
mod reading;
mod repeat;
mod response;
mod side;
mod spec;
mod trend;
mod words;

pub use compare::{Comparison, Permitted, SideReport, Verdict, compare};
pub use conditions::{Conditions, floor_word};
pub use control::{CardPoint, ChangePoint, Control, control_chart};
pub use groups::{PalerAndClass, TwoGroups, paler_and_class, two_groups};
pub use overlap::{NamedReadings, all_of, check_apart};
pub use part::{Part, Seen, feature_named, reading};
pub use reading::{Channel, Reading};
pub use repeat::{Basis, Repeat, SamePhoto, SetUp, Spread, card_readings, repeatability};
pub use response::Heritability;
pub use side::Unit;
pub use spec::{Named, side as named_side};
pub use trend::{BroodPoint, Generation, Slopes, Trend, TrendInput, trend};
