//! `card list` and `card check`: any verdict is an answer, in words, as JSON and as a picture.

use std::fs;
use std::path::{Path, PathBuf};

use image::{Rgb, RgbImage};
use serde_json::Value;

use super::{broodhue, outcome};

fn sample(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-images").join(name)
}

/// The chart in the sample with the strongest fall of light, and the picture of its check.
#[test]
fn a_sample_tray_is_checked_and_drawn() {
    let folder = tempfile::tempdir().unwrap();
    fs::copy(sample("K2-2-tray-b-hard.jpg"), folder.path().join("tray.jpg")).unwrap();
    let (out, message, code) =
        outcome(broodhue(folder.path()).args(["card", "check", "tray.jpg", "--json", "--picture", "check.png"]));
    assert_eq!((code, message.as_str()), (0, ""));
    let check: Value = serde_json::from_str(&out).unwrap();
    assert_eq!(check["schema"], Value::from("broodhue.card-check/1"));
    assert_eq!(check["card"]["found"], Value::Bool(true));
    for key in ["layout", "corners", "fit", "verdict", "reasons", "edition", "left_out"] {
        assert!(!check["card"][key].is_null(), "{key}");
    }
    let patches = check["patches"].as_array().unwrap();
    assert_eq!(patches.len(), 24);
    // The chart's first patch and its last, as published.
    assert_eq!((&patches[0]["name"], &patches[23]["name"]), (&Value::from("dark skin"), &Value::from("black")));
    let errors: Vec<f64> = patches.iter().filter_map(|p| p["loo_de00"].as_f64()).collect();
    let mean = errors.iter().sum::<f64>() / errors.len() as f64;
    assert!((mean - check["card"]["fit"]["loo_mean_de00"].as_f64().unwrap()).abs() < 1e-3, "rounded to four decimals");
    let (lowest, highest) = (check["light"]["lowest"].as_f64().unwrap(), check["light"]["highest"].as_f64().unwrap());
    assert!(lowest < highest && lowest > 0.0, "{lowest} {highest}");
    looks_right(&image::open(folder.path().join("check.png")).unwrap().into_rgb8(), &check);
}

/// Light in false colour where the tray is, and dark bars as long as the patches' errors.
fn looks_right(picture: &RgbImage, check: &Value) {
    let coloured = |p: &Rgb<u8>| p.0.iter().max().unwrap() - p.0.iter().min().unwrap() > 20;
    let map_width = 900;
    let share = |x0: u32, x1: u32| {
        let of = (x0..x1).flat_map(|x| (80..picture.height() - 20).map(move |y| (x, y)));
        let (seen, hits) = of.fold((0, 0), |(n, k), at| (n + 1, k + i32::from(coloured(&picture[at]))));
        f64::from(hits) / f64::from(seen)
    };
    assert!(share(20, 20 + map_width) > 0.2, "the field is in false colour");
    let bars_from = map_width + 2 * 20 + 150 + 2 * 20;
    assert!(share(bars_from, picture.width()) < 0.001, "the bars are not");
    let dark = |row: u32| (bars_from..picture.width()).filter(|x| picture[(*x, 80 + row * 20 + 10)].0[0] < 60).count();
    let patches = check["patches"].as_array().unwrap();
    let filled = (0..).zip(patches).filter(|(_, p)| p["left_out"].is_null() && !p["loo_de00"].is_null());
    let per_unit: Vec<f64> = filled
        .map(|(row, p)| (dark(row), p["loo_de00"].as_f64().unwrap()))
        .filter(|(_, de)| *de > 2.0)
        .map(|(pixels, de)| pixels as f64 / de)
        .collect();
    let mean = per_unit.iter().sum::<f64>() / per_unit.len() as f64;
    // A bar is cut to whole pixels; the shortest of these has some twenty.
    assert!(!per_unit.is_empty() && per_unit.iter().all(|v| (v / mean - 1.0).abs() < 0.06), "{per_unit:?}");
}

#[test]
fn words_name_the_patches_and_draw_bars() {
    let folder = tempfile::tempdir().unwrap();
    fs::copy(sample("K4-1.jpg"), folder.path().join("tray.jpg")).unwrap();
    let (out, message, code) = outcome(broodhue(folder.path()).args(["card", "check", "tray.jpg"]));
    assert!(code == 0 && message.lines().count() == 1, "{message}");
    assert!(message.contains("a few minutes only") && message.contains("mains lamps"), "{message}");
    assert!(out.starts_with("tray.jpg: colours "), "{out}");
    for words in ["patches read unseen", "light over the tray", "dark skin", "neutral 5", "█"] {
        assert!(out.contains(words), "{words}: {out}");
    }
}

#[test]
fn a_photo_without_a_card_is_an_answer_too() {
    let folder = tempfile::tempdir().unwrap();
    RgbImage::from_pixel(400, 300, Rgb([140; 3])).save(folder.path().join("plain.png")).unwrap();
    let run = |more: &[&str]| outcome(broodhue(folder.path()).args(["card", "check", "plain.png"]).args(more));
    let (out, message, code) = run(&["--json", "--picture", "check.png"]);
    assert_eq!((code, message.as_str()), (0, ""));
    let check: Value = serde_json::from_str(&out).unwrap();
    assert_eq!((&check["card"]["found"], &check["card"]["verdict"]), (&Value::Bool(false), &Value::from("poor")));
    assert!(check["card"]["fit"].is_null());
    assert!(!check["card"]["reasons"].as_array().unwrap().is_empty());
    assert!(check["patches"].as_array().unwrap().is_empty());
    assert!(image::open(folder.path().join("check.png")).unwrap().width() > 400);
    let (words, _, code) = run(&[]);
    assert_eq!(code, 0);
    assert!(words.contains("(no card)") && words.contains("next time: "), "{words}");
    assert!(words.contains("of that at the floor's middle") && !words.contains("at the card"), "{words}");
}

#[test]
fn a_photo_that_is_not_there_and_a_picture_that_cannot_be_written_are_failures() {
    let folder = tempfile::tempdir().unwrap();
    RgbImage::from_pixel(200, 150, Rgb([140; 3])).save(folder.path().join("plain.png")).unwrap();
    let (_, message, code) = outcome(broodhue(folder.path()).args(["card", "check", "none.jpg"]));
    assert_eq!(code, 1);
    assert!(message.contains("none.jpg"), "{message}");
    let picture = ["card", "check", "plain.png", "--picture", "nowhere/check.png"];
    let (out, message, code) = outcome(broodhue(folder.path()).args(picture));
    assert_eq!((code, out.as_str()), (1, ""));
    assert!(message.contains("hint"), "{message}");
    let over = ["card", "check", "plain.png", "--picture", "./plain.png"];
    let (_, message, code) = outcome(broodhue(folder.path()).args(over));
    assert_eq!(code, 2, "{message}");
    assert!(message.contains("is the photo itself, which would be lost"), "{message}");
    assert_eq!(image::open(folder.path().join("plain.png")).unwrap().width(), 200);
}

#[test]
fn what_is_written_goes_by_a_name_of_its_kind() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::create_dir(folder.path().join("sub")).unwrap();
    for name in ["sub/", "sub", ".", "new/"] {
        let (_, message, code) = outcome(broodhue(folder.path()).args(["card", "print", name]));
        assert!(code == 2 && message.contains("is a folder") && message.contains("tray-card"), "{name}: {message}");
    }
    for (typed, written) in [("x.pdf", "x"), ("y.SVG", "y"), ("of.2026", "of.2026"), ("sub/z", "sub/z")] {
        let (out, message, code) = outcome(broodhue(folder.path()).args(["card", "print", typed]));
        assert_eq!((code, out), (0, format!("{written}.pdf\n{written}.svg\n")), "{message}");
        assert!(std::fs::read(folder.path().join(format!("{written}.pdf"))).unwrap().starts_with(b"%PDF"));
    }
    RgbImage::from_pixel(200, 150, Rgb([140; 3])).save(folder.path().join("plain.png")).unwrap();
    let picture = ["card", "check", "plain.png", "--picture", "c.jpg"];
    let (_, message, code) = outcome(broodhue(folder.path()).args(picture));
    assert!(code == 2 && message.contains("c.jpg: would be no jpg file; hint: name it c.png"), "{message}");
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 8, "no file beside those named");
}

#[test]
fn the_cards_are_listed() {
    let folder = tempfile::tempdir().unwrap();
    let (out, _, code) = outcome(broodhue(folder.path()).args(["card", "list", "--json"]));
    assert_eq!(code, 0);
    let list: Value = serde_json::from_str(&out).unwrap();
    let layouts: Vec<&str> = list["cards"].as_array().unwrap().iter().map(|c| c["layout"].as_str().unwrap()).collect();
    assert_eq!(layouts, ["chart-24", "unknown-24", "tray", "described"]);
    let (words, _, _) = outcome(broodhue(folder.path()).args(["card", "list"]));
    assert!(layouts.iter().all(|l| words.contains(l)), "{words}");
}
