//! From a body to the region that is reported: lengths, outline, parts, flags.

use std::collections::BTreeSet;

use crate::geometry::Point;
use crate::units::View;

use super::body::Body;
use super::doubts::doubts;
use super::fin::opacity;
use super::glare::lamp_image;
use super::grid::Grid;
use super::head::{Heading, heading};
use super::mask::Mask;
use super::outline::outline;
use super::parts::{PartGrids, parts};
use super::spine::Spine;
use super::{Axis, Flag, Parts, Region, Scene};

/// Describes one fish; `None` when its shape has no middle line.
pub(super) fn region(scene: &Scene<'_>, body: &Body, view: View, mut flags: BTreeSet<Flag>) -> Option<Region> {
    let mask = body.mask(scene, &body.grid);
    let (centre, bounds) = (mask.centroid()?, mask.bounds()?);
    let heading = heading(body, Spine::of(&body.grid)?);
    let grids = parts(body, &heading, view);
    // Where a person parted fish, what lies beside one may be the other.
    let by_hand = flags.contains(&Flag::ByHand) && flags.contains(&Flag::Touching);
    let glare = if by_hand { Mask::default() } else { body.mask(scene, &lamp_image(body)) };
    flags.extend(doubts(scene, body, &heading, &mask, &glare));
    let line = Line::of(body, &heading);
    let k = f64::from(body.block.step);
    Some(Region {
        n: 0,
        centre,
        bounds,
        outline: outline(&body.grid).into_iter().map(|p| body.in_photo(p)).collect(),
        area_px: mask.area() as f64,
        length_px: heading.spine.length() * k,
        standard_length_px: heading.stalk.map(|s| s * k),
        length_mm: line.millimetres(scene, heading.spine.length()),
        standard_length_mm: heading.stalk.and_then(|s| line.millimetres(scene, s)),
        heading_degrees: line.heading(),
        axis: Some(Axis {
            midline: line.points.clone(),
            stalk_px: heading.stalk.map(|s| s * k),
            head_confidence: heading.confidence,
        }),
        parts: Parts { glare, ..part_masks(scene, body, &grids) },
        mask,
        view,
        flags,
        number: 1,
    })
}

/// Describes a cluster: outline and extent, no parts.
pub(super) fn cluster(scene: &Scene<'_>, body: &Body, view: View, number: u32) -> Option<Region> {
    let mut one = region(scene, body, view, BTreeSet::from([Flag::Cluster, Flag::Touching]))?;
    one.axis = None;
    one.standard_length_px = None;
    one.standard_length_mm = None;
    one.heading_degrees = None;
    one.parts = Parts::default();
    one.number = number;
    Some(one)
}

/// The midline in photo pixels, at equal steps from the snout to the tail tip.
struct Line {
    points: Vec<Point>,
    /// Block pixels from one point to the next.
    step: f64,
}

impl Line {
    fn of(body: &Body, heading: &Heading) -> Self {
        const STEPS: usize = 32;
        let step = heading.spine.length() / STEPS as f64;
        let at = |i: usize| body.in_photo(heading.spine.at(heading.spine.span.0 + step * i as f64));
        Self { points: (0..=STEPS).map(at).collect(), step }
    }

    /// Length in millimetres of the first `length` block pixels, where the card's size is known.
    fn millimetres(&self, scene: &Scene<'_>, length: f64) -> Option<f64> {
        let plane = scene.plane?;
        let mut left = length;
        let mut total = 0.0;
        for pair in self.points.windows(2) {
            let share = (left / self.step).clamp(0.0, 1.0);
            total += share * plane.apply(pair[0]).distance(plane.apply(pair[1]));
            left -= self.step;
        }
        (total.is_finite() && total > 0.0).then_some(total)
    }

    /// Direction from tail to head over the foremost third.
    fn heading(&self) -> Option<f64> {
        let d = *self.points.first()? - *self.points.get(self.points.len() / 3)?;
        Some(d.y.atan2(d.x).to_degrees().rem_euclid(360.0))
    }
}

fn part_masks(scene: &Scene<'_>, body: &Body, grids: &PartGrids) -> Parts {
    let mask = |grid: &Grid| body.mask(scene, grid);
    let some = |grid: &Grid| Some(mask(grid)).filter(|m: &Mask| !m.is_empty());
    let finnage = some(&grids.finnage);
    Parts {
        trunk: some(&grids.trunk),
        fin_opacity: finnage.as_ref().and_then(|fin| opacity(scene, fin)),
        finnage,
        eyes: mask(&grids.eyes),
        left_out: mask(&grids.left_out),
        glare: Mask::default(),
    }
}
