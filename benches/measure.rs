//! How long the whole `measure` of a photo takes beside the bare decode, step by step, and how much memory it needs.
//!
//! `cargo bench --bench measure` draws a 12-megapixel tray; `cargo bench --bench measure -- --megapixels 48` a larger one.
//! libjpeg-turbo's `djpeg` is timed in the same run where it is installed.
#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "a benchmark prints, and may panic")]
#![allow(clippy::cast_possible_truncation, reason = "picture sizes")]

#[path = "../tests/common/mod.rs"]
mod common;

use std::fs;
use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use broodhue::calibrate::{CalibratedPhoto, Calibration, Tone};
use broodhue::card::reference::Edition;
use broodhue::card::{self, FindOptions};
use broodhue::fish::{self, FishOptions};
use broodhue::floor::{self, FloorOptions};
use broodhue::photo::{self, Limits, Photo};
use broodhue::pipeline::{self, Given, MeasureOptions};
use broodhue::sheet::Sheet;
use broodhue::{features, pipeline::Measured};
use common::render::brood::{self, CARD_PITCH, Recipe};

/// Repeats of everything timed; the fastest counts, as the least disturbed.
const REPEATS: usize = 5;
/// Photos of the batch.
const BATCH: usize = 20;

fn main() {
    let args: Vec<String> = std::env::args().collect();
    let after = |name: &str| args.iter().position(|a| a == name).and_then(|i| args.get(i + 1));
    if let Some(path) = after("--peak-of") {
        let photo = read(&fs::read(path).unwrap());
        black_box(measure(&photo).report.fish.len());
        println!("{}", peak_kib());
        return;
    }
    let megapixels: u32 = after("--megapixels").map_or(12, |m| m.parse().unwrap());
    let folder = tempfile::tempdir().unwrap();
    let file = draw(megapixels, folder.path());
    let bytes = fs::read(&file).unwrap();
    println!("one photo of {megapixels} megapixels, {:.1} MB of JPEG, fastest of {REPEATS}", bytes.len() as f64 / 1e6);
    whole(&bytes, &file);
    steps(&bytes);
    memory(&file);
    batch(&file, folder.path());
}

/// Draws a tray with 14 fish and writes it as a JPEG.
fn draw(megapixels: u32, folder: &Path) -> PathBuf {
    // 4 : 3, in whole blocks of the JPEG.
    let wide = (f64::from(megapixels) * 1e6 * 4.0 / 3.0).sqrt() / 32.0;
    let size = if megapixels == 12 { (4032, 3024) } else { (wide.round() as u32 * 32, wide.round() as u32 * 24) };
    let setup = brood::setup(&Recipe { size, ..Recipe::tidy(2) });
    let path = folder.join("tray.jpg");
    fs::write(&path, setup.draw().jpeg(setup.camera.quality)).unwrap();
    path
}

fn read(bytes: &[u8]) -> Photo {
    photo::read("tray.jpg", bytes, Limits::default()).unwrap()
}

fn measure(photo: &Photo) -> Measured<'_> {
    let sheet = Sheet::starting().unwrap();
    let options = MeasureOptions { card_pitch_mm: Some(CARD_PITCH), ..MeasureOptions::default() };
    pipeline::measure(photo, Given { sheet: &sheet, empty: None }, &options).unwrap()
}

/// The fastest of several runs.
fn fastest<T>(mut run: impl FnMut() -> T) -> Duration {
    (0..REPEATS)
        .map(|_| {
            let start = Instant::now();
            black_box(run());
            start.elapsed()
        })
        .min()
        .unwrap_or_default()
}

fn ms(d: Duration) -> f64 {
    d.as_secs_f64() * 1e3
}

/// Whole `measure` against the bare decode by the program's own decoder and by `djpeg`.
fn whole(bytes: &[u8], file: &Path) {
    let decode = fastest(|| image::load_from_memory_with_format(bytes, image::ImageFormat::Jpeg).unwrap());
    let all = fastest(|| measure(&read(bytes)).report.fish.len());
    let djpeg = time_djpeg(file);
    println!("  whole measure                        {:8.1} ms", ms(all));
    println!("  bare decode, the program's decoder   {:8.1} ms   ratio {:.2}", ms(decode), ms(all) / ms(decode));
    match djpeg {
        Some(d) => println!("  bare decode, libjpeg-turbo's djpeg   {:8.1} ms   ratio {:.2}", ms(d), ms(all) / ms(d)),
        None => println!("  djpeg is not installed (Debian: apt-get install libjpeg-turbo-progs): not timed"),
    }
}

/// Time of `djpeg` writing nowhere, its start included; `None` where it is not installed.
fn time_djpeg(file: &Path) -> Option<Duration> {
    let run = || Command::new("djpeg").arg("-outfile").arg("/dev/null").arg(file).stderr(Stdio::null()).status();
    run().ok().filter(std::process::ExitStatus::success)?;
    Some(fastest(run))
}

/// Each step on its own, as the pipeline chains them.
fn steps(bytes: &[u8]) {
    let photo = read(bytes);
    let asked = FindOptions { pitch_mm: Some(CARD_PITCH), ..FindOptions::default() };
    let card = card::find(&photo, &asked).card;
    let model = || {
        let tone = Tone::of_card(card.as_ref(), Edition::After2014);
        floor::model(&photo, floor::reduced(&photo), card.as_ref(), &|v| tone.scene(v), &FloorOptions::default())
            .unwrap()
    };
    let fit = |floor: &floor::Floor| Calibration::from_card(card.as_ref().unwrap(), Edition::After2014, &floor.field);
    let first = model();
    let calibration = fit(&first);
    let fitting = fastest(|| fit(&first));
    let calibrated = CalibratedPhoto::new(&photo, card.clone(), first, calibration);
    let scene = pipeline::scene(&calibrated);
    let found = fish::find(&scene, &FishOptions::default());
    let sheet = Sheet::starting().unwrap();
    let table = [
        ("read (decode, profile, hash, EXIF)", fastest(|| read(bytes))),
        ("card", fastest(|| card::find(&photo, &asked))),
        ("floor and lighting field", fastest(model)),
        ("fit", fitting),
        ("fish: mask, split, parts", fastest(|| fish::find(&scene, &FishOptions::default()))),
        (
            "features",
            fastest(|| {
                found.regions.iter().map(|r| features::measure(&calibrated, r, &sheet.limits)).collect::<Vec<_>>()
            }),
        ),
    ];
    let sum: f64 = table.iter().map(|t| ms(t.1)).sum();
    println!("each step on its own ({} fish)", found.regions.len());
    for (name, time) in table {
        println!("  {name:<36} {:8.1} ms   {:4.1} %", ms(time), 100.0 * ms(time) / sum);
    }
}

/// Peak memory of a process that measures this one photo.
fn memory(file: &Path) {
    let run = Command::new(std::env::current_exe().unwrap()).arg("--peak-of").arg(file).output().unwrap();
    let text = String::from_utf8_lossy(&run.stdout);
    match text.trim().parse::<f64>() {
        Ok(kib) if kib > 0.0 => println!("peak memory                            {:8.1} MB", kib * 1024.0 / 1e6),
        _ => println!("peak memory: this system does not tell (no VmHWM in /proc/self/status)"),
    }
}

/// The most memory this process ever held, KiB; 0 where the system does not tell.
fn peak_kib() -> u64 {
    fs::read_to_string("/proc/self/status")
        .ok()
        .and_then(|s| s.lines().find_map(|l| l.strip_prefix("VmHWM:")?.split_whitespace().next()?.parse().ok()))
        .unwrap_or(0)
}

/// A batch by the program itself, on one core and on two.
fn batch(file: &Path, folder: &Path) {
    let photos: Vec<PathBuf> = (0..BATCH)
        .map(|i| {
            let copy = folder.join(format!("copy-{i}.jpg"));
            fs::copy(file, &copy).unwrap();
            copy
        })
        .collect();
    let run = |threads: &str| {
        let start = Instant::now();
        let status = Command::new(env!("CARGO_BIN_EXE_broodhue"))
            .args(["measure", "--json", "--card-pitch-mm", "12.4"])
            .args(&photos)
            .env("RAYON_NUM_THREADS", threads)
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .status()
            .unwrap();
        assert!(status.success(), "measure of the batch: {status}");
        start.elapsed()
    };
    let (one, two) = (run("1"), run("2"));
    println!(
        "a batch of {BATCH}: one core {:.2} s, two cores {:.2} s, {:.2} times as fast",
        one.as_secs_f64(),
        two.as_secs_f64(),
        ms(one) / ms(two)
    );
}
