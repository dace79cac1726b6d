//! Card readings become a fit from camera light to CIELAB with its honest error, and a photo becomes a calibrated one.

use serde::{Deserialize, Serialize};

/// How far a photo's colours can be trusted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Verdict {
    /// Measured, never scored unless asked.
    Poor,
    /// Scored, with wider error.
    Fair,
    /// As good as it gets.
    Good,
}

/// The fit's own figures, in CIEDE2000.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FitReport {
    /// Name of the model chosen by leave-one-out.
    pub model: String,
    /// Mean over the patches in the fit.
    pub mean_de00: f64,
    /// Largest over the patches in the fit.
    pub max_de00: f64,
    /// Leave-one-out mean over all unclipped patches.
    pub loo_mean_de00: f64,
    /// Leave-one-out maximum over all unclipped patches.
    pub loo_max_de00: f64,
}
