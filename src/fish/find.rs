//! The whole search: survey, blobs, splitting, closer look, judging, numbering.

use std::collections::BTreeSet;

use rayon::prelude::*;

use crate::error::Warning;
use crate::units::View;

use super::body::close_up;
use super::correct::correct;
use super::judge::{Candidate, fish_only};
use super::region::{cluster, region};
use super::seek::{Blob, Survey, blobs, survey};
use super::shape::Shape;
use super::split::{Split, split};
use super::{FishOptions, Flag, Found, Region, Scene};

/// Fewest reduced pixels of a blob that is looked at (starting value: a 7 mm fry in a 300 mm tray has over 100).
const LEAST_BLOB: usize = 24;
/// Fishness from which a blob takes part in saying what size is usual.
const SURE_FISH: f64 = 0.6;

/// Finds every fish in the tray.
pub fn find(scene: &Scene<'_>, options: &FishOptions) -> Found {
    let survey = survey(scene);
    let view = options.view.unwrap_or(View::Above);
    let blobs = blobs(&survey, LEAST_BLOB);
    let usual = usual_area(&blobs);
    let candidates: Vec<Candidate> =
        blobs.par_iter().flat_map_iter(|blob| candidates(scene, &survey, blob, usual, view)).collect();
    let mut regions = fish_only(candidates);
    number(&mut regions);
    let mut warnings = Vec::new();
    if regions.is_empty() {
        warnings.push(Warning::new("no-fish", "no fish was found in the tray"));
    }
    correct(scene, Found { regions, warnings }, &options.corrections, view)
}

/// The area, in reduced pixels, that half of all area in fish-shaped blobs is at or above: small debris, however much, weighs
/// little. `None` with fewer than three such blobs.
fn usual_area(blobs: &[Blob]) -> Option<f64> {
    let mut areas: Vec<f64> = blobs
        .par_iter()
        .filter(|b| !b.at_edge)
        .filter_map(|b| Shape::of(&b.grid))
        .filter(|s| s.fishness(None) >= SURE_FISH)
        .map(|s| s.area)
        .collect();
    areas.sort_by(f64::total_cmp);
    let half = areas.iter().sum::<f64>() / 2.0;
    let mut sum = 0.0;
    areas
        .iter()
        .rev()
        .find(|a| {
            sum += **a;
            sum >= half
        })
        .copied()
        .filter(|_| areas.len() >= 3)
}

/// One blob as the fish it is made of.
fn candidates(scene: &Scene<'_>, survey: &Survey, blob: &Blob, usual: Option<f64>, view: View) -> Vec<Candidate> {
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
