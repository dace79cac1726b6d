//! What is not floor: what differs from it, shadows and mirrored light peeled away.

use rayon::prelude::*;

use super::differ::{Block, Difference};
use super::grid::Grid;
use super::limits::{Limits, limits, median, size};
use super::peel::{brightest_nearby, peel_light};

/// Photo pixels over which the tint is averaged, to either side: JPEG keeps colour at half the resolution, and a fin's haze
/// is fainter than its noise.
const TINT_REACH: u32 = 4;

/// What a pixel is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// Bare floor, or outside the tray.
    Floor,
    /// Floor in a shadow or under mirrored light.
    Light,
    /// Something lies there.
    Thing,
}

/// A block made ready for telling things from floor.
#[derive(Debug)]
pub(super) struct Evidence<'a> {
    /// What it is made of.
    pub(super) block: &'a Block,
    /// Size of the tint averaged over a neighbourhood, shadows' own drift taken out.
    pub(super) tint: Vec<f32>,
    /// From where on a pixel differs from the floor.
    pub(super) limits: Limits,
}

impl<'a> Evidence<'a> {
    /// Averages the tint and draws the limits from the noise of the pixels of `floor`; `drift` is the photo's
    /// [`shadow_drift`].
    pub(super) fn of(block: &'a Block, floor: &Grid, drift: [f32; 2]) -> Self {
        let reach = (TINT_REACH / block.step).max(1) as usize;
        let tints: Vec<[f32; 2]> = block
            .pixels
            .par_iter()
            .map(|d| {
                let dark = d.lightness.min(0.0);
                [d.tint[0] - drift[0] * dark, d.tint[1] - drift[1] * dark]
            })
            .collect();
        let limits = limits(block, floor, &tints, reach);
        // Clipped at twice the limit, the mean passes the limit right at the edge of a coloured thing instead of beside it.
        let tint = mean_sizes(tints, block.width, block.height, reach, 2.0 * limits.tint);
        Self { block, tint, limits }
    }

    /// Tells floor, shadow and things apart inside the tray; and which pixels of things have the colour of mirrored light and are held for
    /// things by their outline alone.
    pub(super) fn classify(&self, inside: &Grid) -> (Vec<Kind>, Vec<usize>) {
        let limits = self.limits;
        let coloured = self.block.is_coloured();
        let pixels = self.block.pixels.par_iter().zip(&self.tint).zip(&inside.on);
        let kind = |((d, tint), inside): ((&Difference, &f32), &bool)| {
            let differs = d.lightness.abs() > limits.lightness || *tint > limits.tint;
            // On a coloured floor mirrored light is told by its colour alone; on a grey one a pale fish looks the same.
            let mirrored = coloured && d.sheen && d.lightness > limits.lightness;
            match (*inside && differs, mirrored) {
                (false, _) => Kind::Floor,
                (true, true) => Kind::Light,
                (true, false) => Kind::Thing,
            }
        };
        let (mut kinds, brightest) =
            rayon::join(|| pixels.map(kind).collect::<Vec<_>>(), || brightest_nearby(self.block));
        let held = peel_light(self, inside, &brightest, &mut kinds);
        (kinds, held)
    }
}

/// How the tint changes in a shadow, per L* unit of darkness: a camera's tone curve bends the colour of a coloured floor as it
/// darkens. The median over what only is darker, which shadows outnumber.
pub(super) fn shadow_drift(block: &Block, inside: &Grid) -> [f32; 2] {
    const DARK: std::ops::Range<f32> = -16.0..-3.0;
    const MOST_TINT: f32 = 4.0;
    const LEAST_PIXELS: usize = 200;
    let shadows: Vec<[f32; 2]> = inside
        .indices()
        .step_by(3)
        .map(|k| block.pixels[k])
        .filter(|d| DARK.contains(&d.lightness) && d.chroma() < MOST_TINT)
        .map(|d| d.tint.map(|t| t / d.lightness))
        .collect();
    if shadows.len() < LEAST_PIXELS {
        return [0.0; 2];
    }
    std::array::from_fn(|axis| median(shadows.iter().map(|t| t[axis]).collect()))
}

/// Size of the mean over squares of 2·`reach` + 1 pixels, cut at the edges, of values that count as no larger than `most`.
fn mean_sizes(mut values: Vec<[f32; 2]>, width: usize, height: usize, reach: usize, most: f32) -> Vec<f32> {
    let clipped = |v: &[f32; 2]| {
        let size = size(v);
        if size > most { v.map(|v| v * most / size) } else { *v }
    };
    values.par_chunks_mut(width.max(1)).with_min_len(16).for_each(|row| {
        let single: Vec<[f32; 2]> = row.iter().map(clipped).collect();
        running_mean(&single, reach, row);
    });
    let mut out = vec![0.0; values.len()];
    let rows = out.chunks_mut(width.max(1));
    let (left, right): (Vec<_>, Vec<_>) = rows.map(|row| row.split_at_mut(width / 2)).unzip();
    let down = |from: usize, out| sizes_down(&values, width, (from, height), reach, out);
    rayon::join(|| down(0, left), || down(width / 2, right));
    out
}

/// The same down the columns from number `from` on, as many as a row of `out` has: one running sum a column.
fn sizes_down(
    values: &[[f32; 2]],
    width: usize,
    (from, height): (usize, usize),
    reach: usize,
    mut out: Vec<&mut [f32]>,
) {
    let across = out.first().map_or(0, |row| row.len());
    let row = |y: usize| &values[y * width + from..][..across];
    let mut sums = vec![[0.0f32; 2]; across];
    let mut n = 0.0;
    for y in 0..height + reach {
        if y < height {
            sums.iter_mut().zip(row(y)).for_each(|(s, v)| *s = [s[0] + v[0], s[1] + v[1]]);
            n += 1.0;
        }
        if y > 2 * reach {
            sums.iter_mut().zip(row(y - 2 * reach - 1)).for_each(|(s, v)| *s = [s[0] - v[0], s[1] - v[1]]);
            n -= 1.0;
        }
        if y >= reach {
            out[y - reach].iter_mut().zip(&sums).for_each(|(out, s)| *out = size(&[s[0] / n, s[1] / n]));
        }
    }
}

/// Mean of each value and those up to `reach` before and behind it.
fn running_mean(values: &[[f32; 2]], reach: usize, out: &mut [[f32; 2]]) {
    let (mut coming, mut going) = (values.iter(), values.iter());
    let (mut sum, mut count) = ([0.0f32; 2], 0.0);
    let mut add = |sum: &mut [f32; 2], count: &mut f32| {
        if let Some(v) = coming.next() {
            (*sum, *count) = ([sum[0] + v[0], sum[1] + v[1]], *count + 1.0);
        }
    };
    (0..reach).for_each(|_| add(&mut sum, &mut count));
    for (x, out) in out.iter_mut().enumerate() {
        add(&mut sum, &mut count);
        if x > reach
            && let Some(v) = going.next()
        {
            (sum, count) = ([sum[0] - v[0], sum[1] - v[1]], count - 1.0);
        }
        *out = [sum[0] / count, sum[1] / count];
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_running_mean_is_the_mean_of_each_square() {
        let values: Vec<[f32; 2]> = (0..7 * 5u8).map(|k| [f32::from(k % 7) * f32::from(k / 7), 1.0]).collect();
        let sizes = mean_sizes(values, 7, 5, 1, f32::MAX);
        // The means are (6, 1), (¼, 1) and (19¼, 1).
        assert!((sizes[2 * 7 + 3] - 6f32.hypot(1.0)).abs() < 1e-5 && (sizes[0] - 0.25f32.hypot(1.0)).abs() < 1e-6);
        assert!((sizes[34] - 19.25f32.hypot(1.0)).abs() < 1e-5);
    }
}
