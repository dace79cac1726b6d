//! The whole search: survey, blobs, closer look, splitting, judging, numbering.

use std::collections::BTreeSet;

use rayon::prelude::*;

use crate::error::Warning;
use crate::units::View;

use super::body::close_up;
use super::judge::{Candidate, fish_only};
use super::region::region;
use super::seek::{blobs, survey};
use super::{FishOptions, Found, Region, Scene};

/// Fewest reduced pixels of a blob that is looked at (starting value: a 7 mm fry in a 300 mm tray has over 100).
const LEAST_BLOB: usize = 24;

/// Finds every fish in the tray.
pub fn find(scene: &Scene<'_>, options: &FishOptions) -> Found {
    let survey = survey(scene);
    let view = options.view.unwrap_or(View::Above);
    let candidates: Vec<Candidate> = blobs(&survey, LEAST_BLOB)
        .par_iter()
        .filter_map(|blob| {
            let body = close_up(scene, &survey, blob);
            Some(Candidate { region: region(scene, &body, view, BTreeSet::new())?, at_edge: blob.at_edge })
        })
        .collect();
    let mut regions = fish_only(candidates);
    number(&mut regions);
    let mut warnings = Vec::new();
    if regions.is_empty() {
        warnings.push(Warning::new("no-fish", "no fish was found in the tray"));
    }
    Found { regions, warnings }
}

/// Numbers regions from 1 in reading order: by bands of height, then from left to right.
fn number(regions: &mut [Region]) {
    regions.sort_by(|a, b| a.centre.y.total_cmp(&b.centre.y).then(a.centre.x.total_cmp(&b.centre.x)));
    for (n, region) in (1..).zip(regions.iter_mut()) {
        region.n = n;
    }
}
