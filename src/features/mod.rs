//! One fish's pixels become its features: colours of its parts, shares of its cover, net and glare.

mod colour;
mod cover;
mod limits;
mod measure;
mod name;
mod net;
mod rim;
mod sample;
mod shine;
#[cfg(test)]
mod tests;
mod values;

pub use limits::{HueRange, Limits};
pub use measure::measure;
pub use name::Feature;
pub use net::pixels_for_net;
pub use values::{Estimate, Features, PartColour, ShareErrors, Shares, Strength};
