//! What a person corrected by hand, as values that are stored and replayed.
#![expect(clippy::cast_possible_truncation, reason = "places are clamped to the picture before the cast")]

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::geometry::Point;
use crate::units::View;

use super::body::Body;
use super::grid::Grid;
use super::local::piece_at;
use super::mask::Mask;
use super::region::region;
use super::split::split_at;
use super::spot::{Spot, meant};
use super::unmet::{Asked, Unmet, Why};
use super::{Flag, Found, Region, Scene};

/// One correction. Numbers are those shown after the corrections before it; once it has been applied it also knows where its
/// regions were, so that it meets the same things or nothing when the photo is measured again and numbered otherwise.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "do", rename_all = "lowercase")]
pub enum Correction {
    /// There is a fish at this place.
    Add {
        /// A place on the fish, in pixels.
        at: Point,
    },
    /// Region `n` is not a fish.
    Drop {
        /// Its number.
        n: u32,
        /// Where it was.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        was: Option<Spot>,
    },
    /// Region `n` is several fish.
    Split {
        /// Its number.
        n: u32,
        /// One place on each fish, two or more; or, where the first two lie outside the region, the line that cuts it.
        points: Vec<Point>,
        /// Where it was.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        was: Option<Spot>,
    },
    /// Regions `a` and `b` are one fish.
    Merge {
        /// One of them.
        a: u32,
        /// The other.
        b: u32,
        /// Where the two were.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        was: Option<[Spot; 2]>,
    },
}

impl Correction {
    /// Without what it knows of where its regions were: what a person said.
    #[must_use]
    pub fn as_said(&self) -> Self {
        match self.clone() {
            Self::Drop { n, .. } => Self::Drop { n, was: None },
            Self::Split { n, points, .. } => Self::Split { n, points, was: None },
            Self::Merge { a, b, .. } => Self::Merge { a, b, was: None },
            add @ Self::Add { .. } => add,
        }
    }

    /// Whether it knows where it met its regions; a place at which there is a fish needs none.
    pub fn has_met(&self) -> bool {
        match self {
            Self::Add { .. } => true,
            Self::Drop { was, .. } | Self::Split { was, .. } => was.is_some(),
            Self::Merge { was, .. } => was.is_some(),
        }
    }

    /// The regions that it speaks of.
    fn targets<'a>(&self, regions: &'a [Region]) -> Result<Vec<&'a Region>, Why> {
        match self {
            Self::Add { .. } => Ok(Vec::new()),
            Self::Drop { n, was } | Self::Split { n, was, .. } => Ok(vec![meant(regions, *n, *was)?]),
            Self::Merge { a, b, was } => {
                let [of_a, of_b] = was.map_or([None; 2], |spots| spots.map(Some));
                Ok(vec![meant(regions, *a, of_a)?, meant(regions, *b, of_b)?])
            }
        }
    }

    /// The same with where its regions are.
    fn settled(&self, targets: &[&Region]) -> Self {
        let spots: Vec<Spot> = targets.iter().map(|r| Spot::of(r)).collect();
        match (self.clone(), spots.as_slice()) {
            (Self::Drop { n, .. }, [spot]) => Self::Drop { n, was: Some(*spot) },
            (Self::Split { n, points, .. }, [spot]) => Self::Split { n, points, was: Some(*spot) },
            (Self::Merge { a, b, .. }, [of_a, of_b]) => Self::Merge { a, b, was: Some([*of_a, *of_b]) },
            (other, _) => other,
        }
    }
}

/// Applies corrections in order. New regions get numbers that were never used before; the others keep theirs. A correction
/// that meets nothing changes nothing and leaves a warning.
pub fn correct(scene: &Scene<'_>, mut found: Found, corrections: &[Correction], view: View) -> Found {
    let mut next = found.regions.iter().map(|r| r.n).max().unwrap_or(0) + 1;
    for (i, correction) in corrections.iter().enumerate() {
        match changed(scene, &found.regions, correction, view) {
            Ok(Change { settled, gone, new }) => {
                found.corrections.push(settled);
                found.regions.retain(|r| !gone.contains(&r.n));
                for (n, region) in (next..).zip(new) {
                    found.regions.push(Region { n, ..region });
                    next = n + 1;
                }
            }
            Err(why) => {
                found.corrections.push(correction.clone());
                found.miss(Unmet { asked: Asked::Correction(i), why });
            }
        }
    }
    found
}

/// Widest gap between two regions that can be one fish, in lengths of the longer (a tail behind a clear stalk lies 0.3 from its trunk).
const APART: f64 = 1.0;

/// What a correction does: which numbers go, which regions come, and itself with where it met them.
struct Change {
    settled: Correction,
    gone: Vec<u32>,
    new: Vec<Region>,
}

fn changed(scene: &Scene<'_>, regions: &[Region], correction: &Correction, view: View) -> Result<Change, Why> {
    let targets = correction.targets(regions)?;
    let masks = match (correction, targets.as_slice()) {
        (Correction::Add { at }, _) => {
            let inside = |r: &&Region| at.x >= 0.0 && at.y >= 0.0 && r.mask.contains(at.x as u32, at.y as u32);
            if let Some(there) = regions.iter().find(inside) {
                let said = format!("fish {} is outlined at {:.0},{:.0} already", there.n, at.x, at.y);
                return Err(Why::new(said, "split it if it is two"));
            }
            let nothing = || {
                let hint = "point at the middle of the fish, in pixels of the upright picture";
                Why::new(format!("nothing stands out at {:.0},{:.0}", at.x, at.y), hint)
            };
            vec![piece_at(scene, *at, regions).ok_or_else(nothing)?]
        }
        (Correction::Split { n, points, .. }, [whole]) => {
            let whole_still = || {
                let hint = "point at the middle of each fish, or at both ends of a line between them";
                Why::new(format!("fish {n} does not come apart at these places"), hint)
            };
            parted(scene, whole, points).ok_or_else(whole_still)?
        }
        (Correction::Merge { .. }, [a, b]) => {
            if a.n == b.n {
                return Err(Why::new(
                    format!("fish {} cannot be merged with itself", a.n),
                    "name the two halves of one fish",
                ));
            }
            if a.bounds.gap(&b.bounds) > APART * a.length_px.max(b.length_px) {
                let said = format!("fish {} and {} lie too far apart to be one", a.n, b.n);
                return Err(Why::new(said, "name the two halves of one fish"));
            }
            vec![joined(scene, &a.mask.union(&b.mask))]
        }
        _ => Vec::new(),
    };
    let by_hand = |mask: &Mask| region(scene, &Body::of_mask(scene, mask)?, view, BTreeSet::from([Flag::ByHand]));
    let new: Option<Vec<Region>> = masks.iter().map(by_hand).collect();
    let too_small =
        || Why::new("what would come of it is too small to be a fish", "point at other places, or leave it as it is");
    let new = new.ok_or_else(too_small)?;
    Ok(Change { settled: correction.settled(&targets), gone: targets.iter().map(|r| r.n).collect(), new })
}

/// Parts a region's pixels; `None` when fewer than two pieces come out.
fn parted(scene: &Scene<'_>, whole: &Region, points: &[Point]) -> Option<Vec<Mask>> {
    let body = Body::of_mask(scene, &whole.mask)?;
    let inside = |p: &Point| whole.mask.contains(p.x.max(0.0) as u32, p.y.max(0.0) as u32);
    let grids = match points {
        [a, b, ..] if !inside(a) && !inside(b) => cut_along(&body, body.in_block(*a), body.in_block(*b)),
        [_, _, ..] => split_at(&body.grid, &points.iter().map(|p| body.in_block(*p)).collect::<Vec<_>>()),
        _ => return None,
    };
    let masks: Vec<Mask> = grids.iter().map(|g| body.mask(scene, g)).filter(|m| !m.is_empty()).collect();
    (masks.len() >= 2).then_some(masks)
}

/// The pixels left and right of the line through two places.
fn cut_along(body: &Body, a: Point, b: Point) -> Vec<Grid> {
    let mut sides = vec![Grid::empty(body.grid.width, body.grid.height); 2];
    for k in body.grid.indices() {
        let p = super::spine::centre(&body.grid, k) - a;
        let d = b - a;
        sides[usize::from(d.x * p.y - d.y * p.x > 0.0)].on[k] = true;
    }
    sides
}

/// Pixels as one piece: where they are several, straight bridges join each to the largest.
fn joined(scene: &Scene<'_>, mask: &Mask) -> Mask {
    let Some(mut body) = Body::of_mask(scene, mask) else { return mask.clone() };
    while let [first, second, ..] = &body.grid.pieces()[..] {
        let width = body.grid.width;
        let place = |k: usize| Point::new((k % width) as f64, (k / width) as f64);
        let nearest = first
            .iter()
            .flat_map(|&p| second.iter().map(move |&q| (p, q)))
            .min_by(|a, b| place(a.0).distance(place(a.1)).total_cmp(&place(b.0).distance(place(b.1))));
        let Some((p, q)) = nearest else { break };
        let steps = 2.0 * place(p).distance(place(q)).ceil();
        for i in 0..=steps as usize {
            let at = place(p).lerp(place(q), i as f64 / steps.max(1.0));
            for (x, y) in [(at.x.floor(), at.y.floor()), (at.x.ceil(), at.y.floor()), (at.x.floor(), at.y.ceil())] {
                body.grid.on[y as usize * width + x as usize] = true;
            }
        }
    }
    body.mask(scene, &body.grid)
}
