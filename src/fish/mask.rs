//! A set of pixels as runs: compact for a fish in a picture of any size.

use crate::geometry::{PixelBox, Point};

/// Pixels `x0..x1` of row `y`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Run {
    /// The row.
    pub y: u32,
    /// First pixel.
    pub x0: u32,
    /// One past the last pixel.
    pub x1: u32,
}

/// A set of pixels of the upright picture, as runs in reading order that neither touch nor overlap.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Mask {
    runs: Vec<Run>,
}

impl Mask {
    /// The pixels of a `width`-wide block of booleans whose pixel (i, j) covers the square of `step` pixels at
    /// (`x0` + i·step, `y0` + j·step); pixels at or beyond `limit` (width, height of the picture) are left out.
    pub fn from_block(block: &[bool], width: usize, origin: (u32, u32), step: u32, limit: (u32, u32)) -> Self {
        let mut runs = Vec::new();
        let mut y = origin.1;
        for row in block.chunks(width.max(1)) {
            let spans = spans(row, origin.0, step, limit.0);
            for _ in 0..step {
                if y < limit.1 {
                    runs.extend(spans.iter().map(|&(x0, x1)| Run { y, x0, x1 }));
                }
                y += 1;
            }
        }
        Self { runs }
    }

    /// The runs, in reading order.
    pub fn runs(&self) -> &[Run] {
        &self.runs
    }

    /// Whether there is no pixel.
    pub fn is_empty(&self) -> bool {
        self.runs.is_empty()
    }

    /// Number of pixels.
    pub fn area(&self) -> u64 {
        self.runs.iter().map(|r| u64::from(r.x1 - r.x0)).sum()
    }

    /// Every pixel, in reading order.
    pub fn pixels(&self) -> impl Iterator<Item = (u32, u32)> + '_ {
        self.runs.iter().flat_map(|r| (r.x0..r.x1).map(|x| (x, r.y)))
    }

    /// Whether pixel (x, y) belongs to the set.
    pub fn contains(&self, x: u32, y: u32) -> bool {
        let after = self.runs.partition_point(|r| (r.y, r.x0) <= (y, x));
        after > 0 && self.runs[after - 1].y == y && x < self.runs[after - 1].x1
    }

    /// The smallest box around the pixels; `None` when there are none.
    pub fn bounds(&self) -> Option<PixelBox> {
        let (first, last) = (self.runs.first()?, self.runs.last()?);
        let x0 = self.runs.iter().map(|r| r.x0).min()?;
        let x1 = self.runs.iter().map(|r| r.x1).max()?;
        Some(PixelBox { x0: f64::from(x0), y0: f64::from(first.y), x1: f64::from(x1), y1: f64::from(last.y + 1) })
    }

    /// Mean place of the pixels' centres; `None` when there are none.
    pub fn centroid(&self) -> Option<Point> {
        let (mut n, mut sx, mut sy) = (0.0, 0.0, 0.0);
        for r in &self.runs {
            let len = f64::from(r.x1 - r.x0);
            n += len;
            sx += len * f64::from(r.x0 + r.x1) / 2.0;
            sy += len * (f64::from(r.y) + 0.5);
        }
        (n > 0.0).then(|| Point::new(sx / n, sy / n))
    }

    /// The runs of row `y`.
    fn row(&self, y: u32) -> &[Run] {
        let from = self.runs.partition_point(|r| r.y < y);
        let to = self.runs.partition_point(|r| r.y <= y);
        &self.runs[from..to]
    }

    /// The pixels whose four neighbours `depth` pixels away, up, down, left and right, all belong to the set.
    pub fn eroded(&self, depth: u32) -> Self {
        let mut runs = Vec::with_capacity(self.runs.len());
        for row in self.runs.chunk_by(|a, b| a.y == b.y) {
            let y = row[0].y;
            let Some(above) = y.checked_sub(depth) else { continue };
            let shrunk: Vec<Run> = row
                .iter()
                .filter(|r| r.x0 + depth < r.x1.saturating_sub(depth))
                .map(|r| Run { y, x0: r.x0 + depth, x1: r.x1 - depth })
                .collect();
            runs.extend(common(&common(&shrunk, self.row(above)), self.row(y + depth)));
        }
        Self { runs }
    }

    /// The pixels of both sets.
    pub fn intersection(&self, other: &Self) -> Self {
        let rows = self.runs.chunk_by(|a, b| a.y == b.y);
        Self { runs: rows.flat_map(|row| common(row, other.row(row[0].y))).collect() }
    }

    /// The pixels of this set that `other` lacks.
    pub fn difference(&self, other: &Self) -> Self {
        let mut runs = Vec::with_capacity(self.runs.len());
        for run in &self.runs {
            let mut from = run.x0;
            for gone in other.row(run.y).iter().filter(|r| r.x0 < run.x1 && r.x1 > run.x0) {
                if gone.x0 > from {
                    runs.push(Run { x0: from, x1: gone.x0, ..*run });
                }
                from = gone.x1;
            }
            if from < run.x1 {
                runs.push(Run { x0: from, ..*run });
            }
        }
        Self { runs }
    }

    /// The pixels of either set.
    pub fn union(&self, other: &Self) -> Self {
        let mut all: Vec<Run> = self.runs.iter().chain(&other.runs).copied().collect();
        all.sort_unstable();
        let mut runs: Vec<Run> = Vec::with_capacity(all.len());
        for r in all {
            match runs.last_mut() {
                Some(last) if last.y == r.y && r.x0 <= last.x1 => last.x1 = last.x1.max(r.x1),
                _ => runs.push(r),
            }
        }
        Self { runs }
    }
}

/// The pixels that two lists of runs of one row, each in order and apart, have in common.
fn common(a: &[Run], b: &[Run]) -> Vec<Run> {
    let (mut i, mut j, mut out) = (0, 0, Vec::new());
    while let (Some(p), Some(q)) = (a.get(i), b.get(j)) {
        let (x0, x1) = (p.x0.max(q.x0), p.x1.min(q.x1));
        if x0 < x1 {
            out.push(Run { y: p.y, x0, x1 });
        }
        if p.x1 < q.x1 {
            i += 1;
        } else {
            j += 1;
        }
    }
    out
}

/// The runs of one row of a block, in pixels of the picture.
fn spans(row: &[bool], x0: u32, step: u32, limit: u32) -> Vec<(u32, u32)> {
    let mut out = Vec::new();
    let mut x = x0;
    for part in row.chunk_by(|a, b| a == b) {
        let end = x.saturating_add(u32::try_from(part.len()).unwrap_or(u32::MAX).saturating_mul(step));
        if part[0] && x < limit {
            out.push((x, end.min(limit)));
        }
        x = end;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn picture(rows: &[&str]) -> Mask {
        let width = rows[0].len();
        let block: Vec<bool> = rows.iter().flat_map(|r| r.bytes().map(|b| b == b'#')).collect();
        Mask::from_block(&block, width, (0, 0), 1, (100, 100))
    }

    #[test]
    fn area_centroid_and_box_of_a_literal_mask() {
        let mask = picture(&[".##.", "####", "...."]);
        assert_eq!(mask.area(), 6);
        assert_eq!(mask.centroid(), Some(Point::new(2.0, (2.0 * 0.5 + 4.0 * 1.5) / 6.0)));
        assert_eq!(mask.bounds(), Some(PixelBox { x0: 0.0, y0: 0.0, x1: 4.0, y1: 2.0 }));
    }

    #[test]
    fn a_stepped_block_covers_squares_and_stops_at_the_edge() {
        let mask = Mask::from_block(&[true, true, false, true], 2, (4, 6), 3, (9, 11));
        assert_eq!(mask.area(), 3 * 5 + 2 * 2);
        assert!(mask.contains(8, 8) && !mask.contains(9, 8) && !mask.contains(6, 9));
    }

    proptest! {
        #[test]
        fn sets_behave_like_sets(a in proptest::collection::vec(any::<bool>(), 60), b in proptest::collection::vec(any::<bool>(), 60)) {
            let mask = |v: &[bool]| Mask::from_block(v, 10, (0, 0), 1, (10, 6));
            let (ma, mb) = (mask(&a), mask(&b));
            let both: Vec<bool> = a.iter().zip(&b).map(|(p, q)| *p || *q).collect();
            prop_assert_eq!(ma.union(&mb), mask(&both));
            let common: Vec<bool> = a.iter().zip(&b).map(|(p, q)| *p && *q).collect();
            prop_assert_eq!(ma.intersection(&mb), mask(&common));
            let inner: Vec<bool> = (0..60usize)
                .map(|i| {
                    let (x, y) = (i % 10, i / 10);
                    (1..9).contains(&x) && (1..5).contains(&y) && [i, i - 1, i + 1, i - 10, i + 10].iter().all(|k| a[*k])
                })
                .collect();
            prop_assert_eq!(ma.eroded(1), mask(&inner));
            let without: Vec<bool> = a.iter().zip(&b).map(|(p, q)| *p && !*q).collect();
            prop_assert_eq!(ma.difference(&mb), mask(&without));
        }
    }
}
