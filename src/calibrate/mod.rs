//! Card readings become a fit from camera light to CIELAB with its honest error, and a photo becomes a calibrated one.
//!
//! The fit is one model in three sizes (3 × 3 matrix; with root-polynomial terms; with tone curve and shading as well),
//! each followed by a smooth correction of what it leaves; leave-one-out chooses the size.

mod calibration;
mod camera;
mod error;
mod fit;
mod patch;
mod photo;
mod report;
mod residue;
mod solve;
mod suspect;
#[cfg(test)]
#[expect(clippy::cast_possible_truncation, reason = "light is kept as f32")]
mod tests;
mod tone;
mod verdict;

pub use calibration::Calibration;
pub use photo::CalibratedPhoto;
pub use report::{ColourError, FitReport, Verdict};
pub use tone::Tone;
