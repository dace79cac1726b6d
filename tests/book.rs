//! The book through its library calls: records, scores that never move, undo, refusals.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

#[path = "book/common.rs"]
mod common;
#[path = "book/fathers.rs"]
mod fathers;
#[path = "book/left_out.rs"]
mod left_out;
#[path = "book/odd_days.rs"]
mod odd_days;
#[path = "book/origins.rs"]
mod origins;
#[path = "book/paternity.rs"]
mod paternity;
#[path = "book/records.rs"]
mod records;
#[path = "book/safety.rs"]
mod safety;
#[path = "book/scores.rs"]
mod scores;
#[path = "book/side_by_side.rs"]
mod side_by_side;
#[path = "book/sorted.rs"]
mod sorted;
#[path = "book/stays.rs"]
mod stays;
#[path = "book/tables.rs"]
mod tables;
#[path = "book/trouble.rs"]
mod trouble;
