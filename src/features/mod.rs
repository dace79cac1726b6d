//! One fish's pixels become its features: colours of its parts, shares of its cover, net and glare.

mod limits;
mod name;
mod values;

pub use limits::{HueRange, Limits};
pub use name::Feature;
pub use values::{Estimate, Features, PartColour, ShareErrors, Shares, Strength};
