//! The only place that chains the photo steps: photo → card → floor → calibrated colour → fish → features → proposals.

mod batch;
pub mod card_check;
pub mod card_picture;
mod conditions;
mod glyphs;
pub mod keep;
mod kept_line;
pub mod line;
mod open;
mod original;
pub mod preview;
mod report;
mod uncorrected;

pub use batch::in_order;
pub use kept_line::kept_line;
pub use open::{bytes, open};
pub use original::{kept_empty, original};
pub use report::{CardReport, FishReport, PatchLeftOut, PhotoReport, SCHEMA, failure_line};
pub use uncorrected::Uncorrected;

use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::calibrate::{CalibratedPhoto, Calibration, Tone, Verdict};
use crate::card::reference::Edition;
use crate::card::{self, Card, FindOptions, Layout, Search};
use crate::error::{Result, Warning};
use crate::features;
use crate::fish::{self, Correction, FishOptions, Found, Region, Scene, Unmet};
use crate::floor::{self, Floor, FloorOptions};
use crate::geometry::{Point, Quad};
use crate::photo::Photo;
use crate::sheet::{self, Proposal, Sheet, Subject};
use crate::units::View;

/// What a person says about a photo beside the photo itself; kept with its measurements.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct MeasureOptions {
    /// Corners of the card's outer edge, in the order of the card as printed.
    pub card_corners: Option<Quad>,
    /// Millimetres between neighbouring patch centres.
    pub card_pitch_mm: Option<f64>,
    /// Text of a card file that describes the card to look for; without it the 24-patch chart and the tray card.
    pub card: Option<String>,
    /// Which edition of the 24-patch chart it is.
    pub edition: Edition,
    /// Corners of the tray's inside.
    pub tray: Option<Vec<Point>>,
    /// Hash of the photo of the empty tray that it was measured against.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub empty: Option<String>,
    /// View, boxes and corrections of the fish.
    pub fish: FishOptions,
    /// Propose classes although there is no usable card.
    pub without_card: bool,
    /// Propose classes although the verdict is poor.
    pub even_poor: bool,
}

impl MeasureOptions {
    /// As a person said them: corrections without where they met what they speak of.
    #[must_use]
    pub fn as_said(&self) -> Self {
        let corrections = self.fish.corrections.iter().map(Correction::as_said).collect();
        Self { fish: FishOptions { corrections, ..self.fish.clone() }, ..self.clone() }
    }
}

/// What else a measurement looks at.
#[derive(Debug, Clone, Copy)]
pub struct Given<'a> {
    /// The scoring sheet.
    pub sheet: &'a Sheet,
    /// A photo of the same tray from the same place without fish.
    pub empty: Option<&'a Photo>,
}

/// One measured photo with everything that later steps look at: previews, crops, the confirm page.
#[derive(Debug)]
pub struct Measured<'a> {
    /// The values, as `measure --json` prints them.
    pub report: PhotoReport,
    /// Its colours.
    pub calibrated: CalibratedPhoto<'a>,
    /// Its fish, in the order of the report.
    pub regions: Vec<Region>,
    /// Boxes and corrections that met nothing, see [`Found::unmet`].
    pub unmet: Vec<Unmet>,
}

/// Finds the card, models the floor and calibrates: all that a photo needs before its fish are sought.
///
/// # Errors
/// As [`measure`].
pub fn calibrate<'a>(
    photo: &'a Photo,
    empty: Option<&Photo>,
    options: &MeasureOptions,
) -> Result<(Search, CalibratedPhoto<'a>)> {
    let (search, floor) = card_and_floor(photo, empty, options)?;
    let calibration = calibration(&search, &floor, options);
    let calibrated = CalibratedPhoto::new(photo, search.card.clone(), floor, calibration);
    Ok((search, calibrated))
}

fn card_and_floor(photo: &Photo, empty: Option<&Photo>, options: &MeasureOptions) -> Result<(Search, Floor)> {
    let asked = FindOptions {
        corners: options.card_corners,
        pitch_mm: options.card_pitch_mm,
        design: options.card.as_deref().map(|text| card::file::parse("--card", text)).transpose()?,
    };
    if let Some(corners) = &asked.corners {
        card::check_corners(photo, corners, asked.design.as_ref())?;
    }
    let (search, reduced) = rayon::join(|| card::find(photo, &asked), || floor::reduced(photo));
    let told = FloorOptions { tray: options.tray.as_deref(), empty };
    let tone = Tone::of_card(search.card.as_ref(), options.edition);
    let floor = floor::model(photo, reduced, search.card.as_ref(), &|v| tone.scene(v), &told)?;
    Ok((search, floor))
}

fn calibration(search: &Search, floor: &Floor, options: &MeasureOptions) -> Calibration {
    match &search.card {
        Some(card) => Calibration::from_card(card, options.edition, &floor.field),
        None => Calibration::from_profile(search.reason.clone()),
    }
}

/// Measures one photo.
///
/// # Errors
/// Options that do not fit the photo: corners that can be no card's, a tray without area or outside the picture, an
/// empty-tray photo of another size.
pub fn measure<'a>(photo: &'a Photo, given: Given<'_>, options: &MeasureOptions) -> Result<Measured<'a>> {
    let (search, floor) = card_and_floor(photo, given.empty, options)?;
    let card = search.card.as_ref();
    let plane = card.and_then(Card::plane);
    let scene = Scene { photo, floor: &floor, card, plane: plane.as_ref() };
    // Fish are sought in the camera's own light, so the card's colours may be fitted at the same time.
    let (found, calibration) =
        rayon::join(|| fish::find(&scene, &options.fish), || calibration(&search, &floor, options));
    let calibrated = CalibratedPhoto::new(photo, search.card.clone(), floor, calibration);
    Ok(told(&search, calibrated, found, &[], given, options))
}

/// What was found, told. Fish of `known` are not measured again: a number always means the same outline.
fn told<'a>(
    search: &Search,
    calibrated: CalibratedPhoto<'a>,
    found: Found,
    known: &[FishReport],
    given: Given<'_>,
    options: &MeasureOptions,
) -> Measured<'a> {
    let Found { regions, warnings: of_fish, corrections, unmet } = found;
    let empty = given.empty.map(|e| e.hash.clone()).or_else(|| options.empty.clone());
    let fish = FishOptions { corrections, ..options.fish.clone() };
    let options = &MeasureOptions { empty, fish, ..options.clone() };
    let mut warnings = warnings(search, &calibrated);
    let new = |w: &Warning| w.code != "coarse-photo" || warnings.iter().all(|said| said.code != w.code);
    let of_fish: Vec<Warning> = of_fish.into_iter().filter(new).collect();
    warnings.extend(of_fish);
    let (fish, doubts) = fish_reports(&calibrated, &regions, known, given.sheet, options);
    warnings.extend(doubts);
    if let Some(view) = given.sheet.view
        && regions.iter().any(|r| r.view != view)
    {
        warnings.push(other_view(view));
    }
    let card = CardReport::new(search.card.as_ref(), &search.others, &calibrated.calibration);
    let conditions = conditions::of(&calibrated, &fish);
    let report = PhotoReport::new(calibrated.photo, card, fish, conditions, &warnings, (given.sheet, options));
    Measured { report, calibrated, regions, unmet }
}

/// The fish with their features and proposals, and why there are no proposals where there are none.
fn fish_reports(
    calibrated: &CalibratedPhoto<'_>,
    regions: &[Region],
    known: &[FishReport],
    sheet: &Sheet,
    options: &MeasureOptions,
) -> (Vec<FishReport>, Vec<Warning>) {
    let mut warnings = Vec::new();
    let may_propose = may_propose(&calibrated.calibration, options, &mut warnings);
    let one = |region: &Region| {
        if let Some(known) = known.iter().find(|k| k.n == region.n) {
            return known.clone();
        }
        let features = features::measure(calibrated, region, &sheet.limits);
        let proposals = if may_propose { propose(sheet, region, &features) } else { Vec::new() };
        FishReport::new(region, features, proposals)
    };
    (regions.par_iter().map(one).collect(), warnings)
}

/// The scene in which fish are sought.
pub fn scene<'a>(calibrated: &'a CalibratedPhoto<'_>) -> Scene<'a> {
    Scene {
        photo: calibrated.photo,
        floor: &calibrated.floor,
        card: calibrated.card.as_ref(),
        plane: calibrated.plane.as_ref(),
    }
}

/// Proposals for a fish of which only the photo is known; none where the sheet is made for another view.
fn propose(sheet: &Sheet, region: &Region, features: &features::Features) -> Vec<Proposal> {
    if sheet.view.is_some_and(|v| v != region.view) {
        return Vec::new();
    }
    sheet::propose(sheet, features, &Subject { flags: region.flags.clone(), ..Subject::default() })
}

/// Whether the colours may carry proposals; says why not.
fn may_propose(calibration: &Calibration, options: &MeasureOptions, warnings: &mut Vec<Warning>) -> bool {
    let usable = calibration.fit.is_some();
    match (usable, calibration.verdict) {
        (false, _) if !options.without_card => {
            let message = "no usable colour card: colours are read through the file's profile alone, so no class is \
                           proposed; photograph the card beside the fish, or ask for proposals with --without-card";
            warnings.push(Warning::new("no-card", message));
            false
        }
        (false, _) => {
            let message =
                "no usable colour card: colours are read through the file's profile alone, and so are the proposals";
            warnings.push(Warning::new("no-card", message));
            true
        }
        (true, Verdict::Poor) if !options.even_poor => {
            let message =
                "the colours of this photo are poor, so no class is proposed; ask for proposals with --even-poor";
            warnings.push(Warning::new("poor-colour", message));
            false
        }
        (true, _) => true,
    }
}

/// What photo, card and floor have to say.
fn warnings(search: &Search, calibrated: &CalibratedPhoto<'_>) -> Vec<Warning> {
    let mut all = calibrated.photo.warnings.clone();
    let notes = search.card.iter().flat_map(|c: &Card| &c.notes);
    all.extend(notes.map(|n| Warning::new("card", n)));
    if search.card.as_ref().is_some_and(|c| c.layout == Layout::Unknown24) {
        all.push(Warning::new("unknown-card", "the card has 24 patches, but not the known chart's colours"));
    }
    if !search.others.is_empty() {
        let message = format!("{} further cards in the picture; the best one is used", search.others.len());
        all.push(Warning::new("several-cards", message));
    }
    all.extend(calibrated.floor.warnings.iter().cloned());
    all
}

fn other_view(view: View) -> Warning {
    let made_for = match view {
        View::Above => "from above",
        View::Side => "from the side",
    };
    let message = format!("the sheet is made for fish seen {made_for}; the others get no proposals");
    Warning::new("other-view", message)
}
