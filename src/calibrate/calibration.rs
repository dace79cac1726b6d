//! Card + lighting field → [`Calibration`].

use super::model::{self, Model};
use super::{ColourError, FitReport, Verdict};
use crate::card::reference::{self, Edition, Reference};
use crate::card::{Card, Layout, LeftOut, PatchReading};
use crate::colour::{Lab, LinearRgb, Xyz, ciede2000, lab_from_xyz, xyz_from_lab};
use crate::floor::LightField;

/// From the file's linear light at the card's place to CIELAB, with its error and what to think of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Calibration {
    model: Model,
    /// The fit's figures; `None` without a usable card.
    pub fit: Option<FitReport>,
    /// How far the colours can be trusted.
    pub verdict: Verdict,
    /// Why the verdict is not better, and what to do; empty when it is good.
    pub reasons: Vec<String>,
    /// Patches that took no part in the fit, by their place on the card.
    pub left_out: Vec<(usize, LeftOut)>,
    /// The published table used; `None` for other cards.
    pub edition: Option<Edition>,
    error: ColourError,
}

impl Calibration {
    /// Fits a card; `edition` matters for the 24-patch chart alone. Readings are taken through the field to the card's
    /// centre first.
    pub fn from_card(card: &Card, edition: Edition, field: &LightField) -> Self {
        let references = reference::of_card(card, edition);
        let mut out = Self::from_references(card, &references, field);
        out.edition = (out.fit.is_some() && card.layout == Layout::Chart24).then_some(edition);
        out
    }

    fn from_references(card: &Card, references: &[Reference], field: &LightField) -> Self {
        let clipped = |p: &PatchReading| p.clipped_share > 0.0;
        let left_out: Vec<_> =
            (0..card.patches.len()).filter(|&i| clipped(&card.patches[i])).map(|i| (i, LeftOut::Clipped)).collect();
        let used: Vec<(LinearRgb, Xyz)> = card
            .patches
            .iter()
            .zip(references)
            .filter(|(p, _)| !clipped(p))
            .map(|(p, r)| (field.relight(p.centre, p.linear), xyz_from_lab(r.lab)))
            .collect();
        let Some(fitted) = model::linear(&used) else {
            return Self { left_out, ..Self::from_profile("too few patches of the card can be read") };
        };
        let difference =
            |m: &Model, (value, xyz): &(LinearRgb, Xyz)| ciede2000(lab_from_xyz(m.xyz(*value)), lab_from_xyz(*xyz));
        let inside: Vec<f64> = used.iter().map(|u| difference(&fitted, u)).collect();
        let outside: Vec<f64> = (0..used.len())
            .filter_map(|i| {
                let mut rest = used.clone();
                let one = rest.remove(i);
                model::linear(&rest).map(|m| difference(&m, &one))
            })
            .collect();
        let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len().max(1) as f64;
        let max = |v: &[f64]| v.iter().copied().fold(0.0, f64::max);
        let fit = FitReport {
            model: fitted.name().to_owned(),
            mean_de00: mean(&inside),
            max_de00: max(&inside),
            loo_mean_de00: mean(&outside),
            loo_max_de00: max(&outside),
        };
        let typical = fit.loo_mean_de00;
        Self {
            model: fitted,
            fit: Some(fit),
            verdict: Verdict::Fair,
            reasons: Vec::new(),
            left_out,
            edition: None,
            error: ColourError { l: typical, a: typical, b: typical },
        }
    }

    /// No usable card: colours as the file's profile says, verdict poor for `reason`.
    pub fn from_profile(reason: impl Into<String>) -> Self {
        Self {
            model: Model::Profile,
            fit: None,
            verdict: Verdict::Poor,
            reasons: vec![reason.into()],
            left_out: Vec::new(),
            edition: None,
            // A camera's own rendering without a card is off by this much: the size of the uncalibrated error on the
            // open chart photographs (docs/validation.md).
            error: ColourError { l: 10.0, a: 8.0, b: 8.0 },
        }
    }

    /// XYZ of linear light read at (or relit to) the card's place.
    pub fn xyz(&self, value: LinearRgb) -> Xyz {
        self.model.xyz(value)
    }

    /// CIELAB of linear light read at (or relit to) the card's place.
    pub fn lab(&self, value: LinearRgb) -> Lab {
        lab_from_xyz(self.xyz(value))
    }

    /// Standard errors of a colour that this calibration gave: the calibration's part alone.
    pub fn error(&self, _lab: Lab) -> ColourError {
        self.error
    }
}
