//! Which seeds are for tuning and which only for reported figures.
//!
//! Nobody looks at a held-out picture, and no limit or constant of the program is chosen by one: they are drawn only to
//! be counted. Whoever tunes uses [`TUNING`].

use std::ops::Range;

/// First seed of a set: for tuning, or held out.
pub type First = u64;

/// Seeds anybody may look at.
pub const TUNING: First = 0;
/// Seeds that are only counted.
pub const HELD_OUT: First = 900_000;

/// Twelve trays of the main job, every second one hard.
pub fn main_job(first: First) -> Range<u64> {
    first + 200..first + 212
}

/// Twenty-four trays as they really are, over all floors.
pub fn real_trays(first: First) -> Range<u64> {
    first + 400..first + 424
}

/// Twenty such trays sent through a messenger.
pub fn worn_trays(first: First) -> Range<u64> {
    first + 500..first + 520
}

/// Twelve portraits.
pub fn portraits(first: First) -> Range<u64> {
    first + 600..first + 612
}

/// Thirty-four colour trials of a strength: three strengths give more than a hundred photos.
pub fn colour(first: First, strength: u64) -> Range<u64> {
    let from = first + 3000 + 1000 * strength;
    from..from + 34
}
