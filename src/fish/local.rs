//! What stands out around one place a person points at.
#![expect(clippy::cast_possible_truncation, reason = "places are clamped to the picture before the cast")]

use crate::geometry::Point;

use super::differ::Block;
use super::evidence::{Evidence, Kind};
use super::grid::Grid;
use super::mask::Mask;
use super::{Region, Scene};

/// Half side of the window that is searched, as a share of the picture's longer side: a fish is rarely longer.
const WINDOW: f64 = 0.12;
/// How far beside a fish a person may point, in pixels of the reduced picture.
const BESIDE: f64 = 6.0;

/// The pixels of the thing at (or right beside) `at`, those of the `taken` regions left out.
pub(super) fn piece_at(scene: &Scene<'_>, at: Point, taken: &[Region]) -> Option<Mask> {
    let photo = scene.photo;
    let step = scene.floor.reduced.factor.div_ceil(2);
    let half = WINDOW * f64::from(photo.width.max(photo.height));
    let from = |v: f64| (v - half).max(0.0) as u32;
    let to = |v: f64, limit: u32| ((v + half).max(0.0) as u32).min(limit);
    let origin = (from(at.x), from(at.y));
    let end = (to(at.x, photo.width), to(at.y, photo.height));
    if origin.0 >= end.0 || origin.1 >= end.1 {
        return None;
    }
    let size = (((end.0 - origin.0) / step) as usize, ((end.1 - origin.1) / step) as usize);
    if size.0 == 0 || size.1 == 0 {
        return None;
    }
    let block = Block::close_up(photo, scene.floor, origin, step, size);
    let mut inside = Grid::empty(size.0, size.1);
    for (k, on) in inside.on.iter_mut().enumerate() {
        let (x, y) = (origin.0 + (k % size.0) as u32 * step, origin.1 + (k / size.0) as u32 * step);
        *on = !taken.iter().any(|r| r.mask.contains(x, y));
    }
    let (kinds, _) = Evidence::of(&block, &inside, [0.0; 2]).classify(&inside);
    let things = Grid { width: size.0, height: size.1, on: kinds.iter().map(|k| *k == Kind::Thing).collect() };
    let k = f64::from(step);
    let aim = Point::new((at.x - f64::from(origin.0)) / k, (at.y - f64::from(origin.1)) / k);
    let reach = BESIDE * f64::from(scene.floor.reduced.factor) / k;
    let distance =
        |p: &[usize]| p.iter().map(|&i| super::spine::centre(&things, i).distance(aim)).fold(f64::MAX, f64::min);
    // Of the pieces within reach the largest: a person points at the fish, not at the crumb beside it.
    let piece = things.pieces().into_iter().filter(|p| distance(p) <= reach).max_by_key(Vec::len)?;
    let mut grid = Grid::empty(size.0, size.1);
    piece.iter().for_each(|&i| grid.on[i] = true);
    let filled = grid.filled(piece.len() / 3);
    Some(Mask::from_block(&filled.on, size.0, origin, step, (photo.width, photo.height)))
}
