//! Drawn photos with known truth, read by the program: how good card, colours, fish, parts and classes are.
//!
//! Quick tests run in a plain `cargo test`. The figures of `docs/validation.md` come from the ignored ones, on seeds
//! nobody tunes on: `cargo test --release --test photos -- --ignored --nocapture`.
#![allow(clippy::unwrap_used, reason = "a test may panic")]
#![allow(clippy::cast_possible_truncation, reason = "pixel places")]

mod common;

use broodhue::calibrate::Calibration;
use broodhue::card::reference::Edition;
use broodhue::card::{self, FindOptions};
use broodhue::colour::LinearRgb;
use broodhue::floor::{self, FloorOptions};
use broodhue::geometry::Point;
use broodhue::photo::{self, Limits, Photo};
use common::figures::tally::{quantile, within};
use common::render::brood::{self, CARD_PITCH, Recipe, Setup};
use common::render::fish::Part;
use common::render::truth::{FishTruth, Truth};

/// The photo as the program gets it: through a JPEG file.
fn photograph(setup: &Setup) -> (Photo, Truth) {
    let shot = setup.draw();
    let photo = photo::read("drawn.jpg", &shot.jpeg(setup.camera.quality), Limits::default()).unwrap();
    (photo, shot.truth)
}

/// Median L* of a fish's true trunk pixels through card and field, as a slow, plain second route to the program's number.
fn plain_reading(photo: &Photo, fish: &FishTruth, lightness: impl Fn(Point, LinearRgb) -> f64) -> f64 {
    let (x0, y0, cols, _) = fish.mask.area;
    let values: Vec<f64> = (0..fish.mask.parts.len())
        .filter(|&i| fish.mask.parts[i] == Some(Part::Trunk))
        .map(|i| (u32::try_from(x0).unwrap() + (i % cols) as u32, u32::try_from(y0).unwrap() + (i / cols) as u32))
        .map(|(x, y)| lightness(Point::new(f64::from(x) + 0.5, f64::from(y) + 0.5), photo.linear(x, y)))
        .collect();
    quantile(&values, 0.5)
}

/// Errors of L* with true outlines: through the program's card, calibration and lighting field.
fn outline_errors(setup: &Setup) -> Option<Vec<f64>> {
    let (photo, truth) = photograph(setup);
    let options = FindOptions { pitch_mm: Some(CARD_PITCH), ..FindOptions::default() };
    let card = card::find(&photo, &options).card?;
    let floor = floor::model(&photo, Some(&card), &FloorOptions::default()).unwrap();
    let calibration = Calibration::from_card(&card, Edition::After2014, &floor.field);
    let read = |f: &FishTruth| plain_reading(&photo, f, |p, v| calibration.lab(floor.field.relight(p, v)).l);
    Some(truth.fish.iter().filter_map(|f| f.trunk.map(|t| read(f) - t.l)).collect())
}

/// With true outlines, a reading through card and field is right to about half a unit: what is left to the finder.
#[test]
#[ignore = "figures: run with --release --ignored --nocapture"]
fn true_outlines_through_card_and_field() {
    for (name, recipe) in [("tidy", Recipe::tidy as fn(u64) -> Recipe), ("hard", Recipe::hard)] {
        let mut all = Vec::new();
        for seed in 1..7 {
            let start = std::time::Instant::now();
            let errors = outline_errors(&brood::setup(&recipe(seed)));
            let abs: Vec<f64> = errors.iter().flatten().map(|e| e.abs()).collect();
            let bias = errors.iter().flatten().sum::<f64>() / abs.len().max(1) as f64;
            println!(
                "{name} {seed}: {} fish, bias {bias:.2}, median |dL| {:.2}, {:?}",
                abs.len(),
                quantile(&abs, 0.5),
                start.elapsed()
            );
            all.extend(errors.into_iter().flatten());
        }
        let abs: Vec<f64> = all.iter().map(|e| e.abs()).collect();
        println!(
            "{name}: median {:.2}, p95 {:.2}, within 1: {:.2}",
            quantile(&abs, 0.5),
            quantile(&abs, 0.95),
            within(&all, 1.0)
        );
    }
}
