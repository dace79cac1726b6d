//! The lamp's mirror image on a wet back, told from the fish's own colours by what added white light does.
//!
//! A bright place is the lamp's where its colour is that of its surroundings with white light added: then L* rises and
//! a* and b* shrink along one known line. Places are averaged first, so that a net's points and noise do not count as
//! places of their own, and compared with what lies around them, so that it may stand on any cover.
#![expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "places on a grid of a few thousand")]

use super::colour::median;
use super::sample::Samples;
use crate::colour::{Lab, Xyz, lab_from_xyz, xyz_from_lab};

/// How far in L* the middle of an image is brighter than what lies around it, and how far its fading rim still is: near the
/// rim of a patch of another colour the mixture of both looks like added light up to some 6. Starting values, tuned on
/// rendered trays.
const BRIGHTER: (f64, f64) = (7.0, 3.0);

/// How far in a* and b* it may stand from its surroundings under added white light. Starting value: twice the pixel noise
/// of a phone photo.
const NEAR: f64 = 3.0;

/// Readings on either side that a place is averaged over: about a net's point.
const SMOOTH: usize = 1;

/// Side of the cells that surroundings are made of, as a share of the fish's width; surroundings are nine of them.
const CELL: f64 = 0.5;

/// Fewest readings that make surroundings; as for any colour of a part.
const FEWEST: usize = 12;

/// About so many readings are enough for the middle of a cell's surroundings.
const ENOUGH: usize = 256;

/// The lamp's image takes at most this share of a trunk; what looks like it and takes more is pigment. Starting value,
/// tuned on rendered trays.
const MOST: f64 = 0.2;

/// Which readings of a trunk show the lamp, or lie beside one that does; none where so many seem to that it is pigment.
/// `width` is the fish's mean width in steps of the readings.
pub(super) fn mirrored(trunk: &Samples, width: f64) -> Vec<bool> {
    let grid = Grid::of(trunk);
    let smooth: Vec<Lab> = (0..trunk.colours.len()).map(|k| grid.average(trunk, k)).collect();
    let around = Surroundings::of(&grid, &smooth, ((CELL * width) as usize).max(4));
    let above = |k: usize| around.at(&grid, k).and_then(|reference| added(smooth[k], reference));
    let above: Vec<Option<f64>> = (0..smooth.len()).map(above).collect();
    let lit = grid.spread(|k| above[k] > Some(BRIGHTER.0), |k| above[k].is_some());
    let all: Vec<bool> = (0..lit.len()).map(|k| grid.near(k, 1).any(|q| lit[q])).collect();
    if all.iter().filter(|m| **m).count() as f64 > MOST * all.len() as f64 { vec![false; all.len()] } else { all }
}

/// How much brighter in L* `c` is than `reference`, where it is `reference` with white light added.
fn added(c: Lab, reference: Lab) -> Option<f64> {
    let brighter = c.l - reference.l;
    if brighter <= BRIGHTER.1 {
        return None;
    }
    let (from, white) = (xyz_from_lab(reference), xyz_from_lab(Lab::new(100.0, 0.0, 0.0)));
    let light = xyz_from_lab(c).y - from.y;
    let lit = lab_from_xyz(Xyz::new(from.x + light * white.x, from.y + light, from.z + light * white.z));
    ((c.a - lit.a).abs() <= NEAR && (c.b - lit.b).abs() <= NEAR).then_some(brighter)
}

/// Where on a regular grid each reading stands, and which reading stands at a place.
struct Grid {
    width: usize,
    height: usize,
    places: Vec<(usize, usize)>,
    readings: Vec<Option<u32>>,
}

impl Grid {
    fn of(samples: &Samples) -> Self {
        let step = samples.stride.max(1);
        let low = |axis: fn(&(u32, u32)) -> u32| samples.places.iter().map(axis).min().unwrap_or(0);
        let (x0, y0) = (low(|p| p.0), low(|p| p.1));
        let places: Vec<(usize, usize)> =
            samples.places.iter().map(|p| (((p.0 - x0) / step) as usize, ((p.1 - y0) / step) as usize)).collect();
        let width = places.iter().map(|p| p.0 + 1).max().unwrap_or(0);
        let height = places.iter().map(|p| p.1 + 1).max().unwrap_or(0);
        let mut readings = vec![None; width * height];
        for (k, (x, y)) in (0..).zip(&places) {
            readings[y * width + x] = Some(k);
        }
        Self { width, height, places, readings }
    }

    /// Readings up to `reach` steps away from reading `k`, itself included.
    fn near(&self, k: usize, reach: usize) -> impl Iterator<Item = usize> + '_ {
        let (x, y) = self.places[k];
        let span = move |v: usize, n: usize| v.saturating_sub(reach)..(v + reach + 1).min(n);
        span(y, self.height)
            .flat_map(move |j| self.readings[j * self.width..][span(x, self.width)].iter())
            .flatten()
            .map(|q| *q as usize)
    }

    /// The readings that `may` holds for and that hang together with one that `begins` holds for.
    fn spread(&self, begins: impl Fn(usize) -> bool, may: impl Fn(usize) -> bool) -> Vec<bool> {
        let mut reached: Vec<bool> = (0..self.places.len()).map(begins).collect();
        let mut open: Vec<usize> = (0..reached.len()).filter(|k| reached[*k]).collect();
        while let Some(k) = open.pop() {
            for q in self.near(k, 1).filter(|q| may(*q)) {
                if !std::mem::replace(&mut reached[q], true) {
                    open.push(q);
                }
            }
        }
        reached
    }

    fn average(&self, samples: &Samples, k: usize) -> Lab {
        let (sum, n) = self.near(k, SMOOTH).fold(([0.0; 3], 0.0), |([l, a, b], n), q| {
            let c = samples.colours[q];
            ([l + c.l, a + c.a, b + c.b], n + 1.0)
        });
        Lab::new(sum[0] / n, sum[1] / n, sum[2] / n)
    }
}

/// The middle colour of what lies around each cell of the grid.
struct Surroundings {
    cell: usize,
    columns: usize,
    middles: Vec<Option<Lab>>,
}

impl Surroundings {
    fn of(grid: &Grid, smooth: &[Lab], cell: usize) -> Self {
        let (columns, rows) = (grid.width.div_ceil(cell), grid.height.div_ceil(cell));
        let mut members: Vec<Vec<Lab>> = vec![Vec::new(); columns * rows];
        for ((x, y), c) in grid.places.iter().zip(smooth) {
            members[y / cell * columns + x / cell].push(*c);
        }
        let middle = |k: usize| {
            let (i, j) = (k % columns, k / columns);
            let near: Vec<Lab> = (j.saturating_sub(1)..(j + 2).min(rows))
                .flat_map(|y| (i.saturating_sub(1)..(i + 2).min(columns)).map(move |x| y * columns + x))
                .flat_map(|q| members[q].iter().copied())
                .collect();
            if near.len() < FEWEST {
                return None;
            }
            let axis = |f: fn(&Lab) -> f64| median(near.iter().step_by(1 + near.len() / ENOUGH).map(f));
            Some(Lab::new(axis(|c| c.l)?, axis(|c| c.a)?, axis(|c| c.b)?))
        };
        let middles = (0..columns * rows).map(middle).collect();
        Self { cell, columns, middles }
    }

    fn at(&self, grid: &Grid, k: usize) -> Option<Lab> {
        let (x, y) = grid.places[k];
        self.middles[y / self.cell * self.columns + x / self.cell]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A trunk of 60 × 20 readings.
    fn trunk(colour: impl Fn(u32, u32) -> Lab) -> Samples {
        let places: Vec<(u32, u32)> = (0..20).flat_map(|y| (0..60).map(move |x| (x, y))).collect();
        let colours: Vec<Lab> = places.iter().map(|(x, y)| colour(*x, *y)).collect();
        Samples { places, ..Samples::of(colours) }
    }

    fn lit(c: Lab) -> Lab {
        let xyz = xyz_from_lab(c);
        lab_from_xyz(Xyz::new(xyz.x + 0.15 * 0.9642, xyz.y + 0.15, xyz.z + 0.15 * 0.8251))
    }

    fn ground() -> Lab {
        Lab::new(50.0, 0.0, 12.0)
    }

    fn red() -> Lab {
        Lab::new(46.0, 45.0, 32.0)
    }

    fn in_spot(x: u32, y: u32) -> bool {
        (20..28).contains(&x) && (8..12).contains(&y)
    }

    #[test]
    fn the_lamp_is_seen_on_any_colour_with_its_rim() {
        for skin in [ground(), red()] {
            let seen = mirrored(&trunk(|x, y| if in_spot(x, y) { lit(skin) } else { skin }), 20.0);
            let at = |x: usize, y: usize| seen[y * 60 + x];
            assert!(at(24, 10) && at(20, 8) && at(27, 11), "the spot itself");
            assert!(!at(24, 2) && !at(45, 10) && !at(12, 10), "nothing far from it");
        }
    }

    #[test]
    fn a_patch_of_another_colour_and_a_broad_brightness_are_the_fish_s_own() {
        // Pale ground among red: brighter, but not red with white added.
        let pale = Lab::new(74.0, 2.0, 15.0);
        assert!(mirrored(&trunk(|x, y| if in_spot(x, y) { pale } else { red() }), 20.0).iter().all(|m| !m));
        // A third of the trunk, in pieces all over it.
        let striped = |x: u32, _| if x % 12 < 4 { lit(ground()) } else { ground() };
        assert!(mirrored(&trunk(striped), 20.0).iter().all(|m| !m));
        assert!(mirrored(&trunk(|_, _| ground()), 20.0).iter().all(|m| !m));
    }
}
