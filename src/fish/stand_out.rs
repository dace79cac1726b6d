//! Fish that stand out from one they touch: what a group's spindles leave over, where it is longer than a fin.

use crate::geometry::Point;

use super::explain::CROSSED;
use super::eyes::Head;
use super::grid::Grid;
use super::seek::{Blob, Survey};
use super::shape::{Shape, Usual};
use super::spindle::{Expected, Spindle};
use super::spine::Spine;
use super::worth::Worth;

/// Half widths from an axis beyond which a pixel is left over: beside the body, and beside the tail fan, which spreads.
const BESIDE: (f64, f64) = (1.35, 2.5);
/// Share of a fish's length from which on its tail fan may spread.
const FAN: f64 = 0.72;
/// Fewest reduced pixels left over that are looked at.
const LEAST: usize = 24;
/// Largest share of its blob that stands out: more is another thing beside the fish.
const MOST: f64 = 0.6;
/// Length in lengths of a usual fish from which a slender piece is no fin (side fins reach 0.14), and from which any is; its
/// slenderness (fins spread: 2.9 at most); and how strongly its strongest fifth differs from the floor, L*a*b* units: clear fins and
/// the edges of shadows have less (starting values, tuned on the renderer's tuning seeds).
const LONG: (f64, f64) = (0.16, 0.25);
/// See [`LONG`].
const SLENDER: f64 = 3.0;
/// See [`LONG`].
const STRONG: f32 = 30.0;
/// Share of its own area that a fish behind a head must add to what is explained (starting value).
const ADDS: f64 = 0.25;
/// How much longer the fish is than what stands out of it.
const HIDDEN: f64 = 1.1;

/// The fish that stand out from those of `spindles` in a blob; both are in pixels of the survey.
pub(super) fn standing_out(survey: &Survey, blob: &Blob, spindles: &[Spindle], usual: Usual) -> Vec<Spindle> {
    let left = pieces(survey, blob, spindles).into_iter();
    left.filter_map(|piece| start(survey, blob, &piece, usual)).map(|s| settled(blob, spindles, s)).collect()
}

/// Where the blob's rectangle begins in the survey.
fn corner(blob: &Blob) -> Point {
    Point::new(blob.at.0 as f64, blob.at.1 as f64)
}

/// The pieces that lie off every spindle, in the blob's rectangle.
fn pieces(survey: &Survey, blob: &Blob, spindles: &[Spindle]) -> Vec<Grid> {
    let beside = |s: &Spindle, p: Point| s.distance(p) > if s.share(p) > FAN { BESIDE.1 } else { BESIDE.0 };
    let empty = Grid::empty(blob.grid.width, blob.grid.height);
    let mut left = empty.clone();
    for k in blob.grid.indices() {
        let p = survey.place(blob.place(k, survey.block.width));
        left.on[k] = spindles.iter().all(|s| beside(s, p));
    }
    let most = MOST * blob.grid.count() as f64;
    let pieces = left.eroded(1).dilated(1).pieces().into_iter();
    pieces
        .filter(|p| p.len() >= LEAST && (p.len() as f64) < most)
        .map(|piece| {
            let mut grid = empty.clone();
            piece.iter().for_each(|&k| grid.on[k] = true);
            grid
        })
        .collect()
}

/// The fish, as far as a piece shows it; `None` for a fin, a shadow or dirt.
fn start(survey: &Survey, blob: &Blob, piece: &Grid, usual: Usual) -> Option<Spindle> {
    let spine = Spine::of(piece)?;
    let shape = Shape::of(piece, &spine);
    let length = (shape.area * shape.slenderness).sqrt();
    let long = length / usual.length();
    let fin = long < LONG.0 || shape.slenderness < SLENDER && long < LONG.1;
    let places = piece.indices().map(|k| blob.place(k, survey.block.width));
    if fin || survey.block.reached(places, 5) < STRONG {
        return None;
    }
    let (a, b) = (spine.at(spine.span.0), spine.at(spine.span.1));
    let middle = spine.at(0.5 * (spine.span.0 + spine.span.1)) + corner(blob);
    let turn = (b.y - a.y).atan2(b.x - a.x);
    Some(Spindle::new(middle, turn, HIDDEN * length, shape.area))
}

/// The fish after it has found its best place in the blob beside those of `spindles`, head first.
fn settled(blob: &Blob, spindles: &[Spindle], start: Spindle) -> Spindle {
    let there = settled_as_it_lies(blob, spindles, start);
    let back = settled_as_it_lies(blob, spindles, Spindle { turn: start.turn + std::f64::consts::PI, ..start });
    if back.0 > there.0 { back.1 } else { there.1 }
}

/// The same with its head where `start` has it, and what that is worth.
fn settled_as_it_lies(blob: &Blob, spindles: &[Spindle], start: Spindle) -> (f64, Spindle) {
    let value = blob.grid.on.iter().map(|on| if *on { 1.0 } else { -1.0 }).collect();
    let mut map = Worth { width: blob.grid.width, height: blob.grid.height, value };
    let local = |s: Spindle| Spindle { middle: s.middle - corner(blob), ..s };
    spindles.iter().for_each(|s| map.covered(&local(*s), CROSSED));
    let expected = Expected { length: start.length, aspect: start.half_width / start.length };
    let (worth, best) = local(start).refined(&map, expected);
    (worth, best.scaled(1.0, blob.at))
}

/// The fish behind heads that belong to none of `spindles`, as far as they add to what those explain of a blob.
pub(super) fn behind_heads(blob: &Blob, spindles: &[Spindle], heads: &[Head]) -> Vec<Spindle> {
    let mut all = spindles.to_vec();
    for head in heads {
        if all.iter().any(|s| head.is_of(s)) {
            continue;
        }
        let (worth, fish) = settled_as_it_lies(blob, &all, head.fish());
        if worth >= ADDS * fish.area() {
            all.push(fish);
        }
    }
    all.split_off(spindles.len())
}

#[cfg(test)]
mod tests {
    use super::super::evidence::Kind;
    use super::super::seek::blobs;
    use super::*;

    const ADULT: Spindle =
        Spindle { middle: Point { x: 100.0, y: 60.0 }, turn: 0.0, bend: 0.0, length: 130.0, half_width: 12.0 };

    /// An adult, and what else `more` says, all 40 L* darker than the floor.
    fn found(more: impl Fn(Point) -> bool) -> Vec<Spindle> {
        let mut survey = Survey::bare(200, 140);
        for k in 0..survey.kinds.len() {
            let p = survey.place(k);
            if ADULT.distance(p) <= 1.0 || more(p) {
                survey.kinds[k] = Kind::Thing;
                survey.block.pixels[k].lightness = -40.0;
            }
        }
        let usual = Usual { area: ADULT.area(), slenderness: 130.0 * 130.0 / ADULT.area() };
        standing_out(&survey, &blobs(&survey, 24)[0], &[ADULT], usual)
    }

    #[test]
    fn a_fry_at_an_adults_side_stands_out() {
        let fry = Spindle { middle: Point::new(90.0, 88.0), turn: -1.2, bend: 0.0, length: 36.0, half_width: 4.0 };
        let [seen] = found(|p| fry.distance(p) <= 1.0)[..] else { panic!("not one") };
        assert!(seen.middle.distance(fry.middle) < 4.0 && (seen.length / fry.length - 1.0).abs() < 0.25, "{seen:?}");
    }

    #[test]
    fn a_fry_across_an_adult_is_told_by_its_head_alone() {
        let fry = Spindle { middle: Point::new(90.0, 60.0), turn: 1.4, bend: 0.0, length: 60.0, half_width: 4.0 };
        let mut survey = Survey::bare(200, 140);
        for k in 0..survey.kinds.len() {
            let p = survey.place(k);
            if ADULT.distance(p) <= 1.0 || fry.distance(p) <= 1.0 {
                survey.kinds[k] = Kind::Thing;
            }
        }
        let blob = &blobs(&survey, 24)[0];
        let back = Point::new(fry.turn.cos(), fry.turn.sin());
        let head = Head { middle: fry.middle - back * 26.0, turn: fry.turn, apart: 6.5 };
        let [seen] = behind_heads(blob, &[ADULT], &[head])[..] else { panic!("not one") };
        assert!(seen.middle.distance(fry.middle) < 4.0 && (seen.turn - fry.turn).abs() < 0.2, "{seen:?}");
        // The adult's own head is none of another fish.
        let own = Head { middle: Point::new(40.0, 60.0), turn: 0.0, apart: 14.0 };
        assert!(behind_heads(blob, &[ADULT], &[own]).is_empty());
    }

    #[test]
    fn side_fins_do_not() {
        // A tenth of a fish long and as broad, on either side behind the head.
        let fin = |p: Point| (60.0..76.0).contains(&p.x) && (p.y - 60.0).abs() < 24.0;
        assert!(found(fin).is_empty());
        assert!(found(|_| false).is_empty());
    }
}
