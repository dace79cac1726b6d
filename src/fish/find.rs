//! The whole search: survey, blobs, splitting, closer look, judging, numbering.

use std::collections::BTreeSet;

use rayon::prelude::*;

use crate::error::Warning;
use crate::floor::PLAIN_FROM;
use crate::geometry::PixelBox;
use crate::units::View;

use super::body::{Body, close_up};
use super::boxed::fish_in;
use super::correct::correct;
use super::judge::{Candidate, fish_only};
use super::region::{cluster, region};
use super::seek::{Blob, Survey, blobs, survey};
use super::shape::{Shape, Usual};
use super::split::{Split, split};
use super::{FishOptions, Flag, Found, Region, Scene};

/// Fewest reduced pixels of a blob that is looked at (starting value: a 7 mm fry in a 300 mm tray has over 100).
const LEAST_BLOB: usize = 24;
/// Fishness from which a blob takes part in saying what size is usual.
const SURE_FISH: f64 = 0.6;

/// Finds every fish in the tray, or the one in each box a person drew; then applies the corrections.
pub fn find(scene: &Scene<'_>, options: &FishOptions) -> Found {
    let view = options.view.unwrap_or(View::Above);
    let mut found = if options.boxes.is_empty() { in_tray(scene, view) } else { in_boxes(scene, &options.boxes, view) };
    number(&mut found.regions);
    correct(scene, found, &options.corrections, view)
}

fn in_tray(scene: &Scene<'_>, view: View) -> Found {
    if scene.floor.plainness < PLAIN_FROM {
        // Gravel, plants or a street: whatever stands out there is no fish that could be trusted. The floor has said so.
        return Found::default();
    }
    let survey = survey(scene);
    let blobs = blobs(&survey, LEAST_BLOB);
    let usual = usual(&blobs);
    let candidates: Vec<Candidate> =
        blobs.par_iter().flat_map_iter(|blob| candidates(scene, &survey, blob, usual, view)).collect();
    let regions = fish_only(candidates);
    let none = Warning::new("no-fish", "no fish was found in the tray");
    Found { warnings: if regions.is_empty() { vec![none] } else { Vec::new() }, regions, unmet: Vec::new() }
}

fn in_boxes(scene: &Scene<'_>, boxes: &[PixelBox], view: View) -> Found {
    let mut found = Found::default();
    for b in boxes {
        let region = fish_in(scene, *b)
            .and_then(|mask| Body::of_mask(scene, &mask))
            .and_then(|body| region(scene, &body, view, BTreeSet::from([Flag::ByHand])));
        match region {
            Some(region) => found.regions.push(region),
            None => found.warnings.push(Warning::new(
                "no-fish",
                format!("nothing in the box {:.0},{:.0},{:.0},{:.0} stands out from its rim", b.x0, b.y0, b.x1, b.y1),
            )),
        }
    }
    found
}

/// The area, in reduced pixels, that half of all area in fish-shaped blobs is at or above: small debris, however much, weighs
/// little; and those blobs' median slenderness. `None` with fewer than three such blobs.
fn usual(blobs: &[Blob]) -> Option<Usual> {
    let mut shapes: Vec<Shape> = blobs
        .par_iter()
        .filter(|b| !b.at_edge)
        .filter_map(|b| Shape::of(&b.grid))
        .filter(|s| s.fishness(None) >= SURE_FISH)
        .collect();
    if shapes.len() < 3 {
        return None;
    }
    shapes.sort_by(|a, b| a.slenderness.total_cmp(&b.slenderness));
    let slenderness = shapes[shapes.len() / 2].slenderness;
    shapes.sort_by(|a, b| a.area.total_cmp(&b.area));
    let half = shapes.iter().map(|s| s.area).sum::<f64>() / 2.0;
    let mut sum = 0.0;
    let area = shapes.iter().rev().map(|s| s.area).find(|a| {
        sum += a;
        sum >= half
    })?;
    Some(Usual { area, slenderness })
}

/// One blob as the fish it is made of.
fn candidates(scene: &Scene<'_>, survey: &Survey, blob: &Blob, usual: Option<Usual>, view: View) -> Vec<Candidate> {
    let one = |blob: &Blob, flags: BTreeSet<Flag>| {
        let body = close_up(scene, survey, blob);
        Some(Candidate { region: region(scene, &body, view, flags)?, at_edge: blob.at_edge })
    };
    match split(&blob.grid, usual) {
        Split::Whole => one(blob, BTreeSet::new()).into_iter().collect(),
        Split::Pieces(pieces) => {
            pieces.into_iter().filter_map(|piece| one(&blob.with(piece), BTreeSet::from([Flag::Touching]))).collect()
        }
        Split::Cluster(number) => {
            let body = close_up(scene, survey, blob);
            let region = cluster(scene, &body, number);
            region.map(|region| Candidate { region, at_edge: blob.at_edge }).into_iter().collect()
        }
    }
}

/// Numbers regions from 1 in reading order: from top to bottom, then from left to right.
fn number(regions: &mut [Region]) {
    regions.sort_by(|a, b| a.centre.y.total_cmp(&b.centre.y).then(a.centre.x.total_cmp(&b.centre.x)));
    for (n, region) in (1..).zip(regions.iter_mut()) {
        region.n = n;
    }
}
