//! The phone of a recipe and its exposure.

use std::ops::Range;

use broodhue::geometry::Point;
use rand::Rng;
use rand_chacha::ChaCha8Rng;

use super::Recipe;
use crate::common::render::paint::tri;
use crate::common::render::scene::{Scene, light_at};
use crate::common::render::{Camera, View};

/// A phone with the recipe's strength of errors.
pub(super) fn phone(recipe: &Recipe, scene: &Scene, view: &View, rng: &mut ChaCha8Rng) -> Camera {
    let k = recipe.hard;
    let camera = faulty_phone(k, 0.10..0.25, exposure(scene, view), rng);
    Camera {
        blur: 0.6 + 0.3 * k,
        shot: 0.0001 + 0.0004 * k,
        read: 0.001 + 0.002 * k,
        sharpen: rng.random_range(0.2..0.6),
        quality: 92,
        seed: rng.random(),
        ..camera
    }
}

/// A phone that errs in colour alone: a sensor no matrix undoes, by a share within `leak`, a cast by `strength`, a contrast
/// curve. White in full light comes out at `exposure` of full scale, less what the cast may add.
pub fn faulty_phone(strength: f64, leak: Range<f64>, exposure: f64, rng: &mut ChaCha8Rng) -> Camera {
    let mut matrix = [[0.0; 3]; 3];
    for (i, row) in matrix.iter_mut().enumerate() {
        let (p, q) = (rng.random_range(-0.06..0.14), rng.random_range(-0.05..0.10));
        row[(i + 1) % 3] = p;
        row[(i + 2) % 3] = q;
        row[i] = 1.0 - p - q;
    }
    let cast = 0.03 + 0.12 * strength;
    let warm = rng.random_range(-cast..cast);
    let green = rng.random_range(-cast..cast) * 0.4;
    Camera {
        matrix,
        leak: rng.random_range(leak),
        gains: [1.0 + warm, 1.0 + green, 1.0 - warm],
        exposure: exposure / (1.0 + cast),
        contrast: rng.random_range(0.1..0.4),
        ..Camera::perfect()
    }
}

/// The exposure at which the brightest of card white and floor in the picture comes out at 0.86 of full scale.
fn exposure(scene: &Scene, view: &View) -> f64 {
    let back = view.to_plane();
    let [l, a, b] = scene.tray.floor;
    let white = f64::from(tri(l, a, b)[1]).max(0.89);
    let brightest = (0..25)
        .map(|i| {
            let at = Point::new(
                f64::from(view.width) * f64::from(i % 5) / 4.0,
                f64::from(view.height) * f64::from(i / 5) / 4.0,
            );
            light_at(scene, view, &back, at)
        })
        .fold(0.0, f64::max);
    0.86 / (white * brightest)
}
