//! A fish a person drew a box around, on whatever ground: the box's rim says what is not fish.
#![expect(clippy::cast_possible_truncation, reason = "places are clamped to the picture before the cast")]

use crate::floor::perceived;
use crate::geometry::PixelBox;

use super::Scene;
use super::grid::Grid;
use super::mask::Mask;

/// Fewest pixels along each side of the box, as far as it lies in the picture: a rim, and something inside it.
const LEAST_SIDE: u32 = 8;
/// Pixels along the longer side of the box that the fish is told apart at.
const DETAIL: f64 = 240.0;
/// Share of the box's sides that its rim takes.
const RIM: f64 = 0.06;
/// Colours each of ground and fish is described by.
const COLOURS: usize = 5;
/// Rounds of telling apart and describing anew; it stands still after three or four.
const ROUNDS: usize = 5;

/// The fish's pixels in a box; `None` when nothing in it differs from its rim.
///
/// Ground and fish are each described by a few colours; pixels go to the nearer description, neighbours having a say, in turns
/// (after Rother, Kolmogorov & Blake 2004, without their graph cut).
pub(super) fn fish_in(scene: &Scene<'_>, window: PixelBox) -> Option<Mask> {
    let photo = scene.photo;
    let within = |v: f64, limit: u32| v.clamp(0.0, f64::from(limit)) as u32;
    let (x0, y0) = (within(window.x0, photo.width), within(window.y0, photo.height));
    let (x1, y1) = (within(window.x1, photo.width), within(window.y1, photo.height));
    if x1 < x0 + LEAST_SIDE || y1 < y0 + LEAST_SIDE {
        return None;
    }
    let step = ((f64::from((x1 - x0).max(y1 - y0)) / DETAIL).round() as u32).max(1);
    let (width, height) = (((x1 - x0) / step) as usize, ((y1 - y0) / step) as usize);
    let colours: Vec<[f32; 3]> = (0..width * height)
        .map(|k| {
            let (x, y) = (x0 + (k % width) as u32 * step, y0 + (k / width) as u32 * step);
            let mut sum = photo.linear(x, y);
            let far = (step - 1).min(photo.width - 1 - x).min(photo.height - 1 - y);
            sum += photo.linear(x + far, y + far) + photo.linear(x + far, y) + photo.linear(x, y + far);
            perceived(sum / 4.0)
        })
        .collect();
    let rim = |k: usize| {
        let margin = |n: usize| ((n as f64 * RIM) as usize).max(1);
        let (x, y, mx, my) = (k % width, k / width, margin(width), margin(height));
        x < mx || y < my || x + mx >= width || y + my >= height
    };
    let mut fish = Grid { width, height, on: (0..width * height).map(|k| !rim(k)).collect() };
    for round in 0..ROUNDS {
        let ground = describe(&colours, |k| if round == 0 { rim(k) } else { !fish.on[k] });
        let own = describe(&colours, |k| if round == 0 { central(k, width, height) } else { fish.on[k] });
        let lead: Vec<f32> = colours.iter().map(|c| distance(c, &ground) - distance(c, &own)).collect();
        for k in 0..fish.on.len() {
            // The mean over the neighbourhood decides: single pixels of gravel do not.
            let (mut sum, mut n) = (2.0 * lead[k], 2.0);
            for q in fish.neighbours(k).chain(fish.diagonals(k)) {
                (sum, n) = (sum + lead[q], n + 1.0);
            }
            fish.on[k] = sum / n > 0.0 && !rim(k);
        }
    }
    let piece = fish.pieces().into_iter().max_by_key(Vec::len).filter(|p| p.len() >= 30)?;
    let mut grid = Grid::empty(width, height);
    piece.iter().for_each(|&k| grid.on[k] = true);
    let filled = grid.filled(piece.len() / 3);
    Some(Mask::from_block(&filled.on, width, (x0, y0), step, (photo.width, photo.height)))
}

/// The middle of the box, where the fish is sure to be.
fn central(k: usize, width: usize, height: usize) -> bool {
    let off = |i: usize, n: usize| ((i as f64 + 0.5) / n as f64 - 0.5).abs();
    off(k % width, width) < 0.2 && off(k / width, height) < 0.2
}

/// A few colours for a set of pixels, by k-means (Lloyd 1982) from evenly spaced places in order of lightness.
fn describe(colours: &[[f32; 3]], belongs: impl Fn(usize) -> bool) -> Vec<[f32; 3]> {
    let mut set: Vec<[f32; 3]> = (0..colours.len()).filter(|&k| belongs(k)).map(|k| colours[k]).collect();
    if set.is_empty() {
        return Vec::new();
    }
    set.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let mut means: Vec<[f32; 3]> = (0..COLOURS).map(|i| set[(2 * i + 1) * set.len() / (2 * COLOURS)]).collect();
    for _ in 0..6 {
        let mut sums = [[0.0f64; 4]; COLOURS];
        for c in &set {
            let nearest =
                (0..COLOURS).min_by(|&a, &b| apart(c, &means[a]).total_cmp(&apart(c, &means[b]))).unwrap_or(0);
            (0..3).for_each(|i| sums[nearest][i] += f64::from(c[i]));
            sums[nearest][3] += 1.0;
        }
        for (mean, sum) in means.iter_mut().zip(sums).filter(|(_, s)| s[3] > 0.0) {
            *mean = std::array::from_fn(|i| (sum[i] / sum[3]) as f32);
        }
    }
    means
}

fn distance(colour: &[f32; 3], means: &[[f32; 3]]) -> f32 {
    means.iter().map(|m| apart(colour, m)).fold(f32::MAX, f32::min).sqrt()
}

fn apart(a: &[f32; 3], b: &[f32; 3]) -> f32 {
    (0..3).map(|i| (a[i] - b[i]).powi(2)).sum()
}
