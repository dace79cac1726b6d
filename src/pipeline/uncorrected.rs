//! What a measurement comes to before anything is mended by hand: kept, it makes mending a matter of moments, because a
//! correction changes single outlines and neither card, floor nor the other fish.

use super::{FishReport, Given, MeasureOptions, Measured, calibrate, fish_reports, told};
use crate::calibrate::{CalibratedPhoto, Calibration};
use crate::card::Search;
use crate::error::Result;
use crate::fish::{self, FishOptions, Found};
use crate::floor::Floor;
use crate::photo::Photo;
use crate::sheet::Sheet;
use crate::units::View;

/// One photo measured without its corrections.
#[derive(Debug, Clone)]
pub struct Uncorrected {
    photo: String,
    sheet: String,
    options: MeasureOptions,
    search: Search,
    floor: Floor,
    calibration: Calibration,
    found: Found,
    fish: Vec<FishReport>,
}

impl Uncorrected {
    /// Measures a photo, the corrections among the options left out.
    ///
    /// # Errors
    /// As [`super::measure`].
    pub fn measure(photo: &Photo, given: Given<'_>, options: &MeasureOptions) -> Result<Self> {
        let options = without_corrections(options);
        let (search, calibrated) = calibrate(photo, given.empty, &options)?;
        let found = fish::find(&super::scene(&calibrated), &options.fish);
        let (fish, _) = fish_reports(&calibrated, &found.regions, &[], given.sheet, &options);
        let CalibratedPhoto { floor, calibration, .. } = calibrated;
        let (photo, sheet) = (photo.hash.clone(), given.sheet.hash.clone());
        Ok(Self { photo, sheet, options, search, floor, calibration, found, fish })
    }

    /// Whether this is what photo, sheet and options come to.
    pub fn is_of(&self, photo: &Photo, sheet: &Sheet, options: &MeasureOptions) -> bool {
        self.photo == photo.hash && self.sheet == sheet.hash && self.options == without_corrections(options)
    }

    /// The photo with its colours; `photo` is the one that was measured.
    pub fn calibrated<'a>(&self, photo: &'a Photo) -> CalibratedPhoto<'a> {
        CalibratedPhoto::new(photo, self.search.card.clone(), self.floor.clone(), self.calibration.clone())
    }

    /// What [`super::measure`] says of the same photo and sheet with these options, corrections included.
    pub fn corrected<'a>(&self, photo: &'a Photo, given: Given<'_>, options: &MeasureOptions) -> Measured<'a> {
        let calibrated = self.calibrated(photo);
        let FishOptions { view, corrections, .. } = &options.fish;
        let scene = super::scene(&calibrated);
        let found = fish::correct(&scene, self.found.clone(), corrections, view.unwrap_or(View::Above));
        told(&self.search, calibrated, found, &self.fish, given, options)
    }
}

fn without_corrections(options: &MeasureOptions) -> MeasureOptions {
    let fish = FishOptions { corrections: Vec::new(), ..options.fish.clone() };
    MeasureOptions { fish, ..options.clone() }
}
