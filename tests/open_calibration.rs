#![allow(clippy::unwrap_used, reason = "a test may panic")]
#![allow(clippy::print_stdout, reason = "the table is what a person runs this test for")]
//! Leave-one-out colour errors on real photographs, where a folder of them is given by `BROODHUE_OPEN_PHOTOS`.

use std::path::PathBuf;
use std::time::Instant;

use broodhue::calibrate::Calibration;
use broodhue::card::reference::Edition;
use broodhue::card::{self, FindOptions};
use broodhue::floor::LightField;
use broodhue::photo::{self, Limits};
use serde_json::Value;

/// What the medians over the photographs must not pass: leave-one-out mean and maximum in CIEDE2000.
const LIMIT: (f64, f64) = (3.4, 8.0);

fn median(mut v: Vec<f64>) -> f64 {
    v.sort_by(f64::total_cmp);
    v[v.len() / 2]
}

#[test]
fn open_photographs_are_read_within_the_goal() {
    let Some(folder) = std::env::var_os("BROODHUE_OPEN_PHOTOS").map(|f| PathBuf::from(f).join("cards")) else {
        println!("skipped: BROODHUE_OPEN_PHOTOS is not set");
        return;
    };
    let truth: Value = serde_json::from_slice(&std::fs::read(folder.join("truth.json")).unwrap()).unwrap();
    let (mut means, mut maxima) = (Vec::new(), Vec::new());
    println!(
        "{:<36} {:<16} {:>5} {:>6} {:>8} {:>7} {:<8} left out, milliseconds",
        "photograph", "model", "mean", "max", "loo mean", "max", "verdict"
    );
    for photograph in truth["photos"].as_array().unwrap() {
        // Only these have colours that somebody published.
        if !["full-size", "small", "folding"].contains(&photograph["chart"].as_str().unwrap()) {
            continue;
        }
        let name = photograph["file"].as_str().unwrap();
        let bytes = std::fs::read(folder.join(name)).unwrap();
        let photo = photo::read(name, &bytes, Limits::default()).unwrap();
        let Some(card) = card::find(&photo, &FindOptions::default()).card else {
            println!("{name:<36} no card found");
            means.push(f64::INFINITY);
            maxima.push(f64::INFINITY);
            continue;
        };
        let begun = Instant::now();
        let calibration = Calibration::from_card(&card, Edition::After2014, &LightField::even(0.0));
        let took = begun.elapsed().as_secs_f64() * 1e3;
        let Some(fit) = &calibration.fit else {
            println!("{name:<36} no fit: {:?}", calibration.reasons);
            continue;
        };
        means.push(fit.loo_mean_de00);
        maxima.push(fit.loo_max_de00);
        let verdict = format!("{:?}", calibration.verdict).to_lowercase();
        println!(
            "{name:<36} {:<16} {:>5.2} {:>6.2} {:>8.2} {:>7.2} {verdict:<8} {:?} {took:.1}",
            fit.model, fit.mean_de00, fit.max_de00, fit.loo_mean_de00, fit.loo_max_de00, calibration.left_out
        );
    }
    let (mean, max) = (median(means), median(maxima));
    println!("median over the photographs: leave-one-out mean {mean:.2}, max {max:.2}");
    assert!(mean <= LIMIT.0 && max <= LIMIT.1);
}
