//! The fish's colours: ground, fine net, patches of cover, fins, and the parts that fool the eye.

use broodhue::units::View as Side;

use super::shape::{Body, Place};
use super::{Hides, Part, Skin};
use crate::common::render::noise::{cloud, hash, smooth, uniform};
use crate::common::render::paint::{Ink, Tri, mix, scale, tri};

/// The breed's ground type.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Base {
    /// Dense fine black net.
    Grey,
    /// Sparse net, pale.
    Blond,
}

/// A colour laid over the ground.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cover {
    /// Hue about 36°.
    Red,
    /// Hue about 64°.
    Orange,
    /// Hue about 92°.
    Yellow,
    /// Pale, nearly neutral.
    White,
    /// Black spots.
    Black,
    /// Bright and faintly blue, the fish's own shine.
    Reflective,
}

/// One cover painted as patches.
#[derive(Debug, Clone, PartialEq)]
pub struct Patchwork {
    /// Which cover.
    pub cover: Cover,
    /// CIELAB of its middle colour.
    pub lab: [f64; 3],
    /// Share of the trunk it aims at, 0…1.
    pub body: f64,
    /// Share of the finnage it aims at, 0…1.
    pub fins: f64,
    /// Size of a patch, millimetres.
    pub grain: f64,
}

/// All colours of one fish.
#[derive(Debug, Clone, PartialEq)]
pub struct Coat {
    /// Grey or blond.
    pub base: Base,
    /// CIELAB of the ground between the dark points.
    pub ground: [f64; 3],
    /// Share of net cells that hold a dark point, 0…1.
    pub net: f64,
    /// Distance between net cells, millimetres.
    pub net_pitch: f64,
    /// Covers from below to above.
    pub covers: Vec<Patchwork>,
    /// How much of the light a clear fin sends back itself, 0 (glass) … 1 (opaque).
    pub fin_cover: f64,
    /// CIELAB of a clear fin's own haze.
    pub fin: [f64; 3],
    /// Strength of the gravid spot, 0: none.
    pub gravid: f64,
    /// CIELAB of the food in the belly and its strength.
    pub belly: ([f64; 3], f64),
    /// Length of an eye seen from above, in that of a usual one: 1 to 2.
    pub eye: f64,
    /// Seed of all variation.
    pub seed: u32,
}

/// A coat with its colours made ready.
pub(super) struct Ready {
    pub(super) coat: Coat,
    pub(super) side: Side,
    ground: Tri,
    back: Tri,
    dot: Tri,
    fin: Tri,
    pub(super) eye: Tri,
    pub(super) eye_ring: Tri,
    pub(super) gill: Tri,
    pub(super) belly: Tri,
    pub(super) spot: Tri,
    covers: Vec<(Tri, Tri, f64, f64)>,
}

/// The seed of the noise that lays out cover number `i`.
fn cover_seed(coat: &Coat, i: usize) -> u32 {
    coat.seed.wrapping_add(101 * i as u32 + 7)
}

/// The limit that `share` of the cover's noise lies above, over the given places (millimetres along and across).
fn limit(places: &[(f64, f64)], share: f64, grain: f64, seed: u32) -> f64 {
    let mut noise: Vec<f64> = places.iter().map(|&(s, t)| cloud(s / grain, t / grain, seed)).collect();
    noise.sort_by(f64::total_cmp);
    let at = ((1.0 - share.clamp(0.0, 1.0)) * noise.len() as f64) as usize;
    noise.get(at).copied().unwrap_or(1.0)
}

impl Ready {
    pub(super) fn new(coat: &Coat, side: Side, body: &Body) -> Self {
        let [l, a, b] = coat.ground;
        let [fl, fa, fb] = coat.fin;
        let [bl, ba, bb] = coat.belly.0;
        let (trunk, fins) = (body.trunk_places(), body.tail_places());
        let covers = coat
            .covers
            .iter()
            .enumerate()
            .map(|(i, c)| {
                let seed = cover_seed(coat, i);
                let [cl, ca, cb] = c.lab;
                // The second tint: a little darker and purer, so that a patch is not one flat colour.
                (
                    tri(cl, ca, cb),
                    tri(cl - 5.0, ca * 1.08, cb * 1.08),
                    limit(&trunk, c.body, c.grain, seed),
                    limit(&fins, c.fins, c.grain, seed),
                )
            })
            .collect();
        Self {
            coat: coat.clone(),
            side,
            ground: tri(l, a, b),
            back: tri(l - 5.0, a, b + 1.0),
            dot: tri(21.0, 0.5, 2.0),
            fin: tri(fl, fa, fb),
            eye: tri(9.0, 0.0, 0.0),
            eye_ring: tri(58.0, 0.0, 14.0),
            gill: tri((l - 7.0).max(20.0), a + 9.0, b + 4.0),
            belly: tri(bl, ba, bb),
            spot: tri(27.0, 5.0, 9.0),
            covers,
        }
    }

    /// What is at a place; `None` for a hole in a fin.
    pub(super) fn skin(&self, p: &Place) -> Option<Skin> {
        if p.part == Part::Finnage { Some(self.finnage(p)) } else { Some(self.trunk(p)) }
    }

    /// The topmost cover at a place: its colour, how far it hides what is below, and its kind.
    fn covered(&self, p: &Place, fins: bool) -> Option<(Tri, f64, Cover)> {
        let mut top = None;
        for (i, (work, &(first, second, body, fin))) in self.coat.covers.iter().zip(&self.covers).enumerate() {
            let seed = cover_seed(&self.coat, i);
            let share = if fins { work.fins } else { work.body };
            if share <= 0.0 {
                continue;
            }
            let n = cloud(p.s / work.grain, p.t / work.grain, seed);
            let limit = if fins { fin } else { body };
            let alpha = if share >= 1.0 { 1.0 } else { smooth(limit - 0.025, limit + 0.025, n) };
            if alpha > 0.02 {
                let tint = cloud(p.s / 1.7, p.t / 1.7, seed ^ 0x77);
                top = Some((mix(first, second, tint), alpha, work.cover));
            }
        }
        top
    }

    fn trunk(&self, p: &Place) -> Skin {
        let c = &self.coat;
        // Natural variation: a darker back, slow clouds, and a duller edge where the flank turns away.
        let stripe = smooth(0.45, 0.0, p.v.abs());
        let mut colour = mix(self.ground, self.back, stripe);
        colour = scale(colour, 0.94 + 0.12 * cloud(p.s / 2.5, p.t / 2.0, c.seed ^ 0x11));
        colour = mix(colour, self.dot, self.net(p));
        let mut hides = Hides::Nothing;
        if let Some((paint, alpha, kind)) = self.covered(p, false) {
            colour = mix(colour, paint, alpha);
            if alpha > 0.5 {
                hides = if kind == Cover::Reflective { Hides::Reflective } else { Hides::Pigment };
            }
        }
        colour = scale(colour, 1.0 - 0.16 * smooth(0.72, 1.0, p.v.abs()));
        let (part, colour) = self.fooled(p, colour);
        Skin { part, hides, ink: Ink::solid(colour), shine: 0.0 }
    }

    /// How far a dark point of the net covers the place.
    fn net(&self, p: &Place) -> f64 {
        let g = self.coat.net_pitch;
        let (x, y) = (p.s / g, p.t / g);
        let (i, j) = (x.floor() as i32, y.floor() as i32);
        let seed = self.coat.seed ^ 0x3e7;
        if uniform(i, j, seed) >= self.coat.net {
            return 0.0;
        }
        let h = hash(i, j, seed ^ 0x99).to_le_bytes();
        let at = |b: u8| 0.35 + 0.3 * f64::from(b) / 255.0;
        let d = (x - f64::from(i) - at(h[0])).hypot(y - f64::from(j) - at(h[1]));
        let r = 0.17 + 0.13 * f64::from(h[2]) / 255.0;
        0.85 * smooth(r + 0.06, r - 0.06, d)
    }

    fn finnage(&self, p: &Place) -> Skin {
        let c = &self.coat;
        // Rays: fine lines from root to edge, thinning outwards.
        let ray = 0.5 + 0.5 * (p.v * 34.0).cos();
        let haze = (c.fin_cover * (1.15 - 0.45 * p.fin) * (0.8 + 0.4 * ray)).clamp(0.0, 1.0);
        let mut ink = Ink::veil(self.fin, haze);
        let mut hides = Hides::Nothing;
        if let Some((paint, alpha, kind)) = self.covered(p, true) {
            // Pigment in a fin lets some of the floor through.
            let dense = alpha * (0.94 - 0.10 * p.fin);
            ink = Ink {
                keep: ink.keep.map(|k| k * (1.0 - dense as f32)),
                paint: std::array::from_fn(|k| ink.paint[k] * (1.0 - dense as f32) + paint[k] * dense as f32),
            };
            if alpha > 0.5 {
                hides = if kind == Cover::Reflective { Hides::Reflective } else { Hides::Pigment };
            }
        }
        Skin { part: Part::Finnage, hides, ink, shine: 0.0 }
    }
}
