//! A small convolutional network that says where heads lie: its layers, its weights, and one pass through it.

use std::ops::Range;
use std::sync::LazyLock;

use super::convolve::{Layer, Shape};
use super::planes::{Planes, Spare};

/// Channels at a half, a quarter and an eighth of the input's resolution.
const A: usize = 12;
/// See [`A`].
const B: usize = 24;
/// See [`A`].
const C: usize = 32;
/// Channels of the input.
pub(super) const INPUTS: usize = 3;
/// Channels of the output.
pub(super) const OUTPUTS: usize = 8;
/// By what the input's width and height can be divided.
pub(super) const MULTIPLE: usize = 8;

/// The layers in the order in which their weights are kept.
const SHAPES: [Shape; 17] = [
    (3, 2, INPUTS, A),
    (3, 1, A, A),
    (3, 1, A, A),
    (3, 2, A, B),
    (3, 1, B, B),
    (3, 1, B, B),
    (3, 2, B, C),
    (3, 1, C, C),
    (3, 1, C, C),
    (3, 1, C, C),
    (3, 1, C, C),
    (3, 1, C, C),
    (1, 1, C, B),
    (3, 1, B, B),
    (1, 1, B, A),
    (3, 1, A, A),
    (1, 1, A, OUTPUTS),
];
/// A first layer and those that follow it: from the input to half its resolution.
const TO_HALF: (usize, Range<usize>) = (0, 1..3);
/// From there to a quarter.
const TO_QUARTER: (usize, Range<usize>) = (3, 4..6);
/// From there to an eighth and back.
const TO_EIGHTH_AND_BACK: (usize, Range<usize>) = (6, 7..13);
/// From a quarter back to half.
const BACK_TO_HALF: (usize, Range<usize>) = (13, 14..15);
/// What is said at half the resolution.
const SAID: (usize, Range<usize>) = (15, 16..17);

/// Weights and biases as `training/heads.py` writes them: the upper half of each 32-bit float, little end first; of each layer
/// first the weights (row, column, channel in, channel out), then the biases.
const WEIGHTS: &[u8] = include_bytes!("weights.bin");

/// The network, once it is needed.
pub(super) static NET: LazyLock<Net> = LazyLock::new(|| Net::read(WEIGHTS));

/// The network.
#[derive(Debug)]
pub(super) struct Net(Vec<Layer>);

impl Net {
    fn read(bytes: &[u8]) -> Self {
        let mut values =
            bytes.as_chunks().0.iter().map(|pair| f32::from_bits(u32::from(u16::from_le_bytes(*pair)) << 16));
        let last = SHAPES.len() - 1;
        Self(SHAPES.iter().enumerate().map(|(i, &shape)| Layer::new(shape, i < last, &mut values)).collect())
    }

    /// What it says of a picture whose sides are multiples of [`MULTIPLE`]: [`OUTPUTS`] channels at half its resolution.
    pub(super) fn pass(&self, picture: &Planes, spare: &mut Spare) -> Planes {
        let mut half = self.in_turn(TO_HALF, picture, spare);
        let mut quarter = self.in_turn(TO_QUARTER, &half, spare);
        let back = self.in_turn(TO_EIGHTH_AND_BACK, &quarter, spare);
        quarter.add_doubled(&back);
        spare.keep(back);
        let back = self.in_turn(BACK_TO_HALF, &quarter, spare);
        half.add_doubled(&back);
        spare.keep(back);
        spare.keep(quarter);
        let said = self.in_turn(SAID, &half, spare);
        spare.keep(half);
        said
    }

    /// What some layers make of `from`, one after the other.
    fn in_turn(&self, (first, rest): (usize, Range<usize>), from: &Planes, spare: &mut Spare) -> Planes {
        self.0[rest].iter().fold(self.0[first].over(from, spare), |planes, layer| {
            let next = layer.over(&planes, spare);
            spare.keep(planes);
            next
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A picture that `training/heads.py` makes by the same formula.
    fn drawn() -> Planes {
        let mut picture = Planes::new(24, 16, INPUTS);
        for y in 0..16 {
            for (x, place) in picture.row_mut(y).chunks_exact_mut(INPUTS).enumerate() {
                let (x, y) = (x as f32, y as f32);
                place.copy_from_slice(&[(0.9 * x).sin() * (0.4 * y).cos(), 0.05 * x - 0.07 * y, (0.3 * x * y).sin()]);
            }
        }
        picture
    }

    #[test]
    fn the_weights_are_all_there() {
        let wanted: usize = SHAPES.iter().map(|(side, _, inputs, outputs)| (side * side * inputs + 1) * outputs).sum();
        assert_eq!(WEIGHTS.len(), 2 * wanted);
    }

    /// What PyTorch 2 says of the same picture with the same weights (`python training/heads.py --check`).
    #[test]
    fn a_pass_is_the_one_of_a_reference_library() {
        let told = include_str!("../../../tests/fixtures/heads/said.txt");
        let wanted: Vec<f32> = told.split_whitespace().map(|v| v.parse().unwrap()).collect();
        let said = NET.pass(&drawn(), &mut Spare::default());
        assert_eq!((said.width, said.height), (12, 8));
        assert_eq!(said.width * said.height * OUTPUTS, wanted.len());
        for (k, wanted) in wanted.iter().enumerate() {
            let place = k / OUTPUTS;
            let seen = said.at(place % said.width, place / said.width)[k % OUTPUTS];
            assert!((seen - wanted).abs() < 1e-3 * wanted.abs().max(1.0), "{k}: {seen}, not {wanted}");
        }
    }
}
