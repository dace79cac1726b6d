//! Which candidates are fish: droppings, food, bubbles, reflections, rim, net and hand are not.

use super::shape::holding_half;
use super::{Flag, Region};

/// Shortest fish, millimetres: newborn livebearers measure 6 to 8 (common practice, no source), and a clear tail may not be seen.
const LEAST_MM: f64 = 5.5;
/// The same of a fish that touches another, which may hide a part of it (starting value, tuned on the renderer's tuning seeds).
const LEAST_SEEN_MM: f64 = 4.5;
/// Longest fish, millimetres: a grown female of the larger livebearers (common practice, no source).
const MOST_MM: f64 = 90.0;
/// Smallest fish area, square millimetres: the body of a fry of 7 mm, 0.8 mm wide, its clear fins not seen.
const LEAST_MM2: f64 = 2.4;
/// Squared length over area: a disc has 1.3, a fish with fins spread 4, a slender one 12, a bubble's ring, a thread or
/// a piece of rim 15 and more.
const SLENDER: std::ops::Range<f64> = 2.6..15.5;
/// Smallest share of the usual area that counts as a fish by size alone (starting value).
const USUAL_SHARE: f64 = 1.0 / 8.0;
/// Smallest share of the usual area of a fish that shows which end is its head: a fry of 7 mm beside adults of 35 has 1/25.
const FRY_SHARE: f64 = 1.0 / 45.0;
/// How sure the head must be for a small candidate to be a fry and not a crumb.
const FRY_HEAD: f64 = 0.8;
/// Length, millimetres, from which a thing of a fish's shape is no dropping, however little its head shows; below it the head must
/// show a little (starting values, tuned on the renderer's tuning seeds).
const FRY_MM: (f64, f64) = (6.0, 0.55);
/// How compact a small candidate must be: a bubble's ring has 0.3, shreds of a reflection or a moulded ring less, a fry 0.4 and more
/// (starting value, tuned on the renderer's tuning seeds).
const COMPACT: f64 = 0.33;
/// The same of one that stands out strongly, [`BOLD`] and more: a fry with its side fins and its tail spread has 0.28 (starting values,
/// tuned on the renderer's tuning seeds).
const BOLD_COMPACT: f64 = 0.26;
/// See [`BOLD_COMPACT`]; L*a*b* units.
const BOLD: f32 = 50.0;
/// Largest multiple of the usual area at the tray's edge: more is a net, a hand or the rim.
const MOST_AT_EDGE: f64 = 3.0;

/// Contrast below which a candidate is the floor's own unevenness: every fish shows an eye, and even a pale fish's eyes have 10 and
/// more, a block of hard compressed floor 3, a moulded ring 5 (measured on the renderer's tuning seeds).
pub(super) const FAINT: f32 = 8.0;

/// How strongly the strongest fifth of a fish differs at least from a floor that is coloured or dark, L*a*b* units: fish have 27 and
/// more there, mirrored light and moulded rings up to 20 (starting value, between those of the renderer's tuning seeds).
const SOLID: f32 = 16.0;

/// How sure a head must be to make a fish of what is too short or of no fish's shape because a clear tail is not seen, or much of it is
/// hidden; and the shortest such fish, millimetres (starting values, tuned on drawn trays).
const HEAD: (f32, f64) = (0.6, 3.5);

/// How sure the head of what touches a fish must be, and up to which length, millimetres: a fin, a dropping or a stretch of shadow beside
/// a fish is no fry (starting values, tuned on the renderer's tuning seeds).
const BESIDE: (f32, f64) = (0.3, 10.0);
/// The same of what is longer: a stretch of a mirrored lamp shows no trace of a head (starting value: on drawn trays one of 141 fish that
/// touch has less than 0.1, none less than 0.06).
const NO_HEAD: f32 = 0.06;

/// One candidate with what is known of its place.
#[derive(Debug)]
pub(super) struct Candidate {
    /// As a fish.
    pub(super) region: Region,
    /// How sure the surest head in it is, 0 to 1; `None` where nobody could look.
    pub(super) head: Option<f32>,
    /// Whether it comes to the end of the searched area.
    pub(super) at_edge: bool,
    /// How strongly its most conspicuous places stand out from the floor, L*a*b* units: [`super::differ::Block::contrast`].
    pub(super) contrast: f32,
    /// The difference that its strongest fifth reaches, L*a*b* units.
    pub(super) strength: f32,
    /// Whether the floor is coloured or dark, so that no fish is faint.
    pub(super) bold_floor: bool,
    /// Share of its pixels in one piece, times the share of its convex hull that they fill.
    pub(super) compact: f64,
}

/// Keeps the fish. Sizes are in millimetres where the card gives them, else relative to what is usual in this photo.
pub(super) fn fish_only(candidates: Vec<Candidate>) -> Vec<Region> {
    let usual = usual_area(&candidates);
    candidates.into_iter().filter(|c| is_fish(c, usual)).map(settle).collect()
}

/// The area that half of all area in fish-shaped candidates is at or above: small debris, however much, weighs little. `None` where
/// nothing of a fish's shape lies clear of the edge.
fn usual_area(candidates: &[Candidate]) -> Option<f64> {
    let shaped = candidates.iter().filter(|c| fish_shaped(&c.region) && !c.at_edge);
    holding_half(shaped.map(|c| c.region.area_px).collect())
}

fn slenderness(region: &Region) -> f64 {
    region.length_px * region.length_px / region.area_px.max(1.0)
}

fn fish_shaped(region: &Region) -> bool {
    SLENDER.contains(&slenderness(region))
}

fn is_fish(candidate: &Candidate, usual: Option<f64>) -> bool {
    let region = &candidate.region;
    if candidate.contrast < FAINT || candidate.bold_floor && candidate.strength < SOLID {
        return false;
    }
    if region.flags.contains(&Flag::Cluster) {
        return !candidate.at_edge;
    }
    if is_beside(candidate) {
        return false;
    }
    let head_seen = candidate.head.is_some_and(|h| h >= HEAD.0) && region.length_mm.is_some_and(|mm| mm >= HEAD.1);
    if !(head_seen || fish_shaped(region) && size_allowed(region)) {
        return false;
    }
    let head = region.axis.as_ref().map_or(0.5, |a| a.head_confidence);
    let Some(usual) = usual else {
        // Where nothing tells what is usual, a net or a hand at the edge is told from the only fish by the head.
        return !candidate.at_edge || region.length_mm.is_some() && head >= FRY_HEAD;
    };
    let share = region.area_px / usual.max(1.0);
    if candidate.at_edge && share > MOST_AT_EDGE {
        return false;
    }
    // Millimetres say more than what is usual: with them a small candidate need only look like a fish a little.
    let fry_head = match region.length_mm {
        Some(mm) if mm >= FRY_MM.0 => 0.0,
        Some(_) => FRY_MM.1,
        None => FRY_HEAD,
    };
    let compact = if candidate.contrast >= BOLD { BOLD_COMPACT } else { COMPACT };
    // What is small and at the edge is rather a piece of rim than a fry.
    let fry = !candidate.at_edge && share >= FRY_SHARE && head >= fry_head && candidate.compact >= compact;
    share >= USUAL_SHARE || fry || head_seen
}

/// Whether it touches a fish and shows no head.
fn is_beside(candidate: &Candidate) -> bool {
    let small = candidate.region.length_mm.is_some_and(|mm| mm < BESIDE.1);
    let least = if small { BESIDE.0 } else { NO_HEAD };
    candidate.region.flags.contains(&Flag::Touching) && candidate.head.is_some_and(|h| h < least)
}

/// Whether the millimetres, where known, are a fish's.
fn size_allowed(region: &Region) -> bool {
    let Some(mm) = region.length_mm else { return true };
    let per_px = mm / region.length_px;
    let least = if region.flags.contains(&Flag::Touching) { LEAST_SEEN_MM } else { LEAST_MM };
    (least..MOST_MM).contains(&mm) && region.area_px * per_px * per_px >= LEAST_MM2
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
    use std::collections::BTreeSet;

    use super::*;
    use crate::fish::{Axis, Mask, Parts};
    use crate::units::View;

    /// What has a grown fish's size and shape, and touches another.
    fn beside_a_fish(mm: f64, head: Option<f32>) -> Candidate {
        let mask = Mask::from_block(&[true; 120 * 24], 120, (0, 0), 1, (120, 24));
        let region = Region {
            n: 1,
            centre: mask.centroid().unwrap(),
            bounds: mask.bounds().unwrap(),
            outline: Vec::new(),
            area_px: 2880.0,
            axis: None,
            length_px: 120.0,
            standard_length_px: None,
            length_mm: Some(mm),
            standard_length_mm: None,
            heading_degrees: None,
            parts: Parts::default(),
            view: View::Above,
            flags: BTreeSet::from([Flag::Touching]),
            number: 1,
            mask,
        };
        Candidate { region, head, at_edge: false, contrast: 60.0, strength: 40.0, bold_floor: true, compact: 0.9 }
    }

    #[test]
    fn a_stretch_of_a_mirrored_lamp_beside_a_fish_shows_no_trace_of_a_head() {
        let kept = |mm, head| is_fish(&beside_a_fish(mm, head), Some(2880.0));
        assert!(!kept(30.0, Some(0.02)), "no trace of a head");
        assert!(kept(30.0, Some(0.1)), "a faint one");
        assert!(kept(30.0, None), "nobody could look");
        assert!(!kept(9.0, Some(0.1)) && kept(9.0, Some(0.4)), "what is small needs a surer one");
    }

    /// A portrait whose only fish touches the edge, here that of the card.
    #[test]
    fn the_only_fish_at_the_edge_is_told_from_a_net_by_its_head() {
        let at_edge = |head_confidence: f64, mm: Option<f64>| {
            let mut only = Candidate { at_edge: true, ..beside_a_fish(30.0, None) };
            only.region.flags.clear();
            only.region.axis = Some(Axis { midline: Vec::new(), stalk_px: None, head_confidence });
            only.region.length_mm = mm;
            fish_only(vec![only]).len()
        };
        assert_eq!(at_edge(0.99, Some(30.0)), 1);
        assert_eq!((at_edge(0.5, Some(30.0)), at_edge(0.99, None)), (0, 0));
    }
}
