//! Evenly coloured spots shaped like a patch seen at a slant: the raw material of every grid.
//!
//! A patch is a region of small colour steps inside a closed line of larger ones. How small depends on contrast, blur
//! and noise, so regions are collected at several step limits and the largest that still looks like a patch is kept.
#![expect(clippy::cast_possible_truncation, reason = "runs and steps are limited by the picture's size")]

use super::runs::{Runs, Sums};
use crate::geometry::Point;
use crate::photo::EncodedImage;

/// Largest encoded step between neighbours (two pixels apart) inside a patch, of 255; each about 1.6 times the one
/// before. Starting values: the least is the rounding of a reduced picture, the largest half the step from patch to frame
/// in a well-lit one.
const STEP_LIMITS: [u8; 6] = [3, 5, 8, 13, 21, 34];

/// Fewest reduced pixels of a patch's flat inside: 3 × 3.
const LEAST_PIXELS: u32 = 9;

/// An even spot: its place and its second moments, in reduced pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Blob {
    /// Mean place.
    pub(super) centre: Point,
    /// Number of pixels.
    pub(super) area: f64,
    /// Central second moments xx, xy, yy per pixel.
    pub(super) moments: [f64; 3],
}

impl Blob {
    /// Length of the side of the square of the same area.
    pub(super) fn side(&self) -> f64 {
        self.area.sqrt()
    }

    /// How large `d` is in units of this spot's own sides, whatever the slant under which it is seen: a parallelogram with
    /// sides u and v has the moments (uuᵀ + vvᵀ)/12, so whitening by 12 times them turns it into a unit square.
    pub(super) fn in_sides(&self, d: Point) -> Point {
        let [xx, xy, yy] = self.moments.map(|m| 12.0 * m);
        // The inverse of the lower Cholesky factor.
        let l11 = xx.sqrt();
        let l21 = xy / l11;
        let l22 = (yy - l21 * l21).max(f64::MIN_POSITIVE).sqrt();
        let x = d.x / l11;
        Point::new(x, (d.y - l21 * x) / l22)
    }
}

/// All patch-like spots of the picture, each once.
pub(super) fn blobs(image: &EncodedImage) -> Vec<Blob> {
    if image.width < 8 || image.height < 8 {
        return Vec::new();
    }
    let steps = steps(image);
    let mut kept = Kept::new(image.width, image.height);
    let mut runs = Runs::default();
    // A chart of 24 patches that fills the picture has patches of about a thirtieth of it.
    let sizes = LEAST_PIXELS..=(image.width * image.height / 20) as u32;
    for limit in STEP_LIMITS {
        for region in runs.regions(&steps, image.width, limit, &sizes) {
            if let Some(blob) = patch_like(region) {
                kept.offer(blob);
            }
        }
    }
    kept.blobs
}

/// The largest step of a channel across each pixel, between its left and right and its upper and lower neighbours; 255
/// along the picture's edge.
fn steps(image: &EncodedImage) -> Vec<u8> {
    let (w, h) = (image.width, image.height);
    let stride = 3 * w;
    let mut out = vec![u8::MAX; w * h];
    let mut line = vec![0u8; stride];
    for y in 1..h - 1 {
        let row = &image.bytes[y * stride..(y + 1) * stride];
        let above = &image.bytes[(y - 1) * stride..y * stride];
        let below = &image.bytes[(y + 1) * stride..(y + 2) * stride];
        for ((o, a), b) in line.iter_mut().zip(above).zip(below) {
            *o = a.abs_diff(*b);
        }
        for ((o, l), r) in line[3..].iter_mut().zip(row).zip(&row[6..]) {
            *o = (*o).max(l.abs_diff(*r));
        }
        for (o, c) in out[y * w + 1..(y + 1) * w - 1].iter_mut().zip(line[3..].chunks_exact(3)) {
            *o = c[0].max(c[1]).max(c[2]);
        }
    }
    out
}

/// A region as a spot, if its shape is near a parallelogram's: for one, area² = 144 · det(moments) exactly.
fn patch_like(Sums([n, x, y, xx, xy, yy]): Sums) -> Option<Blob> {
    let (cx, cy) = (x / n, y / n);
    let m = [xx / n - cx * cx, xy / n - cx * cy, yy / n - cy * cy];
    let det = m[0] * m[2] - m[1] * m[1];
    let trace = m[0] + m[2];
    // An ellipse has 1.047 and a triangle 0.87 here; small ragged spots scatter around 1.
    let fill = n / (12.0 * det.max(f64::MIN_POSITIVE).sqrt());
    // Eigenvalue ratio r of the moments: trace²/det = (1 + r)²/r; 9 is a side ratio of three, beyond a 60° slant.
    let slender = trace * trace / det.max(f64::MIN_POSITIVE) > 100.0 / 9.0;
    (fill > 0.83 && fill < 1.1 && !slender).then_some(Blob { centre: Point::new(cx, cy), area: n, moments: m })
}

/// Spots kept so far, found again by place.
#[derive(Debug)]
struct Kept {
    blobs: Vec<Blob>,
    cells: Vec<Vec<u32>>,
    across: usize,
    down: usize,
}

impl Kept {
    /// Cell size in reduced pixels.
    const CELL: f64 = 8.0;

    fn new(width: usize, height: usize) -> Self {
        let (across, down) = (width / Self::CELL as usize + 1, height / Self::CELL as usize + 1);
        Self { blobs: Vec::new(), cells: vec![Vec::new(); across * down], across, down }
    }

    /// Takes the spot in, unless it is one already kept: then the larger of the two stays. Limits rise, so the later is
    /// the same patch with more of its rim, until it runs into its surroundings and no longer looks like one.
    fn offer(&mut self, blob: Blob) {
        let (cx, cy) = ((blob.centre.x / Self::CELL) as usize, (blob.centre.y / Self::CELL) as usize);
        for y in cy.saturating_sub(1)..(cy + 2).min(self.down) {
            for x in cx.saturating_sub(1)..(cx + 2).min(self.across) {
                for &i in &self.cells[y * self.across + x] {
                    let old = &mut self.blobs[i as usize];
                    let near = old.centre.distance(blob.centre) < 0.2 * old.side().min(blob.side());
                    if near && blob.area < 3.0 * old.area {
                        *old = blob;
                        return;
                    }
                }
            }
        }
        self.cells[cy * self.across + cx].push(self.blobs.len() as u32);
        self.blobs.push(blob);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A dark picture of 40 × 30 pixels, lit where `lit` says so.
    fn drawn(lit: impl Fn(usize, usize) -> bool) -> EncodedImage {
        let places = (0..30).flat_map(|y| (0..40).map(move |x| (x, y)));
        let bytes = places.flat_map(|(x, y)| if lit(x, y) { [200, 90, 40] } else { [20; 3] }).collect();
        EncodedImage { width: 40, height: 30, factor: 1, bytes }
    }

    #[test]
    fn a_square_is_one_spot_in_its_own_units() {
        let found = blobs(&drawn(|x, y| (10..18).contains(&x) && (6..14).contains(&y)));
        assert_eq!(found.len(), 1, "{found:?}");
        // Its rim of one pixel has steps, so 6 × 6 pixels are even.
        assert_eq!((found[0].centre, found[0].area), (Point::new(14.0, 10.0), 36.0));
        let d = found[0].in_sides(Point::new(6.0, 3.0));
        assert!(d.distance(Point::new(1.0, 0.5)) < 1e-9);
    }

    #[test]
    fn a_ring_and_a_long_bar_are_none() {
        let ring = |x: usize, y: usize| {
            (10..24).contains(&x) && (6..20).contains(&y) && !((13..21).contains(&x) && (9..17).contains(&y))
        };
        let of_ring = blobs(&drawn(ring));
        assert!(of_ring.iter().all(|b| (b.area - 36.0).abs() < 1e-9), "only the ring's hole is a spot: {of_ring:?}");
        assert_eq!(blobs(&drawn(|x, y| (4..36).contains(&x) && (6..11).contains(&y))), Vec::new());
    }
}
