//! Drawn photos end to end: one fish drawn 0, 1, 2 and 4 L* lighter, read in one photo and across phones and lamps.
//!
//! The figures of `docs/validation.md`: `cargo test --release --test lightness_photos -- --ignored --nocapture`.
#![allow(clippy::unwrap_used, reason = "a test may panic")]
#![allow(clippy::cast_possible_truncation, clippy::print_stdout, reason = "pixel places; figures are printed")]

mod common;

use broodhue::lightness::{Part, Permitted, Reading, Seen, Verdict, compare, reading};
use broodhue::photo::{self, Limits};
use broodhue::pipeline::{self, Given, MeasureOptions, PhotoReport};
use broodhue::sheet::Sheet;
use common::render::brood::{self, Recipe, Setup};
use common::render::fish::Base;
use common::render::truth::Truth;

/// How much lighter each fish of a tray is drawn than the first.
const STEPS: [f64; 4] = [0.0, 1.0, 2.0, 4.0];

/// A tray of the same pale blond fish, drawn in steps of lightness; the seed decides phone, lamp and places.
fn tray(seed: u64) -> Setup {
    let kinds = vec![brood::Kind::Pale; STEPS.len() + 1];
    let recipe = Recipe { kinds, bases: vec![Base::Blond], lengths: (28.0, 28.0), ..Recipe::colour(seed, seed % 2) };
    let mut setup = brood::setup(&recipe);
    let mut coat = setup.scene.fish[0].coat.clone();
    coat.ground = [72.0, 2.0, 12.0];
    coat.covers.clear();
    coat.gravid = 0.0;
    for (i, fish) in setup.scene.fish.iter_mut().enumerate() {
        fish.coat = coat.clone();
        // The first fish and the step of zero are the same.
        fish.coat.ground[0] += if i == 0 { 0.0 } else { STEPS[i - 1] };
    }
    setup
}

fn measured(setup: &Setup) -> (PhotoReport, Truth) {
    let shot = setup.draw();
    let photo = photo::read("drawn.jpg", &shot.jpeg(setup.camera.quality), Limits::default()).unwrap();
    let sheet = Sheet::starting().unwrap();
    let given = Given { sheet: &sheet, empty: None };
    (pipeline::measure(&photo, given, &MeasureOptions::default()).unwrap().report, shot.truth)
}

/// The reading of true fish `i` with its true L*; `None` where the program did not find it or could not read it.
fn read(report: &PhotoReport, truth: &Truth, i: usize, photo: &str) -> Option<(Reading, f64)> {
    let fish = &truth.fish[i];
    let near = |f: &&pipeline::FishReport| {
        f.bounds.x0 < fish.centre.x
            && fish.centre.x < f.bounds.x1
            && f.bounds.y0 < fish.centre.y
            && fish.centre.y < f.bounds.y1
    };
    let found = report.fish.iter().find(near)?;
    let seen = Seen {
        fish: format!("{photo}#{i}"),
        brood: None,
        photo: photo.to_owned(),
        n: found.n,
        view: found.view,
        conditions: &report.conditions,
    };
    Some((reading(seen, &found.features, Part::Trunk)?, f64::from(fish.trunk?.l as f32)))
}

/// Verdicts on one step: how often told apart the right way, the wrong way, not at all, and the truth inside the interval.
#[derive(Debug, Default)]
struct Score {
    right: u32,
    wrong: u32,
    open: u32,
    held: u32,
    width: f64,
}

impl Score {
    fn add(&mut self, lighter: &(Reading, f64), base: &(Reading, f64)) {
        let permitted = Permitted { across_floors: true, ..Permitted::default() };
        let (a, b) = (std::slice::from_ref(&lighter.0), std::slice::from_ref(&base.0));
        let found = compare(["lighter", "base"], a, b, None, permitted).unwrap();
        let truth = lighter.1 - base.1;
        match found.verdict {
            Verdict::NotToldApart => self.open += 1,
            Verdict::Lighter if truth > 0.0 => self.right += 1,
            Verdict::Darker if truth < 0.0 => self.right += 1,
            _ => self.wrong += 1,
        }
        self.held += u32::from((found.lightness.low..=found.lightness.high).contains(&truth));
        self.width += (found.lightness.high - found.lightness.low) / 2.0;
    }

    fn all(&self) -> u32 {
        self.right + self.wrong + self.open
    }
}

/// Within one photo and across the photos of neighbouring seeds.
fn scores(seeds: std::ops::Range<u64>) -> [[Score; 4]; 2] {
    let mut scores: [[Score; 4]; 2] = Default::default();
    let mut before: Option<(Reading, f64)> = None;
    for seed in seeds {
        let (report, truth) = measured(&tray(seed));
        let name = format!("photo {seed}");
        let Some(base) = read(&report, &truth, 0, &name) else { continue };
        let [within, across] = &mut scores;
        for (step, (near, far)) in within.iter_mut().zip(across).enumerate() {
            let Some(one) = read(&report, &truth, step + 1, &name) else { continue };
            near.add(&one, &base);
            if let Some(other) = &before {
                far.add(&one, other);
            }
        }
        before = Some(base);
    }
    scores
}

fn told(scores: &[[Score; 4]; 2]) {
    for (place, of) in ["within one photo", "across phones and lamps"].iter().zip(scores) {
        for (step, s) in STEPS.iter().zip(of) {
            println!(
                "| {place} | {step} | {} | {} | {} | {} of {} | {:.1} |",
                s.right,
                s.wrong,
                s.open,
                s.held,
                s.all(),
                s.width / f64::from(s.all().max(1))
            );
        }
    }
}

/// One photo in a plain run: four steps of lightness are seen for what they are, and no step is called the wrong way round.
#[test]
fn four_steps_lighter_are_seen_in_one_photo() {
    let scores = scores(3..4);
    told(&scores);
    assert_eq!(scores[0].iter().map(|s| s.wrong).sum::<u32>(), 0, "{scores:?}");
    assert_eq!(scores[0][3].right, 1, "{scores:?}");
}

#[test]
#[ignore = "draws and measures 24 photos: the figures of docs/validation.md"]
fn figures_of_lightness() {
    let scores = scores(700..724);
    told(&scores);
    let held: u32 = scores.iter().flatten().map(|s| s.held).sum();
    let all: u32 = scores.iter().flatten().map(Score::all).sum();
    assert!(all > 100, "{all} comparisons");
    assert!(f64::from(held) >= 0.85 * f64::from(all), "{held} of {all} intervals hold the truth");
}
