//! A convolution, the one step of which the network is made.

use pulp::{Arch, Simd, WithSimd};

use super::planes::{Planes, Spare};

/// A multiple of the values that one instruction takes on any processor.
const LANES: usize = 16;

/// Side and stride of a layer's kernels, and its channels in and out.
pub(super) type Shape = (usize, usize, usize, usize);

/// Kernels, batch normalisation folded in.
#[derive(Debug)]
pub(super) struct Layer {
    /// Places across and down that a kernel covers, 1 or 3.
    side: usize,
    /// Places between two kernels.
    stride: usize,
    /// Channels that come out.
    outputs: usize,
    /// For each value under the kernel, row by row, its weight in each channel that comes out, filled up to whole [`LANES`].
    weights: Vec<f32>,
    /// Of each channel that comes out, filled up likewise.
    bias: Vec<f32>,
    /// Whether zero comes out for what is less.
    rectified: bool,
}

impl Layer {
    /// Of kernels and biases in the order of the weights' file.
    pub(super) fn new(
        (side, stride, inputs, outputs): Shape,
        rectified: bool,
        values: &mut impl Iterator<Item = f32>,
    ) -> Self {
        let mut filled = || {
            let mut row: Vec<f32> = values.by_ref().take(outputs).collect();
            row.resize(outputs.next_multiple_of(LANES), 0.0);
            row
        };
        let weights = (0..side * side * inputs).flat_map(|_| filled()).collect();
        Self { side, stride, outputs, weights, bias: filled(), rectified }
    }

    /// What comes out over `from`; what lies outside counts as zero.
    pub(super) fn over(&self, from: &Planes, spare: &mut Spare) -> Planes {
        let out = spare.take(from.width.div_ceil(self.stride), from.height.div_ceil(self.stride), self.outputs);
        Arch::new().dispatch(Over { layer: self, from, out })
    }
}

/// A layer over what it is applied to.
struct Over<'a> {
    layer: &'a Layer,
    from: &'a Planes,
    /// What comes out is written over it.
    out: Planes,
}

impl WithSimd for Over<'_> {
    type Output = Planes;

    #[inline(always)]
    fn with_simd<S: Simd>(mut self, simd: S) -> Planes {
        let vectors = self.layer.outputs.div_ceil(S::F32_LANES);
        let mut first = 0;
        while first < vectors {
            // As many places abreast as leave their sums in sixteen registers.
            first += match vectors - first {
                1 => self.rows::<S, 8, 1>(simd, first),
                2 | 4 => self.rows::<S, 6, 2>(simd, first),
                _ => self.rows::<S, 4, 3>(simd, first),
            };
        }
        self.out
    }
}

impl Over<'_> {
    /// `V` vectors of outputs, from number `first` on, everywhere, at `P` places of a row at once; gives `V`.
    #[inline(always)]
    fn rows<S: Simd, const P: usize, const V: usize>(&mut self, simd: S, first: usize) -> usize {
        let Self { layer, from, ref mut out } = *self;
        let outputs = layer.outputs;
        for y in 0..out.height {
            for (x, places) in out.row_mut(y).chunks_mut(P * outputs).enumerate() {
                let x = x * P;
                if places.len() == P * outputs {
                    layer.some::<S, P, V>(simd, from, (x, y), first, places);
                } else {
                    for (i, place) in places.chunks_exact_mut(outputs).enumerate() {
                        layer.some::<S, 1, V>(simd, from, (x + i, y), first, place);
                    }
                }
            }
        }
        V
    }
}

impl Layer {
    /// `V` vectors of outputs, from number `first` on, at `P` places from `place` on.
    #[inline(always)]
    fn some<S: Simd, const P: usize, const V: usize>(
        &self,
        simd: S,
        from: &Planes,
        (x, y): (usize, usize),
        first: usize,
        into: &mut [f32],
    ) {
        let Self { side, stride, outputs, rectified, .. } = *self;
        let (bias, _) = S::as_simd_f32s(&self.bias);
        let (weights, _) = S::as_simd_f32s(&self.weights);
        let mut sums = [[simd.splat_f32s(0.0); V]; P];
        sums.iter_mut().for_each(|sums| sums.copy_from_slice(&bias[first..first + V]));
        let inside = (3 - side) / 2;
        let values = side * from.channels;
        let width = bias.len();
        for (j, weights) in weights.chunks_exact(values * width).enumerate() {
            let seen: [&[f32]; P] =
                std::array::from_fn(|i| &from.run((x + i) * stride + inside, y * stride + inside + j, side)[..values]);
            for (k, weights) in weights.chunks_exact(width).enumerate() {
                let weights = &weights[first..first + V];
                for (sums, seen) in sums.iter_mut().zip(&seen) {
                    let value = simd.splat_f32s(seen[k]);
                    for (sum, weight) in sums.iter_mut().zip(weights) {
                        *sum = simd.mul_add_e_f32s(value, *weight, *sum);
                    }
                }
            }
        }
        let least = simd.splat_f32s(if rectified { 0.0 } else { f32::NEG_INFINITY });
        for (sums, into) in sums.iter().zip(into.chunks_exact_mut(outputs)) {
            for (sum, into) in sums.iter().zip(into.chunks_mut(S::F32_LANES).skip(first)) {
                simd.partial_store_f32s(into, simd.max_f32s(*sum, least));
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Numbers that no pattern hides in.
    fn numbers(seed: f32) -> impl Iterator<Item = f32> {
        (0u16..).map(move |k| (f32::from(k) * 0.7 + seed).sin())
    }

    /// The layer's own definition, place by place.
    fn by_definition(
        (side, stride, inputs, outputs): Shape,
        given: &[f32],
        from: &Planes,
        (x, y): (usize, usize),
    ) -> Vec<f32> {
        let (weights, bias) = given.split_at(side * side * inputs * outputs);
        let mut sums = bias.to_vec();
        for (k, weights) in weights.chunks_exact(outputs).enumerate() {
            let (row, column, channel) = (k / inputs / side, k / inputs % side, k % inputs);
            let inside = |at: usize, moved: usize, size: usize| {
                (at * stride + moved).checked_sub(side / 2).filter(|v| *v < size)
            };
            let seen = inside(x, column, from.width).zip(inside(y, row, from.height));
            let value = seen.map_or(0.0, |(x, y)| from.at(x, y)[channel]);
            sums.iter_mut().zip(weights).for_each(|(sum, weight)| *sum += value * weight);
        }
        sums
    }

    #[test]
    fn every_place_is_its_definitions() {
        for shape in [(3, 2, 3, 12), (3, 1, 12, 24), (3, 2, 24, 32), (3, 1, 5, 40), (1, 1, 12, 8), (1, 1, 7, 1)] {
            let (side, _, inputs, outputs) = shape;
            let given: Vec<f32> = numbers(0.3).take((side * side * inputs + 1) * outputs).collect();
            let mut from = Planes::new(13, 6, inputs);
            let mut values = numbers(1.9);
            (0..6).for_each(|y| from.row_mut(y).iter_mut().zip(&mut values).for_each(|(v, n)| *v = n));
            for rectified in [false, true] {
                let out = Layer::new(shape, rectified, &mut given.iter().copied()).over(&from, &mut Spare::default());
                assert_eq!((out.width, out.height), if shape.1 == 2 { (7, 3) } else { (13, 6) });
                for place in (0..out.height).flat_map(|y| (0..out.width).map(move |x| (x, y))) {
                    let least = if rectified { 0.0 } else { f32::NEG_INFINITY };
                    let wanted = by_definition(shape, &given, &from, place);
                    for (seen, wanted) in out.at(place.0, place.1).iter().zip(wanted) {
                        assert!(
                            (seen - wanted.max(least)).abs() < 1e-3,
                            "{shape:?} at {place:?}: {seen}, not {wanted}"
                        );
                    }
                }
            }
        }
    }
}
