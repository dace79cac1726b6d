//! What stands for the rim of a fish, whose pixels show floor as well and are not read: the reading nearest to each.
#![expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "places inside a rectangle about the readings"
)]

use crate::fish::Mask;

use super::sample::Samples;

impl Samples {
    /// For each place of `rim` the reading nearest to it, where one is no farther than three times `depth` pixels.
    pub(super) fn nearest(&self, rim: &Mask, depth: u32) -> Self {
        let stride = self.stride.max(1);
        let far = i64::from((3 * depth).div_ceil(stride));
        let mut offsets: Vec<(i64, i64)> = (-far..=far).flat_map(|y| (-far..=far).map(move |x| (x, y))).collect();
        offsets.sort_by_key(|(x, y)| x * x + y * y);
        let readings = Lattice::of(self);
        let mut out = Self { stride, ..Self::default() };
        for run in rim.runs().iter().filter(|r| r.y % stride == 0) {
            for x in (run.x0.next_multiple_of(stride)..run.x1).step_by(stride as usize) {
                let (i, j) = (i64::from(x / stride), i64::from(run.y / stride));
                if let Some(k) = offsets.iter().find_map(|(dx, dy)| readings.at(i + dx, j + dy)) {
                    out.colours.push(self.colours[k]);
                    out.places.push((x, run.y));
                }
            }
        }
        out.mixed = vec![true; out.colours.len()];
        out
    }
}

/// Which reading stands where, in strides.
struct Lattice {
    corner: (i64, i64),
    width: i64,
    readings: Vec<Option<usize>>,
}

impl Lattice {
    fn of(samples: &Samples) -> Self {
        let stride = i64::from(samples.stride.max(1));
        let at = |&(x, y): &(u32, u32)| (i64::from(x) / stride, i64::from(y) / stride);
        let bounds = samples.places.iter().map(at).fold(None, |b: Option<[i64; 4]>, (x, y)| {
            let [x0, y0, x1, y1] = b.unwrap_or([x, y, x, y]);
            Some([x0.min(x), y0.min(y), x1.max(x), y1.max(y)])
        });
        let [x0, y0, x1, y1] = bounds.unwrap_or([0, 0, -1, -1]);
        let (width, height) = (x1 - x0 + 1, y1 - y0 + 1);
        let mut out = Self { corner: (x0, y0), width, readings: vec![None; (width * height) as usize] };
        for (k, (x, y)) in samples.places.iter().map(at).enumerate() {
            out.readings[((y - y0) * width + x - x0) as usize] = Some(k);
        }
        out
    }

    fn at(&self, x: i64, y: i64) -> Option<usize> {
        let (x, y) = (x - self.corner.0, y - self.corner.1);
        let inside = (0..self.width).contains(&x) && y >= 0;
        if inside { self.readings.get((y * self.width + x) as usize).copied().flatten() } else { None }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::Lab;

    #[test]
    fn each_place_of_the_rim_has_the_nearest_reading() {
        // Readings of L* 10, 20 and 30 in the middle of a row of nine places; the rim are its ends.
        let colours: Vec<Lab> = [10.0, 20.0, 30.0].map(|l| Lab::new(l, 0.0, 0.0)).into();
        let inner = Samples { places: vec![(3, 1), (4, 1), (5, 1)], ..Samples::of(colours) };
        let row = |on: [u8; 9]| Mask::from_block(&on.map(|v| v > 0), 9, (0, 1), 1, (9, 2));
        let lightness = |on, depth| inner.nearest(&row(on), depth).colours.iter().map(|c| c.l).collect::<Vec<_>>();
        assert_eq!(lightness([0, 1, 1, 0, 0, 0, 1, 0, 0], 1), [10.0, 10.0, 30.0]);
        assert_eq!(lightness([1, 0, 0, 0, 0, 0, 0, 0, 1], 1), [10.0, 30.0]);
        // Farther than three times the depth nothing is known.
        let far = Samples { places: vec![(5, 1), (6, 1), (7, 1)], ..inner.clone() };
        assert!(far.nearest(&row([1, 0, 0, 0, 0, 0, 0, 0, 0]), 1).colours.is_empty());
    }
}
