#![allow(clippy::unwrap_used, reason = "a test may panic")]
#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "drawn pixels")]
//! Cards and things that are no cards, drawn with a few lines: order in all eight symmetries, refusals with their reasons,
//! grids that must not be taken for a card.

use broodhue::card::{self, Card, Design, FindOptions, Layout, LeftOut, Search};
use broodhue::colour::srgb_from_lab;
use broodhue::geometry::Point;
use broodhue::photo::{self, Limits};
use image::{Rgb, RgbImage};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Width and height of every drawn picture.
const SIZE: (u32, u32) = (640, 480);

/// What stands at a place of a grid: patch (column, row), the gap between patches, or nothing.
enum At {
    Patch(usize, usize),
    Gap,
    Outside,
}

/// Where a pixel lies on a grid of square patches 0.8 of the pitch wide, its first patch centred on `first`.
fn on_grid(p: Point, first: Point, pitch: f64, columns: usize, rows: usize) -> At {
    let (u, v) = ((p.x - first.x) / pitch, (p.y - first.y) / pitch);
    let (c, r) = (u.round(), v.round());
    let rim = 0.65;
    if u < -rim || v < -rim || u > columns as f64 - 1.0 + rim || v > rows as f64 - 1.0 + rim {
        return At::Outside;
    }
    let inside = (u - c).abs() < 0.4 && (v - r).abs() < 0.4;
    let on = c >= 0.0 && r >= 0.0 && c < columns as f64 && r < rows as f64;
    if inside && on { At::Patch(c as usize, r as usize) } else { At::Gap }
}

fn search(draw: impl Fn(Point) -> [f64; 3]) -> Search {
    let mut noise = ChaCha8Rng::seed_from_u64(7);
    let picture = RgbImage::from_fn(SIZE.0, SIZE.1, |x, y| {
        let value = draw(Point::new(f64::from(x) + 0.5, f64::from(y) + 0.5));
        Rgb(value.map(|v| (v + noise.random_range(-2.0..2.0)).clamp(0.0, 255.0) as u8))
    });
    let mut bytes = std::io::Cursor::new(Vec::new());
    picture.write_to(&mut bytes, image::ImageFormat::Png).unwrap();
    let photo = photo::read("drawn.png", bytes.get_ref(), Limits::default()).unwrap();
    card::find(&photo, &FindOptions::default())
}

fn found(search: Search) -> Card {
    search.card.unwrap_or_else(|| panic!("{}", search.reason))
}

/// The chart's encoded colours as a screen would show them, 0…255.
fn chart_colours() -> Vec<[f64; 3]> {
    Design::chart().colours.iter().map(|lab| srgb_from_lab(*lab).map(|v| v * 255.0)).collect()
}

/// A bluish, contrasty camera under a lamp from one side.
fn camera([r, g, b]: [f64; 3], p: Point) -> [f64; 3] {
    let light = 0.7 + 0.3 * p.x / f64::from(SIZE.0);
    [0.6 * r * light + 8.0, 0.8 * g * light + 6.0, b * light + 10.0]
}

/// The chart with its first patch at `first`, six patches to the right when `way` is 0; bits of `way` flip it across, flip
/// it down and stand it up.
fn chart_at(p: Point, first: Point, pitch: f64, way: usize, colours: &[[f64; 3]]) -> Option<[f64; 3]> {
    let (columns, rows) = if way & 4 == 0 { (6, 4) } else { (4, 6) };
    match on_grid(p, first, pitch, columns, rows) {
        At::Outside => None,
        At::Gap => Some([25.0; 3]),
        At::Patch(c, r) => {
            let c = if way & 1 == 0 { c } else { columns - 1 - c };
            let r = if way & 2 == 0 { r } else { rows - 1 - r };
            let (col, row) = if way & 4 == 0 { (c, r) } else { (r, c) };
            Some(colours[row * 6 + col])
        }
    }
}

const TABLE: [f64; 3] = [150.0, 140.0, 130.0];

#[test]
fn all_eight_ways_a_chart_can_lie_are_told_apart() {
    let colours = chart_colours();
    for way in 0..8 {
        let first = Point::new(150.0, 90.0);
        let card = found(search(|p| camera(chart_at(p, first, 50.0, way, &colours).unwrap_or(TABLE), p)));
        // An odd number of flips is a mirror image.
        assert_eq!(card.mirrored, [1, 2, 4, 7].contains(&way), "way {way}");
        let (w, h) = if way & 4 == 0 { (5.0, 3.0) } else { (3.0, 5.0) };
        let brown = Point::new(
            first.x + 50.0 * if way & 1 == 0 { 0.0 } else { w },
            first.y + 50.0 * if way & 2 == 0 { 0.0 } else { h },
        );
        assert!(card.patches[0].centre.distance(brown) < 1.5, "way {way}: {:?} for {brown:?}", card.patches[0].centre);
        assert_eq!(card.layout, Layout::Chart24);
        assert!((card.pitch_px - 50.0).abs() < 0.5);
    }
}

#[test]
fn a_cut_chart_and_a_tiny_one_are_refused_with_the_reason() {
    let colours = chart_colours();
    let cut = search(|p| camera(chart_at(p, Point::new(-45.0, 90.0), 70.0, 0, &colours).unwrap_or(TABLE), p));
    assert!(cut.card.is_none() && cut.reason.contains("cut by the picture's edge"), "{}", cut.reason);
    let tiny = search(|p| camera(chart_at(p, Point::new(300.0, 200.0), 13.0, 0, &colours).unwrap_or(TABLE), p));
    assert!(tiny.card.is_none() && tiny.reason.contains("pixels apart"), "{}", tiny.reason);
}

#[test]
fn of_two_charts_one_is_taken_and_the_other_named() {
    let colours = chart_colours();
    let both = search(|p| {
        let large = chart_at(p, Point::new(60.0, 60.0), 50.0, 0, &colours);
        camera(large.or_else(|| chart_at(p, Point::new(420.0, 320.0), 30.0, 3, &colours)).unwrap_or(TABLE), p)
    });
    assert_eq!(both.others.len(), 1);
    assert!(both.card.is_some());
}

#[test]
fn what_lies_on_the_chart_is_left_out_and_said() {
    let colours = chart_colours();
    let card = found(search(|p| {
        let thumb = ((p.x - 300.0) / 45.0).powi(2) + ((p.y - 260.0) / 70.0).powi(2) < 1.0;
        let chart = chart_at(p, Point::new(150.0, 90.0), 50.0, 0, &colours).unwrap_or(TABLE);
        camera(if thumb { [205.0, 150.0, 120.0] } else { chart }, p)
    }));
    // The thumb lies over column 3 of rows 2 and 3.
    for covered in [15, 21] {
        assert_eq!(card.patches[covered].left_out, Some(LeftOut::Covered), "patch {covered}");
    }
    assert!(card.patches[..6].iter().all(|p| p.left_out.is_none()));
    assert!(card.notes.iter().any(|n| n.contains("covered")));
}

#[test]
fn another_card_of_24_is_found_but_not_taken_for_the_chart() {
    let mut random = ChaCha8Rng::seed_from_u64(3);
    let colours: Vec<[f64; 3]> = (0..24).map(|_| [(); 3].map(|()| random.random_range(20.0..235.0))).collect();
    let first = Point::new(150.0, 90.0);
    let card = found(search(|p| camera(chart_at(p, first, 50.0, 0, &colours).unwrap_or(TABLE), p)));
    assert_eq!(card.layout, Layout::Unknown24);
    assert!(card.centre().distance(Point::new(275.0, 165.0)) < 2.0);
}

#[test]
fn other_grids_are_no_cards() {
    let mut random = ChaCha8Rng::seed_from_u64(11);
    let colour: Vec<[f64; 3]> = (0..200).map(|_| [(); 3].map(|()| random.random_range(0.0..255.0))).collect();
    let key: Vec<f64> = (0..200).map(|_| random.random_range(-12.0..12.0)).collect();
    let grid = |columns: usize, rows: usize, patch: &dyn Fn(usize, usize) -> [f64; 3]| {
        let none = search(|p| match on_grid(p, Point::new(60.0, 60.0), 45.0, columns, rows) {
            At::Outside => TABLE,
            At::Gap => [30.0; 3],
            At::Patch(c, r) => patch(c, r),
        });
        assert!(none.card.is_none(), "{columns} × {rows}: {:?}", none.card.map(|c| c.layout));
        assert!(none.reason.contains("--card-corners"), "{}", none.reason);
    };
    grid(11, 8, &|c, r| colour[r * 11 + c]);
    grid(6, 4, &|c, r| [200.0 + key[r * 6 + c]; 3]);
    grid(7, 5, &|c, r| [35.0 * c as f64, 50.0 * r as f64, 120.0]);
}

#[test]
fn corners_by_hand_serve_when_nothing_stands_out() {
    let colours = chart_colours();
    let picture = RgbImage::from_fn(SIZE.0, SIZE.1, |x, y| {
        let p = Point::new(f64::from(x) + 0.5, f64::from(y) + 0.5);
        Rgb(chart_at(p, Point::new(150.0, 90.0), 50.0, 0, &colours).unwrap_or(TABLE).map(|v| v as u8))
    });
    let mut bytes = std::io::Cursor::new(Vec::new());
    picture.write_to(&mut bytes, image::ImageFormat::Png).unwrap();
    let photo = photo::read("drawn.png", bytes.get_ref(), Limits::default()).unwrap();
    let edge = 0.62 * 50.0;
    let corners = [
        (150.0 - edge, 90.0 - edge),
        (400.0 + edge, 90.0 - edge),
        (400.0 + edge, 240.0 + edge),
        (150.0 - edge, 240.0 + edge),
    ]
    .map(|(x, y)| Point::new(x, y));
    let options = FindOptions { corners: Some(corners), pitch_mm: Some(13.0), ..FindOptions::default() };
    let card = found(card::find(&photo, &options));
    assert!(card.patches[23].centre.distance(Point::new(400.0, 240.0)) < 0.5);
    // 50 pixels are 13 mm.
    assert!((card.plane().unwrap().magnification(Point::new(200.0, 200.0)) - 0.26).abs() < 1e-3);
    let line = [Point::new(0.0, 0.0); 4];
    let none = card::find(&photo, &FindOptions { corners: Some(line), ..FindOptions::default() });
    assert!(none.reason.contains("in line"));
}
