//! From where on a pixel differs from the floor: limits drawn from the floor's own noise.

use super::differ::Block;
use super::grid::Grid;

/// Smallest limits on lightness and tint, in L*a*b* units: below them even a spotless floor shows JPEG's own blocks
/// (starting values, tuned on the renderer's tuning seeds).
const LEAST: Limits = Limits { lightness: 2.2, tint: 1.2 };
/// Limits in standard deviations of the floor (starting values: of a million pixels few stray ones exceed both).
const DEVIATIONS: f32 = 4.5;
/// Photo pixels a side that one chroma block of JPEG covers where colour is kept at half the resolution (ITU-T T.81).
const CHROMA_BLOCK: u32 = 16;
/// From how many times the floor's own noise on it is told by such steps: in an ordinary photo the two are alike (starting value).
const STEPPED: f32 = 2.0;
/// About how many places the steps between such blocks are judged by.
const STEPS: usize = 1200;
/// Difference in L* or tint that is a thing's and not the floor's, however noisy (starting value).
const EVIDENT: f32 = 8.0;

/// Limit on the tint from which faint things are lost: a pale fish on white differs by 2 to 4 (starting value: no drawn tray as the
/// camera wrote it reaches 1.8).
const COARSE: f32 = 2.4;

/// From where on a pixel differs from the floor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Limits {
    /// Difference in L*.
    pub(super) lightness: f32,
    /// Size of the averaged tint.
    pub(super) tint: f32,
}

impl Limits {
    /// Whether faint things are lost below them, as in a photo that was compressed hard.
    pub(super) fn are_coarse(self) -> bool {
        self.tint > COARSE
    }
}

/// Limits from the noise of floor pixels: lower quantiles, so that even a crowded tray's fish do not raise them.
pub(super) fn limits(block: &Block, floor: &Grid, tints: &[[f32; 2]], reach: usize) -> Limits {
    // The 30 % quantile of |x| is 0.385 standard deviations, that of a two-dimensional length 0.845 (normal and Rayleigh
    // distributions).
    let lightness = || quantile_30(floor, |k| block.pixels[k].lightness.abs()) / 0.385;
    let tint = || quantile_30(floor, |k| size(&mean_tint(block, tints, reach, k))) / 0.845;
    let steps = || step_noise(block, floor, tints, reach);
    let (lightness, (tint, steps)) = rayon::join(lightness, || rayon::join(tint, steps));
    let tint = if steps > STEPPED * tint { steps } else { tint };
    Limits { lightness: LEAST.lightness.max(DEVIATIONS * lightness), tint: LEAST.tint.max(DEVIATIONS * tint) }
}

/// The tint's noise as places of `floor` one chroma block apart tell it: hard compression leaves even blocks with steps between
/// them, most of which are exactly like the floor. The 90 % quantile of a two-dimensional length is 2.146 standard deviations.
fn step_noise(block: &Block, floor: &Grid, tints: &[[f32; 2]], reach: usize) -> f32 {
    let apart = ((CHROMA_BLOCK / block.step) as usize).max(2 * reach + 1);
    let bare =
        |k: usize| floor.on[k] && block.pixels[k].lightness.abs() < EVIDENT && block.pixels[k].chroma() < EVIDENT;
    let every = (floor.count() / STEPS) | 1;
    let mut steps: Vec<f32> = Vec::new();
    for k in floor.indices().step_by(every).filter(|&k| bare(k)) {
        let right = (k % block.width + apart < block.width).then_some(k + apart);
        let below = Some(k + apart * block.width).filter(|&q| q < floor.on.len());
        let here = mean_tint(block, tints, reach, k);
        for q in [right, below].into_iter().flatten().filter(|&q| bare(q)) {
            let there = mean_tint(block, tints, reach, q);
            steps.push(size(&[here[0] - there[0], here[1] - there[1]]));
        }
    }
    if steps.is_empty() {
        return 0.0;
    }
    let at = steps.len() * 9 / 10;
    *steps.select_nth_unstable_by(at, f32::total_cmp).1 / (2.146 * std::f32::consts::SQRT_2)
}

/// Mean tint over the square of half side `reach` about pixel `k`.
fn mean_tint(block: &Block, tints: &[[f32; 2]], reach: usize, k: usize) -> [f32; 2] {
    let (w, h) = (block.width, block.height);
    let (x, y) = (k % w, k / w);
    let (mut sum, mut n) = ([0.0f32; 2], 0.0);
    for j in y.saturating_sub(reach)..(y + reach + 1).min(h) {
        for t in &tints[j * w + x.saturating_sub(reach)..j * w + (x + reach + 1).min(w)] {
            sum = [sum[0] + t[0], sum[1] + t[1]];
            n += 1.0;
        }
    }
    sum.map(|v| v / n)
}

/// Size of a tint. (`hypot` guards against overflow, at ten times the cost.)
pub(super) fn size(tint: &[f32; 2]) -> f32 {
    (tint[0] * tint[0] + tint[1] * tint[1]).sqrt()
}

/// Median of some values, the higher one of the two in the middle; zero of none.
pub(super) fn median(mut values: Vec<f32>) -> f32 {
    let middle = values.len() / 2;
    if values.is_empty() { 0.0 } else { *values.select_nth_unstable_by(middle, f32::total_cmp).1 }
}

/// The 30 % quantile over some 4000 pixels of `floor`.
fn quantile_30(floor: &Grid, value: impl Fn(usize) -> f32) -> f32 {
    // An odd stride does not fall into step with JPEG's blocks.
    let every = (floor.count() / 4000) | 1;
    let mut values: Vec<f32> = floor.indices().step_by(every).map(value).collect();
    if values.is_empty() {
        return 0.0;
    }
    let at = values.len() * 3 / 10;
    *values.select_nth_unstable_by(at, f32::total_cmp).1
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fish::differ::Difference;

    /// A floor of even blocks of 16 pixels, every fifth of which is off by `step` in tint.
    fn blocks(step: f32) -> Limits {
        let (width, height) = (320, 240);
        let pixels = (0..width * height)
            .map(|k| {
                let block = k % width / 16 + k / width / 16 * 3;
                Difference { tint: [if block % 5 == 0 { step } else { 0.0 }, 0.0], ..Difference::default() }
            })
            .collect();
        let block = Block { origin: (0, 0), step: 1, width, height, pixels, floor: [60.0, 0.0, 0.0] };
        let tints: Vec<[f32; 2]> = block.pixels.iter().map(|d| d.tint).collect();
        limits(&block, &Grid { width, height, on: vec![true; width * height] }, &tints, 4)
    }

    #[test]
    fn steps_between_even_blocks_lie_below_the_limit() {
        assert!(blocks(3.0).tint > 3.0, "{:?}", blocks(3.0));
        assert!((blocks(0.0).tint - LEAST.tint).abs() < 1e-6);
    }
}
