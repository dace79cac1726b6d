//! A grid that may be a card: what speaks for and against it, and the card it becomes.

use super::order::{Match, PATCHES};
use super::place::Placement;
use super::reference::CHART_GRID;
use super::{Card, FindOptions, Layout, LeftOut, frame, read};
use crate::geometry::{Homography, Point, Quad, polygon_contains};
use crate::photo::{EncodedImage, Photo};

/// Smallest distance between patch centres, in pixels of the photo, at which a patch still has pixels free of its rim.
pub(super) const LEAST_PITCH: f64 = 16.0;

/// Unexplained share up to which a grid is taken for a chart of this kind. On the open photographs right places have up
/// to 0.10, wrong ones on grids of colour 0.3 and more.
const CARD_LIMIT: f64 = 0.18;

/// Unexplained share up to which the colours are the known chart's and not a print's or a lookalike's.
const CHART_LIMIT: f64 = 0.10;

/// Fewest patches that must stand out as spots of their own.
const LEAST_SPOTS: usize = 9;

/// Fewest patches in the picture for saying that a cut card is one.
const LEAST_SEEN: usize = 12;

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

/// A grid with its judgement, in pixels of the photo.
#[derive(Debug, Clone)]
pub(super) struct Candidate {
    placement: Placement,
    /// From card units to pixels of the photo.
    to_px: Homography,
}

impl Candidate {
    pub(super) fn new(placement: Placement, image: &EncodedImage) -> Self {
        let factor = f64::from(image.factor);
        let scale = Homography([[factor, 0.0, 0.0], [0.0, factor, 0.0], [0.0, 0.0, 1.0]]);
        Self { to_px: scale.after(&placement.to_px), placement }
    }

    pub(super) fn unexplained(&self) -> f64 {
        self.placement.matched.unexplained()
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
        let p = &self.placement;
        if self.unexplained() > CARD_LIMIT || p.spots < LEAST_SPOTS || !self.plausible_view() {
            return Finding::Nothing;
        }
        if p.matched.used < PATCHES {
            let seen = p.matched.used;
            return if seen >= LEAST_SEEN {
                Finding::Refused(format!(
                    "a card is cut by the picture's edge: {seen} of its 24 patches are in the picture; take the photo again with the whole card in it"
                ))
            } else {
                Finding::Nothing
            };
        }
        let pitch = self.pitch_px();
        if pitch < LEAST_PITCH {
            return Finding::Refused(format!(
                "a card was seen, but its patches are only {pitch:.0} pixels apart, at least {LEAST_PITCH:.0} are needed; go closer or use the full resolution"
            ));
        }
        Finding::Card
    }

    /// Mean distance between neighbouring patch centres, in pixels of the photo.
    fn pitch_px(&self) -> f64 {
        pitch(&self.to_px)
    }

    /// Whether a camera could see a flat card like this: all of it in front, no side a third of the opposite one, no
    /// patch three times as long as wide.
    fn plausible_view(&self) -> bool {
        let sizes: Vec<(f64, f64)> = [(0.0, 0.0), (5.0, 0.0), (5.0, 3.0), (0.0, 3.0), (2.5, 1.5)]
            .iter()
            .map(|&(x, y)| stretch(&self.to_px, Point::new(x, y)))
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
        let layout = if is_chart(&self.placement.matched) { Layout::Chart24 } else { Layout::Unknown24 };
        let mut card = grid_card(photo, self.to_px, layout, options);
        card.corners = frame::corners(photo, &self.to_px);
        card
    }
}

/// Whether the colours are the known chart's own.
pub(super) fn is_chart(matched: &Match) -> bool {
    matched.unexplained() <= CHART_LIMIT
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

/// Largest and smallest local magnification at `p` (the singular values of the Jacobian).
fn stretch(map: &Homography, p: Point) -> (f64, f64) {
    let h = 0.1;
    let dx = (map.apply(Point::new(p.x + h, p.y)) - map.apply(Point::new(p.x - h, p.y))) * (0.5 / h);
    let dy = (map.apply(Point::new(p.x, p.y + h)) - map.apply(Point::new(p.x, p.y - h))) * (0.5 / h);
    let trace = dx.x * dx.x + dx.y * dx.y + dy.x * dy.x + dy.y * dy.y;
    let det = (dx.x * dy.y - dx.y * dy.x).abs();
    let root = (trace * trace - 4.0 * det * det).max(0.0).sqrt();
    (((trace + root) / 2.0).sqrt(), ((trace - root) / 2.0).max(0.0).sqrt())
}

/// A card of 4 × 6 patches at a known place, its corners half a pitch outside of the outer patches.
pub(super) fn grid_card(photo: &Photo, to_px: Homography, layout: Layout, options: &FindOptions) -> Card {
    let patches: Vec<_> = places().map(|p| read::reading(photo, &to_px, p)).collect();
    let across = to_px.apply(Point::new(5.0, 0.0)) - to_px.apply(Point::new(0.0, 0.0));
    let down = to_px.apply(Point::new(0.0, 3.0)) - to_px.apply(Point::new(0.0, 0.0));
    let mirrored = across.x * down.y - across.y * down.x < 0.0;
    let mut notes = Vec::new();
    if mirrored {
        notes.push(
            "the picture is mirrored, as front cameras store it; places and colours are read all the same".into(),
        );
    }
    let hidden = patches.iter().filter(|p| p.left_out == Some(LeftOut::Covered)).count();
    if hidden > 0 {
        notes.push(format!("{hidden} of 24 patches are not in the picture"));
    }
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
