//! Places nobody can mean: coordinates far outside the picture, crossed corners, trays of a few pixels. Each is refused or answered
//! with "nothing there", in good time.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

use std::io::Cursor;
use std::path::Path;
use std::time::{Duration, Instant};

use broodhue::card;
use broodhue::error::Result;
use broodhue::fish::{Correction, FishOptions};
use broodhue::geometry::{PixelBox, Point, Quad};
use broodhue::photo::{self, Limits, Photo};
use broodhue::pipeline::{self, Given, MeasureOptions, PhotoReport};
use broodhue::sheet::Sheet;

/// Coordinates that overflow whatever they are cast to or multiplied with.
const FAR: [f64; 4] = [5e9, 1e12, -1e12, f64::MAX];

fn sample() -> Photo {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-images/K4-1.jpg");
    pipeline::open(&path, Limits::default()).unwrap()
}

/// The same with more than three pixels to one of the picture that fish are sought on.
fn large() -> Photo {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-images/K4-1.jpg");
    let picture = image::open(path).unwrap();
    let picture = picture.resize(3600, 3600, image::imageops::FilterType::Triangle);
    let mut bytes = Cursor::new(Vec::new());
    picture.write_to(&mut bytes, image::ImageFormat::Tiff).unwrap();
    photo::read("large.tiff", bytes.get_ref(), Limits::default()).unwrap()
}

fn measure(photo: &Photo, options: &MeasureOptions) -> Result<PhotoReport> {
    let sheet = Sheet::starting().unwrap();
    pipeline::measure(photo, Given { sheet: &sheet, empty: None }, options).map(|m| m.report)
}

fn fish(options: FishOptions) -> MeasureOptions {
    MeasureOptions { fish: options, ..MeasureOptions::default() }
}

fn points<const N: usize>(places: [(f64, f64); N]) -> [Point; N] {
    places.map(|(x, y)| Point::new(x, y))
}

#[test]
fn boxes_outside_the_picture_hold_nothing() {
    let photo = large();
    let (w, h) = (f64::from(photo.width), f64::from(photo.height));
    let mut boxes = vec![[w + 10.0, 0.0, w + 900.0, 100.0], [-900.0, -900.0, -10.0, -10.0], [0.0, 0.0, 9.0, h]];
    boxes.extend(FAR.map(|far| [far.min(0.0), 0.0, far.max(6.0), 5.0]));
    boxes.extend(FAR.map(|far| [far, far, far + far.abs(), far + far.abs()]));
    let boxes: Vec<PixelBox> = boxes.into_iter().map(PixelBox::from).collect();
    let count = boxes.len();
    let report = measure(&photo, &fish(FishOptions { boxes, ..FishOptions::default() })).unwrap();
    let empty = |w: &&String| w.starts_with("nothing in the box") || w.contains("lies outside of the picture");
    let nothing = report.warnings.iter().filter(empty).count();
    assert_eq!((report.fish.len(), nothing), (0, count), "{:?}", report.warnings);
}

#[test]
fn no_fish_is_added_outside_the_picture() {
    let photo = large();
    let (w, h) = (f64::from(photo.width), f64::from(photo.height));
    // As far from an edge as the window around a place reaches, less a pixel: a window of one column or row.
    let reach = 0.12 * w.max(h);
    let mut places = vec![(w + reach - 1.0, h / 2.0), (w / 2.0, h + reach - 1.0), (1.0 - reach, h / 2.0)];
    places.extend(FAR.map(|far| (far, h / 2.0)));
    places.extend(FAR.map(|far| (far, -far)));
    let corrections: Vec<Correction> = places.iter().map(|&(x, y)| Correction::Add { at: Point::new(x, y) }).collect();
    let plain = measure(&photo, &MeasureOptions::default()).unwrap();
    let report = measure(&photo, &fish(FishOptions { corrections, ..FishOptions::default() })).unwrap();
    let nothing = report.warnings.iter().filter(|w| w.starts_with("nothing stands out at")).count();
    assert_eq!((report.fish.len(), nothing), (plain.fish.len(), places.len()), "{:?}", report.warnings);
    for far in FAR {
        let points = points([(far, far), (-far, 0.0), (0.0, far)]).to_vec();
        let corrections = vec![Correction::Split { n: 1, points, was: None }];
        measure(&photo, &fish(FishOptions { corrections, ..FishOptions::default() })).unwrap();
    }
}

/// What lies around a fish's outline is its own rim, and no second fish.
#[test]
fn no_fish_is_added_where_one_is_outlined() {
    let photo = sample();
    let plain = measure(&photo, &MeasureOptions::default()).unwrap();
    let middles: Vec<Point> = plain.fish.iter().map(|f| f.centre).collect();
    let corrections: Vec<Correction> = middles.iter().map(|&at| Correction::Add { at }).collect();
    let report = measure(&photo, &fish(FishOptions { corrections, ..FishOptions::default() })).unwrap();
    let told = report.warnings.iter().filter(|w| w.contains("outlined at") && w.contains("split it")).count();
    assert_eq!(report.fish.len(), plain.fish.len(), "{:?}", report.warnings);
    // The middle of a bent fish may lie beside it.
    assert!(told + 2 > middles.len(), "{:?}", report.warnings);
}

#[test]
fn corners_that_can_be_no_card_s_are_refused() {
    let photo = sample();
    let with = |corners: Quad| MeasureOptions { card_corners: Some(corners), ..MeasureOptions::default() };
    let found = measure(&photo, &MeasureOptions::default()).unwrap().card.corners.unwrap();
    let [a, b, c, d] = found;
    let refused = |corners: Quad, why: &str| {
        let error = measure(&photo, &with(corners)).unwrap_err();
        assert!(error.message.contains(why) && !error.hint.is_empty(), "{corners:?}: {error}");
        assert_eq!(error.place, photo.name);
    };
    assert!(measure(&photo, &with(found)).is_ok());
    refused([a, b, d, c], "cross");
    refused([a, a.lerp(c, 0.5), c, d], "in line");
    refused(found.map(|p| a.lerp(p, 0.05)), "pixels apart");
    refused([a, a, c, d], "pixels apart");
    refused(found.map(|p| p + Point::new(0.0, 2.0 * f64::from(photo.height))), "outside the picture");
    for far in FAR {
        refused(points([(0.0, 0.0), (far, 0.0), (far, far), (0.0, far)]), "outside the picture");
    }
}

/// The finder itself, which other programs may ask without looking at the corners first.
#[test]
fn the_finder_reads_nothing_between_corners_beyond_all_reckoning() {
    let photo = sample();
    for far in FAR {
        let corners = points([(0.0, 0.0), (far, 0.0), (far, far), (0.0, far)]);
        let search = card::find(&photo, &card::FindOptions { corners: Some(corners), ..card::FindOptions::default() });
        assert!(search.card.is_none_or(|c| c.patches.iter().all(|p| p.pixels == 0)));
    }
}

#[test]
fn trays_hardly_in_the_picture_are_refused_at_once() {
    let photo = sample();
    let (w, h) = (f64::from(photo.width), f64::from(photo.height));
    let with = |tray: &[Point]| MeasureOptions { tray: Some(tray.to_vec()), ..MeasureOptions::default() };
    let mut trays = vec![
        points([(w + 5.0, h), (w + 100.0, h), (w + 100.0, h + 100.0)]),
        points([(w / 2.0, h / 2.0), (w / 2.0 + 40.0, h / 2.0), (w / 2.0, h / 2.0 + 40.0)]),
    ];
    trays.extend(FAR.map(|far| points([(far, 0.0), (far, far), (2.0 * far.clamp(-1e300, 1e300), far)])));
    for tray in trays {
        let since = Instant::now();
        let error = measure(&photo, &with(&tray)).unwrap_err();
        assert!(error.message.contains("--tray") && !error.hint.is_empty(), "{tray:?}: {error}");
        assert!(since.elapsed() < Duration::from_secs(20), "{tray:?} took {:?}", since.elapsed());
    }
    // Around the whole picture from far away: all of it is tray.
    for far in [1e9, 1e200] {
        measure(&photo, &with(&points([(-far, -far), (far, -far), (far, far), (-far, far)]))).unwrap();
    }
}
