//! Tray, lamps and litter of a recipe.

use broodhue::geometry::{PixelBox, Point};
use rand::Rng;
use rand_chacha::ChaCha8Rng;

use super::place::Layout;
use super::{Place, Recipe};
use crate::common::render::clutter::Clutter;
use crate::common::render::light::Light;
use crate::common::render::scene::Shadow;
use crate::common::render::tray::Tray;

/// The tray and its table.
pub(super) fn tray(recipe: &Recipe, half: Point, rng: &mut ChaCha8Rng) -> Tray {
    let wood = rng.random_bool(0.5);
    Tray {
        floor: recipe.floor.lab(),
        half,
        corner: 14.0,
        rim: 8.0,
        rings: if recipe.rings { 0.05 + 0.04 * recipe.hard } else { 0.0 },
        ring_pitch: rng.random_range(9.0..15.0),
        ring_centre: Point::new(rng.random_range(-20.0..20.0), rng.random_range(-20.0..20.0)),
        table: if wood { [58.0, 10.0, 24.0] } else { [38.0, 1.0, 4.0] },
        wood,
        wear: 0.02 + 0.03 * recipe.hard,
        seed: rng.random(),
    }
}

/// The lamp's spot, a window's slope and the lens's fall-off.
pub(super) fn lamp(recipe: &Recipe, centre: Point, rng: &mut ChaCha8Rng) -> Light {
    let k = recipe.hard;
    Light {
        spot: centre + Point::new(rng.random_range(-70.0..70.0), rng.random_range(-50.0..50.0)),
        spread: rng.random_range(110.0..170.0),
        share: 0.10 + 0.35 * k,
        slope: Point::new(rng.random_range(-1.0..1.0), rng.random_range(-1.0..1.0)) * (0.0008 * k),
        vignette: 0.05 + 0.15 * k,
    }
}

/// One shadow a lamp.
pub(super) fn shadows(recipe: &Recipe, rng: &mut ChaCha8Rng) -> Vec<Shadow> {
    // A fish swims far before the backdrop: its shadow falls out of the picture.
    let lamps = match recipe.place {
        Place::Backdrop => 0,
        _ if recipe.hard > 0.5 => 2,
        _ => 1,
    };
    (0..lamps)
        .map(|_| {
            let angle: f64 = rng.random_range(0.0..std::f64::consts::TAU);
            Shadow {
                offset: Point::new(angle.cos(), angle.sin()) * rng.random_range(0.3..0.7),
                depth: rng.random_range(0.12..0.26),
                softness: rng.random_range(0.5..1.6),
            }
        })
        .collect()
}

/// A net or a hand that reaches in from the left or right edge; takes its place from the room.
pub(super) fn reach_in(recipe: &Recipe, layout: &mut Layout, rng: &mut ChaCha8Rng) -> Vec<Clutter> {
    if !recipe.reach_in {
        return Vec::new();
    }
    let edge = if layout.card.x > 0.0 { -1.0 } else { 1.0 };
    let at = Point::new(edge * (layout.shown.x - 24.0), rng.random_range(-30.0..30.0));
    let turn = if edge > 0.0 { 0.0 } else { 180.0 };
    let (x0, x1) = if edge > 0.0 { (at.x, at.x + 80.0) } else { (at.x - 80.0, at.x) };
    layout.room.taken.push(PixelBox { x0, y0: at.y - 32.0, x1, y1: at.y + 32.0 });
    if rng.random_bool(0.5) {
        vec![Clutter::Net { at, turn, half_width: 26.0, lab: [38.0, -22.0, 10.0] }]
    } else {
        vec![Clutter::Hand { at, turn, lab: [66.0, 16.0, 19.0] }]
    }
}

/// Droppings, food, bubbles, and with a hard recipe water lines and lamp reflections; before a backdrop the water's
/// surface and reflections in the glass.
pub(super) fn litter(recipe: &Recipe, layout: &Layout, rng: &mut ChaCha8Rng) -> Vec<Clutter> {
    let (k, room) = (recipe.hard, &layout.room);
    let spot = |rng: &mut ChaCha8Rng| loop {
        let p = room.spot(rng);
        if room.holds(p, 3.0) {
            return p;
        }
    };
    let mut all = Vec::new();
    let lying = if recipe.place == Place::Backdrop { 0.0 } else { 1.0 };
    for _ in 0..(lying * (2.0 + 10.0 * k)) as usize {
        let lab = [rng.random_range(30.0..48.0), 4.0, rng.random_range(10.0..18.0)];
        let (length, turn) = (rng.random_range(1.5..5.0), rng.random_range(0.0..360.0));
        all.push(Clutter::Dropping { at: spot(rng), length, turn, lab });
    }
    for _ in 0..(lying * (2.0 + 8.0 * k)) as usize {
        let lab = [rng.random_range(40.0..60.0), rng.random_range(5.0..20.0), rng.random_range(15.0..35.0)];
        all.push(Clutter::Crumb { at: spot(rng), radius: rng.random_range(0.3..0.9), lab, seed: rng.random() });
    }
    for _ in 0..(12.0 * k) as usize {
        all.push(Clutter::Bubble { at: spot(rng), radius: rng.random_range(0.6..2.2) });
    }
    if k > 0.5 || lying < 0.5 {
        let radius = Point::new(rng.random_range(3.0..7.0), rng.random_range(2.0..4.0));
        all.push(Clutter::Reflection { at: spot(rng), radius, turn: rng.random_range(0.0..180.0), strength: 0.5 });
    }
    if lying < 0.5 {
        // The water's surface across the whole tank, near the upper edge.
        let y = 16.0 - layout.shown.y;
        let (from, to) = (Point::new(-layout.shown.x - 30.0, y), Point::new(layout.shown.x + 30.0, y));
        all.push(Clutter::WaterLine { from, to, width: 0.8, strength: 0.3, seed: rng.random() });
    } else if k > 0.5 {
        let (from, to) = (spot(rng), spot(rng));
        all.push(Clutter::WaterLine { from, to, width: 0.5, strength: 0.12, seed: rng.random() });
    }
    all
}
