//! The renderer itself, held against numbers it cannot know: published colours, plain geometry, known formulas.
#![allow(clippy::unwrap_used, reason = "a test may panic")]
#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "pixel places")]

mod common;

use broodhue::colour::{Lab, LinearRgb, ciede2000, lab_from_xyz, profile_xyz, srgb_decode};
use common::render::Camera;
use common::render::brood::{self, Recipe};
use common::render::chart::AFTER_2014;
use common::render::light::Light;

/// Draws a few set-ups into the folder named by `BROODHUE_LOOK`, to be looked at.
#[test]
#[ignore = "writes pictures; run with BROODHUE_LOOK=folder"]
fn draw_some_to_look_at() {
    let folder = std::env::var("BROODHUE_LOOK").unwrap();
    for (name, recipe) in [
        ("tidy0", Recipe::tidy(0)),
        ("tidy1", Recipe::tidy(1)),
        ("hard3", Recipe::hard(3)),
        ("real30", Recipe::real(30)),
        ("real31", Recipe::real(31)),
        ("real14", Recipe::real(14)),
        ("side2", Recipe::portrait(2)),
        ("side5", Recipe::portrait(5)),
    ] {
        let start = std::time::Instant::now();
        let shot = brood::setup(&recipe).draw();
        println!("{name}: {:?}", start.elapsed());
        shot.image.save(format!("{folder}/{name}.png")).unwrap();
    }
}

/// A perfect camera over even light gives the published CIELAB back (patch centres, 8-bit rounding only).
#[test]
fn a_perfect_camera_gives_the_published_chart_back() {
    // 8 bits round dark patches by up to 0.5 levels: at L* 20 that is 0.3 of ΔE; chart colours outside sRGB (cyan) clip.
    const ROUNDING: f64 = 0.6;
    let mut setup = brood::setup(&Recipe::tidy(1));
    setup.camera = Camera::perfect();
    setup.scene.light = Light::EVEN;
    let shot = setup.draw();
    for (i, (p, published)) in shot.truth.patches.iter().zip(AFTER_2014).enumerate() {
        let px = shot.image.get_pixel(p.x as u32, p.y as u32).0;
        let linear = px.map(|v| srgb_decode(f64::from(v) / 255.0) as f32);
        let lab = lab_from_xyz(profile_xyz(LinearRgb::new(linear[0], linear[1], linear[2])));
        let d = ciede2000(lab, Lab::new(published[0], published[1], published[2]));
        assert!(d < ROUNDING || i == 17, "patch {}: {d:.2}", i + 1);
    }
}
