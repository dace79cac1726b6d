//! A small literal fish read by a second, slower route: plain sorting, angles by arctangent, nothing thinned out.
#![allow(clippy::unwrap_used, clippy::cast_possible_truncation, reason = "a test may panic; values are literal")]

use std::collections::BTreeSet;

use super::{Features, Limits, PartColour, measure};
use crate::calibrate::{CalibratedPhoto, Calibration};
use crate::colour::{Lab, chroma, hue, srgb_encode, xyz_from_lab};
use crate::fish::{Mask, Parts, Region};
use crate::floor::{self, FloorOptions};
use crate::geometry::{PixelBox, Point};
use crate::photo::{self, Photo};
use crate::units::View;

const SIDE: u32 = 80;
const FISH: std::ops::Range<u32> = 10..70;

/// XYZ (D50) to linear sRGB, Bradford-adapted: the inverse matrix as Lindbloom publishes it, 7 digits.
const TO_LINEAR: [[f64; 3]; 3] = [
    [3.133_856_1, -1.616_866_7, -0.490_614_6],
    [-0.978_768_4, 1.916_141_5, 0.033_454],
    [0.071_945_3, -0.228_991_4, 1.405_242_7],
];

fn encoded(lab: Lab) -> image::Rgb<u8> {
    let v = xyz_from_lab(lab);
    image::Rgb(TO_LINEAR.map(|row| {
        let linear = row[0] * v.x + row[1] * v.y + row[2] * v.z;
        (srgb_encode(linear.clamp(0.0, 1.0)) * 255.0).round() as u8
    }))
}

fn polar(l: f64, c: f64, h: f64) -> Lab {
    Lab::new(l, c * h.to_radians().cos(), c * h.to_radians().sin())
}

/// Of ten rows four of ground, two red, one orange, two yellow, one black, each with a slow ramp along x.
fn painted(x: u32, y: u32) -> Lab {
    let ramp = 0.1 * f64::from(x);
    match y % 10 {
        0..=3 => polar(52.0 + ramp, 9.0, 85.0),
        4 | 5 => polar(42.0 + ramp, 45.0, 30.0),
        6 => polar(56.0 + ramp, 45.0, 64.0),
        7 | 8 => polar(72.0 + ramp, 40.0, 92.0),
        _ => polar(18.0 + ramp, 3.0, 60.0),
    }
}

fn photo() -> Photo {
    let picture = image::RgbImage::from_fn(SIDE, SIDE, |x, y| {
        if FISH.contains(&x) && FISH.contains(&y) { encoded(painted(x, y)) } else { image::Rgb([200; 3]) }
    });
    let mut bytes = std::io::Cursor::new(Vec::new());
    picture.write_to(&mut bytes, image::ImageFormat::Png).unwrap();
    photo::read("literal.png", bytes.get_ref(), photo::Limits::default()).unwrap()
}

/// A fish whose trunk is the upper 50 rows and whose finnage the lower 10.
fn region() -> Region {
    let part = |rows: std::ops::Range<u32>| {
        let block = vec![true; 60 * rows.len()];
        Mask::from_block(&block, 60, (FISH.start, rows.start), 1, (SIDE, SIDE))
    };
    let mask = part(FISH);
    Region {
        n: 1,
        centre: mask.centroid().unwrap(),
        bounds: PixelBox { x0: 10.0, y0: 10.0, x1: 70.0, y1: 70.0 },
        outline: vec![Point::new(10.0, 10.0), Point::new(70.0, 10.0), Point::new(70.0, 70.0), Point::new(10.0, 70.0)],
        area_px: 3600.0,
        axis: None,
        // So long that the fish counts as a pixel wide and no rim is left out.
        length_px: 3600.0,
        standard_length_px: None,
        length_mm: None,
        standard_length_mm: None,
        heading_degrees: None,
        parts: Parts { trunk: Some(part(10..60)), finnage: Some(part(60..70)), ..Parts::default() },
        view: View::Above,
        flags: BTreeSet::new(),
        number: 1,
        mask,
    }
}

fn middle(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[(values.len() - 1) / 2]
}

fn agrees(part: Option<PartColour>, colours: &[Lab]) {
    let part = part.unwrap();
    let of = |f: fn(&Lab) -> f64| middle(colours.iter().map(f).collect());
    let lab = Lab::new(of(|c| c.l), of(|c| c.a), of(|c| c.b));
    for (got, want) in [
        (part.lightness, lab.l),
        (part.a, lab.a),
        (part.b, lab.b),
        (part.chroma, chroma(lab)),
        (part.hue, hue(lab)),
        (part.saturation, 100.0 * chroma(lab) / (chroma(lab).powi(2) + lab.l.powi(2)).sqrt()),
    ] {
        // f32 while medians are sought.
        assert!((got - want).abs() < 1e-4, "{got} for {want}");
    }
}

#[test]
fn a_literal_fish_agrees_with_the_slow_route() {
    let photo = photo();
    let floor = floor::model(&photo, floor::reduced(&photo), None, &|v| v, &FloorOptions::default()).unwrap();
    let calibrated = CalibratedPhoto::new(&photo, None, floor, Calibration::from_profile("no card"));
    let features: Features = measure(&calibrated, &region(), &Limits::default());
    let colours = |columns: std::ops::Range<u32>, rows: &mut dyn Iterator<Item = u32>| -> Vec<Lab> {
        rows.flat_map(|y| columns.clone().map(move |x| (x, y))).map(|(x, y)| calibrated.lab_at(x, y)).collect()
    };
    let (trunk, finnage) = (colours(FISH, &mut (10..60)), colours(FISH, &mut (60..70)));
    // The trunk's colour leaves out the two pixels at the outline, where a lens would mix in some floor. Of ground that takes two of twenty
    // rows, of the covers none: so that each counts for what it takes of the trunk, ground counts ten times where they count nine times.
    let times = |y: u32| if y % 10 < 4 { 10 } else { 9 };
    agrees(features.trunk, &colours(12..68, &mut (12..60).flat_map(|y| std::iter::repeat_n(y, times(y)))));
    agrees(features.finnage, &finnage);
    agrees(features.ground, &colours(12..68, &mut (12..60).filter(|y| y % 10 < 4)));
    let near = |got: Option<f64>, want: f64| assert!((got.unwrap() - want).abs() < 1e-12, "{got:?} for {want}");
    for (share, want) in [
        (features.red_share, 0.2),
        (features.orange_share, 0.1),
        (features.yellow_share, 0.2),
        (features.black_share, 0.1),
        (features.reflective_share, 0.0),
    ] {
        [share.trunk, share.finnage, share.fish].into_iter().for_each(|s| near(s, want));
    }
    let red: Vec<f64> = trunk.iter().filter(|c| chroma(**c) >= 20.0 && hue(**c) < 50.0).map(|c| chroma(*c)).collect();
    near(
        features.red_strength.trunk.map(|s| (s * 1e9).round()),
        (red.iter().sum::<f64>() / red.len() as f64 * 1e9).round(),
    );
    near(features.glare_share, 0.0);
    assert_eq!(features.net, None, "without millimetres there is no scale for the net");
}

#[test]
fn a_cluster_has_no_features() {
    let photo = photo();
    let floor = floor::model(&photo, floor::reduced(&photo), None, &|v| v, &FloorOptions::default()).unwrap();
    let calibrated = CalibratedPhoto::new(&photo, None, floor, Calibration::from_profile("no card"));
    let cluster = Region { parts: Parts::default(), number: 3, ..region() };
    assert_eq!(measure(&calibrated, &cluster, &Limits::default()), Features::default());
}
