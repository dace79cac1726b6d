//! A grid that may be a card: what speaks for and against it, and the card it becomes.

use super::evidence::{self, Evidence};
use super::order::PATCHES;
use super::place::Placement;
use super::reference::CHART_GRID;
use super::{Card, FindOptions, Layout, LeftOut, frame, likeness, read};
use crate::geometry::{Homography, Point, Quad, polygon_contains};
use crate::photo::{EncodedImage, Photo};

/// Smallest distance between patch centres, in pixels of the photo, at which a patch still has pixels free of its rim.
pub(super) const LEAST_PITCH: f64 = 16.0;

/// Unexplained share up to which a grid is taken for the chart, by the number of patches that stand out as spots of their
/// own: the more do, the less the colours need to say. On 428 distorted copies of the open photographs right places have
/// at least 14 spots and up to 0.20, with fewer than 18 spots up to 0.07; wrong places on even ground have 0.11 and more
/// with 9 to 13 spots and 0.14 and more with 14.
const LIMITS: [(usize, f64); 3] = [(18, 0.22), (14, 0.1), (LEAST_SPOTS, 0.07)];

/// Fewest patches that must stand out as spots of their own.
pub(super) const LEAST_SPOTS: usize = 10;

/// Share of the patches in the picture that must be even inside. Right places have 17 of 24 and more, in glare too.
const LEAST_EVEN: f64 = 0.65;

/// Fewest different colours of a chart; noise and dim light leave 6 or more.
const LEAST_COLOURS: usize = 6;

/// Fewest patches in the picture for saying that a cut card is one.
const LEAST_OF_CUT: usize = 15;

/// What an even, complete and colourful grid must show to be taken for a card although its colours are not the chart's:
/// nearly all patches as spots, even and different, and one frame between and around them.
const OTHER_CARD: Evidence =
    Evidence { even: 22, parted: [false; PATCHES], colours: 12, hues: 4, crossings: 13, rim: 16 };
const OTHER_CARD_SPOTS: usize = 20;

/// What a grid turned out to be.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Finding {
    /// A card that can be read.
    Card,
    /// A card, but one that cannot be read, and why.
    Refused(String),
    /// No card.
    Nothing,
}

/// A grid with its judgement.
#[derive(Debug, Clone)]
pub(super) struct Candidate {
    placement: Placement,
    /// From card units to pixels of the photo.
    to_px: Homography,
    evidence: Evidence,
    /// Whether the chart explains the colours; otherwise only the grid speaks for a card.
    explained: bool,
}

impl Candidate {
    pub(super) fn new(placement: Placement, image: &EncodedImage) -> Self {
        let factor = f64::from(image.factor);
        let scale = Homography([[factor, 0.0, 0.0], [0.0, factor, 0.0], [0.0, 0.0, 1.0]]);
        let evidence = evidence::look(image, &placement.to_px);
        let limit = LIMITS.iter().find(|(spots, _)| placement.spots >= *spots).map_or(0.0, |l| l.1);
        let even = LEAST_EVEN * placement.matched.seen as f64;
        let explained =
            placement.matched.unexplained <= limit && evidence.even as f64 >= even && evidence.colours >= LEAST_COLOURS;
        Self { to_px: scale.after(&placement.to_px), evidence, placement, explained }
    }

    /// What to rank by: charts before other cards, then by how well they are explained; smaller is better.
    pub(super) fn rank(&self) -> f64 {
        f64::from(u8::from(!self.explained)) + self.placement.matched.unexplained
    }

    /// Whether one's centre lies on the other.
    pub(super) fn overlaps(&self, other: &Self) -> bool {
        polygon_contains(&self.outline(), other.centre()) || polygon_contains(&other.outline(), self.centre())
    }

    fn centre(&self) -> Point {
        self.to_px.apply(Point::new(2.5, 1.5))
    }

    fn outline(&self) -> Quad {
        [(-0.5, -0.5), (5.5, -0.5), (5.5, 3.5), (-0.5, 3.5)].map(|(x, y)| self.to_px.apply(Point::new(x, y)))
    }

    /// Weighs the evidence.
    pub(super) fn judge(&self) -> Finding {
        if !(self.explained || self.is_other_card()) || !self.plausible_view() {
            return Finding::Nothing;
        }
        let seen = self.placement.matched.seen;
        let pitch = pitch(&self.to_px);
        if seen < LEAST_OF_CUT {
            Finding::Nothing
        } else if seen < PATCHES {
            Finding::Refused(format!(
                "a card is cut by the picture's edge: {seen} of its 24 patches are in the picture; take the photo again \
                 with the whole card in it"
            ))
        } else if pitch < LEAST_PITCH {
            Finding::Refused(format!(
                "a card was seen, but its patches are only {pitch:.0} pixels apart, at least {LEAST_PITCH:.0} are needed; \
                 go closer or use the full resolution"
            ))
        } else {
            Finding::Card
        }
    }

    fn is_other_card(&self) -> bool {
        let (e, least) = (&self.evidence, &OTHER_CARD);
        self.placement.spots >= OTHER_CARD_SPOTS
            && self.placement.beyond <= PATCHES - OTHER_CARD_SPOTS
            && e.even >= least.even
            && e.colours >= least.colours
            && e.hues >= least.hues
            && e.crossings >= least.crossings
            && e.rim >= least.rim
    }

    /// Whether a camera could see a flat card like this: all of it in front, no side a third of the opposite one, no
    /// patch three times as long as wide.
    fn plausible_view(&self) -> bool {
        let sizes: Vec<(f64, f64)> = [(0.0, 0.0), (5.0, 0.0), (5.0, 3.0), (0.0, 3.0), (2.5, 1.5)]
            .iter()
            .map(|&(x, y)| self.to_px.stretch(Point::new(x, y)))
            .collect();
        let longest = sizes.iter().map(|s| s.0).fold(0.0, f64::max);
        let shortest = sizes.iter().map(|s| s.0).fold(f64::MAX, f64::min);
        let slender = sizes.iter().any(|(long, short)| *long > 3.0 * *short);
        let [a, b, c, d] = self.outline();
        let turn = |p: Point, q: Point, r: Point| (q.x - p.x) * (r.y - q.y) - (q.y - p.y) * (r.x - q.x);
        let turns = [turn(a, b, c), turn(b, c, d), turn(c, d, a), turn(d, a, b)];
        let convex = turns.iter().all(|t| *t > 0.0) || turns.iter().all(|t| *t < 0.0);
        convex && !slender && longest < 3.0 * shortest
    }

    /// The card, read from the photo's own pixels.
    pub(super) fn card(&self, photo: &Photo, options: &FindOptions) -> Card {
        let odd = std::array::from_fn(|i| self.evidence.parted[i] || (self.explained && self.placement.matched.odd[i]));
        let mut card = grid_card(photo, self.to_px, &odd, options);
        card.corners = frame::corners(photo, &self.to_px);
        card
    }
}

/// Centres of the chart's patches in card units, in its order.
pub(super) fn places() -> impl Iterator<Item = Point> {
    (0..PATCHES).map(|i| Point::new((i % CHART_GRID.0) as f64, (i / CHART_GRID.0) as f64))
}

/// Mean distance between neighbouring patch centres of a 4 × 6 grid, in the target's units.
pub(super) fn pitch(to_px: &Homography) -> f64 {
    let at = |x: f64, y: f64| to_px.apply(Point::new(x, y));
    let along = (at(0.0, 1.5).distance(at(5.0, 1.5))) / 5.0;
    let down = (at(2.5, 0.0).distance(at(2.5, 3.0))) / 3.0;
    0.5 * (along + down)
}

/// A card of 4 × 6 patches at a known place, its corners half a pitch outside of the outer patches. Patches that are `odd`
/// among the others are left out as covered.
pub(super) fn grid_card(photo: &Photo, to_px: Homography, odd: &[bool; PATCHES], options: &FindOptions) -> Card {
    let mut patches: Vec<_> = places().map(|p| read::reading(photo, &to_px, p)).collect();
    for (patch, _) in patches.iter_mut().zip(odd).filter(|(p, odd)| **odd && p.clipped_share < 0.5) {
        patch.left_out = Some(LeftOut::Covered);
    }
    let mirrored = to_px.mirrors(Point::new(2.5, 1.5));
    let mut notes = Vec::new();
    if mirrored {
        notes.push(
            "the picture is mirrored, as front cameras store it; places and colours are read all the same".into(),
        );
    }
    let hidden = patches.iter().filter(|p| p.left_out == Some(LeftOut::Covered)).count();
    if hidden > 0 {
        notes.push(format!("{hidden} of 24 patches do not fit the rest and are left out: covered, in glare, in a hard shadow or cut off"));
    }
    let layout = if likeness::is_chart(&patches, odd) { Layout::Chart24 } else { Layout::Unknown24 };
    Card {
        layout,
        corners: [(-0.5, -0.5), (5.5, -0.5), (5.5, 3.5), (-0.5, 3.5)].map(|(x, y)| to_px.apply(Point::new(x, y))),
        patches,
        pitch_px: pitch(&to_px),
        mirrored,
        to_px,
        unit_mm: options.pitch_mm,
        known: Vec::new(),
        notes,
    }
}
