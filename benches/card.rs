//! How long finding and fitting the card takes after decoding, on one core, beside OpenCV's chart finder in the same run.
//!
//! `cargo bench --bench card` draws a 12-megapixel tray; with `BROODHUE_OPEN_PHOTOS` set the photographs of that folder are
//! timed too. OpenCV is called through the Python named by `BROODHUE_OPENCV_PYTHON` (else `python3`), where it has `cv2`.
#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "a benchmark prints, and may panic")]

#[path = "../tests/common/mod.rs"]
mod common;

use std::fs;
use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;

use broodhue::calibrate::Calibration;
use broodhue::card::reference::Edition;
use broodhue::card::{self, FindOptions};
use broodhue::floor::LightField;
use broodhue::photo::{self, Limits, Photo};
use common::render::brood::{self, Recipe};

/// Repeats of everything timed; the fastest counts, as the least disturbed.
const REPEATS: usize = 5;

fn main() {
    rayon::ThreadPoolBuilder::new().num_threads(1).build_global().unwrap();
    let folder = tempfile::tempdir().unwrap();
    let mut files = vec![draw(folder.path())];
    if let Some(open) = std::env::var_os("BROODHUE_OPEN_PHOTOS") {
        files.extend(photographs(&PathBuf::from(open).join("cards")));
    }
    let theirs = opencv(&files);
    println!("{:<40} {:>9} {:>9} {:>9} {:>7}", "one core, after decoding, in ms", "find", "fit", "OpenCV", "ratio");
    let mut sums = [0.0; 2];
    for (i, file) in files.iter().enumerate() {
        let (find, fit) = ours(&photo::read("photo", &fs::read(file).unwrap(), Limits::default()).unwrap());
        let name = file.file_name().unwrap().to_string_lossy();
        let Some((other, found)) = theirs.as_ref().map(|t| t[i]) else {
            println!("{name:<40} {find:>9.1} {fit:>9.1}");
            continue;
        };
        let word = if found { "" } else { " (OpenCV finds none)" };
        println!("{name:<40} {find:>9.1} {fit:>9.1} {other:>9.1} {:>7.2}{word}", (find + fit) / other);
        sums = [sums[0] + find + fit, sums[1] + other];
    }
    match theirs {
        Some(_) => println!("all together: ratio {:.2}", sums[0] / sums[1]),
        None => println!("OpenCV is not there: pip install opencv-contrib-python-headless, or name its python"),
    }
}

/// A tidy tray with a chart at 4032 × 3024 pixels, as a JPEG.
fn draw(folder: &Path) -> PathBuf {
    let setup = brood::setup(&Recipe { size: (4032, 3024), ..Recipe::tidy(2) });
    let path = folder.join("drawn-12-megapixels.jpg");
    fs::write(&path, setup.draw().jpeg(setup.camera.quality)).unwrap();
    path
}

fn photographs(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).unwrap().map(|e| e.unwrap().path());
    let mut files: Vec<PathBuf> = entries.filter(|p| p.extension().is_some_and(|e| e == "jpg")).collect();
    files.sort();
    files
}

/// Milliseconds of finding, and of fitting when there is something to fit.
fn ours(photo: &Photo) -> (f64, f64) {
    let find = fastest(|| card::find(photo, &FindOptions::default()));
    let field = LightField::even(0.02);
    let fit = card::find(photo, &FindOptions::default())
        .card
        .map_or(0.0, |card| fastest(|| Calibration::from_card(&card, Edition::After2014, &field)));
    (find, fit)
}

fn fastest<T>(mut run: impl FnMut() -> T) -> f64 {
    (0..REPEATS)
        .map(|_| {
            let start = Instant::now();
            black_box(run());
            start.elapsed().as_secs_f64() * 1e3
        })
        .fold(f64::MAX, f64::min)
}

/// Milliseconds and success of OpenCV on each file; `None` where it is not installed.
fn opencv(files: &[PathBuf]) -> Option<Vec<(f64, bool)>> {
    let python = std::env::var_os("BROODHUE_OPENCV_PYTHON").unwrap_or_else(|| "python3".into());
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("benches/opencv_card.py");
    let out = Command::new(python).arg(script).args(files).output().ok().filter(|o| o.status.success())?;
    let text = String::from_utf8(out.stdout).ok()?;
    let line = |l: &str| l.split_once(' ').and_then(|(ms, found)| Some((ms.parse().ok()?, found == "1")));
    text.lines().map(line).collect()
}
