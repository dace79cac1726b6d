//! The whole search: survey, blobs, splitting, closer look, judging, numbering.

use std::collections::BTreeSet;

use rayon::prelude::*;

use crate::error::Warning;
use crate::floor::PLAIN_FROM;
use crate::geometry::PixelBox;
use crate::units::View;

use super::body::{Body, close_up};
use super::boxed::fish_in;
use super::by_shape::narrowed;
use super::correct::correct;
use super::eyes;
use super::group::{HeadFinder, Seen, Told, groups, tell};
use super::heads::{Heads, heads};
use super::hidden::see_hidden_fish;
use super::judge::{Candidate, FAINT, fish_only};
use super::region::{cluster, region};
use super::seek::{Blob, Survey, blobs, survey};
use super::shape::{Shape, Usual, compactness, holding_half};
use super::tail::with_tail;
use super::unmet::{Asked, Unmet, Why};
use super::{FishOptions, Flag, Found, Region, Scene};

/// Fewest reduced pixels of a blob that is looked at (starting value: a 7 mm fry in a 300 mm tray has over 100).
const LEAST_BLOB: usize = 24;
/// Large things up to which a photo that nobody said is from above may be a portrait from the side, where fins are long and glass mirrors
/// the fish: one or a few fish (starting value).
const PORTRAIT: usize = 6;
/// How sure the head must be for a dark place in something bright to be its eye (starting value, tuned on the renderer's tuning seeds: two
/// white fry have 0.97 and 0.98).
const SURE_HEAD: f64 = 0.95;
/// Fishness from which a blob takes part in saying what size is usual.
const SURE_FISH: f64 = 0.6;
/// Fishness from which a blob is one fish and no heap, and the multiple of the next smaller one's area from which a less plain one
/// is a heap (starting values: a heap of three passed for one fish with 0.77, at two and a half times the next).
const PLAIN_FISH: f64 = 0.9;
/// See [`PLAIN_FISH`].
const SEVERAL: f64 = 2.0;

/// Finds every fish in the tray, or the one in each box a person drew; then applies the corrections.
pub fn find(scene: &Scene<'_>, options: &FishOptions) -> Found {
    let view = options.view.unwrap_or(View::Above);
    let mut found =
        if options.boxes.is_empty() { in_tray(scene, options.view) } else { in_boxes(scene, &options.boxes, view) };
    number(&mut found.regions);
    correct(scene, found, &options.corrections, view)
}

fn in_tray(scene: &Scene<'_>, said: Option<View>) -> Found {
    if scene.floor.plainness < PLAIN_FROM {
        // Gravel, plants or a street: whatever stands out there is no fish that could be trusted. The floor has said so.
        return Found::default();
    }
    let mut survey = survey(scene);
    let (mut blobs, mut usual) = things(&survey);
    let large = |b: &&Blob| usual.is_some_and(|u| b.grid.count() as f64 > 0.5 * u.area);
    let fins_are_short = said.map_or(blobs.iter().filter(large).count() > PORTRAIT, |view| view == View::Above);
    if !fins_are_short {
        survey.behind_glass();
        (blobs, usual) = things(&survey);
    } else if see_hidden_fish(scene, &mut survey, &blobs, usual) {
        (blobs, usual) = things(&survey);
    }
    blobs = blobs.into_par_iter().flat_map_iter(|b| narrowed(&survey, b, usual, LEAST_BLOB)).collect();
    let finder = InPhoto { scene, survey: &survey, from_above: said != Some(View::Side) };
    let candidates: Vec<Candidate> = groups(&blobs, usual)
        .into_par_iter()
        .flat_map(|group| {
            tell(&survey, group.iter().map(|&i| blobs[i].clone()).collect(), usual, fins_are_short, &finder)
        })
        .filter_map(|seen| candidate(scene, &survey, seen, said.unwrap_or(View::Above)))
        .collect();
    let regions = fish_only(candidates);
    let mut warnings = Vec::new();
    if regions.is_empty() {
        warnings.push(Warning::new("no-fish", "no fish was found in the tray"));
    }
    if survey.limits.are_coarse() {
        warnings.push(Warning::new(
            "coarse-photo",
            "the floor is blotchy, as in a photo that was compressed hard, sent through a messenger or taken in too little light: pale \
             fish and clear fins may be missed; use the file as the camera wrote it",
        ));
    }
    Found { warnings, regions, ..Found::default() }
}

/// Looks for heads in a photo.
struct InPhoto<'a> {
    scene: &'a Scene<'a>,
    survey: &'a Survey,
    from_above: bool,
}

impl HeadFinder for InPhoto<'_> {
    fn heads(&self, things: &[Blob]) -> Option<Heads> {
        // The network was taught on fish seen from above.
        self.from_above.then(|| heads(self.scene, self.survey, things)).flatten()
    }

    fn eyes(&self, thing: &Blob) -> Vec<eyes::Head> {
        eyes::heads(self.scene, self.survey, thing)
    }
}

/// What lies there, each thing by itself, and what size of fish is usual.
fn things(survey: &Survey) -> (Vec<Blob>, Option<Usual>) {
    let mut blobs = blobs(survey, LEAST_BLOB);
    blobs.retain(|b| survey.block.contrast(b.places(survey.block.width)) >= 0.75 * FAINT);
    let usual = usual(&blobs);
    (blobs, usual)
}

fn in_boxes(scene: &Scene<'_>, boxes: &[PixelBox], view: View) -> Found {
    let mut found = Found::default();
    for b in boxes {
        let region = fish_in(scene, *b)
            .and_then(|mask| Body::of_mask(scene, &mask))
            .and_then(|body| region(scene, &body, view, BTreeSet::from([Flag::ByHand])));
        match region {
            Some(region) => found.regions.push(region),
            None => found.miss(Unmet { asked: Asked::Box, why: empty(scene, b) }),
        }
    }
    found
}

/// Why a box holds no fish.
fn empty(scene: &Scene<'_>, b: &PixelBox) -> Why {
    let (width, height) = (scene.photo.width, scene.photo.height);
    let named = format!("the box {:.0},{:.0},{:.0},{:.0}", b.x0, b.y0, b.x1, b.y1);
    if b.x1 <= 0.0 || b.y1 <= 0.0 || b.x0 >= f64::from(width) || b.y0 >= f64::from(height) {
        let hint = "give left, top, right and bottom in pixels of the upright picture, from its top left corner";
        return Why::new(format!("{named} lies outside of the picture, which has {width} by {height} pixels"), hint);
    }
    let hint = "draw it around one whole fish, with a little of the floor on every side";
    Why::new(format!("nothing in {named} stands out from its rim"), hint)
}

/// The area, in reduced pixels, that half of all area in fish-shaped blobs is at or above: small debris, however much, weighs
/// little; and those blobs' median slenderness. A heap that happens to have a fish's shape takes no part. `None` with fewer than three
/// fish-shaped blobs.
fn usual(blobs: &[Blob]) -> Option<Usual> {
    let mut shapes: Vec<Shape> = blobs
        .par_iter()
        .filter(|b| !b.at_edge)
        .filter_map(Blob::shape)
        .filter(|s| s.fishness(None) >= SURE_FISH)
        .collect();
    if shapes.len() < 3 {
        return None;
    }
    shapes.sort_by(|a, b| a.slenderness.total_cmp(&b.slenderness));
    let slenderness = shapes[shapes.len() / 2].slenderness;
    shapes.sort_by(|a, b| a.area.total_cmp(&b.area));
    if let [.., second, largest] = shapes[..]
        && largest.area > SEVERAL * second.area
        && largest.fishness(None) < PLAIN_FISH
    {
        shapes.pop();
    }
    let area = holding_half(shapes.iter().map(|s| s.area).collect())?;
    Some(Usual { area, slenderness })
}

/// A closer look at one thing.
fn candidate(scene: &Scene<'_>, survey: &Survey, seen: Seen, view: View) -> Option<Candidate> {
    let Seen { told, head } = seen;
    let (blob, flags, number) = match told {
        Told::One(blob) => (with_tail(survey, blob), BTreeSet::new(), 1),
        Told::Touching(blob) => (with_tail(survey, blob), BTreeSet::from([Flag::Touching]), 1),
        Told::Cluster(blob, number) => (blob, BTreeSet::new(), number),
    };
    let body = close_up(scene, survey, &blob, view);
    let region = if number > 1 { cluster(scene, &body, view, number) } else { region(scene, &body, view, flags) };
    let head_shows = region.as_ref().and_then(|r| r.axis.as_ref()).is_some_and(|a| a.head_confidence >= SURE_HEAD);
    if body.block.only_adds_light(&body.grid, head_shows) {
        return None;
    }
    Some(Candidate {
        region: region?,
        head,
        at_edge: blob.at_edge,
        contrast: body.block.contrast(body.grid.indices()),
        strength: body.block.reached(body.grid.indices(), 5),
        bold_floor: body.block.is_bold(),
        compact: compactness(&body.grid),
    })
}

/// Numbers regions from 1 in reading order: from top to bottom, then from left to right.
fn number(regions: &mut [Region]) {
    regions.sort_by(|a, b| a.centre.y.total_cmp(&b.centre.y).then(a.centre.x.total_cmp(&b.centre.x)));
    for (n, region) in (1..).zip(regions.iter_mut()) {
        region.n = n;
    }
}

#[cfg(test)]
mod tests {
    use super::super::drawn::in_fish;
    use super::*;
    use crate::geometry::Point;

    /// Three fish of 60 by 12 and one thing of the size given, each by itself.
    fn things(length: f64, breadth: f64) -> Vec<Blob> {
        let survey = Survey::bare(300, 120);
        let inside = |what: &dyn Fn(Point) -> bool| {
            let own = (0..300 * 120).filter(|&k| what(survey.place(k))).collect();
            Blob::of(&survey, own, Vec::new())
        };
        let mut out: Vec<Blob> =
            [10.0, 90.0, 170.0].map(|x| inside(&|p| in_fish(&[(x, 60.0, 0.0)], p))).into_iter().collect();
        out.push(inside(&|p| ((p.x - 150.0) * 2.0 / length).hypot((p.y - 60.0) * 2.0 / breadth) < 1.0));
        out
    }

    #[test]
    fn a_heap_with_a_fishs_shape_does_not_say_what_is_usual() {
        // As broad as a few fish side by side, and as slender as one fish.
        let heap = things(220.0, 70.0);
        let fish = heap[0].grid.count() as f64;
        assert!(heap[3].shape().unwrap().fishness(None) > SURE_FISH);
        assert!((usual(&heap).unwrap().area / fish - 1.0).abs() < 0.05);
        let female = things(220.0, 40.0);
        assert!(usual(&female).unwrap().area > 5.0 * fish);
    }
}
