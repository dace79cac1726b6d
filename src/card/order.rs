//! Which way round a grid of colours is the card looked for, if at all.
//!
//! Absolute colour is not trusted: cast, exposure, contrast and shading are unknown. What stays is that the encoded colours
//! follow from the published ones by one affine map plus a slope across the card. The share of the observed variation that
//! the best such map leaves unexplained tells the chart from other grids, and the right of its eight positions from the
//! wrong ones; the neutral ramp and the hue circle do the telling, since they are what an affine map cannot fake.

use super::Design;
use super::robust::{self, Fitted, Sample, TERMS};
use crate::colour::srgb_from_lab;
use crate::photo::CLIPPED_FROM;

/// Encoded colour of each patch, 0…255, or `None` where it cannot be seen.
pub(super) type Colours = [Option<[f64; 3]>];

/// Fewest patches that are judged: twice the number of terms.
pub(super) const LEAST_SEEN: usize = 2 * TERMS;

/// A patch is odd when it is further from the fit than this share of the standard deviation between patches, and than this
/// many medians of all patches' distances. Uncovered patches of known charts stay below on the open photographs.
const ODD: (f64, f64) = (0.35, 4.0);

/// Least variance taken for a patch's variation, in encoded units: 3 levels. What varies less is explained by nothing.
const LEAST_VARIANCE: f64 = 9.0;

/// Least share of the variation that must lie off a plane; on the open photographs and their distorted copies charts have
/// a half and more.
const LEAST_OFF_PLANE: f64 = 0.15;

/// How well a design explains a grid of colours.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Match {
    /// Unexplained share of the variation of lightness and colour, 0 (perfect) to 1. A patch that does not fit at all
    /// (glare, a finger) costs its own share and no more.
    pub(super) unexplained: f64,
    /// Patches that do not agree with the design although the others do.
    pub(super) odd: Vec<bool>,
    /// How many patches the match rests on.
    pub(super) seen: usize,
}

/// A design's terms, once for all grids.
#[derive(Debug, Clone)]
pub(super) struct Pattern {
    /// What is looked for.
    pub(super) design: Design,
    terms: Vec<[f64; TERMS]>,
}

/// Weights to begin with: all patches alike, then one half of the card alone, in case glare or a shadow spoils the other.
const STARTS: [fn(f64, f64) -> bool; 5] = [|_, _| true, |x, _| x < 0.0, |x, _| x > 0.0, |_, y| y < 0.0, |_, y| y > 0.0];

/// A start from half of the card is tried when all of it leaves more than this unexplained, and less than what random
/// colours leave.
const WORTH_A_SECOND_LOOK: std::ops::Range<f64> = 0.1..0.75;

impl Pattern {
    /// From the design's colours, gamma-encoded as a camera would.
    pub(super) fn new(design: Design) -> Self {
        let term = |(i, lab)| {
            let [r, g, b] = srgb_from_lab(lab);
            let (x, y) = design.slopes(i);
            [1.0, r, g, b, x, y]
        };
        let terms = design.colours.iter().copied().enumerate().map(term).collect();
        Self { design, terms }
    }

    /// Judges colours given in the design's own order; `None` when too few are seen.
    pub(super) fn explain(&self, colours: &Colours, thorough: bool) -> Option<Match> {
        let seen: Vec<(usize, [f64; 3])> = colours.iter().enumerate().filter_map(|(i, c)| c.map(|c| (i, c))).collect();
        if seen.len() < LEAST_SEEN {
            return None;
        }
        let mut best = self.explain_from(&seen, STARTS[0])?;
        if thorough && WORTH_A_SECOND_LOOK.contains(&best.unexplained) {
            for start in &STARTS[1..] {
                let other = self.explain_from(&seen, *start);
                best = other.filter(|o| o.unexplained < best.unexplained).unwrap_or(best);
            }
        }
        Some(best)
    }

    fn explain_from(&self, seen: &[(usize, [f64; 3])], start: fn(f64, f64) -> bool) -> Option<Match> {
        let samples: Vec<Sample> = seen
            .iter()
            .map(|(i, c)| Sample { terms: self.terms[*i], seen: c.map(|v| (v < f64::from(CLIPPED_FROM)).then_some(v)) })
            .collect();
        let inside = |[.., x, y]: [f64; TERMS]| if start(x, y) { 1.0 } else { 1e-4 };
        let weights = samples.iter().map(|s| inside(s.terms)).collect();
        let left = |k: usize, fitted: [f64; 3]| opponent(beyond(seen[k].1, fitted));
        let length = |d: [f64; 3]| (d[0] * d[0] + d[1] * d[1] + d[2] * d[2]).sqrt();
        let fitted = robust::fit(&samples, weights, 1.0, |k, f| length(left(k, f)))?;
        Some(self.judge(seen, &fitted, |k| left(k, fitted.expect(&samples[k].terms))))
    }

    /// From residuals to a judgement.
    fn judge(&self, seen: &[(usize, [f64; 3])], fitted: &Fitted, left: impl Fn(usize) -> [f64; 3]) -> Match {
        let values: Vec<[f64; 3]> = seen.iter().map(|(_, c)| opponent(*c)).collect();
        let variance: [f64; 3] = std::array::from_fn(|c| {
            let channel = seen
                .iter()
                .zip(&values)
                .zip(&fitted.weights)
                .map(|(((i, _), v), w)| (self.design.slopes(*i), v[c], *w));
            variance_off_plane(channel)
        });
        let (light, hue) = (variance[0], variance[1] + variance[2]);
        let share = |square: f64, variance: f64| if variance > 0.0 { square / variance } else { 1.0 };
        let away: Vec<(f64, f64)> = (0..seen.len())
            .map(&left)
            .map(|d| (share(d[0] * d[0], light), share(d[1] * d[1] + d[2] * d[2], hue)))
            .collect();
        let sum: f64 = away.iter().map(|(l, h)| 0.5 * (l.min(1.0) + h.min(1.0))).sum();
        let distance: Vec<f64> = away.iter().map(|(l, h)| l.max(*h).sqrt()).collect();
        let mut order = distance.clone();
        let middle = order.len() / 2;
        let limit = ODD.0.max(ODD.1 * *order.select_nth_unstable_by(middle, f64::total_cmp).1);
        let mut odd = vec![false; self.design.count()];
        for ((i, _), d) in seen.iter().zip(&distance) {
            odd[*i] = *d > limit;
        }
        // Light patches of the card must be light in the picture: the response to equal steps of all channels.
        let rising = fitted.coefficients.iter().map(|c| c[1] + c[2] + c[3]).sum::<f64>() > 0.0;
        Match { unexplained: if rising { sum / seen.len() as f64 } else { 1.0 }, odd, seen: seen.len() }
    }
}

/// Weighted variance around the best plane through values at places (x, y), 0 when next to nothing is off it: a mere
/// gradient of colours must not count as variation that the chart explains.
fn variance_off_plane(samples: impl Iterator<Item = ((f64, f64), f64, f64)> + Clone) -> f64 {
    let total: f64 = samples.clone().map(|(_, _, w)| w).sum();
    let mean = |f: fn((f64, f64), f64) -> f64| samples.clone().map(|(p, v, w)| w * f(p, v)).sum::<f64>() / total;
    let (x, y, v) = (mean(|p, _| p.0), mean(|p, _| p.1), mean(|_, v| v));
    let (xx, xy, yy) = (mean(|p, _| p.0 * p.0) - x * x, mean(|p, _| p.0 * p.1) - x * y, mean(|p, _| p.1 * p.1) - y * y);
    let (xv, yv, vv) = (mean(|p, v| p.0 * v) - x * v, mean(|p, v| p.1 * v) - y * v, mean(|_, v| v * v) - v * v);
    let det = xx * yy - xy * xy;
    if det <= 1e-9 {
        return 0.0;
    }
    let (a, b) = ((xv * yy - yv * xy) / det, (yv * xx - xv * xy) / det);
    let off = vv - a * xv - b * yv;
    if off < LEAST_VARIANCE.max(LEAST_OFF_PLANE * vv) { 0.0 } else { off }
}

/// What the fit leaves over; a clipped channel that ought to be brighter still leaves nothing.
fn beyond(seen: [f64; 3], fitted: [f64; 3]) -> [f64; 3] {
    std::array::from_fn(|c| {
        let d = seen[c] - fitted[c];
        if seen[c] >= f64::from(CLIPPED_FROM) { d.max(0.0) } else { d }
    })
}

/// Lightness, red against green, yellow against blue; all in the units of the input.
fn opponent([r, g, b]: [f64; 3]) -> [f64; 3] {
    [(r + g + b) / 3.0, r - g, (r + g) / 2.0 - b]
}
