//! Card readings become a fit from camera light to CIELAB with its honest error, and a photo becomes a calibrated one.

mod calibration;
mod model;
mod photo;
mod qr;
mod report;

pub use calibration::Calibration;
pub use photo::CalibratedPhoto;
pub use report::{ColourError, FitReport, Verdict};
