//! Which candidates are fish: droppings, food, bubbles, reflections, rim, net and hand are not.

use super::body::Body;
use super::{Flag, Region};

/// Shortest fish, millimetres: newborn livebearers measure 6 to 8 (common practice, no source).
const LEAST_MM: f64 = 5.3;
/// Longest fish, millimetres: a grown female of the larger livebearers (common practice, no source).
const MOST_MM: f64 = 90.0;
/// Smallest fish area, square millimetres: a fry of 6 mm is 1.2 mm wide.
const LEAST_MM2: f64 = 4.2;
/// Squared length over area: a disc has 1.3, a fish with fins spread 4, a slender one 12, a piece of rim 20 and more.
const SLENDER: std::ops::Range<f64> = 2.6..19.0;
/// Smallest share of the usual area that counts as a fish by size alone (starting value).
const USUAL_SHARE: f64 = 1.0 / 8.0;
/// Smallest share of the usual area of a fish that shows which end is its head: a fry of 7 mm beside adults of 35 has 1/25.
const FRY_SHARE: f64 = 1.0 / 45.0;
/// How sure the head must be for a small candidate to be a fry and not a crumb.
const FRY_HEAD: f64 = 0.8;
/// The same where its millimetres are known and a fish's.
const FRY_HEAD_MM: f64 = 0.6;
/// How fish-like the shape of a small candidate must be (starting value, tuned on drawn trays): ragged crumbs, threads and
/// shreds of a water line stay below.
const SMALL_SHAPED: f64 = 0.3;
/// Largest multiple of the usual area at the tray's edge: more is a net, a hand or the rim (starting value, tuned on drawn
/// trays).
pub(super) const MOST_AT_EDGE: f64 = 2.2;
/// Share of pixels that look like floor under mirrored light from which the whole may be that (starting value).
const MIRRORED: f64 = 0.7;
/// Share of darkest pixels that are passed over, and L* units below the floor from which the next is an eye or a mark:
/// mirrored light darkens nothing (starting values).
const DARKEST: (f64, f32) = (0.01, -4.0);
/// Lightness a floor must have, L* units, for eyes and marks to be darker than it (starting value).
const LIGHT_FLOOR: f32 = 30.0;

/// One candidate with what is known of its place.
#[derive(Debug)]
pub(super) struct Candidate {
    /// As a fish.
    pub(super) region: Region,
    /// Whether it comes to the end of the searched area.
    pub(super) at_edge: bool,
    /// How fish-like its shape is, 0…1.
    pub(super) shaped: f64,
    /// Whether it may be nothing but mirrored light.
    pub(super) mirrored: bool,
}

/// Whether a body may be a lamp or a water line mirrored on the surface: nearly all of it is floor with white light added,
/// and it has neither eyes nor marks.
pub(super) fn is_mirrored(body: &Body) -> bool {
    let pixels: Vec<_> = body.grid.indices().map(|k| body.block.pixels[k]).collect();
    let sheen = pixels.iter().filter(|d| d.sheen).count() as f64;
    let dark = pixels.iter().filter(|d| d.lightness < DARKEST.1).count() as f64;
    let all = pixels.len() as f64;
    body.block.floor[0] > LIGHT_FLOOR && sheen >= MIRRORED * all && dark <= DARKEST.0 * all
}

/// Keeps the fish. Sizes are in millimetres where the card gives them, else relative to what is usual in this photo.
pub(super) fn fish_only(candidates: Vec<Candidate>) -> Vec<Region> {
    let usual = usual_area(&candidates);
    candidates.into_iter().filter(|c| is_fish(c, usual)).map(settle).collect()
}

/// The area that half of all area in fish-shaped candidates is at or above: small debris, however much, weighs little.
fn usual_area(candidates: &[Candidate]) -> f64 {
    let mut areas: Vec<f64> =
        candidates.iter().filter(|c| fish_shaped(&c.region) && !c.at_edge).map(|c| c.region.area_px).collect();
    areas.sort_by(f64::total_cmp);
    let half = areas.iter().sum::<f64>() / 2.0;
    let mut sum = 0.0;
    areas
        .into_iter()
        .rev()
        .find(|a| {
            sum += a;
            sum >= half
        })
        .unwrap_or(0.0)
}

fn slenderness(region: &Region) -> f64 {
    region.length_px * region.length_px / region.area_px.max(1.0)
}

fn fish_shaped(region: &Region) -> bool {
    SLENDER.contains(&slenderness(region))
}

fn is_fish(candidate: &Candidate, usual: f64) -> bool {
    let region = &candidate.region;
    if region.flags.contains(&Flag::Cluster) {
        return !candidate.at_edge;
    }
    if candidate.mirrored || !fish_shaped(region) || !size_allowed(region) {
        return false;
    }
    let share = region.area_px / usual.max(1.0);
    if candidate.at_edge && share > MOST_AT_EDGE {
        return false;
    }
    let head = region.axis.as_ref().map_or(0.5, |a| a.head_confidence);
    // Millimetres say more than what is usual: with them a small candidate need only look like a fish a little.
    let fry_head = if region.length_mm.is_some() { FRY_HEAD_MM } else { FRY_HEAD };
    share >= USUAL_SHARE || share >= FRY_SHARE && head >= fry_head && candidate.shaped >= SMALL_SHAPED
}

/// Whether the millimetres, where known, are a fish's.
fn size_allowed(region: &Region) -> bool {
    let Some(mm) = region.length_mm else { return true };
    let per_px = mm / region.length_px;
    (LEAST_MM..MOST_MM).contains(&mm) && region.area_px * per_px * per_px >= LEAST_MM2
}

fn settle(candidate: Candidate) -> Region {
    let mut region = candidate.region;
    if candidate.at_edge {
        region.flags.insert(Flag::Cut);
    }
    region
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fish::differ::{Block, Difference};
    use crate::fish::grid::Grid;

    /// A bar of 60 by 8 pixels lighter than the floor, its first `eyes` pixels darker.
    fn bright_bar(sheen: bool, eyes: usize, floor: f32) -> Body {
        let light = Difference { lightness: 9.0, tint: [0.0; 2], sheen };
        let mut pixels = vec![light; 60 * 8];
        pixels[..eyes].fill(Difference { lightness: -30.0, tint: [0.0; 2], sheen: false });
        let block = Block { origin: (0, 0), step: 1, width: 60, height: 8, pixels, floor: [floor, 0.0, 0.0] };
        Body { block, grid: Grid { width: 60, height: 8, on: vec![true; 60 * 8] } }
    }

    #[test]
    fn a_water_line_is_mirrored_and_a_pale_fish_with_eyes_is_not() {
        assert!(is_mirrored(&bright_bar(true, 0, 60.0)));
        assert!(!is_mirrored(&bright_bar(true, 10, 60.0)), "eyes");
        assert!(!is_mirrored(&bright_bar(false, 0, 60.0)), "no floor with light added");
        assert!(!is_mirrored(&bright_bar(true, 0, 8.0)), "a black floor hides the eyes");
    }
}
