#![allow(clippy::unwrap_used, reason = "a test may panic")]
#![allow(clippy::print_stdout, reason = "the table is what a person runs this test for")]
//! Cards on real photographs, where a folder of them is given by `BROODHUE_OPEN_PHOTOS`.
//!
//! The truth (centres of the four corner patches, placed and checked by eye) comes with the photographs.

use std::path::PathBuf;

use broodhue::card::{self, Card, FindOptions};
use broodhue::geometry::Point;
use broodhue::photo::{self, Limits};
use serde_json::Value;

/// How far a corner patch may be from the truth, in units of the pitch: half of a patch's half width, so that what is read
/// lies on the patch.
const TOLERANCE: f64 = 0.25;

/// Of the 21 photographs.
const LEAST_RIGHT: usize = 20;

/// The corner patches: their names in the truth and their places in the chart's order.
const CORNERS: [(&str, usize); 4] =
    [("patch1_dark_skin", 0), ("patch6_bluish_green", 5), ("patch24_black", 23), ("patch19_white", 18)];

/// Largest distance of a corner patch from the truth, in units of the pitch.
fn off(card: &Card, truth: &Value) -> f64 {
    let distance = |(name, i): (&str, usize)| {
        let place: Point = serde_json::from_value(truth["corner_patch_centres_px"][name].clone()).unwrap();
        card.patches[i].centre.distance(place) / truth["pitch_px"].as_f64().unwrap()
    };
    CORNERS.into_iter().map(distance).fold(0.0, f64::max)
}

#[test]
fn cards_are_found_in_place_and_order() {
    let Some(folder) = std::env::var_os("BROODHUE_OPEN_PHOTOS").map(|f| PathBuf::from(f).join("cards")) else {
        println!("skipped: BROODHUE_OPEN_PHOTOS is not set");
        return;
    };
    let truth: Value = serde_json::from_slice(&std::fs::read(folder.join("truth.json")).unwrap()).unwrap();
    let (mut right, mut wrong) = (0, 0);
    println!("{:<36} {:<13} {:>6} {:<11} {:>6}", "photograph", "kind", "pitch", "found as", "off by");
    for photograph in truth["photos"].as_array().unwrap() {
        let name = photograph["file"].as_str().unwrap();
        let bytes = std::fs::read(folder.join(name)).unwrap();
        let photo = photo::read(name, &bytes, Limits::default()).unwrap();
        let search = card::find(&photo, &FindOptions::default());
        let kind = photograph["chart"].as_str().unwrap();
        let pitch = photograph["pitch_px"].as_f64().unwrap();
        match &search.card {
            None => println!("{name:<36} {kind:<13} {pitch:>6.1} not found: {}", search.reason),
            Some(card) => {
                let off = off(card, photograph);
                let good = off < TOLERANCE && card.mirrored == photograph["mirrored"].as_bool().unwrap();
                (right, wrong) = if good { (right + 1, wrong) } else { (right, wrong + 1) };
                let layout = serde_json::to_value(&card.layout).unwrap();
                println!("{name:<36} {kind:<13} {pitch:>6.1} {:<11} {off:>6.3}", layout.as_str().unwrap());
            }
        }
    }
    println!("right {right}, wrong {wrong}");
    assert!(right >= LEAST_RIGHT, "{right} right");
    assert_eq!(wrong, 0);
}
