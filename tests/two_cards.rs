//! The printed tray card, fresh from the printer, with and without the chart beside it: which of the two is taken, what corners
//! by hand make of it, and from which photos it is learned.
#![allow(clippy::unwrap_used, reason = "a test may panic")]
#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "drawn pixels")]

mod common;

use std::io::Cursor;
use std::path::Path;
use std::process::Command;

use broodhue::card::tray::{CELL_MM, COLOURS, COLUMNS, FIRST_MM, MARK_MM, MARKS, PATCH_MM, PITCH_MM, ROWS, SHEET_MM};
use broodhue::card::tray::{cell_offset, mark_place};
use broodhue::card::{self, FindOptions, Layout};
use broodhue::colour::{Lab, srgb_from_lab};
use broodhue::geometry::{Point, Quad};
use broodhue::photo::{self, Limits, Photo};
use broodhue::pipeline::{self, Given, MeasureOptions};
use broodhue::sheet::Sheet;
use common::render::chart::AFTER_2014;
use image::{Rgb, RgbImage};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Pixels a millimetre, and the tray card's top left corner.
const SCALE: f64 = 5.0;
const SHEET_AT: Point = Point::new(80.0, 60.0);
/// Middle of the chart's first patch and its pitch, in pixels.
const CHART_AT: Point = Point::new(950.0, 120.0);
const CHART_PITCH: f64 = 60.0;

/// Middle of a place on the tray card, given in card units.
fn on_sheet(p: Point) -> Point {
    SHEET_AT + Point::new(FIRST_MM.0 + p.x * PITCH_MM, FIRST_MM.1 + p.y * PITCH_MM) * SCALE
}

fn sheet() -> Quad {
    let (w, h) = (SHEET_MM.0 * SCALE, SHEET_MM.1 * SCALE);
    [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)].map(|(x, y)| SHEET_AT + Point::new(x, y))
}

/// Fills the square of the given side around a place.
fn square(picture: &mut RgbImage, middle: Point, side: f64, lab: [f64; 3]) {
    let half = Point::new(side / 2.0, side / 2.0);
    fill(picture, middle - half, middle + half, lab);
}

fn fill(picture: &mut RgbImage, from: Point, to: Point, [l, a, b]: [f64; 3]) {
    let colour = Rgb(srgb_from_lab(Lab::new(l, a, b)).map(|v| (255.0 * v).round() as u8));
    for y in from.y.round() as u32..to.y.round() as u32 {
        for x in from.x.round() as u32..to.x.round() as u32 {
            picture.put_pixel(x, y, colour);
        }
    }
}

/// The tray card on a grey table, and beside it the chart in these colours; a camera's noise over all.
fn scene(chart: Option<[[f64; 3]; 24]>) -> RgbImage {
    let mut picture = RgbImage::new(1400, 640);
    fill(&mut picture, Point::default(), Point::new(1400.0, 640.0), [52.0, 1.0, 3.0]);
    let [from, _, to, _] = sheet();
    fill(&mut picture, from, to, [93.0, 0.0, 0.0]);
    let reach = Point::new(PATCH_MM / 2.0 + 2.2, PATCH_MM / 2.0 + 2.2) * SCALE;
    let last = Point::new((COLUMNS - 1) as f64, (ROWS - 1) as f64);
    fill(&mut picture, on_sheet(Point::default()) - reach, on_sheet(last) + reach, [12.0, 0.0, 0.0]);
    for (i, lab) in COLOURS.iter().enumerate() {
        let place = Point::new((i % COLUMNS) as f64, (i / COLUMNS) as f64);
        square(&mut picture, on_sheet(place), PATCH_MM * SCALE, *lab);
    }
    for (mark, cells) in MARKS.iter().enumerate() {
        square(&mut picture, on_sheet(mark_place(mark)), MARK_MM * SCALE, [12.0, 0.0, 0.0]);
        for (cell, _) in cells.iter().enumerate().filter(|(_, white)| **white) {
            let (dx, dy) = cell_offset(cell);
            square(
                &mut picture,
                on_sheet(mark_place(mark)) + Point::new(dx, dy) * SCALE,
                CELL_MM * SCALE,
                [93.0, 0.0, 0.0],
            );
        }
    }
    if let Some(colours) = chart {
        let place = |c: f64, r: f64| CHART_AT + Point::new(c, r) * CHART_PITCH;
        fill(&mut picture, place(-0.62, -0.62), place(5.62, 3.62), [26.0, 0.0, -1.0]);
        for (i, lab) in colours.iter().enumerate() {
            square(&mut picture, place((i % 6) as f64, (i / 6) as f64), 0.88 * CHART_PITCH, *lab);
        }
    }
    let mut noise = ChaCha8Rng::seed_from_u64(5);
    picture
        .iter_mut()
        .for_each(|v| *v = (f64::from(*v) * 0.94 + noise.random_range(-1.5..4.5)).clamp(0.0, 255.0) as u8);
    picture
}

fn bytes(picture: &RgbImage) -> Vec<u8> {
    let mut out = Cursor::new(Vec::new());
    picture.write_to(&mut out, image::ImageFormat::Png).unwrap();
    out.into_inner()
}

fn photo(picture: &RgbImage) -> Photo {
    photo::read("cards.png", &bytes(picture), Limits::default()).unwrap()
}

#[test]
fn the_chart_goes_before_a_tray_card_of_unknown_colours() {
    let photo = photo(&scene(Some(AFTER_2014)));
    let search = card::find(&photo, &FindOptions::default());
    assert_eq!(search.card.map(|c| c.layout), Some(Layout::Chart24), "{}", search.reason);
    assert_eq!(search.others.iter().map(|c| c.layout.clone()).collect::<Vec<_>>(), [Layout::Tray]);
    let sheet = Sheet::starting().unwrap();
    let given = Given { sheet: &sheet, empty: None };
    let report = pipeline::measure(&photo, given, &MeasureOptions::default()).unwrap().report;
    assert_eq!(report.card.layout, Some(Layout::Chart24));
    assert!(report.card.fit.is_some(), "{:?}", report.card.reasons);
    let said = report.warnings.iter().filter(|w| w.contains("further card")).count();
    assert_eq!(said, 1, "{:?}", report.warnings);
}

#[test]
fn a_tray_card_stays_one_when_a_corner_is_moved_by_hand() {
    let alone = photo(&scene(None));
    let mut corners = card::find(&alone, &FindOptions::default()).card.unwrap().corners;
    corners[2] = corners[2] + Point::new(-4.0, 3.0);
    let moved = |photo: &Photo, corners: Quad| {
        card::find(photo, &FindOptions { corners: Some(corners), ..FindOptions::default() }).card.unwrap()
    };
    let card = moved(&alone, corners);
    assert_eq!((card.layout, card.patches.len()), (Layout::Tray, COLUMNS * ROWS));
    // The chart's own corners still mean the chart.
    let chart = [(-0.62, -0.62), (5.62, -0.62), (5.62, 3.62), (-0.62, 3.62)]
        .map(|(x, y)| CHART_AT + Point::new(x, y) * CHART_PITCH);
    assert_eq!(moved(&photo(&scene(Some(AFTER_2014))), chart).layout, Layout::Chart24);
}

/// Runs `card learn` on a picture; what it says on stderr, its exit code, and whether it wrote a card file.
fn learn(picture: &RgbImage) -> (String, Option<i32>, bool) {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("both.png"), bytes(picture)).unwrap();
    let out = Command::new(Path::new(env!("CARGO_BIN_EXE_broodhue")))
        .current_dir(folder.path())
        .args(["card", "learn", "both.png", "--out", "mine.toml"])
        .output()
        .unwrap();
    let written = folder.path().join("mine.toml").exists();
    (String::from_utf8(out.stderr).unwrap(), out.status.code(), written)
}

#[test]
fn a_card_is_learned_beside_a_good_chart_only() {
    let (message, code, written) = learn(&scene(Some(AFTER_2014)));
    assert_eq!((code, written), (Some(0), true), "{message}");
    // A faded chart: each coloured patch off in its own way, so that none tells how the next is seen.
    let mut random = ChaCha8Rng::seed_from_u64(8);
    let mut faded = AFTER_2014;
    for [l, a, b] in &mut faded[..18] {
        let mut off = |most: f64| random.random_range(-most..most);
        (*l, *a, *b) = (*l + off(9.0), *a + off(16.0), *b + off(16.0));
    }
    let (message, code, written) = learn(&scene(Some(faded)));
    assert_eq!((code, written), (Some(1), false), "{message}");
    assert!(message.contains("the chart's colours are poor") && message.contains("hint"), "{message}");
}
