//! A small convolutional network that says where heads lie: its layers, its weights, and one pass through it.

use std::ops::Range;
use std::sync::LazyLock;

use ndarray::linalg::general_mat_mul;
use ndarray::{Array2, ArrayView2, ArrayViewMut2, Axis, Slice};

/// Values of some channels at each place of a rectangle.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Planes {
    /// Places across.
    pub(super) width: usize,
    /// Places down.
    pub(super) height: usize,
    /// A row for each place, row by row; a column for each channel.
    pub(super) values: Array2<f32>,
}

impl Planes {
    /// Zeros.
    pub(super) fn new(width: usize, height: usize, channels: usize) -> Self {
        Self { width, height, values: Array2::zeros((width * height, channels)) }
    }

    /// The same with zero for what is less.
    fn rectified(mut self) -> Self {
        self.values.mapv_inplace(|v| v.max(0.0));
        self
    }

    /// Adds `coarse`, each of whose places covers two by two of these.
    fn add_doubled(&mut self, coarse: &Self) {
        for (k, mut here) in self.values.rows_mut().into_iter().enumerate() {
            let (x, y) = (k % self.width, k / self.width);
            here += &coarse.values.row(y / 2 * coarse.width + x / 2);
        }
    }
}

/// Side and stride of a layer's kernel, and its channels in and out.
type Shape = (usize, usize, usize, usize);

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
/// The layers that end at half the input's resolution, those that go down from there to a quarter, those that go down to an eighth and
/// back, those that go back to half; two more follow.
const STAGES: [Range<usize>; 4] = [0..3, 3..6, 6..13, 13..15];

/// Weights and biases as `training/heads.py` writes them: the upper half of each 32-bit float, little end first; of each layer
/// first the weights (row, column, channel in, channel out), then the biases.
const WEIGHTS: &[u8] = include_bytes!("weights.bin");

/// The network, once it is needed.
pub(super) static NET: LazyLock<Net> = LazyLock::new(|| Net::read(WEIGHTS));

/// A convolution, batch normalisation folded in.
#[derive(Debug)]
struct Layer {
    side: usize,
    stride: usize,
    weights: Array2<f32>,
    bias: Vec<f32>,
}

/// The network.
#[derive(Debug)]
pub(super) struct Net(Vec<Layer>);

impl Net {
    fn read(bytes: &[u8]) -> Self {
        let mut values =
            bytes.as_chunks().0.iter().map(|pair| f32::from_bits(u32::from(u16::from_le_bytes(*pair)) << 16));
        let layer = |&(side, stride, inputs, outputs): &Shape| {
            let mut next = || values.next().unwrap_or_default();
            let weights = Array2::from_shape_simple_fn((side * side * inputs, outputs), &mut next);
            Layer { side, stride, weights, bias: (0..outputs).map(|_| next()).collect() }
        };
        Self(SHAPES.iter().map(layer).collect())
    }

    /// What it says of a picture whose sides are multiples of [`MULTIPLE`]: [`OUTPUTS`] channels at half its resolution.
    pub(super) fn pass(&self, picture: &Planes) -> Planes {
        let [to_half, to_quarter, to_eighth, back] = STAGES.map(|stage| &self.0[stage]);
        let mut half = in_turn(to_half, picture);
        let mut quarter = in_turn(to_quarter, &half);
        quarter.add_doubled(&in_turn(to_eighth, &quarter));
        half.add_doubled(&in_turn(back, &quarter));
        let [.., last, said] = &self.0[..] else { return half };
        said.over(&last.over(&half).rectified())
    }
}

/// What layers make of `from`, one after the other.
fn in_turn(layers: &[Layer], from: &Planes) -> Planes {
    let (first, rest) = layers.split_first().map_or((None, layers), |(first, rest)| (Some(first), rest));
    let begun = first.map_or_else(|| from.clone(), |layer| layer.over(from).rectified());
    rest.iter().fold(begun, |planes, layer| layer.over(&planes).rectified())
}

/// One place, one row.
const ROWS: Axis = Axis(0);
/// Places whose surroundings are multiplied by a layer's weights at once.
const AT_ONCE: usize = 256;

impl Layer {
    /// The layer over `from`; what lies outside counts as zero.
    fn over(&self, from: &Planes) -> Planes {
        let (width, height) = (from.width.div_ceil(self.stride), from.height.div_ceil(self.stride));
        let mut out = Planes::new(width, height, self.bias.len());
        out.values.rows_mut().into_iter().for_each(|mut row| row.iter_mut().zip(&self.bias).for_each(|(v, b)| *v = *b));
        let count = width * height;
        let mut around = Array2::zeros((if self.side == 1 { 0 } else { AT_ONCE }, self.weights.nrows()));
        for first in (0..count).step_by(AT_ONCE) {
            let places = first..count.min(first + AT_ONCE);
            let rows = places.len();
            let into = out.values.slice_axis_mut(ROWS, Slice::from(places.clone()));
            if self.side == 1 {
                self.add_product(from.values.slice_axis(ROWS, Slice::from(places)), into);
                continue;
            }
            for (k, row) in places.zip(around.rows_mut()) {
                let middle = (k % width * self.stride, k / width * self.stride);
                gather(from, middle, row.into_slice().unwrap_or_default());
            }
            self.add_product(around.slice_axis(ROWS, Slice::from(..rows)), into);
        }
        out
    }

    fn add_product(&self, around: ArrayView2<'_, f32>, mut into: ArrayViewMut2<'_, f32>) {
        general_mat_mul(1.0, &around, &self.weights, 1.0, &mut into);
    }
}

/// The channels of the three by three places about (x, y), one place after the other.
fn gather(from: &Planes, (x, y): (usize, usize), into: &mut [f32]) {
    let channels = from.values.ncols();
    let values = from.values.as_slice().unwrap_or_default();
    for (j, into) in into.chunks_exact_mut(3 * channels).enumerate() {
        let row = (y + j).wrapping_sub(1);
        if row >= from.height {
            into.fill(0.0);
            continue;
        }
        let at = row * from.width * channels;
        if x > 0 && x + 1 < from.width {
            into.copy_from_slice(&values[at + (x - 1) * channels..at + (x + 2) * channels]);
            continue;
        }
        for (i, into) in into.chunks_exact_mut(channels).enumerate() {
            let column = (x + i).wrapping_sub(1);
            if column >= from.width {
                into.fill(0.0);
            } else {
                into.copy_from_slice(&values[at + column * channels..at + (column + 1) * channels]);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A picture that `training/heads.py` makes by the same formula.
    fn drawn() -> Planes {
        let mut picture = Planes::new(24, 16, INPUTS);
        for (k, mut row) in picture.values.rows_mut().into_iter().enumerate() {
            let (x, y) = ((k % 24) as f32, (k / 24) as f32);
            row[0] = (0.9 * x).sin() * (0.4 * y).cos();
            row[1] = 0.05 * x - 0.07 * y;
            row[2] = (0.3 * x * y).sin();
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
        let said = NET.pass(&drawn());
        assert_eq!((said.width, said.height), (12, 8));
        assert_eq!(said.values.len(), wanted.len());
        for (k, (seen, wanted)) in said.values.iter().zip(&wanted).enumerate() {
            assert!((seen - wanted).abs() < 1e-3 * wanted.abs().max(1.0), "{k}: {seen}, not {wanted}");
        }
    }
}
