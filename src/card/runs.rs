//! Connected regions of small steps in a picture, with their sums: what spots are made of.
#![expect(clippy::cast_possible_truncation, reason = "runs are limited by the picture's size")]

use std::ops::RangeInclusive;

/// Sums over a region's pixels: count, x, y, xx, xy, yy.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Sums(pub(super) [f64; 6]);

impl Sums {
    /// Pixels `x0..x1` of row `y`, in closed form.
    fn of_run(x0: u32, x1: u32, y: u32) -> Self {
        let (n, y) = (f64::from(x1 - x0), f64::from(y) + 0.5);
        let mean = f64::from(x0 + x1) / 2.0;
        // Variance of n equally spaced unit pixels, each itself of width one: n²/12.
        let xx = n * (mean * mean + n * n / 12.0);
        Self([n, n * mean, n * y, xx, n * mean * y, n * (y * y + 1.0 / 12.0)])
    }

    fn add(&mut self, other: Self) {
        for (a, b) in self.0.iter_mut().zip(other.0) {
            *a += b;
        }
    }
}

/// A horizontal stretch of pixels below the step limit, and a run before it (or itself) of the same region.
#[derive(Debug, Clone, Copy)]
struct Run {
    x0: u32,
    x1: u32,
    y: u32,
    parent: u32,
}

/// Working space of the region search, kept between step limits.
#[derive(Debug, Default)]
pub(super) struct Runs {
    runs: Vec<Run>,
    /// Pixels of the region, at the place of its first run.
    areas: Vec<u32>,
    /// Place of the region among those kept, at the place of its first run.
    kept: Vec<u32>,
}

/// No place among the regions kept.
const NOWHERE: u32 = u32::MAX;

impl Runs {
    /// Sums of the four-connected regions of steps at or below `limit` (less than 128) whose size lies in `sizes`, in the
    /// order of their first runs.
    pub(super) fn regions(&mut self, steps: &[u8], width: usize, limit: u8, sizes: &RangeInclusive<u32>) -> Vec<Sums> {
        self.runs.clear();
        let mut above = 0..0;
        for (y, row) in steps.chunks_exact(width).enumerate() {
            let start = self.runs.len();
            self.collect_row(row, y as u32, limit);
            self.join(above, start);
            above = start..self.runs.len();
        }
        self.measure();
        self.sums(sizes)
    }

    /// Ties every run to the first of its region, and counts the pixels there.
    fn measure(&mut self) {
        self.areas.clear();
        self.areas.resize(self.runs.len(), 0);
        for i in 0..self.runs.len() {
            // A parent stands before its run, so it already points at the first.
            let first = self.runs[self.runs[i].parent as usize].parent;
            let run = &mut self.runs[i];
            run.parent = first;
            self.areas[first as usize] += run.x1 - run.x0;
        }
    }

    fn sums(&mut self, sizes: &RangeInclusive<u32>) -> Vec<Sums> {
        self.kept.clear();
        self.kept.resize(self.runs.len(), NOWHERE);
        let mut out: Vec<Sums> = Vec::new();
        for run in &self.runs {
            let first = run.parent as usize;
            if !sizes.contains(&self.areas[first]) {
                continue;
            }
            if self.kept[first] == NOWHERE {
                self.kept[first] = out.len() as u32;
                out.push(Sums::default());
            }
            out[self.kept[first] as usize].add(Sums::of_run(run.x0, run.x1, run.y));
        }
        out
    }

    fn collect_row(&mut self, row: &[u8], y: u32, limit: u8) {
        let (mut open, mut x) = (None, 0);
        for part in row.chunks(64) {
            let mut small = at_most(part, limit);
            // Bits from `x` on, the run going on from the part before if one is open.
            let mut left = part.len() as u32;
            while left > 0 {
                if let Some(x0) = open {
                    let more = (!small).trailing_zeros().min(left);
                    x += more;
                    left -= more;
                    small = small.checked_shr(more).unwrap_or(0);
                    if left > 0 {
                        self.push(x0, x, y);
                        open = None;
                    }
                } else {
                    let gap = small.trailing_zeros().min(left);
                    x += gap;
                    left -= gap;
                    small = small.checked_shr(gap).unwrap_or(0);
                    open = (left > 0).then_some(x);
                }
            }
        }
        if let Some(x0) = open {
            self.push(x0, x, y);
        }
    }

    fn push(&mut self, x0: u32, x1: u32, y: u32) {
        self.runs.push(Run { x0, x1, y, parent: self.runs.len() as u32 });
    }

    /// Joins the runs of the last row (from `start` on) with those of the row above that touch them.
    fn join(&mut self, above: std::ops::Range<usize>, start: usize) {
        let (mut i, mut j) = (above.start, start);
        while i < above.end && j < self.runs.len() {
            let (a, b) = (self.runs[i], self.runs[j]);
            if a.x0 < b.x1 && b.x0 < a.x1 {
                let (p, q) = (self.root(i as u32), self.root(j as u32));
                // The lower index stays root, so that parents stand before their runs.
                self.runs[p.max(q) as usize].parent = p.min(q);
            }
            if a.x1 <= b.x1 { i += 1 } else { j += 1 }
        }
    }

    fn root(&mut self, mut i: u32) -> u32 {
        while self.runs[i as usize].parent != i {
            let up = self.runs[i as usize].parent;
            self.runs[i as usize].parent = self.runs[up as usize].parent;
            i = self.runs[i as usize].parent;
        }
        i
    }
}

/// Bit i says whether byte i of up to 64 is at most `limit` (less than 128). Eight bytes go through one sum: 128 + limit
/// less the byte's lower seven bits keeps its highest bit exactly where they are at most the limit.
fn at_most(bytes: &[u8], limit: u8) -> u64 {
    const EACH: u64 = 0x0101_0101_0101_0101;
    const HIGH: u64 = 0x8080_8080_8080_8080;
    // Gathers the highest bits of eight bytes into the highest byte, first byte lowest.
    const GATHER: u64 = 0x0002_0408_1020_4081;
    let limits = u64::from(128 + limit) * EACH;
    let mut out = 0;
    for (i, eight) in bytes.chunks(8).enumerate() {
        let mut padded = [u8::MAX; 8];
        padded[..eight.len()].copy_from_slice(eight);
        let v = u64::from_le_bytes(padded);
        let small = (limits - (v & !HIGH)) & !v & HIGH;
        out |= (small.wrapping_mul(GATHER) >> 56) << (8 * i);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// The second route to a row's runs: byte by byte.
        #[test]
        fn runs_are_those_found_byte_by_byte(row in proptest::collection::vec(any::<u8>(), 1..200), limit in 0u8..128) {
            let bits = |i: usize| at_most(&row[i / 64 * 64..(i / 64 * 64 + 64).min(row.len())], limit) >> (i % 64) & 1;
            for (i, v) in row.iter().enumerate() {
                prop_assert_eq!(bits(i) == 1, *v <= limit, "byte {} of {:?}", i, row);
            }
            let mut runs = Runs::default();
            runs.collect_row(&row, 0, limit);
            let mut covered = vec![false; row.len()];
            for (k, r) in runs.runs.iter().enumerate() {
                prop_assert!(k == 0 || runs.runs[k - 1].x1 < r.x0);
                covered[r.x0 as usize..r.x1 as usize].fill(true);
            }
            prop_assert_eq!(covered, row.iter().map(|v| *v <= limit).collect::<Vec<_>>());
        }
    }

    #[test]
    fn a_ring_is_one_region_and_what_it_holds_another() {
        // Steps of 9 part them; the ring has 12 pixels and closes only in its last row.
        let picture = [[0, 0, 0, 0], [0, 9, 9, 0], [0, 9, 9, 0], [0, 0, 0, 0]];
        let steps: Vec<u8> = picture.concat();
        let regions = Runs::default().regions(&steps, 4, 3, &(1..=100));
        assert_eq!(regions.len(), 1);
        assert_eq!(regions[0].0[..3], [12.0, 24.0, 24.0]);
        assert!(Runs::default().regions(&steps, 4, 3, &(1..=11)).is_empty());
        assert_eq!(Runs::default().regions(&steps, 4, 9, &(1..=100))[0].0[..1], [16.0]);
    }
}
