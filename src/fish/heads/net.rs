//! A small convolutional network that says where heads lie: its layers, its weights, and one pass through it.

use std::ops::Range;
use std::sync::LazyLock;

use super::convolve::Shape;
use super::layers::Layers;
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

/// Weights and biases as `training/heads.py` writes them, see [`Layers::read`].
const WEIGHTS: &[u8] = include_bytes!("weights.bin");

/// The network, once it is needed.
static NET: LazyLock<Layers> = LazyLock::new(|| Layers::read(&SHAPES, WEIGHTS));

/// What it says of a picture whose sides are multiples of [`MULTIPLE`]: [`OUTPUTS`] channels at half its resolution.
pub(super) fn pass(picture: &Planes, spare: &mut Spare) -> Planes {
    let mut half = NET.in_turn(TO_HALF, picture, spare);
    let mut quarter = NET.in_turn(TO_QUARTER, &half, spare);
    let back = NET.in_turn(TO_EIGHTH_AND_BACK, &quarter, spare);
    quarter.add_doubled(&back);
    spare.keep(back);
    let back = NET.in_turn(BACK_TO_HALF, &quarter, spare);
    half.add_doubled(&back);
    spare.keep(back);
    spare.keep(quarter);
    let said = NET.in_turn(SAID, &half, spare);
    spare.keep(half);
    said
}

#[cfg(test)]
mod tests {
    use super::super::reference::{assert_says, assert_whole, drawn};
    use super::*;

    #[test]
    fn the_weights_are_all_there() {
        assert_whole(&SHAPES, WEIGHTS);
    }

    /// PyTorch 2, `python training/heads.py --check`.
    #[test]
    fn a_pass_is_the_one_of_a_reference_library() {
        let said = pass(&drawn(), &mut Spare::default());
        assert_eq!((said.width, said.height, said.channels), (12, 8, OUTPUTS));
        assert_says(&said, include_str!("../../../tests/fixtures/heads/said.txt"));
    }
}
