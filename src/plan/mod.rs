//! The next cross: every possible pair of living fish, what it would tell, what it would give, and what to mind.
//!
//! Pairs are ranked by one of three aims. A pair whose young every mode predicts alike shows 0 bits.

mod information;
mod output;
mod pairs;
pub mod ratios;
mod relation;

pub use information::{BROOD_SIZES, Expectation, information, power};
pub use output::to_json;
pub use pairs::{Aim, Candidate, Pair, Plan, SURPLUS, Setup, next_crosses};
pub use relation::relation;
