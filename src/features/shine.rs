//! The lamp's mirror image on a wet back, told from the fish's own colours by what added white light does.
//!
//! A bright place is the lamp's where its colour is that of its surroundings with white light added: then L* rises and
//! a* and b* shrink along one known line. Places are averaged first, so that a net's points and noise do not count as
//! places of their own, and compared with what lies before and behind them at the same height on the body: backs are darker
//! or paler than flanks, and covers lie in patches, but an image of the lamp is short.
#![expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "places on a grid of a few thousand")]

use super::colour::middle;
use super::sample::Samples;
use crate::colour::{Lab, Xyz, lab_from_xyz, xyz_from_lab};
use crate::fish::Axis;
use crate::geometry::Point;

/// How far in L* the middle of an image is brighter than the rest of its lane, and how far its fading rim still is. Starting
/// values, tuned on rendered trays.
const BRIGHTER: (f64, f64) = (4.0, 2.0);

/// How far in a* and b* it may stand from its surroundings under added white light. Starting value: twice the pixel noise
/// of a phone photo.
const NEAR: f64 = 3.0;

/// Readings on either side that a place is averaged over: about a net's point.
const SMOOTH: usize = 1;

/// Length and width of the cells that lanes are made of, as shares of the fish's width: three in a row, longer than an image
/// of the lamp, are what a place is compared with. Starting values, tuned on rendered trays.
const LANE: (f64, f64) = (0.5, 0.12);

/// Fewest readings that make a lane's colour; as for any colour of a part.
const FEWEST: usize = 12;

/// The lamp's image takes at most this share of a trunk; what looks like it and takes more is pigment. Starting value,
/// tuned on rendered trays.
const MOST: f64 = 0.25;

/// Which readings of a trunk show the lamp, or lie beside one that does; none where so many seem to that it is pigment.
/// `width` is the fish's mean width in pixels.
pub(super) fn mirrored(trunk: &Samples, axis: &Axis, width: f64) -> Vec<bool> {
    let grid = Grid::of(trunk);
    let smooth: Vec<Lab> = (0..trunk.colours.len()).map(|k| grid.average(trunk, k)).collect();
    let (locate, step) = (axis.locator(), f64::from(trunk.stride.max(1)));
    let on_body = |(x, y): &(u32, u32)| {
        let (along, across) = locate(Point::new(f64::from(*x) + 0.5, f64::from(*y) + 0.5));
        (along / step, across / step)
    };
    let on_body: Vec<(f64, f64)> = trunk.places.iter().map(on_body).collect();
    let lanes = Lanes::of(&on_body, &smooth, width / step);
    let above = |k: usize| lanes.at(k).and_then(|reference| added(smooth[k], reference));
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

/// The middle colour of what lies before and behind each reading on the same lane along the body.
struct Lanes {
    /// The cell of each reading.
    cells: Vec<usize>,
    middles: Vec<Option<Lab>>,
}

impl Lanes {
    /// `places` are steps along and across the body, as is `width`.
    fn of(places: &[(f64, f64)], colours: &[Lab], width: f64) -> Self {
        let lowest = |axis: fn(&(f64, f64)) -> f64| places.iter().map(axis).fold(f64::INFINITY, f64::min);
        let (along, across) = (lowest(|p| p.0), lowest(|p| p.1));
        let (long, wide) = ((LANE.0 * width).max(1.0), (LANE.1 * width).max(1.0));
        let cell = |p: &(f64, f64)| (((p.0 - along) / long) as usize, ((p.1 - across) / wide) as usize);
        let places: Vec<(usize, usize)> = places.iter().map(cell).collect();
        let stretches = places.iter().map(|p| p.0 + 1).max().unwrap_or(0);
        let lanes = places.iter().map(|p| p.1 + 1).max().unwrap_or(0);
        let mut members: Vec<Vec<Lab>> = vec![Vec::new(); stretches * lanes];
        for ((i, j), c) in places.iter().zip(colours) {
            members[j * stretches + i].push(*c);
        }
        let middle_of = |k: usize| {
            let (lane, i) = (k / stretches * stretches, k % stretches);
            let near = || members[lane + i.saturating_sub(1)..lane + (i + 2).min(stretches)].iter().flatten();
            (near().count() >= FEWEST).then(|| middle(near())).flatten()
        };
        Self {
            middles: (0..members.len()).map(middle_of).collect(),
            cells: places.iter().map(|(i, j)| j * stretches + i).collect(),
        }
    }

    fn at(&self, k: usize) -> Option<Lab> {
        self.middles[self.cells[k]]
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

    fn straight() -> Axis {
        let midline = vec![Point::new(0.0, 10.0), Point::new(60.0, 10.0)];
        Axis { midline, stalk_px: None, head_confidence: 1.0 }
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
            let seen = mirrored(&trunk(|x, y| if in_spot(x, y) { lit(skin) } else { skin }), &straight(), 20.0);
            let at = |x: usize, y: usize| seen[y * 60 + x];
            assert!(at(24, 10) && at(20, 8) && at(27, 11), "the spot itself");
            assert!(!at(24, 2) && !at(45, 10) && !at(12, 10), "nothing far from it");
        }
    }

    #[test]
    fn a_patch_of_another_colour_and_a_broad_brightness_are_the_fish_s_own() {
        // Pale ground among red: brighter, but not red with white added.
        let pale = Lab::new(74.0, 2.0, 15.0);
        assert!(
            mirrored(&trunk(|x, y| if in_spot(x, y) { pale } else { red() }), &straight(), 20.0).iter().all(|m| !m)
        );
        // A third of the trunk, in pieces all over it.
        let striped = |x: u32, _| if x % 12 < 4 { lit(ground()) } else { ground() };
        assert!(mirrored(&trunk(striped), &straight(), 20.0).iter().all(|m| !m));
        assert!(mirrored(&trunk(|_, _| ground()), &straight(), 20.0).iter().all(|m| !m));
    }
}
