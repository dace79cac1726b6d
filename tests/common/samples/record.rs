//! The truth of a picture as it is written to `sample-images/truth.json`.

use std::collections::BTreeMap;

use broodhue::colour::Lab;
use broodhue::geometry::Point;
use serde::Serialize;

use crate::common::render::brood::{CARD_PITCH, Setup};
use crate::common::render::truth::{FishTruth, Shares, Truth};

/// One picture.
#[derive(Debug, Serialize)]
pub struct PictureRecord {
    /// File name.
    pub file: String,
    /// SHA-256 of the file.
    pub sha256: String,
    /// Width and height in pixels.
    pub size: [u32; 2],
    /// The brood it shows.
    pub brood: String,
    /// Capture time.
    pub taken: String,
    /// Distance between neighbouring patch centres of the card, millimetres.
    pub card_pitch_mm: f64,
    /// Outer corners of the card, as printed.
    pub card_corners: Vec<[f64; 2]>,
    /// Patch centres, row by row.
    pub card_patches: Vec<[f64; 2]>,
    /// Millimetres a pixel in the middle of the picture.
    pub mm_per_px: f64,
    /// The fish.
    pub fish: Vec<FishRecord>,
}

/// One fish.
#[derive(Debug, Serialize)]
pub struct FishRecord {
    /// Number in the order drawn.
    pub n: usize,
    /// Centre of its visible mask.
    pub centre: [f64; 2],
    /// Box of its visible mask.
    #[serde(rename = "box")]
    pub bounds: [f64; 4],
    /// Visible area.
    pub area_px: usize,
    /// Total length along the body.
    pub length_mm: f64,
    /// Snout to end of the tail stalk.
    pub standard_length_mm: f64,
    /// Median L*, a*, b* of the trunk.
    pub trunk: Option<[f64; 3]>,
    /// Median L*, a*, b* of the finnage as seen.
    pub finnage: Option<[f64; 3]>,
    /// Median L*, a*, b* of the ground.
    pub ground: Option<[f64; 3]>,
    /// Shares of trunk, finnage and fish.
    pub red_share: ShareRecord,
    /// Same.
    pub orange_share: ShareRecord,
    /// Same.
    pub yellow_share: ShareRecord,
    /// Same.
    pub black_share: ShareRecord,
    /// Same.
    pub reflective_share: ShareRecord,
    /// Sex as drawn.
    pub sex: Option<&'static str>,
    /// Axis → class of the starting sheet.
    pub classes: BTreeMap<&'static str, &'static str>,
    /// Touches or overlaps another fish.
    pub touching: bool,
    /// Cut by the picture's edge.
    pub cut: bool,
}

/// A share by part.
#[derive(Debug, Serialize)]
pub struct ShareRecord {
    trunk: f64,
    finnage: f64,
    fish: f64,
}

/// Rounded to `digits` decimals: the last digits of a drawing's truth say nothing.
fn round(v: f64, digits: i32) -> f64 {
    let k = 10_f64.powi(digits);
    (v * k).round() / k
}

fn place(p: Point) -> [f64; 2] {
    [round(p.x, 1), round(p.y, 1)]
}

fn colour(c: Option<Lab>) -> Option<[f64; 3]> {
    c.map(|c| [c.l, c.a, c.b].map(|v| round(v, 1)))
}

fn share(s: Shares) -> ShareRecord {
    let [trunk, finnage, fish] = [s.trunk, s.finnage, s.fish].map(|v| round(v, 3));
    ShareRecord { trunk, finnage, fish }
}

fn fish(n: usize, f: &FishTruth) -> FishRecord {
    FishRecord {
        n,
        centre: place(f.centre),
        bounds: <[f64; 4]>::from(f.bounds).map(|v| round(v, 1)),
        area_px: f.area_px,
        length_mm: round(f.length_mm, 1),
        standard_length_mm: round(f.standard_length_mm, 1),
        trunk: colour(f.trunk),
        finnage: colour(f.finnage),
        ground: colour(f.ground),
        red_share: share(f.red),
        orange_share: share(f.orange),
        yellow_share: share(f.yellow),
        black_share: share(f.black),
        reflective_share: share(f.reflective),
        sex: f.sex.map(|s| s.letter()),
        classes: f.classes.iter().copied().collect(),
        touching: f.touching,
        cut: f.cut,
    }
}

/// The record of one picture.
pub fn picture(sample: &super::Sample, setup: &Setup, truth: &Truth, sha256: String) -> PictureRecord {
    PictureRecord {
        file: sample.file.to_owned(),
        sha256,
        size: [setup.view.width, setup.view.height],
        brood: sample.brood.to_owned(),
        taken: sample.taken.to_owned(),
        card_pitch_mm: CARD_PITCH,
        card_corners: truth.corners.iter().flatten().map(|p| place(*p)).collect(),
        card_patches: truth.patches.iter().map(|p| place(*p)).collect(),
        mm_per_px: round(truth.mm_per_px, 5),
        fish: truth.fish.iter().enumerate().map(|(i, f)| fish(i + 1, f)).collect(),
    }
}
