#![allow(clippy::unwrap_used, reason = "a test may panic")]
#![allow(clippy::cast_possible_truncation, reason = "light is kept as f32; ranks are whole numbers")]
#![allow(clippy::print_stdout, reason = "the table is what a person runs this test for")]
//! How far lightness can be trusted, on many drawn phones: the error of a calibrated fish colour against the
//! calibration's own figures. No pictures: patches and fish are single colours sent through the drawn phone.

mod common;

use broodhue::calibrate::Calibration;
use broodhue::card::reference::{Edition, chart};
use broodhue::card::{Card, Layout, PatchReading};
use broodhue::colour::{Lab, LinearRgb, ciede2000, srgb_decode, xyz_from_lab};
use broodhue::floor::LightField;
use broodhue::geometry::{Homography, Point};
use common::render::Camera;
use common::render::brood::faulty_phone;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Colours of pale, spotted and red fish (invented).
const FISH: [[f64; 3]; 12] = [
    [78.0, 2.0, 14.0],
    [72.0, 4.0, 18.0],
    [66.0, 6.0, 22.0],
    [60.0, 8.0, 20.0],
    [50.0, 45.0, 35.0],
    [55.0, 40.0, 45.0],
    [62.0, 30.0, 50.0],
    [70.0, 15.0, 55.0],
    [80.0, 0.0, 8.0],
    [45.0, 50.0, 30.0],
    [38.0, 20.0, 18.0],
    [58.0, 3.0, 12.0],
];

/// The file's linear light of a colour under `light`, with encoded noise.
fn taken(camera: &Camera, lab: Lab, light: f64, noise: f64, rng: &mut ChaCha8Rng) -> LinearRgb {
    let xyz = xyz_from_lab(lab);
    let encoded = camera.encode([xyz.x, xyz.y, xyz.z].map(|v| (v * light) as f32));
    let [r, g, b] = encoded.map(|e| {
        // The sum of twelve uniform numbers is close to normal with variance 1.
        let normal: f64 = (0..12).map(|_| rng.random::<f64>()).sum::<f64>() - 6.0;
        srgb_decode((e + noise * normal).clamp(0.0, 1.0)) as f32
    });
    LinearRgb::new(r, g, b)
}

/// The chart with uneven light over it and noise of reading (flecks, dust, blur) a patch.
fn photographed(camera: &Camera, trouble: f64, rng: &mut ChaCha8Rng) -> Card {
    let (along, down) = (rng.random_range(-0.06..0.06) * trouble, rng.random_range(-0.06..0.06) * trouble);
    let patch = |(i, lab): (usize, Lab)| {
        let (x, y) = ((i % 6) as f64, (i / 6) as f64);
        let light = 1.0 + along * (x - 2.5) / 2.5 + down * (y - 1.5) / 1.5;
        PatchReading {
            centre: Point::new(x, y),
            linear: taken(camera, lab, light, 0.002 + 0.02 * trouble, rng),
            spread: [0.0; 3],
            pixels: 400,
            clipped_share: 0.0,
            left_out: None,
        }
    };
    Card {
        layout: Layout::Chart24,
        corners: [Point::default(); 4],
        patches: chart(Edition::After2014).into_iter().map(|r| r.lab).enumerate().map(patch).collect(),
        pitch_px: 1.0,
        mirrored: false,
        to_px: Homography([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]),
        unit_mm: None,
        known: Vec::new(),
        notes: Vec::new(),
    }
}

/// What one phone gave: its leave-one-out mean, and for every fish the error of L*, its standard error, and the CIEDE2000.
struct Outcome {
    loo_mean: f64,
    fish: Vec<(f64, f64, f64)>,
}

fn outcome(seed: u64, trouble: f64) -> Outcome {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let camera = faulty_phone(trouble, 0.05..0.15 + 0.25 * trouble, 0.8, &mut rng);
    let card = photographed(&camera, trouble, &mut rng);
    let calibration = Calibration::from_card(&card, Edition::After2014, &LightField::even(0.0));
    let fish = FISH
        .iter()
        .map(|&[l, a, b]| {
            let truth = Lab::new(l, a, b);
            let seen = calibration.lab(taken(&camera, truth, 1.0, 0.0, &mut rng));
            (seen.l - l, calibration.error(seen).l, ciede2000(seen, truth))
        })
        .collect();
    Outcome { loo_mean: calibration.fit.unwrap().loo_mean_de00, fish }
}

fn quantile(values: &mut [f64], share: f64) -> f64 {
    values.sort_by(f64::total_cmp);
    values[((values.len() - 1) as f64 * share) as usize]
}

/// One line of the table: phones whose leave-one-out mean lies in `range`.
fn line(outcomes: &[Outcome], range: std::ops::Range<f64>) -> Option<(usize, f64, f64, f64, f64)> {
    let inside: Vec<_> = outcomes.iter().filter(|o| range.contains(&o.loo_mean)).collect();
    let fish: Vec<_> = inside.iter().flat_map(|o| &o.fish).collect();
    if fish.is_empty() {
        return None;
    }
    let mut off: Vec<f64> = fish.iter().map(|f| f.0.abs()).collect();
    let mut de00: Vec<f64> = fish.iter().map(|f| f.2).collect();
    let held = fish.iter().filter(|f| f.0.abs() <= 1.96 * f.1).count() as f64 / fish.len() as f64;
    Some((inside.len(), quantile(&mut off, 0.5), quantile(&mut off, 0.95), quantile(&mut de00, 0.5), held))
}

fn table(outcomes: &[Outcome]) {
    println!("loo mean   phones  median |dL*|  95th pct  median dE00  95 % interval holds");
    for (low, high) in [(0.0, 1.0), (1.0, 2.0), (2.0, 3.0), (3.0, 4.0), (4.0, 5.0), (5.0, 99.0), (0.0, 99.0)] {
        if let Some((n, median, high_off, de00, held)) = line(outcomes, low..high) {
            println!(
                "{low:.0} to {high:<4.0}  {n:>6}  {median:>12.2}  {high_off:>8.2}  {de00:>11.2}  {:>18.1} %",
                100.0 * held
            );
        }
    }
}

/// The figures of docs/validation.md: `cargo test --release --test calibration_error -- --ignored --nocapture`.
#[test]
#[ignore = "takes a minute; prints the table of docs/validation.md"]
fn lightness_error_grows_with_leave_one_out() {
    let outcomes: Vec<_> = (0..400).map(|k| outcome(90_000 + k, k as f64 / 200.0)).collect();
    table(&outcomes);
}

#[test]
fn the_interval_of_lightness_is_honest_on_drawn_phones() {
    let outcomes: Vec<_> = (0..24).map(|k| outcome(500 + k, k as f64 / 12.0)).collect();
    table(&outcomes);
    let (_, median, _, _, held) = line(&outcomes, 0.0..99.0).unwrap();
    // 24 phones of 12 fish: the calibration's part alone must neither be blind nor cry wolf.
    assert!(held > 0.88, "{held}");
    assert!(median < 0.8, "{median}");
}
