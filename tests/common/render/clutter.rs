//! What else lies in a tray: droppings, food, bubbles, water lines, reflections, a net or a hand at the edge, shade.

use broodhue::geometry::{PixelBox, Point};

use super::noise::{cloud, smooth};
use super::paint::{Ink, Layer, Tri, mix, tri};

/// One thing that is not a fish.
#[derive(Debug, Clone, PartialEq)]
pub enum Clutter {
    /// A dropping: a bent thread, with its colour as CIELAB.
    Dropping { at: Point, length: f64, turn: f64, lab: [f64; 3] },
    /// A crumb of food: its radius and colour.
    Crumb { at: Point, radius: f64, lab: [f64; 3], seed: u32 },
    /// A bubble: a dark ring with a bright point, see-through inside.
    Bubble { at: Point, radius: f64 },
    /// A wavy bright line with a dark one beside it, across the tray.
    WaterLine { from: Point, to: Point, width: f64, strength: f64, seed: u32 },
    /// The mirror image of a lamp on the water.
    Reflection { at: Point, radius: Point, turn: f64, strength: f64 },
    /// A hand net reaching in: its mesh over everything beyond a line from `at` in direction `turn`.
    Net { at: Point, turn: f64, half_width: f64, lab: [f64; 3] },
    /// Fingers reaching in from the edge.
    Hand { at: Point, turn: f64, lab: [f64; 3] },
    /// Shade over everything on one side of a line through `at`: `depth` of the light is lost, edge `softness` wide.
    Shade { at: Point, turn: f64, depth: f64, softness: f64 },
    /// A plain card or lid that covers what is below (for a covered chart), rectangle half-size `half`.
    Cover { at: Point, half: Point, turn: f64, lab: [f64; 3] },
}

/// A piece of clutter made ready for painting.
pub struct ClutterLayer {
    what: Clutter,
    colour: Tri,
    dark: Tri,
}

/// A box of half-size `r` about `c`.
fn about(c: Point, r: f64) -> PixelBox {
    PixelBox { x0: c.x - r, y0: c.y - r, x1: c.x + r, y1: c.y + r }
}

/// Coordinates of `at` about `origin`, turned back by `turn` degrees.
fn local(at: Point, origin: Point, turn: f64) -> Point {
    let (s, c) = turn.to_radians().sin_cos();
    let d = at - origin;
    Point::new(c * d.x + s * d.y, c * d.y - s * d.x)
}

/// Length of a reaching net or hand, millimetres: beyond every picture.
const REACH: f64 = 400.0;

impl ClutterLayer {
    /// Makes it ready.
    pub fn new(what: &Clutter) -> Self {
        let [l, a, b] = match *what {
            Clutter::Dropping { lab, .. }
            | Clutter::Crumb { lab, .. }
            | Clutter::Net { lab, .. }
            | Clutter::Hand { lab, .. }
            | Clutter::Cover { lab, .. } => lab,
            _ => [50.0, 0.0, 0.0],
        };
        Self { what: what.clone(), colour: tri(l, a, b), dark: tri(l * 0.72, a, b) }
    }

    /// Whether it is painted over the fish (else it lies below them).
    pub fn above_fish(&self) -> bool {
        !matches!(self.what, Clutter::Dropping { .. } | Clutter::Crumb { .. })
    }

    fn net(&self, p: Point, half_width: f64) -> Option<Ink> {
        if p.x < 0.0 || p.y.abs() > half_width {
            return None;
        }
        // A frame of wire, mesh of 1.2 mm inside.
        let edge = p.x.min(half_width - p.y.abs());
        if edge < 1.4 {
            return Some(Ink::solid(mix(self.colour, self.dark, smooth(0.0, 1.4, edge))));
        }
        let thread = |t: f64| ((t / 1.2).rem_euclid(1.0) - 0.5).abs() > 0.36;
        Some(Ink::veil(self.colour, if thread(p.x) || thread(p.y) { 0.75 } else { 0.12 }))
    }

    fn hand(&self, p: Point) -> Option<Ink> {
        // Three fingers, 17 mm wide, round at the tip.
        let finger = (p.y / 18.0).round();
        if p.x < 0.0 || finger.abs() > 1.0 {
            return None;
        }
        let tip = 9.0 * finger.abs();
        let y = p.y - 18.0 * finger;
        let x = (8.5 + tip - p.x).max(0.0);
        let d = x.hypot(y) / 8.5;
        (d < 1.0).then(|| Ink::solid(mix(self.colour, self.dark, d * d)))
    }
}

impl Layer for ClutterLayer {
    fn bounds(&self) -> PixelBox {
        match &self.what {
            Clutter::Dropping { at, length, .. } => about(*at, *length),
            Clutter::Crumb { at, radius, .. } => about(*at, 1.5 * radius),
            Clutter::Bubble { at, radius } => about(*at, *radius),
            Clutter::WaterLine { from, to, width, .. } => {
                let b = PixelBox::around(&[*from, *to]).unwrap_or_default();
                let m = 6.0 + width;
                PixelBox { x0: b.x0 - m, y0: b.y0 - m, x1: b.x1 + m, y1: b.y1 + m }
            }
            Clutter::Reflection { at, radius, .. } => about(*at, 2.2 * radius.x.max(radius.y)),
            Clutter::Net { at, .. } | Clutter::Hand { at, .. } => about(*at, REACH),
            Clutter::Shade { at, .. } => about(*at, 2.0 * REACH),
            Clutter::Cover { at, half, .. } => about(*at, half.x.hypot(half.y)),
        }
    }

    fn samples(&self) -> u32 {
        match self.what {
            Clutter::WaterLine { .. } | Clutter::Reflection { .. } | Clutter::Shade { .. } => 1,
            _ => 3,
        }
    }

    fn ink(&self, at: Point) -> Option<Ink> {
        match self.what {
            Clutter::Dropping { at: c, length, turn, .. } => {
                let p = local(at, c, turn);
                let bend = 0.18 * length * (2.6 * p.x / length).sin();
                let w = 0.35 + 0.12 * (7.0 * p.x / length).sin();
                (p.x.abs() < length / 2.0 && (p.y - bend).abs() < w).then(|| Ink::veil(self.colour, 0.9))
            }
            Clutter::Crumb { at: c, radius, seed, .. } => {
                let d = at - c;
                let r = radius * (0.7 + 0.6 * cloud(d.x / radius + 9.0, d.y / radius, seed));
                (d.x.hypot(d.y) < r)
                    .then(|| Ink::solid(mix(self.colour, self.dark, cloud(at.x * 2.0, at.y * 2.0, seed))))
            }
            Clutter::Bubble { at: c, radius } => {
                let d = (at - c) * (1.0 / radius);
                let r = d.x.hypot(d.y);
                let ring = (-((r - 0.88) / 0.09).powi(2)).exp();
                let point = (-((d.x + 0.35).powi(2) + (d.y + 0.4).powi(2)) / 0.018).exp();
                let far = (-((d.x - 0.4).powi(2) + (d.y - 0.42).powi(2)) / 0.05).exp();
                (r < 1.0).then(|| {
                    let mut ink = Ink::shadow(0.55 * ring);
                    ink.paint = Ink::shine(0.9 * point + 0.12 * far).paint;
                    ink
                })
            }
            Clutter::WaterLine { from, to, width, strength, seed } => {
                let d = to - from;
                let length = d.x.hypot(d.y);
                let p = local(at, from, d.y.atan2(d.x).to_degrees());
                if p.y.abs() > 4.5 + 6.0 * width {
                    return None;
                }
                let y = p.y - 9.0 * (cloud(p.x / 28.0, 0.0, seed) - 0.5);
                let fade = smooth(0.0, 12.0, p.x) * smooth(length, length - 12.0, p.x);
                let bright = (-(y / width).powi(2)).exp();
                let dark = (-((y - 2.2 * width) / (1.4 * width)).powi(2)).exp();
                (fade > 0.0 && y.abs() < 6.0 * width).then(|| {
                    let mut ink = Ink::shadow(0.35 * strength * dark * fade);
                    ink.paint = Ink::shine(strength * bright * fade).paint;
                    ink
                })
            }
            Clutter::Reflection { at: c, radius, turn, strength } => {
                let p = local(at, c, turn);
                let r = (p.x / radius.x).hypot(p.y / radius.y);
                (r < 2.0).then(|| Ink::shine(strength * (-r.powi(4)).exp()))
            }
            Clutter::Net { at: c, turn, half_width, .. } => self.net(local(at, c, turn), half_width),
            Clutter::Hand { at: c, turn, .. } => self.hand(local(at, c, turn)),
            Clutter::Shade { at: c, turn, depth, softness } => {
                let k = smooth(-softness, softness, local(at, c, turn).x);
                (k > 0.0).then(|| Ink::shadow(depth * k))
            }
            Clutter::Cover { at: c, half, turn, .. } => {
                let p = local(at, c, turn);
                (p.x.abs() < half.x && p.y.abs() < half.y).then(|| Ink::solid(self.colour))
            }
        }
    }
}
