//! How good the program's reading of drawn photos is: match measured to true fish, gather errors, print them.

pub mod matched;
pub mod measured;
pub mod seeds;
pub mod tally;

pub use matched::pair;
pub use measured::Measured;
pub use tally::Tally;
