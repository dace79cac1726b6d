#![allow(clippy::unwrap_used, reason = "a test may panic")]
#![allow(clippy::cast_possible_truncation, reason = "small numbers read from tables")]
//! Checks against numbers from outside the project, each naming its source.

#[path = "reference/colour.rs"]
mod colour;
#[path = "reference/comparisons.rs"]
mod comparisons;
#[path = "common/evidence.rs"]
mod evidence;
#[path = "reference/goodness_of_fit.rs"]
mod goodness_of_fit;
#[path = "reference/icc.rs"]
mod icc;
#[path = "reference/inherit_examples.rs"]
mod inherit_examples;
#[path = "reference/inherit_ratios.rs"]
mod inherit_ratios;
#[path = "reference/kinship.rs"]
mod kinship;
#[path = "reference/measurement.rs"]
mod measurement;
#[path = "reference/near.rs"]
mod near;
#[path = "reference/shares.rs"]
mod shares;
