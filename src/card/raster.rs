//! Whether a fine regular grid lies over the patches: the pixels of a screen, or the raster of a print.
//!
//! The chart's patches are painted and have none, so a card with a raster is another card, however alike its colours.
//! Noise and compression fill a patch's spectrum smoothly; a regular grid is a place far above the places around it, the
//! same in every patch, also where it shows as moiré. Not seen are grids so fine that the picture does not resolve them.
#![expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "windows lie inside the picture")]

use rayon::prelude::*;

use super::fourier::Fourier;
use crate::geometry::Point;
use crate::photo::{CLIPPED_FROM, Photo};

/// Sides of a window in pixels, powers of two; the larger is used where the patches hold it.
const WINDOWS: [usize; 2] = [64, 32];

/// Half the side of the square looked at in a patch, in units of the pitch: patches are 0.75 to 0.9 of it wide.
const INNER: f64 = 0.33;

/// A square this many windows wide is looked at in two windows instead of one.
const TWO_FROM: f64 = 1.4;

/// Share of clipped pixels from which a window says nothing (starting value).
const CLIPPED: f64 = 0.1;

/// Least amplitude of a wave, in levels of 255: a smooth slope rounded to levels has waves of 1/π of a level.
const LEAST_AMPLITUDE: f32 = 0.4;

/// Most that a single patch counts for, in units of what is around the place.
const MOST: f32 = 40.0;

/// Mean over the patches, in units of what is around a place of the spectrum, from which a grid is there. Of the open
/// photographs the offset-printed lookalike has 6.3, the others at most 2.1, and so have their distorted copies; drawn
/// screens of 0.5 to 4.5 pixels a dot have mostly 4 to 40.
const REGULAR: f32 = 3.7;

/// Fewest patches that are judged.
const FEWEST: usize = 8;

/// Whether a regular grid lies over the patches with these centres, `pitch` pixels apart.
pub(super) fn lies_over(photo: &Photo, centres: &[Point], pitch: f64) -> bool {
    let square = 2.0 * INNER * pitch;
    let Some(side) = WINDOWS.into_iter().find(|n| *n as f64 <= square) else { return false };
    let window = Window::new(side);
    let shift = (square - side as f64) / 2.0;
    let shifts: &[f64] = if square < TWO_FROM * side as f64 { &[0.0] } else { &[-shift, shift] };
    let heights = |centre: &Point| {
        let read = shifts.iter().filter_map(|d| window.read(photo, *centre + Point::new(*d, *d)));
        let read: Vec<Vec<f32>> = read.collect();
        let power = window.fourier.power(read.first()?, read.get(1).map(Vec::as_slice));
        Some(window.heights(&power, read.len()))
    };
    let heights: Vec<Vec<f32>> = centres.par_iter().filter_map(heights).collect();
    let patches = heights.len();
    let mut sums = vec![0.0f32; side * side];
    heights.iter().for_each(|patch| sums.iter_mut().zip(patch).for_each(|(sum, height)| *sum += height));
    let highest = (0..side * side).filter(|k| telling(k % side, k / side, side)).map(|k| sums[k]).fold(0.0, f32::max);
    patches >= FEWEST && highest >= REGULAR * patches as f32
}

/// Whether a place of the spectrum tells a grid: not the slow changes, not the pure rows and columns, and not the waves
/// that JPEG's blocks of 8 × 8 pixels are made of.
fn telling(x: usize, y: usize, side: usize) -> bool {
    let frequency = |k: usize| k.min(side - k);
    let (x, y) = (frequency(x), frequency(y));
    let between = |f: usize| (2..=side / 2 - 2).contains(&f);
    let off_blocks = x % 4 == 2 || y % 4 == 2;
    between(x) && between(y) && x + y > 4 && off_blocks
}

/// Windows of one size.
struct Window {
    side: usize,
    /// Weight by place along one side (Hann).
    weights: Vec<f32>,
    fourier: Fourier,
}

impl Window {
    fn new(side: usize) -> Self {
        let weight = |i: usize| 0.5 - 0.5 * (std::f32::consts::TAU * (i + 1) as f32 / (side + 1) as f32).cos();
        Self { side, weights: (0..side).map(weight).collect(), fourier: Fourier::new(side) }
    }

    /// The green values around a place, without their plane and faded towards the rim; `None` where the window leaves the
    /// picture or is clipped.
    fn read(&self, photo: &Photo, middle: Point) -> Option<Vec<f32>> {
        let n = self.side as u32;
        let corner = |v: f64, limit: u32| {
            let from = (v - self.side as f64 / 2.0).round();
            (from >= 0.0 && from + self.side as f64 <= f64::from(limit)).then_some(from as u32)
        };
        let (x0, y0) = (corner(middle.x, photo.width)?, corner(middle.y, photo.height)?);
        let mut values = Vec::with_capacity(self.side * self.side);
        let mut clipped = 0;
        for y in y0..y0 + n {
            for x in x0..x0 + n {
                let green = photo.encoded(x, y)[1];
                clipped += usize::from(green >= CLIPPED_FROM);
                values.push(f32::from(green));
            }
        }
        if clipped as f64 > CLIPPED * values.len() as f64 {
            return None;
        }
        self.level(&mut values);
        for (row, wy) in values.chunks_exact_mut(self.side).zip(&self.weights) {
            row.iter_mut().zip(&self.weights).for_each(|(v, wx)| *v *= wx * wy);
        }
        Some(values)
    }

    /// Takes mean and slopes out.
    fn level(&self, values: &mut [f32]) {
        let n = self.side as f32;
        let along = |i: usize| i as f32 - (n - 1.0) / 2.0;
        let (mut mean, mut dx, mut dy) = (0.0, 0.0, 0.0);
        for (k, v) in values.iter().enumerate() {
            mean += v;
            dx += v * along(k % self.side);
            dy += v * along(k / self.side);
        }
        mean /= n * n;
        // The sum of squares of n places one apart, n times over.
        let squares = n * n * (n * n - 1.0) / 12.0;
        for (k, v) in values.iter_mut().enumerate() {
            *v -= mean + (dx * along(k % self.side) + dy * along(k / self.side)) / squares;
        }
    }

    /// For each place of a patch's spectrum its height over the places around it.
    fn heights(&self, power: &[f32], windows: usize) -> Vec<f32> {
        let n = self.side;
        let reach = 2 + n / 32;
        let (wide, narrow) = (ring_sums(power, n, reach), ring_sums(power, n, 1));
        let around = ((2 * reach + 1).pow(2) - 9) as f32;
        // A wave of amplitude a has the power (a/2 · Σ weights)², and the weights' mean is ½ along each side.
        let least = windows as f32 * (LEAST_AMPLITUDE / 8.0 * (n * n) as f32).powi(2);
        let height = |(power, (wide, narrow)): (&f32, (&f32, &f32))| {
            let height = power / ((wide - narrow) / around).max(f32::MIN_POSITIVE);
            height.min(if *power >= least { MOST } else { 1.0 })
        };
        power.iter().zip(wide.iter().zip(&narrow)).map(height).collect()
    }
}

/// Sum over the square of places up to `reach` away in both directions; the spectrum goes on at its other end.
fn ring_sums(values: &[f32], n: usize, reach: usize) -> Vec<f32> {
    let mut across = Vec::with_capacity(n * n);
    for row in values.chunks_exact(n) {
        let around = [&row[n - reach..], row, &row[..reach]].concat();
        across.extend(around.windows(2 * reach + 1).map(|near| near.iter().sum::<f32>()));
    }
    let mut out = vec![0.0; n * n];
    for (y, sums) in out.chunks_exact_mut(n).enumerate() {
        for row in (0..=2 * reach).map(|d| (y + n + d - reach) % n) {
            sums.iter_mut().zip(&across[row * n..]).for_each(|(sum, v)| *sum += v);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use rand::{Rng, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    use super::*;
    use crate::photo::{Profile, Samples};

    /// Grey patches with noise of two levels, and what `wave` adds.
    fn drawn(wave: impl Fn(f64, f64) -> f64) -> Photo {
        let mut noise = ChaCha8Rng::seed_from_u64(3);
        let samples = (0..600 * 400u32)
            .flat_map(|k| {
                let grey = 120.0 + noise.random_range(-2.0..2.0) + wave(f64::from(k % 600), f64::from(k / 600));
                [grey as u8; 3]
            })
            .collect();
        Photo {
            name: String::new(),
            hash: String::new(),
            width: 600,
            height: 400,
            taken: None,
            camera: None,
            samples: Samples::Eight(samples),
            profile: Profile::srgb(),
            warnings: Vec::new(),
        }
    }

    fn judged(photo: &Photo) -> bool {
        let centre = |i| Point::new(50.0 + 100.0 * f64::from(i % 6), 50.0 + 100.0 * f64::from(i / 6));
        lies_over(photo, &(0..24).map(centre).collect::<Vec<_>>(), 100.0)
    }

    #[test]
    fn a_faint_grid_is_seen_and_noise_slopes_and_bars_are_not() {
        assert!(judged(&drawn(|x, y| 1.5 * (0.9 * x + 0.37 * y).sin())));
        assert!(!judged(&drawn(|_, _| 0.0)));
        assert!(!judged(&drawn(|x, y| 0.05 * x + 0.02 * y)));
        assert!(!judged(&drawn(|x, _| 1.5 * (0.9 * x).sin())), "pure columns are JPEG's");
    }

    #[test]
    fn the_rounding_of_a_clean_slope_is_no_grid() {
        let clean = Photo {
            samples: Samples::Eight(
                (0..600 * 400u32)
                    .flat_map(|k| [(40.0 + 0.11 * f64::from(k % 600) + 0.07 * f64::from(k / 600)) as u8; 3])
                    .collect(),
            ),
            ..drawn(|_, _| 0.0)
        };
        assert!(!judged(&clean));
    }
}
