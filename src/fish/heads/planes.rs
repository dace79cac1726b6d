//! Values of some channels at each place of a rectangle.

/// Values of some channels at each place of a rectangle, a border of zeros one place wide around it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Planes {
    /// Places across.
    pub(super) width: usize,
    /// Places down.
    pub(super) height: usize,
    /// Values a place.
    pub(super) channels: usize,
    /// Row by row, place by place, the border's too.
    values: Vec<f32>,
}

impl Planes {
    /// Zeros.
    pub(super) fn new(width: usize, height: usize, channels: usize) -> Self {
        Self { width, height, channels, values: vec![0.0; (width + 2) * (height + 2) * channels] }
    }

    /// Anything but for the border, in the memory of others.
    fn in_place_of(others: Self, width: usize, height: usize, channels: usize) -> Self {
        let mut values = others.values;
        let row = (width + 2) * channels;
        values.resize(row * (height + 2), 0.0);
        values[..row].fill(0.0);
        values[row * (height + 1)..].fill(0.0);
        for row in values.chunks_exact_mut(row) {
            row[..channels].fill(0.0);
            row[(width + 1) * channels..].fill(0.0);
        }
        Self { width, height, channels, values }
    }

    /// The channels of place (x, y).
    pub(super) fn at(&self, x: usize, y: usize) -> &[f32] {
        self.run(x + 1, y + 1, 1)
    }

    /// The channels of the places of row `y`.
    pub(super) fn row_mut(&mut self, y: usize) -> &mut [f32] {
        let first = ((y + 1) * (self.width + 2) + 1) * self.channels;
        &mut self.values[first..first + self.width * self.channels]
    }

    /// The channels of `places` places from (x, y) on, counted from the corner of the border.
    pub(super) fn run(&self, x: usize, y: usize, places: usize) -> &[f32] {
        let first = (y * (self.width + 2) + x) * self.channels;
        &self.values[first..first + places * self.channels]
    }

    /// Adds `coarse`, each of whose places covers two by two of these.
    pub(super) fn add_doubled(&mut self, coarse: &Self) {
        let (channels, width) = (self.channels, self.width);
        for y in 0..self.height {
            let from = coarse.run(1, y / 2 + 1, width.div_ceil(2)).chunks_exact(channels);
            for (pair, from) in self.row_mut(y).chunks_mut(2 * channels).zip(from) {
                for here in pair.chunks_exact_mut(channels) {
                    here.iter_mut().zip(from).for_each(|(v, add)| *v += add);
                }
            }
        }
    }
}

/// Planes that are done with, whose memory others take: memory that the system has to hand out anew costs an eighth of a pass.
#[derive(Debug, Default)]
pub(in crate::fish) struct Spare(Vec<Planes>);

impl Spare {
    /// Planes to be written over: anything but for the border.
    pub(super) fn take(&mut self, width: usize, height: usize, channels: usize) -> Planes {
        match self.0.pop() {
            Some(others) => Planes::in_place_of(others, width, height, channels),
            None => Planes::new(width, height, channels),
        }
    }

    /// Keeps the memory of planes that are done with.
    pub(super) fn keep(&mut self, planes: Planes) {
        self.0.push(planes);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn planes_in_the_memory_of_others_have_a_border_of_zeros() {
        for (width, height, channels) in [(3, 2, 2), (9, 7, 5), (1, 1, 1)] {
            let mut others = Planes::new(4, 4, 3);
            others.values.fill(7.0);
            let mut spare = Spare::default();
            spare.keep(others);
            let mut planes = spare.take(width, height, channels);
            (0..height).for_each(|y| planes.row_mut(y).fill(0.0));
            assert_eq!(planes, Planes::new(width, height, channels));
        }
    }

    #[test]
    fn a_coarse_place_is_added_to_two_by_two() {
        let mut fine = Planes::new(3, 2, 2);
        fine.row_mut(0).copy_from_slice(&[1.0, 2.0, 3.0, 4.0, 5.0, 6.0]);
        let mut coarse = Planes::new(2, 1, 2);
        coarse.row_mut(0).copy_from_slice(&[10.0, 20.0, 30.0, 40.0]);
        fine.add_doubled(&coarse);
        assert_eq!([fine.at(0, 0), fine.at(1, 0), fine.at(2, 0)], [[11.0, 22.0], [13.0, 24.0], [35.0, 46.0]]);
        assert_eq!([fine.at(0, 1), fine.at(1, 1), fine.at(2, 1)], [[10.0, 20.0], [10.0, 20.0], [30.0, 40.0]]);
    }
}
