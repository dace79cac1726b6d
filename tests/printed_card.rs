#![allow(clippy::unwrap_used, reason = "a test may panic")]
#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "drawn pixels")]
#![allow(clippy::print_stdout, reason = "says when it was skipped")]
//! The printed tray card: its PDF is rasterised by `pdftoppm` (poppler, where it is on PATH), laid into a scene at a slant
//! beside nothing else, and found there.

use std::process::Command;

use broodhue::card::{self, Card, Design, FindOptions, Layout, Search};
use broodhue::geometry::{Homography, Point, Quad};
use broodhue::photo::{self, Limits, Photo};
use image::{Rgb, RgbImage};

/// Resolution of the raster: 10 pixels a millimetre.
const DPI: &str = "254";

/// The card as `pdftoppm` draws it; `None` (and a word) without that program.
fn raster() -> Option<RgbImage> {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("card.pdf");
    std::fs::write(&file, card::print::pdf()).unwrap();
    let out = folder.path().join("card");
    let run = Command::new("pdftoppm").args(["-png", "-r", DPI, "-singlefile"]).arg(&file).arg(&out).status();
    match run {
        Err(_) => {
            println!("skipped: pdftoppm (poppler-utils) is not on PATH");
            None
        }
        Ok(status) => {
            assert!(status.success(), "pdftoppm cannot read the PDF");
            Some(image::open(folder.path().join("card.png")).unwrap().into_rgb8())
        }
    }
}

/// Lays the card on a grey table so that its sheet's corners come to `corners`; `change` plays printer, lamp and camera.
fn scene(card: &RgbImage, corners: &Quad, change: impl Fn([f64; 3], Point) -> [f64; 3]) -> Photo {
    let (w, h) = (f64::from(card.width()), f64::from(card.height()));
    let sheet: Quad = [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)].map(|(x, y)| Point::new(x, y));
    let back = Homography::from_quads(corners, &sheet).unwrap();
    let picture = RgbImage::from_fn(1600, 1200, |x, y| {
        // Four samples a pixel, as a lens would mix them.
        let mut sum = [0.0; 3];
        for (dx, dy) in [(0.25, 0.25), (0.75, 0.25), (0.25, 0.75), (0.75, 0.75)] {
            let p = back.apply(Point::new(f64::from(x) + dx, f64::from(y) + dy));
            let inside = p.x >= 0.0 && p.y >= 0.0 && p.x < w && p.y < h;
            let value = if inside { card.get_pixel(p.x as u32, p.y as u32).0 } else { [120, 118, 115] };
            for (s, v) in sum.iter_mut().zip(value) {
                *s += f64::from(v) / 4.0;
            }
        }
        Rgb(change(sum, Point::new(f64::from(x), f64::from(y))).map(|v| v.clamp(0.0, 255.0) as u8))
    });
    let mut bytes = std::io::Cursor::new(Vec::new());
    picture.write_to(&mut bytes, image::ImageFormat::Png).unwrap();
    photo::read("scene.png", bytes.get_ref(), Limits::default()).unwrap()
}

fn find(photo: &Photo) -> Card {
    let Search { card, reason, .. } = card::find(photo, &FindOptions::default());
    card.unwrap_or_else(|| panic!("{reason}"))
}

/// The sheet's corners, turned by `degrees` and pressed together on one side as under a slant.
fn laid(degrees: f64, width: f64) -> Quad {
    let (s, c) = degrees.to_radians().sin_cos();
    let half = Point::new(width / 2.0, width / 2.0 * 105.0 / 148.0);
    [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)].map(|(x, y)| {
        let squeeze = 1.0 - 0.12 * y;
        let (x, y) = (x * half.x * squeeze, y * half.y);
        Point::new(800.0 + c * x - s * y, 600.0 + s * x + c * y)
    })
}

#[test]
fn the_printed_card_is_found_in_its_place_and_gives_millimetres() {
    let Some(card) = raster() else { return };
    // A4 and letter printers keep the sheet's own size: 1480 × 1050 pixels at 10 a millimetre.
    assert!(card.width().abs_diff(1480) <= 1 && card.height().abs_diff(1050) <= 1);
    for (degrees, width) in [(0.0, 900.0), (137.0, 700.0), (-80.0, 420.0)] {
        let corners = laid(degrees, width);
        // A poor printer and a yellow lamp: contrast falls, blue fades, light falls off to one side.
        let photo = scene(&card, &corners, |[r, g, b], p| {
            let lamp = 1.0 - 0.2 * p.x / 1600.0;
            [(30.0 + 0.8 * r) * lamp, (28.0 + 0.75 * g) * lamp, (20.0 + 0.55 * b) * lamp]
        });
        let found = find(&photo);
        assert_eq!(found.layout, Layout::Tray);
        assert!(!found.mirrored);
        for (seen, true_corner) in found.corners.iter().zip(&corners) {
            // A hundredth of the card's length.
            assert!(seen.distance(*true_corner) < 0.01 * width, "{seen:?} for {true_corner:?}");
        }
        let plane = found.plane().unwrap();
        let length = plane.apply(corners[0]).distance(plane.apply(corners[1]));
        assert!((length - 148.0).abs() < 1.5, "{length} mm");
    }
}

#[test]
fn a_mirrored_card_is_said_to_be_mirrored() {
    let Some(card) = raster() else { return };
    let [a, b, c, d] = laid(20.0, 800.0);
    let found = find(&scene(&card, &[b, a, d, c], |v, _| v));
    assert!(found.mirrored && found.layout == Layout::Tray);
    assert!(found.corners[0].distance(b) < 8.0);
}

#[test]
fn a_learned_tray_card_keeps_its_colours_through_its_file() {
    let Some(card) = raster() else { return };
    let photo = scene(&card, &laid(10.0, 900.0), |[r, g, b], _| [20.0 + 0.85 * r, 20.0 + 0.85 * g, 20.0 + 0.85 * b]);
    let found = find(&photo);
    assert!(found.known.is_empty(), "nobody knows a fresh print's colours");
    let lab = |v| broodhue::colour::lab_from_xyz(broodhue::colour::profile_xyz(v));
    let learned = card::learn("scene", &found, lab, |_| 1.0).unwrap();
    let text = card::file::write("my card", &learned).unwrap();
    let again: Design = card::file::parse("my-card.toml", &text).unwrap();
    let with_file = card::find(&photo, &FindOptions { design: Some(again), ..FindOptions::default() }).card.unwrap();
    assert_eq!(with_file.known.len(), 35);
    for (known, patch) in with_file.known.iter().zip(&with_file.patches) {
        assert!((known.lab.l - lab(patch.linear).l).abs() < 0.02 && known.error >= 1.0);
    }
}
