//! Shadows and mirrored light peeled off what differs from the floor.

#![expect(clippy::cast_possible_truncation, reason = "lightness is clamped before the cast")]

use rayon::prelude::*;

use super::differ::Block;
use super::evidence::{Evidence, Kind};
use super::grid::Grid;
use super::nearby::largest_nearby;

/// Steepest change of lightness at a shadow's soft edge, L* units per photo pixel (starting value; a fish's edge is 3 and more).
const SHADOW_SLOPE: f32 = 1.1;
/// Steepest change of lightness in a mirrored lamp, L* units per photo pixel (starting value).
const SHEEN_SLOPE: f32 = 3.0;
/// Steepest rise in a mirrored lamp, per photo pixel, as a share of how much brighter than the floor the brightest place within
/// [`SHEEN_REACH`] photo pixels is: a lamp's image is soft over many pixels, a fish's edge over five (starting values, tuned on
/// the renderer's tuning seeds).
const SHEEN_RISE: f32 = 0.09;
/// See [`SHEEN_RISE`].
const SHEEN_REACH: u32 = 10;
/// Darkest shadow: share of the floor's own L* + 16 that still is left, 0.72 being 37 % of the light (starting value).
const DARKEST_SHADOW: f32 = 0.72;
/// Photo pixels of a firm bright thing's half width from which on it is a thing although light may have leaked into it: the firm rim of
/// a lamp's image is narrower (starting value).
const LEAKED: u32 = 6;

/// How far above the floor the brightest pixel near each is, in half L* units, at most 127 L*.
pub(super) fn brightest_nearby(block: &Block) -> Vec<u8> {
    let pixels = block.pixels.par_iter();
    let doubled: Vec<u8> = pixels.map(|d| (2.0 * d.lightness).clamp(0.0, 254.0) as u8).collect();
    let reach = (SHEEN_REACH / block.step).max(1) as usize;
    largest_nearby(&doubled, block.width, reach)
}

/// Walks from the bare floor into everything that only is darker, or only mirrors light, as long as it changes softly:
/// shadows and mirrored lamps have soft edges, fish have not. `brightest` is how far above the floor the brightest pixel near each is.
///
/// An edge seen aslant comes as a staircase of soft steps, and one leak would take the whole of a smooth bright fish for mirrored
/// light. So the walk goes as far as the picture is soft to all sides first; what bright things it reaches by steps alone stay things
/// where they are broader than the rim of a lamp's image. The pixels of these are handed back: glass mirrors with as firm an outline.
pub(super) fn peel_light(evidence: &Evidence<'_>, inside: &Grid, brightest: &[u8], kinds: &mut [Kind]) -> Vec<usize> {
    let block = evidence.block;
    let lightness = |k: usize| block.pixels[k].lightness;
    let most = Softness::of(evidence, brightest);
    let soft_step = |p: usize, q: usize| most.at(q).is_some_and(|most| (lightness(q) - lightness(p)).abs() < most);
    let soft_about = |q: usize| lightness(q) <= 0.0 || most.at(q).is_some_and(|most| block.slope(q) < most);
    let things = (0..kinds.len()).filter(|&k| kinds[k] == Kind::Thing);
    let bare: Vec<usize> =
        things.flat_map(|k| inside.neighbours(k)).filter(|&q| kinds[q] != Kind::Thing && inside.on[q]).collect();
    let soft = walked(inside, kinds, bare, |p, q| soft_step(p, q) && soft_about(q));
    let reached = soft.len();
    let leaked = walked(inside, kinds, soft, soft_step).split_off(reached);
    let mut firm = Grid::empty(block.width, block.height);
    leaked.iter().for_each(|&k| firm.on[k] = true);
    let reach = (LEAKED / block.step).max(1) as usize;
    let broad = firm.eroded(reach).dilated(reach);
    let held: Vec<usize> = leaked.into_iter().filter(|&k| broad.on[k]).collect();
    held.iter().for_each(|&k| kinds[k] = Kind::Thing);
    held
}

/// Takes for light what can be walked into from the pixels of `front`, one step from a pixel to the one beside it at a time; all that was
/// stood on, those of `front` first.
fn walked(inside: &Grid, kinds: &mut [Kind], front: Vec<usize>, may: impl Fn(usize, usize) -> bool) -> Vec<usize> {
    let mut reached = front;
    let mut next = 0;
    while let Some(&p) = reached.get(next) {
        next += 1;
        for q in inside.neighbours(p).filter(|&q| inside.on[q]) {
            if kinds[q] == Kind::Thing && may(p, q) {
                kinds[q] = Kind::Light;
                reached.push(q);
            }
        }
    }
    reached
}

/// The steepest change of lightness that still is light and no thing.
struct Softness<'a> {
    evidence: &'a Evidence<'a>,
    brightest: &'a [u8],
    /// In shadow, and in mirrored light at most, L* units from pixel to pixel.
    slopes: (f32, f32),
    /// Darkest shadow, L* units from the floor.
    darkest: f32,
}

impl<'a> Softness<'a> {
    fn of(evidence: &'a Evidence<'a>, brightest: &'a [u8]) -> Self {
        let step = evidence.block.step as f32;
        let least = 0.5 * evidence.limits.lightness;
        let slopes = ((SHADOW_SLOPE * step).max(least), (SHEEN_SLOPE * step).max(least));
        Self { evidence, brightest, slopes, darkest: (DARKEST_SHADOW - 1.0) * (evidence.block.floor[0] + 16.0) }
    }

    /// At a pixel; `None` for what light cannot do.
    fn at(&self, k: usize) -> Option<f32> {
        let Evidence { block, tint, limits } = self.evidence;
        let d = block.pixels[k];
        if d.lightness > 0.0 {
            let rise = SHEEN_RISE * block.step as f32 * f32::from(self.brightest[k]) / 2.0;
            d.sheen.then_some(self.slopes.1.min(rise.max(0.5 * limits.lightness)))
        } else {
            (tint[k] <= limits.tint && d.lightness > self.darkest).then_some(self.slopes.0)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fish::differ::Difference;
    use crate::fish::limits::Limits;
    use crate::geometry::Point;

    const SIDE: usize = 120;

    /// What is left as things of a grey floor with `rise` above it, in L* units, all of it as the lamp's mirror image would be.
    fn things(rise: impl Fn(Point) -> f64) -> usize {
        let place = |k: usize| Point::new((k % SIDE) as f64 - 59.5, (k / SIDE) as f64 - 59.5);
        let pixels: Vec<Difference> = (0..SIDE * SIDE)
            .map(|k| Difference { lightness: rise(place(k)) as f32, sheen: true, ..Difference::default() })
            .collect();
        let block = Block { origin: (0, 0), step: 2, width: SIDE, height: SIDE, pixels, floor: [60.0, 0.0, 0.0] };
        let limits = Limits { lightness: 2.0, tint: 2.0 };
        let inside = Grid { on: vec![true; SIDE * SIDE], ..Grid::empty(SIDE, SIDE) };
        let differs = |d: &Difference| if d.lightness > 2.0 { Kind::Thing } else { Kind::Floor };
        let mut kinds: Vec<Kind> = block.pixels.iter().map(differs).collect();
        let brightest = brightest_nearby(&block);
        let evidence = Evidence { block: &block, tint: vec![0.0; SIDE * SIDE], limits };
        peel_light(&evidence, &inside, &brightest, &mut kinds);
        kinds.iter().filter(|k| **k == Kind::Thing).count()
    }

    /// A round-ended bar of 80 by 24 pixels that lies aslant, its edge as steep as a fish's: 5.6 L* units a pixel, but 4 from pixel to
    /// pixel along its sides.
    fn bar(p: Point) -> f64 {
        let (along, across) = ((p.x + p.y).abs() / 2f64.sqrt(), (p.x - p.y) / 2f64.sqrt());
        (5.6 * (12.0 - (along - 28.0).max(0.0).hypot(across))).clamp(0.0, 24.0)
    }

    #[test]
    fn a_smooth_white_fish_stays_although_its_edge_is_soft_from_pixel_to_pixel() {
        let left = things(bar);
        assert!(left > 1400, "{left}");
    }

    #[test]
    fn a_soft_image_of_the_lamp_is_peeled_away() {
        let lamp = |p: Point| 24.0 * (-(p.x * p.x + p.y * p.y) / 700.0).exp();
        assert_eq!(things(lamp), 0);
    }
}
