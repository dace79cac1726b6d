//! Which way round a grid of 24 colours is the chart, if at all.
//!
//! Absolute colour is not trusted: cast, exposure, contrast and shading are unknown. What stays is that the encoded colours
//! follow from the published ones by one affine map plus a slope across the card. The share of the observed variation that
//! the best such map leaves unexplained tells the chart from other grids, and the right of its eight positions from the
//! wrong ones; the neutral ramp and the hue circle do the telling, since they are what an affine map cannot fake.

use super::reference::{CHART_GRID, Edition, chart};
use crate::colour::{Lab, srgb_encode, xyz_from_lab};

/// Number of patches.
pub(super) const PATCHES: usize = 24;

/// Constant, three colour channels, two slopes.
const TERMS: usize = 6;

/// Encoded colour of each patch, or `None` where it cannot be seen.
pub(super) type Colours = [Option<[f64; 3]>; PATCHES];

/// How well the chart explains a grid of colours.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Match {
    /// Unexplained share of the variation of lightness (mean of the channels), 0…1.
    pub(super) light: f64,
    /// Unexplained share of the variation of colour (red against green, yellow against blue), 0…1.
    pub(super) hue: f64,
    /// Whether light patches of the chart are light in the picture.
    pub(super) upright_tone: bool,
    /// Root mean square of what is unexplained, in encoded units of 0…255, a patch.
    pub(super) residual: [f64; PATCHES],
    /// How many patches the match rests on.
    pub(super) used: usize,
}

impl Match {
    /// One figure to rank by, 0 (perfect) to 1.
    pub(super) fn unexplained(&self) -> f64 {
        if self.upright_tone { 0.5 * (self.light + self.hue) } else { 1.0 }
    }
}

/// The chart's terms, once for all grids.
#[derive(Debug, Clone)]
pub(super) struct Chart {
    terms: [[f64; TERMS]; PATCHES],
}

impl Chart {
    /// From the published colours, gamma-encoded as a camera would.
    pub(super) fn new() -> Self {
        let references = chart(Edition::default());
        let terms = std::array::from_fn(|i| {
            let [r, g, b] = opponent(encoded(references[i].lab));
            let (col, row) = (i % CHART_GRID.0, i / CHART_GRID.0);
            [1.0, r, g, b, col as f64 / 2.5 - 1.0, row as f64 / 1.5 - 1.0]
        });
        Self { terms }
    }

    /// Judges colours given in the chart's own order. The worst few patches (glare, a finger, a label) are given less
    /// weight by two rounds of Cauchy weights, scaled to the median residual.
    pub(super) fn explain(&self, colours: &Colours) -> Option<Match> {
        let seen: Vec<(usize, [f64; 3])> =
            colours.iter().enumerate().filter_map(|(i, c)| c.map(|c| (i, opponent(c)))).collect();
        if seen.len() < 2 * TERMS {
            return None;
        }
        let mut weights = vec![1.0; seen.len()];
        let mut outcome = self.fit(&seen, &weights)?;
        for _ in 0..2 {
            let mut sorted: Vec<f64> = seen.iter().map(|(i, _)| outcome.residual[*i]).collect();
            sorted.sort_by(f64::total_cmp);
            // Three medians: an honest spread stays almost untouched.
            let scale = 3.0 * sorted[sorted.len() / 2].max(1.0);
            for (w, (i, _)) in weights.iter_mut().zip(&seen) {
                *w = 1.0 / (1.0 + (outcome.residual[*i] / scale).powi(2));
            }
            outcome = self.fit(&seen, &weights)?;
        }
        Some(outcome)
    }

    fn fit(&self, seen: &[(usize, [f64; 3])], weights: &[f64]) -> Option<Match> {
        let mut system = [[0.0; TERMS + 3]; TERMS];
        for ((i, y), w) in seen.iter().zip(weights) {
            let x = &self.terms[*i];
            for (r, line) in system.iter_mut().enumerate() {
                for (c, v) in line.iter_mut().enumerate() {
                    *v += w * x[r] * if c < TERMS { x[c] } else { y[c - TERMS] };
                }
            }
        }
        solve(&mut system)?;
        let total_weight: f64 = weights.iter().sum();
        let mean: [f64; 3] =
            std::array::from_fn(|k| seen.iter().zip(weights).map(|((_, y), w)| w * y[k]).sum::<f64>() / total_weight);
        let (mut left, mut all) = ([0.0; 3], [0.0; 3]);
        let mut residual = [0.0; PATCHES];
        for ((i, y), w) in seen.iter().zip(weights) {
            let mut square = 0.0;
            for k in 0..3 {
                let fitted: f64 = self.terms[*i].iter().zip(&system).map(|(x, line)| x * line[TERMS + k]).sum();
                let d = y[k] - fitted;
                square += d * d;
                left[k] += w * d * d;
                all[k] += w * (y[k] - mean[k]).powi(2);
            }
            residual[*i] = (square / 3.0).sqrt();
        }
        // A picture without any variation is explained by nothing.
        let share = |left: f64, all: f64| if all > total_weight { left / all } else { 1.0 };
        Some(Match {
            light: share(left[0], all[0]),
            hue: share(left[1] + left[2], all[1] + all[2]),
            upright_tone: system[1][TERMS] > 0.0,
            residual,
            used: seen.len(),
        })
    }
}

/// Lightness, red against green, yellow against blue; all in the units of the input.
fn opponent([r, g, b]: [f64; 3]) -> [f64; 3] {
    [(r + g + b) / 3.0, r - g, (r + g) / 2.0 - b]
}

/// sRGB-encoded value of a published colour, 0…255; what lies outside of sRGB (cyan's red) is cut off, as cameras do.
fn encoded(lab: Lab) -> [f64; 3] {
    let xyz = xyz_from_lab(lab);
    let v = [xyz.x, xyz.y, xyz.z];
    XYZ_D50_TO_SRGB.map(|row| 255.0 * srgb_encode((row[0] * v[0] + row[1] * v[1] + row[2] * v[2]).clamp(0.0, 1.0)))
}

/// XYZ (D50) to linear sRGB: the inverse of [`crate::colour::SRGB_TO_XYZ_D50`].
const XYZ_D50_TO_SRGB: [[f64; 3]; 3] = [
    [3.133_856_1, -1.616_866_7, -0.490_614_6],
    [-0.978_768_4, 1.916_141_5, 0.033_454_0],
    [0.071_945_3, -0.228_991_4, 1.405_242_7],
];

/// Gauss–Jordan elimination with partial pivoting; the solutions replace the right-hand columns.
fn solve(system: &mut [[f64; TERMS + 3]; TERMS]) -> Option<()> {
    for col in 0..TERMS {
        let pivot = (col..TERMS).max_by(|&a, &b| system[a][col].abs().total_cmp(&system[b][col].abs()))?;
        if system[pivot][col].abs() < 1e-9 {
            return None;
        }
        system.swap(col, pivot);
        let lead = system[col].map(|v| v / system[col][col]);
        system[col] = lead;
        for (r, line) in system.iter_mut().enumerate() {
            if r != col {
                let k = line[col];
                for (v, l) in line.iter_mut().zip(lead) {
                    *v -= k * l;
                }
            }
        }
    }
    Some(())
}
