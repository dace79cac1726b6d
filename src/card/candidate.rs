//! A grid that may be a card: what speaks for and against it, and the card it becomes.

use rayon::prelude::*;

use super::evidence::{self, Evidence};
use super::order::Pattern;
use super::place::Placement;
use super::{Card, Design, FindOptions, Layout, LeftOut, frame, likeness, raster, read};
use crate::geometry::{Homography, Point, Quad, is_convex, polygon_contains};
use crate::photo::{EncodedImage, Photo};

/// Smallest distance between patch centres, in pixels of the photo, at which a patch still has pixels free of its rim.
pub(super) const LEAST_PITCH: f64 = 16.0;

/// Unexplained share up to which a grid is taken for the card looked for, by the share of its patches that stand out as
/// spots of their own: the more do, the less the colours need to say. On 428 distorted copies of the open photographs
/// right places have at least 14 of 24 spots and up to 0.20, with fewer than 18 up to 0.07; wrong places on even ground
/// have 0.11 and more with 9 to 13 spots and 0.14 and more with 14.
const LIMITS: [(f64, f64); 3] = [(0.75, 0.22), (0.58, 0.1), (LEAST_SPOTS, 0.07)];

/// Least share of the patches that must stand out as spots of their own: 10 of 24.
pub(super) const LEAST_SPOTS: f64 = 0.41;

/// A marked card is told by its marks: so well they must be seen, and so much the colours may then leave unexplained,
/// since nobody knows what a home printer made of them. Starting values: 14 of 16 cells right give 0.75.
pub(super) const MARKED: (f64, f64) = (0.7, 0.45);

/// Share of the patches in the picture that must be even inside. Right places have 17 of 24 and more, in glare too.
const LEAST_EVEN: f64 = 0.65;

/// Fewest different colours of a card; noise and dim light leave a chart 6 or more.
const LEAST_COLOURS: usize = 6;

/// Least share of the patches in the picture for saying that a cut card is one: 15 of 24.
const LEAST_OF_CUT: f64 = 0.62;

/// What an even, complete and colourful grid of 24 must show to be taken for a card although its colours are not the
/// chart's: nearly all patches as spots, even, different and of many hues, and one frame between and around them.
const OTHER_CARD: OtherCard =
    OtherCard { spots: 20, beyond: 4, even: 22, colours: 12, hues: 4, crossings: 13, rim: 16 };

struct OtherCard {
    spots: usize,
    beyond: usize,
    even: usize,
    colours: usize,
    hues: usize,
    crossings: usize,
    rim: usize,
}

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
pub(super) struct Candidate<'a> {
    design: &'a Design,
    placement: Placement,
    /// From card units to pixels of the photo.
    to_px: Homography,
    evidence: Evidence,
    /// Whether the design explains the colours; otherwise only the grid speaks for a card.
    explained: bool,
}

impl<'a> Candidate<'a> {
    pub(super) fn new(placement: Placement, image: &EncodedImage, pattern: &'a Pattern) -> Self {
        let design = &pattern.design;
        let factor = f64::from(image.factor);
        let scale = Homography([[factor, 0.0, 0.0], [0.0, factor, 0.0], [0.0, 0.0, 1.0]]);
        let evidence = evidence::look(image, &placement.to_px, design);
        let share = placement.spots as f64 / design.count() as f64;
        let by_spots = LIMITS.iter().find(|(least, _)| share >= *least).map_or(0.0, |l| l.1);
        let limit = match placement.marks {
            Some(seen) if seen >= MARKED.0 => MARKED.1,
            Some(_) => 0.0,
            None => by_spots,
        };
        let explained = by_spots > 0.0
            && placement.matched.unexplained <= limit
            && evidence.even as f64 >= LEAST_EVEN * placement.matched.seen as f64
            && evidence.colours >= LEAST_COLOURS;
        Self { design, to_px: scale.after(&placement.to_px), evidence, placement, explained }
    }

    /// What to rank by: explained cards before others, then by how well they are explained; smaller is better.
    pub(super) fn rank(&self) -> f64 {
        f64::from(u8::from(!self.explained)) + self.placement.rank()
    }

    /// Whether one's centre lies on the other.
    pub(super) fn overlaps(&self, other: &Self) -> bool {
        polygon_contains(&self.outline(), other.centre()) || polygon_contains(&other.outline(), self.centre())
    }

    fn centre(&self) -> Point {
        self.to_px.apply(self.design.middle())
    }

    fn outline(&self) -> Quad {
        self.design.around([0.5; 4]).map(|p| self.to_px.apply(p))
    }

    /// Weighs the evidence.
    pub(super) fn judge(&self) -> Finding {
        if !(self.explained || self.is_other_card()) || !self.plausible_view() {
            return Finding::Nothing;
        }
        let (seen, count) = (self.placement.matched.seen, self.design.count());
        let pitch = pitch(&self.to_px, self.design);
        if (seen as f64) < LEAST_OF_CUT * count as f64 {
            Finding::Nothing
        } else if seen < count {
            Finding::Refused(format!(
                "a card is cut by the picture's edge: {seen} of its {count} patches are in the picture; take the photo \
                 again with the whole card in it"
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
        self.design.layout == Layout::Chart24
            && self.placement.spots >= least.spots
            && self.placement.beyond <= least.beyond
            && e.even >= least.even
            && e.colours >= least.colours
            && e.hues >= least.hues
            && e.crossings >= least.crossings
            && e.rim >= least.rim
    }

    /// Whether a camera could see a flat card like this: all of it in front, no side a third of the opposite one, no
    /// patch three times as long as wide.
    fn plausible_view(&self) -> bool {
        let corners = self.design.around([0.0; 4]);
        let sizes: Vec<(f64, f64)> =
            corners.into_iter().chain([self.design.middle()]).map(|p| self.to_px.stretch(p)).collect();
        let longest = sizes.iter().map(|s| s.0).fold(0.0, f64::max);
        let shortest = sizes.iter().map(|s| s.0).fold(f64::MAX, f64::min);
        let slender = sizes.iter().any(|(long, short)| *long > 3.0 * *short);
        is_convex(&self.outline(), 0.0) && !slender && longest < 3.0 * shortest
    }

    /// The card, read from the photo's own pixels.
    pub(super) fn card(&self, photo: &Photo, options: &FindOptions) -> Card {
        let odd: Vec<bool> = (0..self.design.count())
            .map(|i| self.evidence.parted[i] || (self.explained && self.placement.matched.odd[i]))
            .collect();
        let mut card = card(photo, self.to_px, self.design, &odd, options);
        if self.design.layout == Layout::Chart24 {
            card.corners = frame::corners(photo, &self.to_px, self.design);
        }
        card
    }
}

/// Mean distance between neighbouring patch centres, in the target's units.
fn pitch(to_px: &Homography, design: &Design) -> f64 {
    let [a, b, c, d] = design.around([0.0; 4]).map(|p| to_px.apply(p));
    let along = 0.5 * (a.distance(b) + d.distance(c)) / (design.columns.max(2) - 1) as f64;
    let down = 0.5 * (a.distance(d) + b.distance(c)) / (design.rows.max(2) - 1) as f64;
    match (design.columns, design.rows) {
        (1, _) => down,
        (_, 1) => along,
        _ => 0.5 * (along + down),
    }
}

/// A card of a known design at a known place, its corners where the design has them. Patches that are `odd` among the
/// others are left out as covered.
pub(super) fn card(photo: &Photo, to_px: Homography, design: &Design, odd: &[bool], options: &FindOptions) -> Card {
    let places: Vec<Point> = design.places().collect();
    let mut patches: Vec<_> = places.par_iter().map(|p| read::reading(photo, &to_px, *p)).collect();
    for (patch, _) in patches.iter_mut().zip(odd).filter(|(p, odd)| **odd && p.clipped_share < 0.5) {
        patch.left_out = Some(LeftOut::Covered);
    }
    let mirrored = to_px.mirrors(design.middle());
    let mut notes = Vec::new();
    if mirrored {
        notes.push(
            "the picture is mirrored, as front cameras store it; places and colours are read all the same".into(),
        );
    }
    let hidden = patches.iter().filter(|p| p.left_out == Some(LeftOut::Covered)).count();
    if hidden > 0 {
        notes.push(format!(
            "{hidden} of {} patches do not fit the rest and are left out: covered, in glare, in a hard shadow or cut off",
            patches.len()
        ));
    }
    let pitch_px = pitch(&to_px, design);
    let layout = match &design.layout {
        Layout::Chart24
            if raster::lies_over(photo, &patches.iter().map(|p| p.centre).collect::<Vec<_>>(), pitch_px) =>
        {
            notes.push(
                "a fine regular grid lies over the card's patches, as over a screen or a print: it is not the painted chart".into(),
            );
            Layout::Unknown24
        }
        Layout::Chart24 if !likeness::is_chart(&patches, odd) => Layout::Unknown24,
        other => other.clone(),
    };
    Card {
        layout,
        corners: design.around(design.edge).map(|p| to_px.apply(p)),
        patches,
        pitch_px,
        mirrored,
        to_px,
        unit_mm: options.pitch_mm.or(design.pitch_mm),
        known: design.known.clone(),
        notes,
    }
}
