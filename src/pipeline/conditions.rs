//! What a photo's report keeps so that its fish can be compared with those of another photo.

use super::FishReport;
use crate::calibrate::CalibratedPhoto;
use crate::colour::{Lab, lab_from_xyz, profile_xyz};
use crate::geometry::Point;
use crate::lightness::{Conditions, floor_word};

/// From which share of the tray that the floor's model explains its colour is worth a word (starting value).
const PLAIN_FROM: f64 = 0.5;

/// Camera, card, floor, and the calibration's error at each fish.
pub(super) fn of(calibrated: &CalibratedPhoto<'_>, fish: &[FishReport]) -> Conditions {
    let floor_lab = floor_lab(calibrated);
    Conditions {
        camera: calibrated.photo.camera.clone(),
        card: card_name(calibrated),
        floor: floor_lab.map(|lab| floor_word(lab).to_owned()),
        floor_lab,
        calibration_se: fish.iter().filter_map(|f| Some((f.n, calibration_se(calibrated, f)?))).collect(),
        patches_as_read: calibrated.card.iter().flat_map(|c| &c.patches).map(|p| as_read(p.linear)).collect(),
        sheet: None,
        patches_unseen: calibrated.calibration.read_unseen.iter().map(|(i, lab)| (*i, rounded(*lab))).collect(),
    }
}

fn card_name(calibrated: &CalibratedPhoto<'_>) -> Option<String> {
    calibrated.calibration.fit.as_ref()?;
    let layout = serde_json::to_value(&calibrated.card.as_ref()?.layout).ok()?;
    let layout = layout.as_str()?.to_owned();
    let edition = calibrated.calibration.edition.and_then(|e| serde_json::to_value(e).ok());
    Some(match edition.as_ref().and_then(|e| e.as_str()) {
        Some(edition) => format!("{layout} {edition}"),
        None => layout,
    })
}

/// The bare floor in the middle of the tray, as the card's white there would call it.
fn floor_lab(calibrated: &CalibratedPhoto<'_>) -> Option<[f64; 3]> {
    let floor = &calibrated.floor;
    if floor.plainness < PLAIN_FROM || floor.tray.is_empty() {
        return None;
    }
    let n = floor.tray.len() as f64;
    let centre =
        Point::new(floor.tray.iter().map(|p| p.x).sum::<f64>() / n, floor.tray.iter().map(|p| p.y).sum::<f64>() / n);
    Some(rounded(calibrated.calibration.lab(calibrated.relit(centre, floor.background.at(centre)))))
}

fn calibration_se(calibrated: &CalibratedPhoto<'_>, fish: &FishReport) -> Option<[f64; 3]> {
    let trunk = fish.features.trunk.as_ref().or(fish.features.ground.as_ref())?;
    let error = calibrated.calibration.error_on_fish(Lab::new(trunk.lightness, trunk.a, trunk.b));
    Some([error.l, error.a, error.b])
}

fn as_read(linear: crate::colour::LinearRgb) -> [f64; 3] {
    rounded(lab_from_xyz(profile_xyz(linear)))
}

/// Two decimals: far below what any of these colours is good for.
fn rounded(lab: Lab) -> [f64; 3] {
    [lab.l, lab.a, lab.b].map(|v| (v * 100.0).round() / 100.0)
}
