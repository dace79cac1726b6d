//! A closer look at one blob: its outline at the photo's own resolution, where that counts.
#![expect(clippy::cast_possible_truncation, reason = "sizes inside the picture fit their types")]

use crate::geometry::Point;
use crate::units::View;

use super::Scene;
use super::differ::Block;
use super::evidence::{Evidence, Kind};
use super::grid::Grid;
use super::mask::Mask;
use super::nearby::largest_nearby;
use super::seek::{Blob, Survey};
use super::shape::Shape;
use super::spine::{Spine, centre};

/// Length a fish is given in block pixels: finer shows no more of its shape.
const DETAIL: f64 = 160.0;
/// Reduced pixels by which a closer look may move the outline outwards.
const REACH: usize = 3;

/// One fish, or several that touch, at the resolution its shape is measured at.
#[derive(Debug, Clone)]
pub(super) struct Body {
    /// Differences from the floor around it.
    pub(super) block: Block,
    /// Its pixels.
    pub(super) grid: Grid,
    /// Pixels of things beside it, as far as they are known.
    pub(super) others: Grid,
}

impl Body {
    /// A closer look at pixels that are known to belong.
    pub(super) fn of_mask(scene: &Scene<'_>, mask: &Mask) -> Option<Self> {
        let b = mask.bounds()?;
        let step = step_for((b.x1 - b.x0).hypot(b.y1 - b.y0));
        let margin = 4 * step;
        let origin = ((b.x0 as u32).saturating_sub(margin), (b.y0 as u32).saturating_sub(margin));
        let end = ((b.x1 as u32 + margin).min(scene.photo.width), (b.y1 as u32 + margin).min(scene.photo.height));
        let size = ((end.0 - origin.0).div_ceil(step) as usize, (end.1 - origin.1).div_ceil(step) as usize);
        let block = Block::close_up(scene.photo, scene.floor, origin, step, size);
        let on = (0..size.0 * size.1)
            .map(|k| {
                let at = |from: u32, i: usize| from + i as u32 * step + step / 2;
                mask.contains(at(origin.0, k % size.0), at(origin.1, k / size.0))
            })
            .collect();
        Some(Self { grid: Grid { width: size.0, height: size.1, on }, others: Grid::empty(size.0, size.1), block })
    }

    /// A place of the photo in pixels of the block.
    pub(super) fn in_block(&self, p: Point) -> Point {
        let (x, y) = self.block.origin;
        (p - Point::new(f64::from(x), f64::from(y))) * (1.0 / f64::from(self.block.step))
    }

    /// A place of the block in pixels of the photo.
    pub(super) fn in_photo(&self, p: Point) -> Point {
        let (x, y) = self.block.origin;
        Point::new(f64::from(x), f64::from(y)) + p * f64::from(self.block.step)
    }

    /// Its pixels in the photo.
    pub(super) fn mask(&self, scene: &Scene<'_>, grid: &Grid) -> Mask {
        let limit = (scene.photo.width, scene.photo.height);
        Mask::from_block(&grid.on, grid.width, self.block.origin, self.block.step, limit)
    }
}

/// Photo pixels per block pixel for something `extent` photo pixels long.
fn step_for(extent: f64) -> u32 {
    ((extent / DETAIL).round() as u32).max(1)
}

/// Looks at `blob` closely.
pub(super) fn close_up(scene: &Scene<'_>, survey: &Survey, blob: &Blob, view: View) -> Body {
    let factor = survey.block.step;
    let k = f64::from(factor);
    let extent = (blob.grid.width as f64).hypot(blob.grid.height as f64) * k;
    let step = step_for(extent);
    let margin = REACH as u32 + 1;
    let from = |at: usize| (at as u32).saturating_sub(margin) * factor;
    let origin = (from(blob.at.0), from(blob.at.1));
    let to = |at: usize, size: usize, limit: u32| ((at + size) as u32 + margin).saturating_mul(factor).min(limit);
    let end = (to(blob.at.0, blob.grid.width, scene.photo.width), to(blob.at.1, blob.grid.height, scene.photo.height));
    let size = (((end.0 - origin.0) / step).max(1) as usize, ((end.1 - origin.1) / step).max(1) as usize);
    let block = Block::close_up(scene.photo, scene.floor, origin, step, size);
    let (grid, others) = outline(survey, blob, &block, view);
    Body { block, grid, others }
}

/// The blob's pixels in the close-up, and those of other things.
fn outline(survey: &Survey, blob: &Blob, block: &Block, view: View) -> (Grid, Grid) {
    let Coarse { own, bridge, hidden, near, floor, others } = coarse_sets(survey, blob, block);
    let (kinds, _) = Evidence::of(block, &floor, survey.drift).classify(&near);
    let mut grid = Grid::empty(block.width, block.height);
    for k in near.indices() {
        grid.on[k] = kinds[k] == Kind::Thing || bridge.on[k] || hidden.on[k];
    }
    let sharp = trimmed(block, &grid).with(|k| grid.on[k] && hidden.on[k]);
    let pieces = sharp.eroded(1).dilated(1).pieces();
    let mut out = Grid::empty(block.width, block.height);
    for piece in pieces {
        // What the reduced picture did not see joined to the blob is something else.
        if 2 * piece.iter().filter(|&&k| own.on[k]).count() >= piece.len() {
            piece.iter().for_each(|&k| out.on[k] = true);
        }
    }
    let finer = f64::from(survey.block.step) / f64::from(block.step);
    let out = near_the_largest(held_together(out, &own, blob, finer), view);
    (out.filled(out.count() / 3), others)
}

/// Widest gap between the pieces of a fish, as a share of what its largest one measures from corner to corner: a stalk in the floor's
/// colour is shorter (starting value). What a faint reflection joined to it in the reduced picture lies farther off.
const GAP: f64 = 0.35;

/// Share of the largest piece below which a piece is a speck (starting value). From the side a pane mirrors such, and they say nothing of
/// where a fish ends; from above a clear tail shows by them.
const SPECK: f64 = 0.02;

/// Share of all pixels from which the largest piece is the fish, to which others belong or not: a fish in pieces keeps them all (starting
/// value).
const MAIN: f64 = 0.8;
/// Fewest pixels of a fish that is freed of pieces: of what is smaller, shreds tell that it is a crumb (starting value).
const CLEAR: usize = 1500;

/// The largest piece, where it is the fish, and those that follow it by no more than a gap each; from the side, specks are left out.
fn near_the_largest(outline: Grid, view: View) -> Grid {
    let mut rest = outline.pieces();
    rest.sort_by_key(Vec::len);
    let Some(largest) = rest.pop().filter(|p| p.len() >= CLEAR && p.len() as f64 >= MAIN * outline.count() as f64)
    else {
        return outline;
    };
    let reach = (GAP * extent(&outline, &largest)) as usize;
    rest.retain(|piece| view == View::Above || piece.len() as f64 >= SPECK * largest.len() as f64);
    let mut near = Grid::empty(outline.width, outline.height);
    let mut taken = vec![largest];
    while !taken.is_empty() {
        taken.iter().flatten().for_each(|&k| near.on[k] = true);
        let about = near.dilated(reach);
        (taken, rest) = rest.into_iter().partition(|piece| piece.iter().any(|&k| about.on[k]));
    }
    near
}

/// From corner to corner of the rectangle around a piece.
fn extent(grid: &Grid, piece: &[usize]) -> f64 {
    let span = |of: &dyn Fn(usize) -> usize| {
        let ends = piece.iter().fold((usize::MAX, 0), |(low, high), &k| (low.min(of(k)), high.max(of(k))));
        (ends.1 + 1).saturating_sub(ends.0) as f64
    };
    span(&|k| k % grid.width).hypot(span(&|k| k / grid.width))
}

/// Fewest reduced pixels of a fish whose pieces are held together: smaller ones are rather crumbs and bubbles (starting value).
const LARGE: usize = 200;
/// Smallest share of a fish's pixels that a piece of it beyond a gap has (starting value).
const PIECE: f64 = 0.2;
/// Fishness of the reduced picture's own outline from which it shows one fish, and of the close-up's up to which that cannot be one
/// (starting values, tuned on the renderer's tuning seeds).
const ONE_FISH: (f64, f64) = (0.85, 0.3);
/// Share of the length that the reduced picture shows below which the close-up has lost an end: it shows 0.8 and more of droppings and of
/// whole fish (starting value, tuned on the renderer's tuning seeds).
const SHORT: f64 = 0.79;

/// The outline, with the reduced picture's own pixels where that shows one fish and the close-up does not: all of them where a stalk or
/// a blotch in the floor's colour lets the outline fall to pieces, those beyond its ends where a faint tail is lost in the noise.
fn held_together(outline: Grid, own: &Grid, blob: &Blob, finer: f64) -> Grid {
    if blob.shape().is_none_or(|s| s.fishness(None) < ONE_FISH.0) {
        return outline;
    }
    let spine = Spine::of(&outline);
    let least = PIECE * outline.count() as f64;
    let broken = outline.pieces().iter().filter(|p| p.len() as f64 >= least).count() > 1;
    let fishness = spine.as_ref().map_or(0.0, |spine| Shape::of(&outline, spine).fishness(None));
    if blob.grid.count() >= LARGE && broken && fishness <= ONE_FISH.1 {
        return outline.with(|k| own.on[k]);
    }
    match (spine, blob.spine()) {
        (Some(seen), Some(whole)) if seen.length() < SHORT * finer * whole.length() => {
            let beyond = |s: f64| s < seen.span.0 || s > seen.span.1;
            outline.with(|k| own.on[k] && beyond(seen.locate(centre(own, k)).0))
        }
        _ => outline,
    }
}

/// The pixels without those at the rim where the fish's edge is only blurred over the floor: fainter than two fifths of what
/// is within two pixels.
fn trimmed(block: &Block, grid: &Grid) -> Grid {
    const FAINT: f32 = 0.4;
    const NEAR: usize = 2;
    let strength = |k: usize| block.pixels[k].size().min(127.0);
    let doubled = (0..grid.on.len()).map(|k| if grid.on[k] { (2.0 * strength(k)) as u8 } else { 0 });
    let strongest = largest_nearby(&doubled.collect::<Vec<_>>(), grid.width, NEAR);
    let core = grid.eroded(NEAR);
    let on = (0..grid.on.len())
        .map(|k| grid.on[k] && (core.on[k] || 2.0 * strength(k) >= FAINT * f32::from(strongest[k])))
        .collect();
    Grid { on, ..Grid::empty(grid.width, grid.height) }
}

/// What the reduced picture says about the close-up's pixels.
struct Coarse {
    /// The blob itself.
    own: Grid,
    /// Its shade-like pixels.
    bridge: Grid,
    /// What differs from the floor too little to be told from it here.
    hidden: Grid,
    /// All that may belong to it.
    near: Grid,
    /// Bare floor around it.
    floor: Grid,
    /// Other things around it.
    others: Grid,
}

fn coarse_sets(survey: &Survey, blob: &Blob, block: &Block) -> Coarse {
    let (w, h) = (survey.block.width, survey.block.height);
    let reach = REACH + 2;
    let (left, top) = (blob.at.0.saturating_sub(reach), blob.at.1.saturating_sub(reach));
    let right = (blob.at.0 + blob.grid.width + reach).min(w);
    let bottom = (blob.at.1 + blob.grid.height + reach).min(h);
    let mut coarse = Grid::empty(right - left, bottom - top);
    let mut joining = coarse.clone();
    for k in blob.grid.indices() {
        let (x, y) = (blob.at.0 + k % blob.grid.width - left, blob.at.1 + k / blob.grid.width - top);
        coarse.on[y * coarse.width + x] = true;
        joining.on[y * coarse.width + x] = blob.bridge.on[k];
    }
    let grown = coarse.dilated(REACH);
    let empty = Grid::empty(block.width, block.height);
    let [own, bridge, hidden, near, floor, others] = std::array::from_fn(|_| empty.clone());
    let mut out = Coarse { own, bridge, hidden, near, floor, others };
    let factor = survey.block.step;
    for k in 0..out.own.on.len() {
        let at = |origin: u32, i: usize, limit: usize| {
            (((origin + i as u32 * block.step + block.step / 2) / factor) as usize).min(limit - 1)
        };
        let (x, y) = (at(block.origin.0, k % block.width, w), at(block.origin.1, k / block.width, h));
        let far = y * w + x;
        if x < left || y < top || x >= right || y >= bottom {
            continue;
        }
        let c = (y - top) * coarse.width + x - left;
        out.own.on[k] = coarse.on[c];
        out.bridge.on[k] = joining.on[c];
        out.hidden.on[k] = survey.hidden.on[far];
        // Things of other blobs are not this one's, however near.
        out.near.on[k] = survey.inside.on[far] && (coarse.on[c] || grown.on[c] && survey.kinds[far] != Kind::Thing);
        out.others.on[k] = !coarse.on[c] && survey.kinds[far] == Kind::Thing;
        out.floor.on[k] = survey.inside.on[far] && survey.kinds[far] == Kind::Floor;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::super::drawn::in_fish;
    use super::*;

    /// A fish as the reduced picture shows it, and those of its pixels that the close-up `sees`.
    fn seen(sees: impl Fn(Point) -> bool) -> (Blob, Grid, Grid) {
        let survey = Survey::bare(160, 140);
        let own: Vec<usize> = (0..160 * 140).filter(|&k| in_fish(&[(40.0, 60.0, 0.0)], survey.place(k))).collect();
        let mut fish = Grid::empty(160, 140);
        own.iter().for_each(|&k| fish.on[k] = true);
        let mut close_up = fish.clone();
        (0..close_up.on.len()).for_each(|k| close_up.on[k] &= sees(centre(&fish, k)));
        (Blob::of(&survey, own, Vec::new()), fish, close_up)
    }

    #[test]
    fn what_lies_far_from_a_fish_and_specks_are_none_of_it() {
        let kept = |view: View, height: usize, pieces: &[std::ops::Range<usize>]| {
            let mut grid = Grid::empty(400, height);
            pieces.iter().cloned().flatten().for_each(|x| (0..height).for_each(|y| grid.on[y * 400 + x] = true));
            near_the_largest(grid, view).on[..400].iter().filter(|on| **on).count()
        };
        // A body of 100, its tail beyond a clear stalk, and beyond that a piece of a pane that only another one leads to.
        assert_eq!(kept(View::Side, 20, &[0..100, 120..140]), 120);
        assert_eq!(kept(View::Side, 20, &[0..100, 120..140, 160..165]), 125);
        assert_eq!(kept(View::Side, 20, &[0..100, 150..160, 170..180]), 100);
        assert_eq!(kept(View::Side, 20, &[0..100, 110..111]), 100, "a speck");
        assert_eq!(kept(View::Above, 20, &[0..100, 110..111]), 101, "a speck of a clear tail");
        assert_eq!(kept(View::Side, 20, &[0..100, 160..200]), 140, "a fish in pieces");
        assert_eq!(kept(View::Side, 4, &[0..100, 150..160]), 110, "a crumb keeps its shreds");
    }

    #[test]
    fn a_fish_broken_up_close_is_held_together_and_a_whole_one_keeps_its_outline() {
        // Of the close look two lumps stay, neither of which could be a fish.
        let (blob, fish, broken) = seen(|p| !(50.0..92.0).contains(&p.x));
        assert_eq!(broken.pieces().len(), 2);
        assert_eq!(held_together(broken, &fish, &blob, 1.0), fish);
        let (blob, fish, nibbled) = seen(|p| p != Point::new(45.5, 60.5));
        assert_eq!(held_together(nibbled.clone(), &fish, &blob, 1.0), nibbled);
    }

    #[test]
    fn a_tail_lost_up_close_is_had_back_and_what_is_a_little_shorter_is_left() {
        // The fish ends at 100; up close it is thinner as well, and stays so.
        let thinner = |p: Point| (p.y - 60.0).abs() < 3.0;
        let (blob, fish, trunk) = seen(|p| p.x < 84.0 && thinner(p));
        let whole = held_together(trunk.clone(), &fish, &blob, 1.0);
        assert!(whole.indices().all(|k| trunk.on[k] || fish.on[k] && centre(&fish, k).x > 83.0));
        assert!(fish.indices().filter(|&k| centre(&fish, k).x > 85.0).all(|k| whole.on[k]));
        let (blob, fish, shorter) = seen(|p| p.x < 92.0 && thinner(p));
        assert_eq!(held_together(shorter.clone(), &fish, &blob, 1.0), shorter);
    }
}
