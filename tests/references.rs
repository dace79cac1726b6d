#![allow(clippy::unwrap_used, reason = "a test may panic")]
//! Checks against numbers from outside the project, each naming its source.

#[path = "reference/colour.rs"]
mod colour;
