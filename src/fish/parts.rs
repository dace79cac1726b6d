//! Trunk, finnage, eyes and what fools the eye, for one fish whose head is known.

use crate::units::View;

use super::body::Body;
use super::grid::Grid;
use super::head::Heading;
use super::limits::median;
use super::spine::centre;

/// The parts in block pixels.
#[derive(Debug, Clone)]
pub(super) struct PartGrids {
    pub(super) trunk: Grid,
    pub(super) finnage: Grid,
    pub(super) eyes: Grid,
    pub(super) left_out: Grid,
}

/// Where the eyes lie, as shares of standard length from the snout (proportions of livebearers from common descriptions, no source).
const EYES: (f64, f64) = (0.02, 0.22);
/// Where the gill cover lies.
const GILL: (f64, f64) = (0.155, 0.23);
/// Where the belly shows.
const BELLY: (f64, f64) = (0.25, 0.52);
/// Where the gravid spot shows.
const GRAVID: (f64, f64) = (0.48, 0.66);
/// An eye is this much darker than the trunk, in L* units (starting value).
const EYE_DARKER: f32 = 14.0;
/// A gravid spot is this much darker than the trunk, in L* units; where none shows, its place is trunk (starting value).
const SPOT_DARKER: f32 = 8.0;
/// What has that share of the trunk's chroma, and that chroma at least, is a patch of colour, however dark: eyes are black, and lens
/// and compression mix in less than half of what is around them (starting values).
const PATCH: (f32, f32) = (0.6, 22.0);
/// Fins stand out beyond this multiple of the body's smooth half width.
const STANDS_OUT: f64 = 1.06;

/// Tells the parts of a fish apart; without a known stalk there is no telling, and all is trunk.
pub(super) fn parts(body: &Body, heading: &Heading, view: View) -> PartGrids {
    let grid = &body.grid;
    let empty = || Grid::empty(grid.width, grid.height);
    let mut out = PartGrids { trunk: empty(), finnage: empty(), eyes: empty(), left_out: empty() };
    let stalk = heading.stalk.unwrap_or_else(|| heading.spine.length());
    let located: Vec<(usize, f64, f64)> = grid
        .indices()
        .map(|k| {
            let (s, t) = heading.spine.locate(centre(grid, k));
            (k, (s - heading.spine.span.0) / stalk, t)
        })
        .collect();
    let half = half_widths(&located, view);
    let mut places = Vec::new();
    for (k, u, t) in located {
        let v = t / half_at(&half, u);
        if u > 1.0 || v.abs() > STANDS_OUT {
            out.finnage.on[k] = true;
        } else {
            out.trunk.on[k] = true;
            places.push((k, u, v));
        }
    }
    let trunk = Trunk::of(body, &places);
    mark_eyes(&trunk, &places, &mut out);
    for &(k, u, v) in &places {
        let spot = may_be_gravid(u, v, view) && trunk.is_dark_spot(k, SPOT_DARKER);
        if (fools(u, v, view) || spot) && !out.eyes.on[k] {
            out.left_out.on[k] = true;
        }
    }
    for k in 0..grid.on.len() {
        out.trunk.on[k] &= !out.eyes.on[k] && !out.left_out.on[k];
    }
    out
}

/// Whether a place of the body is gill cover or belly.
fn fools(u: f64, v: f64, view: View) -> bool {
    let between = |(a, b): (f64, f64)| u >= a && u < b;
    match view {
        // From above the flanks show at the sides.
        View::Above => between(GILL) && v.abs() > 0.54 || between(BELLY) && v.abs() > 0.66,
        // From the side the belly is below; which side that is the outline does not tell, so both are spared.
        View::Side => between(GILL) && v.abs() < 1.2 || between(BELLY) && v.abs() > 0.35,
    }
}

/// Whether a place of the body is one where a gravid spot shows.
fn may_be_gravid(u: f64, v: f64, view: View) -> bool {
    let from = if view == View::Above { 0.52 } else { 0.35 };
    (GRAVID.0..GRAVID.1).contains(&u) && v.abs() > from
}

/// Number of slices of the body's smooth half width.
const SLICES: usize = 16;
/// The slices before and behind those where, seen from above, the side fins stand on both flanks.
const BEHIND_GILLS: (usize, usize) = (3, 7);
/// How far the body is rounder there than straight from the one to the other, at most (starting value).
const BARREL: f64 = 1.06;

/// Half width of the body over the standard length, fins smoothed away; of each pixel the share of the standard length from the
/// snout and the distance to the right of the middle line.
fn half_widths(located: &[(usize, f64, f64)], view: View) -> Vec<f64> {
    let mut sides = vec![[0.0f64; 2]; SLICES];
    for &(_, u, t) in located {
        if (0.0..1.0).contains(&u) {
            #[expect(clippy::cast_possible_truncation, reason = "u is in 0…1")]
            let slice = (u * SLICES as f64) as usize;
            let side = &mut sides[slice][usize::from(t > 0.0)];
            *side = side.max(t.abs() + 0.5);
        }
    }
    let mut raw: Vec<f64> = sides.iter().map(|[a, b]| (a + b) / 2.0).collect();
    if view == View::Above {
        fold_side_fins(&mut raw);
    }
    // A fin that stands out is a short rise over the slices around it: the median of five takes it away.
    (0..SLICES)
        .map(|i| {
            let mut near: Vec<f64> = raw[i.saturating_sub(2)..(i + 3).min(SLICES)].to_vec();
            near.sort_by(f64::total_cmp);
            raw[i].min(1.15 * near[near.len() / 2])
        })
        .collect()
}

/// Takes away the side fins, which stand on both flanks where the body is widest.
fn fold_side_fins(half: &mut [f64]) {
    let (before, after) = BEHIND_GILLS;
    let (first, step) = (half[before], (half[after] - half[before]) / (after - before) as f64);
    for (i, width) in half[before..after].iter_mut().enumerate() {
        *width = width.min(BARREL * (first + step * i as f64));
    }
}

/// The half width at share `u` of the standard length, read between the slices' middles.
fn half_at(half: &[f64], u: f64) -> f64 {
    let x = (u * SLICES as f64 - 0.5).clamp(0.0, (SLICES - 1) as f64);
    #[expect(clippy::cast_possible_truncation, reason = "clamped to the slices")]
    let i = (x as usize).min(SLICES - 2);
    let f = x - i as f64;
    (half[i] * (1.0 - f) + half[i + 1] * f).max(0.75)
}

/// A trunk, fooling parts and all, and what is usual over it.
struct Trunk<'a> {
    body: &'a Body,
    /// Median lightness, L* units above the floor.
    lightness: f32,
    /// Median chroma.
    chroma: f32,
}

impl<'a> Trunk<'a> {
    fn of(body: &'a Body, places: &[(usize, f64, f64)]) -> Self {
        let usual = |value: &dyn Fn(usize) -> f32| median(places.iter().map(|place| value(place.0)).collect());
        Self { body, lightness: usual(&|k| body.block.pixels[k].lightness), chroma: usual(&|k| body.block.chroma(k)) }
    }

    /// Whether a pixel is that much darker than usual, and not because it carries colour.
    fn is_dark_spot(&self, k: usize, darker: f32) -> bool {
        self.body.block.pixels[k].lightness < self.lightness - darker
            && self.body.block.chroma(k) < PATCH.1.max(PATCH.0 * self.chroma)
    }
}

/// Compact dark spots in the head, with a rim of one pixel.
fn mark_eyes(trunk: &Trunk<'_>, places: &[(usize, f64, f64)], out: &mut PartGrids) {
    let grid = &trunk.body.grid;
    for &(k, u, _) in places {
        out.eyes.on[k] = u >= EYES.0 && u < EYES.1 && trunk.is_dark_spot(k, EYE_DARKER);
    }
    // An eye is at most a twelfth of the trunk; a dark head is no eye.
    let most = places.len() / 12;
    let spots = out.eyes.pieces();
    out.eyes.on.iter_mut().for_each(|v| *v = false);
    for spot in spots.iter().filter(|s| s.len() <= most) {
        for &k in spot {
            for q in grid.neighbours(k).chain([k]) {
                out.eyes.on[q] = grid.on[q];
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::differ::{Block, Difference};
    use super::*;

    /// A row of trunk with a spot, each as L* above the floor and a*, b* of their own.
    fn body(floor: [f32; 3], trunk: [f32; 3], spot: [f32; 3]) -> Body {
        let difference = |[lightness, a, b]: [f32; 3]| {
            let shade = (floor[0] + lightness + 16.0) / (floor[0] + 16.0);
            Difference { lightness, tint: [a - floor[1] * shade, b - floor[2] * shade], sheen: false }
        };
        let pixels = [[trunk; 9].as_slice(), &[spot]].concat().into_iter().map(difference).collect();
        let block = Block { origin: (0, 0), step: 1, width: 10, height: 1, pixels, floor };
        Body { block, grid: Grid { width: 10, height: 1, on: vec![true; 10] }, others: Grid::empty(10, 1) }
    }

    #[test]
    fn fins_on_both_flanks_do_not_widen_the_body() {
        // Half widths of 0.75 to 1 of 20 pixels and down to 0.3 again; from above the fins stand 9 pixels out behind the gills.
        let body = |u: f64| 20.0 * if u < 0.3 { 0.75 + u / 1.2 } else { 1.15 - u / 2.0 - 0.35 * (u - 0.3).powi(2) };
        let located: Vec<(usize, f64, f64)> = (0..320)
            .flat_map(|i| {
                let u = f64::from(i) / 320.0;
                let reach = body(u) + if (0.26..0.4).contains(&u) { 9.0 } else { 0.0 };
                [-1.0, 1.0].map(|side| (0, u, side * (reach - 0.5)))
            })
            .collect();
        let half = half_widths(&located, View::Above);
        for u in [0.22, 0.28, 0.33, 0.38, 0.45] {
            assert!((half_at(&half, u) / body(u) - 1.0).abs() < 0.06, "{u}: {} for {}", half_at(&half, u), body(u));
        }
    }

    #[test]
    fn a_dark_spot_is_black_and_a_patch_of_colour_is_none() {
        const EYE: [f32; 3] = [-60.0, 1.0, 2.0];
        const RED: [f32; 3] = [-35.0, 45.0, 28.0];
        let is_spot = |floor, trunk, spot| {
            let body = body(floor, trunk, spot);
            let places: Vec<(usize, f64, f64)> = (0..10).map(|k| (k, 0.1, 0.0)).collect();
            Trunk::of(&body, &places).is_dark_spot(9, EYE_DARKER)
        };
        for floor in [[85.0, 0.0, 2.0], [50.0, -8.0, -30.0]] {
            let pale = [-10.0, 2.0, 14.0];
            assert!(is_spot(floor, pale, EYE) && is_spot(floor, RED, EYE), "an eye on {floor:?}");
            assert!(!is_spot(floor, pale, RED), "red on {floor:?}");
            let yellow = [-12.0, 4.0, 50.0];
            assert!(is_spot(floor, yellow, EYE) && !is_spot(floor, yellow, RED), "on yellow, on {floor:?}");
            assert!(!is_spot(floor, pale, pale), "the trunk on {floor:?}");
        }
    }
}
