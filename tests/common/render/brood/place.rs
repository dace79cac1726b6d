//! Where tray, card and fish lie.

use broodhue::geometry::{PixelBox, Point};
use broodhue::units::{Sex, View as Side};
use rand::Rng;
use rand_chacha::ChaCha8Rng;

use super::invent::invent;
use super::{Place, Recipe};
use crate::common::render::fish::{Body, Fish};

/// Half-size in millimetres that a card of the folding size keeps free about its middle, at any turn.
const CARD_ROOM: f64 = 42.0;

/// Where fish may be: a box less what is taken, millimetres.
#[derive(Debug, Clone)]
pub(super) struct Room {
    /// Half the box's width and height, about the origin.
    pub(super) half: Point,
    /// Card, net, hand.
    pub(super) taken: Vec<PixelBox>,
}

impl Room {
    /// Whether `p` is at least `margin` away from the room's walls, and well away from what is taken.
    pub(super) fn holds(&self, p: Point, margin: f64) -> bool {
        p.x.abs() < self.half.x - margin && p.y.abs() < self.half.y - margin && self.clear_of_taken(p)
    }

    /// Whether `p` is well away from what is taken, in the room or outside it.
    fn clear_of_taken(&self, p: Point) -> bool {
        self.taken.iter().all(|b| p.x < b.x0 - 5.0 || p.x > b.x1 + 5.0 || p.y < b.y0 - 5.0 || p.y > b.y1 + 5.0)
    }

    /// A place in the room by chance.
    pub(super) fn spot(&self, rng: &mut ChaCha8Rng) -> Point {
        Point::new(rng.random_range(-self.half.x..self.half.x), rng.random_range(-self.half.y..self.half.y))
    }
}

/// How things lie: the tray, the card, the room for fish, and what the picture shows.
pub(super) struct Layout {
    /// Half the tray's inside.
    pub(super) tray: Point,
    /// Middle of the card.
    pub(super) card: Point,
    /// Where fish may be.
    pub(super) room: Room,
    /// The place in the middle of the picture.
    pub(super) centre: Point,
    /// Half the width and height of the plane that the picture shows.
    pub(super) shown: Point,
}

fn about(c: Point, x: f64, y: f64) -> PixelBox {
    PixelBox { x0: c.x - x, y0: c.y - y, x1: c.x + x, y1: c.y + y }
}

/// Lays out tray, card and room.
pub(super) fn layout(recipe: &Recipe, rng: &mut ChaCha8Rng) -> Layout {
    let half = recipe.place.shown() / 2.0;
    let shown = Point::new(half, half * f64::from(recipe.size.1) / f64::from(recipe.size.0));
    let side = |rng: &mut ChaCha8Rng| if rng.random_bool(0.5) { 1.0 } else { -1.0 };
    let corner = Point::new(side(rng), side(rng));
    match recipe.place {
        Place::Fills => {
            let card = Point::new(corner.x * (shown.x - 62.0), corner.y * (shown.y - 58.0));
            let taken = vec![about(card, CARD_ROOM, CARD_ROOM)];
            let room = Room { half: shown - Point::new(12.0, 10.0), taken };
            Layout { tray: Point::new(190.0, 160.0), card, room, centre: Point::default(), shown }
        }
        Place::OnTable => {
            let tray = Point::new(74.0, (shown.y - 22.0).min(86.0));
            let card = Point::new(74.0 + 10.0 + 8.0 + 40.0, rng.random_range(-30.0..30.0));
            let room = Room { half: tray - Point::new(4.0, 4.0), taken: Vec::new() };
            Layout { tray, card, room, centre: Point::new(52.0, 0.0), shown }
        }
        Place::Backdrop => {
            let card = Point::new(corner.x * (shown.x - 54.0), shown.y - 38.0);
            let taken = vec![about(card, CARD_ROOM, 30.0), about(Point::new(0.0, -shown.y), shown.x, 26.0)];
            let room = Room { half: shown - Point::new(8.0, 8.0), taken };
            Layout { tray: Point::new(400.0, 400.0), card, room, centre: Point::default(), shown }
        }
    }
}

/// The fish of a recipe, laid out in the room.
pub(super) fn brood(recipe: &Recipe, layout: &Layout, rng: &mut ChaCha8Rng) -> Vec<Fish> {
    let mut placed: Vec<(Fish, Body)> = Vec::new();
    for (i, &kind) in recipe.kinds.iter().enumerate() {
        let base = recipe.bases[i % recipe.bases.len()];
        let range = if rng.random_bool(recipe.fry) { (7.0, 9.0) } else { recipe.lengths };
        let length = rng.random_range(range.0..=range.1);
        let chance = if rng.random_bool(0.5) { Sex::Male } else { Sex::Female };
        let sex = if recipe.sexes.is_empty() { chance } else { recipe.sexes[i % recipe.sexes.len()] };
        let fish = invent(kind, base, sex, length, recipe.place.side(), rng);
        let way = if i < recipe.cut {
            Way::Cut
        } else if !placed.is_empty() && rng.random_bool(recipe.touching) {
            Way::Touching
        } else {
            Way::Alone
        };
        placed.extend(lay(fish, way, layout, &placed, rng));
    }
    placed.into_iter().map(|(f, _)| f).collect()
}

/// How a fish is laid among the others.
#[derive(Clone, Copy, PartialEq)]
enum Way {
    /// Apart from all, shadows too.
    Alone,
    /// Touching, crossing or overlapping one.
    Touching,
    /// Across the picture's edge.
    Cut,
}

/// Lays one fish; `None` when no place is found.
fn lay(
    mut fish: Fish,
    way: Way,
    layout: &Layout,
    placed: &[(Fish, Body)],
    rng: &mut ChaCha8Rng,
) -> Option<(Fish, Body)> {
    let room = &layout.room;
    let length = fish.body.total_length();
    for _ in 0..400 {
        fish.heading = if fish.side == Side::Side {
            let left = if fish.body.flip { 180.0 } else { 0.0 };
            left + rng.random_range(-14.0..14.0)
        } else {
            rng.random_range(0.0..360.0)
        };
        fish.snout = match way {
            Way::Alone => room.spot(rng),
            Way::Touching => {
                let other = &placed[rng.random_range(0..placed.len())].1.axis;
                let near = other[rng.random_range(0..other.len())];
                near + Point::new(rng.random_range(-length..length), rng.random_range(-length..length)) * 0.5
            }
            Way::Cut => {
                let edge = if rng.random_bool(0.5) { 1.0 } else { -1.0 };
                Point::new(edge * (layout.shown.x - rng.random_range(-6.0..10.0)), room.spot(rng).y)
            }
        };
        let body = fish.body.laid(fish.snout, fish.heading);
        let inside = body.axis.iter().filter(|p| room.holds(**p, 5.0)).count();
        let gap = placed.iter().map(|(_, b)| clearance(&body, b)).fold(f64::MAX, f64::min);
        // Touching fish overlap by no more than their width; lone ones keep their shadows apart.
        let fits = match way {
            Way::Alone => inside == body.axis.len() && gap > 2.5,
            Way::Touching => inside == body.axis.len() && (-1.6..0.1).contains(&gap),
            Way::Cut => body.axis.iter().all(|p| room.clear_of_taken(*p)) && straddles(&body, layout) && gap > 2.5,
        };
        if fits {
            return Some((fish, body));
        }
    }
    None
}

/// Whether between a third and two thirds of the fish lie in the picture.
fn straddles(body: &Body, layout: &Layout) -> bool {
    let seen =
        body.axis.iter().filter(|p| p.x.abs() < layout.shown.x - 3.0 && p.y.abs() < layout.shown.y - 8.0).count();
    (body.axis.len() / 3..=2 * body.axis.len() / 3).contains(&seen)
}

/// Smallest distance between two bodies' flanks, millimetres; negative when they overlap.
fn clearance(a: &Body, b: &Body) -> f64 {
    let wide = |f: &Body, i: usize| {
        let u = i as f64 / (f.axis.len() - 1) as f64 * f.total_length() / f.standard_length;
        if u <= 1.0 { f.half_width_at(u) } else { f.tail_half_width }
    };
    let mut least = f64::MAX;
    for (i, p) in a.axis.iter().enumerate() {
        for (j, q) in b.axis.iter().enumerate() {
            least = least.min(p.distance(*q) - wide(a, i) - wide(b, j));
        }
    }
    least
}
