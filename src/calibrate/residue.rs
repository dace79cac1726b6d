//! What the camera's numbers leave unexplained, carried smoothly from the patches to the colours between them.

use crate::colour::{Lab, chroma};
use crate::stats::cholesky::{factor, substitute};

/// Distance in CIELAB over which residuals resemble each other. Tuned on the open chart photographs, flat from 25 to 40.
pub(super) const REACH: f64 = 30.0;

/// Variance of what is peculiar to one patch, in units of the variance of what neighbours share. Tuned on the open chart
/// photographs, flat from 0.4 to 1.
const PECULIAR: f64 = 0.7;

/// The same of a grey patch: no dye of its own bends it, so that what a sensor misses of the colours around it says little of
/// it. Starting value, tuned on drawn phones.
const PECULIAR_GREY: f64 = 0.2;

/// Chroma C*ab below which a patch is grey; those of the charts have at most 3.
const GREY: f64 = 4.0;

/// Variance of what is peculiar to a patch of that colour, in the same units.
pub(super) fn peculiar(wanted: Lab) -> f64 {
    if chroma(wanted) < GREY { PECULIAR_GREY } else { PECULIAR }
}

/// Kriging of the residuals (Gaussian process with mean zero): near a patch colour the correction is about half of its
/// residual, far from all of them it fades to nothing.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Residue {
    at: Vec<[f64; 3]>,
    /// Row by row.
    factor: Vec<f64>,
    weights: [Vec<f64>; 3],
}

impl Residue {
    /// From the colours as the camera's numbers give them to what they should be; `None` for no patches.
    pub(super) fn of(given: &[Lab], wanted: &[Lab]) -> Option<Self> {
        let at: Vec<[f64; 3]> = given.iter().map(|c| [c.l, c.a, c.b]).collect();
        let n = at.len();
        let mut kernel: Vec<f64> = (0..n * n).map(|k| likeness(at[k / n], at[k % n])).collect();
        kernel.iter_mut().step_by(n + 1).zip(wanted).for_each(|(d, w)| *d += peculiar(*w));
        factor(&mut kernel, n)?;
        let weights = [|c: &Lab| c.l, |c: &Lab| c.a, |c: &Lab| c.b].map(|axis| {
            let mut rest: Vec<f64> = given.iter().zip(wanted).map(|(g, w)| axis(w) - axis(g)).collect();
            substitute(&kernel, &mut rest);
            rest
        });
        (n > 0).then_some(Self { at, factor: kernel, weights })
    }

    /// The correction to add at a colour as the camera's numbers give it.
    pub(super) fn correction(&self, lab: Lab) -> [f64; 3] {
        let near = self.likenesses(lab);
        std::array::from_fn(|axis| dot(&near, &self.weights[axis]))
    }

    /// How little the patches say about a colour: near 0 among many of them, 1 far from all.
    pub(super) fn remoteness(&self, lab: Lab) -> f64 {
        let near = self.likenesses(lab);
        let mut solved = near.clone();
        substitute(&self.factor, &mut solved);
        (1.0 - dot(&near, &solved)).clamp(0.0, 1.0)
    }

    /// Distance in CIELAB to the nearest patch.
    pub(super) fn nearest(&self, lab: Lab) -> f64 {
        let squared = |p: &[f64; 3]| (p[0] - lab.l).powi(2) + (p[1] - lab.a).powi(2) + (p[2] - lab.b).powi(2);
        self.at.iter().map(squared).fold(f64::INFINITY, f64::min).sqrt()
    }

    fn likenesses(&self, lab: Lab) -> Vec<f64> {
        self.at.iter().map(|&p| likeness(p, [lab.l, lab.a, lab.b])).collect()
    }

    /// The correction on a grid, for reading many pixels.
    pub(super) fn grid(&self) -> Grid {
        Grid::of(self)
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

/// How much two colours' residuals resemble each other, 0…1.
pub(super) fn likeness(p: [f64; 3], q: [f64; 3]) -> f64 {
    p.iter().zip(q).map(|(a, b)| fade(a - b)).product()
}

fn fade(d: f64) -> f64 {
    (-d * d / (2.0 * REACH * REACH)).exp()
}

/// Lowest L*, a*, b* of the grid, its step and its points along each axis: all colours a camera writes, with a step at
/// which linear reading between points is off by less than 2 % of the correction (step²/8/reach²).
const LOW: [f64; 3] = [0.0, -120.0, -120.0];
const STEP: f64 = 10.0;
const POINTS: [usize; 3] = [13, 26, 26];

/// The correction at regular colours, read linearly between them.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Grid(Vec<[f32; 3]>);

impl Grid {
    fn of(residue: &Residue) -> Self {
        // The kernel is a product over the axes, so each axis is tabulated once.
        let table = |axis: usize| -> Vec<Vec<f64>> {
            (0..POINTS[axis])
                .map(|i| residue.at.iter().map(|p| fade(LOW[axis] + STEP * i as f64 - p[axis])).collect())
                .collect()
        };
        let [ls, as_, bs] = [table(0), table(1), table(2)];
        let mut out = Vec::with_capacity(POINTS.iter().product());
        for l in &ls {
            for a in &as_ {
                let la: Vec<f64> = l.iter().zip(a).map(|(x, y)| x * y).collect();
                for b in &bs {
                    let mut sum = [0.0; 3];
                    for (i, (x, y)) in la.iter().zip(b).enumerate() {
                        for (s, w) in sum.iter_mut().zip(&residue.weights) {
                            *s += x * y * w[i];
                        }
                    }
                    #[expect(clippy::cast_possible_truncation, reason = "corrections of a few units are kept as f32")]
                    out.push(sum.map(|v| v as f32));
                }
            }
        }
        Self(out)
    }

    /// The correction at a colour as the camera's numbers give it.
    #[inline]
    pub(super) fn correction(&self, lab: Lab) -> [f64; 3] {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to the grid just before")]
        let cut = |v: f64, axis: usize| {
            let t = ((v - LOW[axis]) / STEP).clamp(0.0, (POINTS[axis] - 1) as f64 - 1e-9);
            let i = t as u32;
            (i as usize, (t - f64::from(i)) as f32)
        };
        let ((i, u), (j, v), (k, w)) = (cut(lab.l, 0), cut(lab.a, 1), cut(lab.b, 2));
        let mut sum = [0.0f32; 3];
        for (di, pu) in [(0, 1.0 - u), (1, u)] {
            for (dj, pv) in [(0, 1.0 - v), (1, v)] {
                for (dk, pw) in [(0, 1.0 - w), (1, w)] {
                    let at = ((i + di) * POINTS[1] + j + dj) * POINTS[2] + k + dk;
                    for (s, g) in sum.iter_mut().zip(self.0[at]) {
                        *s += pu * pv * pw * g;
                    }
                }
            }
        }
        sum.map(f64::from)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_patch_corrects_itself_by_its_share_and_fades_away() {
        let residue = Residue::of(&[Lab::new(50.0, 10.0, 0.0)], &[Lab::new(51.7, 10.0, 0.0)]).unwrap();
        // 1.7 / (1 + 0.7) = 1 by hand.
        let here = residue.correction(Lab::new(50.0, 10.0, 0.0));
        assert!((here[0] - 1.0).abs() < 1e-12 && here[1].abs() < 1e-12);
        assert!(residue.correction(Lab::new(50.0, 10.0, 110.0))[0] < 0.01);
        assert!((residue.remoteness(Lab::new(50.0, 10.0, 0.0)) - (1.0 - 1.0 / 1.7)).abs() < 1e-12);
        assert!(residue.remoteness(Lab::new(50.0, 10.0, 120.0)) > 0.99);
    }

    proptest::proptest! {
        #[test]
        fn the_grid_agrees_with_the_sum_over_patches(
            colours in proptest::collection::vec((10.0f64..95.0, -50.0f64..50.0, -50.0f64..70.0), 3..24),
            shifts in proptest::collection::vec((-4.0f64..4.0, -4.0f64..4.0, -4.0f64..4.0), 24),
            at in (5.0f64..100.0, -60.0f64..60.0, -60.0f64..80.0),
        ) {
            let given: Vec<Lab> = colours.iter().map(|c| Lab::new(c.0, c.1, c.2)).collect();
            let wanted: Vec<Lab> =
                colours.iter().zip(&shifts).map(|(c, s)| Lab::new(c.0 + s.0, c.1 + s.1, c.2 + s.2)).collect();
            let residue = Residue::of(&given, &wanted).unwrap();
            let at = Lab::new(at.0, at.1, at.2);
            for (slow, quick) in residue.correction(at).into_iter().zip(residue.grid().correction(at)) {
                proptest::prop_assert!((slow - quick).abs() < 0.25, "{slow} {quick}");
            }
        }
    }
}
