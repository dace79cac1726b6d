//! What a reference library said of a drawn picture with the same weights, for the tests of both networks.

use super::net::INPUTS;
use super::planes::Planes;

/// A picture that `training/heads.py` makes by the same formula.
pub(super) fn drawn() -> Planes {
    let mut picture = Planes::new(24, 16, INPUTS);
    for y in 0..16 {
        for (x, place) in picture.row_mut(y).chunks_exact_mut(INPUTS).enumerate() {
            let (x, y) = (x as f32, y as f32);
            place.copy_from_slice(&[(0.9 * x).sin() * (0.4 * y).cos(), 0.05 * x - 0.07 * y, (0.3 * x * y).sin()]);
        }
    }
    picture
}

/// Asserts that a network says what is told, place by place and channel by channel.
pub(super) fn assert_says(said: &Planes, told: &str) {
    let wanted: Vec<f32> = told.split_whitespace().map(|v| v.parse().unwrap()).collect();
    assert_eq!(said.width * said.height * said.channels, wanted.len());
    for (k, wanted) in wanted.iter().enumerate() {
        let place = k / said.channels;
        let seen = said.at(place % said.width, place / said.width)[k % said.channels];
        assert!((seen - wanted).abs() < 1e-3 * wanted.abs().max(1.0), "{k}: {seen}, not {wanted}");
    }
}

/// Asserts that there is a weight for each place under each kernel, and a bias for each channel that comes out.
pub(super) fn assert_whole(shapes: &[super::convolve::Shape], weights: &[u8]) {
    let wanted: usize = shapes.iter().map(|(side, _, inputs, outputs)| (side * side * inputs + 1) * outputs).sum();
    assert_eq!(weights.len(), 2 * wanted);
}
