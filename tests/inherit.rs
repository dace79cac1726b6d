//! The inheritance analysis as a whole: verdicts, agreement with brute force, calibration, bad input.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

#[path = "common/evidence.rs"]
mod evidence;
#[path = "inherit/verdict.rs"]
mod verdict;
