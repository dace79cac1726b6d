//! The inheritance analysis as a whole: verdicts, agreement with brute force, calibration, bad input.
#![allow(clippy::unwrap_used, reason = "a test may panic")]
#![allow(clippy::print_stdout, reason = "the simulation reports its figures")]

#[path = "inherit/brute_force.rs"]
mod brute_force;
#[path = "inherit/commands.rs"]
mod commands;
#[path = "inherit/dear.rs"]
mod dear;
#[path = "common/evidence.rs"]
mod evidence;
#[path = "inherit/herd.rs"]
mod herd;
#[path = "inherit/lethal.rs"]
mod lethal;
#[path = "inherit/linkage.rs"]
mod linkage;
#[path = "inherit/outcross.rs"]
mod outcross;
#[path = "inherit/simulate.rs"]
mod simulate;
#[path = "inherit/tiny.rs"]
mod tiny;
#[path = "inherit/uncounted.rs"]
mod uncounted;
#[path = "inherit/verdict.rs"]
mod verdict;
