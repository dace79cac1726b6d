//! The sample pictures: drawn again by one command, and held to what is committed.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

mod common;

use std::fs;
use std::path::PathBuf;

use common::render::brood::{self, Setup};
use common::samples::record::{PictureRecord, picture};
use common::samples::scenario::scenario;
use common::samples::{QUALITY, Sample, all, exif};
use image::ImageEncoder;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("sample-images")
}

fn hex(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect()
}

/// The picture as the file that is committed.
fn file_bytes(sample: &Sample, setup: &Setup) -> Vec<u8> {
    let shot = setup.draw();
    let mut bytes = Vec::new();
    let mut encoder = image::codecs::jpeg::JpegEncoder::new_with_quality(&mut bytes, QUALITY);
    encoder.set_exif_metadata(exif::capture_time(sample.taken)).unwrap();
    encoder.encode_image(&shot.image).unwrap();
    bytes
}

fn truth_json(pictures: &[PictureRecord]) -> Value {
    json!({
        "about": "Drawn, not photographed; the scenario is invented. See README.md for what each value means.",
        "photos": pictures,
    })
}

fn pretty(value: &Value) -> String {
    serde_json::to_string_pretty(value).unwrap() + "\n"
}

/// Draws the sample pictures again. Fails when that changes a committed file, so that somebody looks at it.
#[test]
#[ignore = "writes sample-images/: cargo test --test samples -- --ignored make_samples"]
fn make_samples() {
    let mut changed = Vec::new();
    let mut write = |name: &str, bytes: &[u8]| {
        let path = folder().join(name);
        if fs::read(&path).ok().as_deref() != Some(bytes) {
            fs::write(&path, bytes).unwrap();
            changed.push(name.to_owned());
        }
    };
    let pictures: Vec<PictureRecord> = all()
        .iter()
        .map(|sample| {
            let setup = brood::setup(&sample.recipe);
            let bytes = file_bytes(sample, &setup);
            write(sample.file, &bytes);
            picture(sample, &setup, &setup.truth(), hex(&bytes))
        })
        .collect();
    write("truth.json", pretty(&truth_json(&pictures)).as_bytes());
    write("scenario.json", pretty(&scenario(&pictures)).as_bytes());
    assert!(changed.is_empty(), "changed, look at them before committing: {}", changed.join(", "));
}

/// The committed truth is what the renderer says today, and the committed pictures are those it speaks of.
#[test]
fn committed_truth_is_what_the_renderer_draws() {
    let pictures: Vec<PictureRecord> = all()
        .iter()
        .map(|sample| {
            let setup = brood::setup(&sample.recipe);
            let bytes = fs::read(folder().join(sample.file)).unwrap();
            picture(sample, &setup, &setup.truth(), hex(&bytes))
        })
        .collect();
    let hint = "draw the samples again and look at them: cargo test --test samples -- --ignored make_samples";
    let committed = |name: &str| fs::read_to_string(folder().join(name)).unwrap();
    assert!(committed("truth.json") == pretty(&truth_json(&pictures)), "truth.json differs; {hint}");
    assert!(committed("scenario.json") == pretty(&scenario(&pictures)), "scenario.json differs; {hint}");
}

/// A committed picture shows what the renderer draws today (one of them: drawing all takes long).
#[test]
fn a_committed_picture_is_what_the_renderer_draws() {
    // JPEG and the last digit of the maths may differ between machines by a level here and there.
    const LEVELS: f64 = 1.0;
    let samples = all();
    let sample = samples.last().unwrap();
    let committed = image::open(folder().join(sample.file)).unwrap().to_rgb8();
    let fresh = image::load_from_memory(&file_bytes(sample, &brood::setup(&sample.recipe))).unwrap().to_rgb8();
    assert_eq!(committed.dimensions(), fresh.dimensions());
    let sum: u64 = committed.as_raw().iter().zip(fresh.as_raw()).map(|(a, b)| u64::from(a.abs_diff(*b))).sum();
    assert!((sum as f64 / committed.as_raw().len() as f64) < LEVELS);
}

/// The counts that make the scenario's story: who is red-free in which brood.
#[test]
fn the_pictures_tell_the_story() {
    let expected = [
        ("K1-1.jpg", 16, 0),
        ("K2-1-tray-a.jpg", 13, 3),
        ("K2-1-tray-b.jpg", 12, 3),
        ("K2-1-later.jpg", 20, 6),
        ("K2-2-tray-a.jpg", 14, 3),
        ("K2-2-tray-b-hard.jpg", 12, 4),
        ("K3-1.jpg", 14, 0),
        ("K4-1.jpg", 14, 14),
    ];
    let truth: Value = serde_json::from_str(&fs::read_to_string(folder().join("truth.json")).unwrap()).unwrap();
    for (photo, (file, fish, absent)) in truth["photos"].as_array().unwrap().iter().zip(expected) {
        assert_eq!(photo["file"], file);
        let all = photo["fish"].as_array().unwrap();
        assert_eq!(all.len(), fish, "{file}");
        assert_eq!(all.iter().filter(|f| f["classes"]["red-body"] == "absent").count(), absent, "{file}");
        assert!(all.iter().all(|f| f["touching"] == false && f["cut"] == false), "{file}");
        assert!(all.iter().any(|f| f["sex"] == "m") && all.iter().any(|f| f["sex"] == "f"), "{file}");
    }
    let bytes: u64 = fs::read_dir(folder()).unwrap().map(|e| e.unwrap().metadata().unwrap().len()).sum();
    assert!(bytes <= 5_000_000, "sample-images holds {bytes} bytes; the limit is 5 MB");
}
