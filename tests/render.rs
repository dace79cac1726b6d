//! The renderer itself, held against numbers it cannot know: published colours, plain geometry, known formulas.
#![allow(clippy::unwrap_used, reason = "a test may panic")]
#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "pixel places")]

mod common;

use broodhue::colour::{Lab, LinearRgb, ciede2000, lab_from_xyz, profile_xyz, srgb_decode};
use broodhue::geometry::{Point, polygon_area};
use broodhue::units::{Sex, View as Side};
use common::render::brood::{self, Kind, Recipe, Setup, invent};
use common::render::chart::AFTER_2014;
use common::render::clutter::Clutter;
use common::render::fish::{Base, Part};
use common::render::light::Light;
use common::render::tray::FloorColour;
use common::render::{Camera, camera};
use image::RgbImage;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

/// Draws a few set-ups into the folder named by `BROODHUE_LOOK`, to be looked at.
#[test]
#[ignore = "writes pictures: BROODHUE_LOOK=folder cargo test --test render -- --ignored"]
fn draw_some_to_look_at() {
    let folder = std::env::var("BROODHUE_LOOK").unwrap();
    for seed in [30, 31] {
        let (tidy, hard) = (Recipe::tidy(seed), Recipe::hard(seed));
        let (real, portrait) = (Recipe::real(seed), Recipe::portrait(seed));
        for (name, recipe) in [("tidy", tidy), ("hard", hard), ("real", real), ("portrait", portrait)] {
            brood::setup(&recipe).draw().image.save(format!("{folder}/{name}-{seed}.png")).unwrap();
        }
    }
}

/// A set-up with even light and a camera without error.
fn plain(recipe: &Recipe) -> Setup {
    let mut setup = brood::setup(recipe);
    setup.camera = Camera::perfect();
    setup.scene.light = Light::EVEN;
    setup
}

/// Linear value of a pixel, mean over 11 × 11, each channel decoded by `decode` from 0…1.
fn mean_linear(image: &RgbImage, at: Point, decode: impl Fn(f64) -> f64) -> [f64; 3] {
    let mut sum = [0.0; 3];
    for k in 0..121 {
        let px = image.get_pixel(at.x as u32 + k % 11 - 5, at.y as u32 + k / 11 - 5).0;
        (0..3).for_each(|c| sum[c] += decode(f64::from(px[c]) / 255.0));
    }
    sum.map(|v| v / 121.0)
}

fn lab_of_linear(v: [f64; 3]) -> Lab {
    lab_from_xyz(profile_xyz(LinearRgb::new(v[0] as f32, v[1] as f32, v[2] as f32)))
}

/// The cyan patch lies outside sRGB: its red is below 0 and no sRGB camera can show it.
const CYAN: usize = 17;

/// Published CIELAB values come back through a perfect camera (8-bit rounding alone).
#[test]
fn a_perfect_camera_gives_the_published_chart_back() {
    // Half a level of 255 is 0.3 of ΔE at L* 20.
    const ROUNDING: f64 = 0.6;
    let shot = plain(&Recipe::tidy(1)).draw();
    for (i, (p, published)) in shot.truth.patches.iter().zip(AFTER_2014).enumerate() {
        let lab = lab_of_linear(mean_linear(&shot.image, *p, srgb_decode));
        let d = ciede2000(lab, Lab::new(published[0], published[1], published[2]));
        assert!(d < ROUNDING || i == CYAN, "patch {}: {d:.2}", i + 1);
    }
}

/// A camera of known matrix, gains, exposure and curve, undone by hand, gives the published CIELAB back.
#[test]
fn a_known_camera_can_be_undone() {
    const NOISE: f64 = 1.2;
    let mut setup = brood::setup(&Recipe::hard(3));
    setup.scene.light = Light::EVEN;
    // Nothing lies on the card, and the part no matrix undoes is off.
    setup.camera = Camera { leak: 0.0, ..setup.camera };
    let known = setup.camera.clone();
    let shot = setup.draw();
    // The curve by bisection: it only rises.
    let decode = |encoded: f64| {
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..40 {
            let middle = (low + high) / 2.0;
            if known.curve(middle) < encoded { low = middle } else { high = middle }
        }
        low
    };
    for (i, (p, published)) in shot.truth.patches.iter().zip(AFTER_2014).enumerate() {
        let sensed = mean_linear(&shot.image, *p, decode);
        let balanced: [f64; 3] = std::array::from_fn(|c| sensed[c] / (known.gains[c] * known.exposure));
        let lab = lab_of_linear(solve(known.matrix, balanced));
        let d = ciede2000(lab, Lab::new(published[0], published[1], published[2]));
        assert!(d < NOISE || i == CYAN, "patch {}: {d:.2}", i + 1);
    }
}

/// Cramer's rule for 3 × 3.
fn solve(m: [[f64; 3]; 3], v: [f64; 3]) -> [f64; 3] {
    let det = |m: [[f64; 3]; 3]| {
        m[0][0] * (m[1][1] * m[2][2] - m[1][2] * m[2][1]) - m[0][1] * (m[1][0] * m[2][2] - m[1][2] * m[2][0])
            + m[0][2] * (m[1][0] * m[2][1] - m[1][1] * m[2][0])
    };
    std::array::from_fn(|k| {
        let mut with = m;
        (0..3).for_each(|i| with[i][k] = v[i]);
        det(with) / det(m)
    })
}

/// The camera's matrix is the inverse of the program's (7 digits each).
#[test]
fn camera_and_program_agree_on_srgb() {
    for (i, column) in camera::round_trip().iter().enumerate() {
        for (k, v) in column.iter().enumerate() {
            assert!((v - f64::from(u8::from(i == k))).abs() < 1e-5, "{i} {k}: {v}");
        }
    }
}

/// A straight fish alone in a straight view: mask area against the integral of its outline, ends against its length.
#[test]
fn areas_and_lengths_follow_from_the_body_plan() {
    let mut setup = plain(&Recipe { tilt: 0.0, kinds: vec![Kind::Plain], ..Recipe::tidy(2) });
    setup.view.turn = 0.0;
    setup.view.tilt = 0.0;
    let fish = &mut setup.scene.fish[0];
    fish.body.bend = (0.0, 0.0);
    fish.body.side_fin = 0.0;
    let body = fish.body.clone();
    let truth = setup.truth();
    let seen = &truth.fish[0];
    // Simpson's rule in fine steps over the half-width, both sides.
    let n = 2000;
    let area_mm: f64 = (0..n)
        .map(|i| {
            let u = |k: f64| (f64::from(i) + k) / f64::from(n);
            (body.half_width_at(u(0.0)) + 4.0 * body.half_width_at(u(0.5)) + body.half_width_at(u(1.0))) / 6.0
        })
        .sum::<f64>()
        * 2.0
        * body.standard_length
        / f64::from(n);
    let trunk = seen.mask.parts.iter().flatten().filter(|p| **p != Part::Finnage).count() as f64;
    let area = trunk * truth.mm_per_px * truth.mm_per_px;
    assert!((area / area_mm - 1.0).abs() < 0.01, "{area} against {area_mm} mm²");
    let length = seen.ends.0.distance(seen.ends.1) * truth.mm_per_px;
    assert!((length / body.total_length() - 1.0).abs() < 1e-6);
    assert!((polygon_area(&seen.outline).abs() - seen.area_px as f64).abs() < 1.0, "the outline walks around the mask");
}

/// The true field is the ratio of what a perfect camera sees on a plain floor.
#[test]
fn the_true_field_is_the_ratio_of_floor_light() {
    let recipe = Recipe { floor: FloorColour::Grey, kinds: Vec::new(), ..Recipe::hard(2) };
    let mut setup = brood::setup(&recipe);
    setup.camera = Camera { exposure: 0.9, ..Camera::perfect() };
    setup.scene.tray.wear = 0.0;
    setup.scene.tray.rings = 0.0;
    setup.scene.clutter.clear();
    let shot = setup.draw();
    let (cell, columns, ratios) = &shot.truth.field;
    let read = |i: u32, j: u32| {
        let p = Point::new(f64::from(i * cell), f64::from(j * cell));
        (mean_linear(&shot.image, p, srgb_decode)[1], ratios[j as usize * columns + i as usize])
    };
    let (first, second) = (read(12, 12), read(12, 30));
    assert!(first.1 / second.1 > 1.03 || second.1 / first.1 > 1.03, "the light is uneven here");
    assert!(((first.0 / second.0) / (first.1 / second.1) - 1.0).abs() < 0.01, "{first:?} {second:?}");
}

/// Noise has the variance asked for: shot noise with the signal, read noise always.
#[test]
fn noise_has_the_variance_asked_for() {
    let noisy = Camera { shot: 4e-4, read: 4e-3, ..Camera::perfect() };
    for grey in [0.2_f32, 0.5] {
        let white = [0.9642 * grey, grey, 0.8251 * grey];
        let image = noisy.develop(&mut vec![white; 300 * 300], 300);
        let values: Vec<f64> = image.pixels().map(|p| srgb_decode(f64::from(p.0[1]) / 255.0)).collect();
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        let variance = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / values.len() as f64;
        let asked = 4e-4 * f64::from(grey) + 1.6e-5;
        // Rounding to 8 bits adds about 3 %.
        assert!((variance / asked - 1.0).abs() < 0.08, "{variance} against {asked}");
    }
}

/// Covers take the share of the trunk they aim at, and the classes follow.
#[test]
fn covers_take_the_share_they_aim_at() {
    // Soft edges: half-covered pixels already pass the limits on hue and chroma.
    const EDGES: f64 = 0.08;
    for aim in [0.08, 0.3, 0.8] {
        let mut setup = plain(&Recipe { kinds: vec![Kind::ReducedRed], ..Recipe::tidy(4) });
        setup.scene.fish[0].coat.covers[0].body = aim;
        let truth = setup.truth();
        let red = truth.fish[0].red.trunk;
        assert!((red - aim).abs() < EDGES, "{red} against {aim}");
        let class = if aim > 0.15 { "full" } else { "reduced" };
        assert!(truth.fish[0].classes.contains(&("red-body", class)));
    }
}

/// The same recipe gives the same picture, another seed another one.
#[test]
fn a_seed_decides_everything() {
    let small = |seed| Recipe { size: (400, 300), ..Recipe::hard(seed) };
    let draw = |seed| brood::setup(&small(seed)).draw().image;
    assert_eq!(draw(5), draw(5));
    assert_ne!(draw(5), draw(6));
}

/// Every recipe keeps the whole card in the picture, and lays most of the fish it was asked for.
#[test]
fn cards_lie_in_the_picture_and_fish_find_room() {
    for seed in 0..40 {
        for recipe in [Recipe::tidy(seed), Recipe::hard(seed), Recipe::real(seed), Recipe::portrait(seed)] {
            let setup = brood::setup(&recipe);
            let (corners, patches) = setup.scene.charts[0].in_picture(&setup.view.to_pixels());
            let (w, h) = (f64::from(setup.view.width), f64::from(setup.view.height));
            for p in &corners {
                assert!(p.x > 4.0 && p.y > 4.0 && p.x < w - 4.0 && p.y < h - 4.0, "{recipe:?}: {p:?}");
            }
            assert_eq!(patches.len(), 24);
            assert!(setup.scene.fish.len() + 3 >= recipe.kinds.len(), "{recipe:?}");
        }
    }
}

/// A mirrored picture turns the card's corners the other way round.
#[test]
fn a_mirrored_picture_turns_the_card_round() {
    let mut setup = brood::setup(&Recipe { kinds: Vec::new(), ..Recipe::tidy(1) });
    let turn = |setup: &Setup| polygon_area(&setup.truth().corners.unwrap()).signum();
    let straight = turn(&setup);
    setup.view.mirrored = true;
    assert!((turn(&setup) + straight).abs() < 0.5);
}

/// Shade takes the share of the light it says.
#[test]
fn shade_takes_the_light_it_says() {
    let mut setup = plain(&Recipe { kinds: Vec::new(), ..Recipe::tidy(1) });
    let bare = setup.draw();
    let at = Point::new(-300.0, 0.0);
    setup.scene.clutter = vec![Clutter::Shade { at, turn: 0.0, depth: 0.4, softness: 1.0 }];
    let shaded = setup.draw();
    let p = bare.truth.patches[20];
    let (a, b) = (mean_linear(&bare.image, p, srgb_decode)[1], mean_linear(&shaded.image, p, srgb_decode)[1]);
    assert!((b / a - 0.6).abs() < 0.01, "{}", b / a);
}

/// From the side a fish has a dorsal fin, from above it has none.
#[test]
fn the_view_decides_the_fins() {
    let mut rng = ChaCha8Rng::seed_from_u64(1);
    let above = invent(Kind::Red, Base::Grey, Sex::Male, 30.0, Side::Above, &mut rng);
    let side = invent(Kind::Red, Base::Grey, Sex::Male, 30.0, Side::Side, &mut rng);
    assert!(above.body.back_fin <= 0.0 && side.body.back_fin > 0.0);
}
