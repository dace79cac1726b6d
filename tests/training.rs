//! Draws what the networks of `src/fish/heads/` are taught on: trays by seeds that are neither tuned on nor held out, many fry among
//! them that touch other fish, and fish with eyes of many sizes. `training/heads.py` and `training/glimpse.py` read them.
#![allow(clippy::unwrap_used, reason = "a test may panic")]
#![allow(clippy::cast_possible_truncation, reason = "places inside of a picture, and light cut to bytes")]

mod common;

use std::fs;
use std::ops::Range;
use std::path::PathBuf;

use broodhue::fish::differences;
use broodhue::geometry::Point;
use broodhue::photo::{self, Limits};
use broodhue::pipeline::{self, MeasureOptions};
use common::render::brood::{self, CARD_PITCH, Recipe};
use common::render::truth::Truth;
use image::{GrayImage, Luma, Rgb, RgbImage};
use rayon::prelude::*;
use serde_json::json;

/// Trays with many fry that touch.
const FRY: Range<u64> = 50_000..50_400;
/// Trays with eyes of many sizes.
const EYES: Range<u64> = 70_000..70_260;
/// Steps of the drawn differences a unit of L*, a* and b*, from the middle grey on.
const SCALES: [f32; 3] = [1.2, 1.5, 1.2];

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("target/training")
}

fn recipe(seed: u64) -> Recipe {
    if FRY.contains(&seed) {
        Recipe { fry: 0.6, touching: 0.5, ..Recipe::real(seed) }
    } else {
        Recipe { large_eyes: true, ..Recipe::real(seed) }
    }
}

/// Which fish is seen at each pixel, from 1 on; 0 is none.
fn owners(truth: &Truth, (width, height): (u32, u32)) -> GrayImage {
    let mut owners = GrayImage::new(width, height);
    for (fish, number) in truth.fish.iter().zip(1..) {
        let (left, top, across, _) = fish.mask.area;
        let seen = fish.mask.parts.iter().enumerate().filter(|(_, part)| part.is_some());
        for (k, _) in seen {
            owners.put_pixel((left as usize + k % across) as u32, (top as usize + k / across) as u32, Luma([number]));
        }
    }
    owners
}

fn draw(seed: u64) {
    let setup = brood::setup(&recipe(seed));
    let shot = setup.draw();
    let photo = photo::read("drawn.jpg", &shot.jpeg(setup.camera.quality), Limits::default()).unwrap();
    let options = MeasureOptions { card_pitch_mm: Some(CARD_PITCH), ..MeasureOptions::default() };
    let (_, calibrated) = pipeline::calibrate(&photo, None, &options).unwrap();
    let scene = pipeline::scene(&calibrated);
    let bytes = |d: &[f32; 3]| Rgb([0, 1, 2].map(|i| (128.0 + d[i] * SCALES[i]).round().clamp(0.0, 255.0) as u8));
    let mut seen = RgbImage::new(photo.width, photo.height);
    seen.pixels_mut().zip(&differences(&scene)).for_each(|(pixel, d)| *pixel = bytes(d));
    let middle = Point::new(f64::from(photo.width) / 2.0, f64::from(photo.height) / 2.0);
    let pair = |p: Point| [p.x, p.y];
    let fish: Vec<_> = (shot.truth.fish.iter())
        .map(|f| {
            let (snout, tail) = f.ends;
            json!({ "snout": pair(snout), "tail": pair(tail), "length_mm": f.length_mm, "touching": f.touching })
        })
        .collect();
    let told = json!({ "mm_per_px": scene.mm_per_px(middle).unwrap_or(shot.truth.mm_per_px), "fish": fish });
    let save = |ending: &str| folder().join(format!("{seed}{ending}"));
    seen.save(save(".png")).unwrap();
    owners(&shot.truth, (photo.width, photo.height)).save(save(".owner.png")).unwrap();
    fs::write(save(".json"), told.to_string()).unwrap();
}

#[test]
#[ignore = "writes a gigabyte into target/training/: cargo test --release --test training -- --ignored"]
fn draw_trays_to_learn_from() {
    fs::create_dir_all(folder()).unwrap();
    FRY.chain(EYES).collect::<Vec<_>>().into_par_iter().for_each(draw);
}
