//! Layers of a network, one after the other.

use std::ops::Range;

use super::convolve::{Layer, Shape};
use super::planes::{Planes, Spare};

/// Layers with their weights.
#[derive(Debug)]
pub(super) struct Layers(Vec<Layer>);

impl Layers {
    /// Layers of these shapes, all but the last rectified. `weights` holds the upper half of each 32-bit float, little end first; of each
    /// layer first the weights (row, column, channel in, channel out), then the biases.
    pub(super) fn read(shapes: &[Shape], weights: &[u8]) -> Self {
        let mut values =
            weights.as_chunks().0.iter().map(|pair| f32::from_bits(u32::from(u16::from_le_bytes(*pair)) << 16));
        let last = shapes.len() - 1;
        Self(shapes.iter().enumerate().map(|(i, &shape)| Layer::new(shape, i < last, &mut values)).collect())
    }

    /// What some of them make of `from`, the first one and the rest.
    pub(super) fn in_turn(&self, (first, rest): (usize, Range<usize>), from: &Planes, spare: &mut Spare) -> Planes {
        self.0[rest].iter().fold(self.0[first].over(from, spare), |planes, layer| {
            let next = layer.over(&planes, spare);
            spare.keep(planes);
            next
        })
    }
}
