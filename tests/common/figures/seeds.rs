//! Which seeds are for tuning and which only for reported figures.
//!
//! Nobody looks at a held-out picture, and no limit or constant of the program is chosen by one: they are drawn only to
//! be counted. Whoever tunes uses seeds below [`FIRST_HELD_OUT`].

/// Seeds from here on are held out.
pub const FIRST_HELD_OUT: u64 = 900_000;

/// Held-out seeds of issue "main job": twelve trays, every second one hard.
pub fn main_job() -> impl Iterator<Item = u64> {
    FIRST_HELD_OUT + 200..FIRST_HELD_OUT + 212
}

/// Held-out seeds of trays as they really are: twenty-four over all floors.
pub fn real_trays() -> impl Iterator<Item = u64> {
    FIRST_HELD_OUT + 400..FIRST_HELD_OUT + 424
}

/// Held-out seeds of the colour trials, so many from the given strength on.
pub fn colour(strength: u64, n: u64) -> impl Iterator<Item = u64> {
    let first = FIRST_HELD_OUT + 3000 + 1000 * strength;
    first..first + n
}

/// Held-out seeds of portraits.
pub fn portraits() -> impl Iterator<Item = u64> {
    FIRST_HELD_OUT + 600..FIRST_HELD_OUT + 612
}
