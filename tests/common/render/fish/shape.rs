//! The body plan: a bent axis, a half-width along it, a tail fan and side fins.

use broodhue::geometry::{PixelBox, Point};

use super::Part;
use crate::common::render::noise::smooth;

/// Half-width along the trunk from snout (0) to end of the tail stalk (1), relative to the widest place.
/// Drawn after the common outline of small livebearers seen from above; from memory, no source.
const ABOVE: [(f64, f64); 11] = [
    (0.0, 0.0),
    (0.02, 0.30),
    (0.06, 0.52),
    (0.12, 0.74),
    (0.20, 0.92),
    (0.32, 1.0),
    (0.45, 0.95),
    (0.60, 0.76),
    (0.75, 0.54),
    (0.90, 0.37),
    (1.0, 0.33),
];

/// Number of straight pieces of the axis.
const PIECES: usize = 20;

/// Sizes and bend of one fish, millimetres.
#[derive(Debug, Clone, PartialEq)]
pub struct Body {
    /// Snout to end of the tail stalk, along the body.
    pub standard_length: f64,
    /// Length of the tail fin.
    pub tail: f64,
    /// Greatest half-width of the trunk.
    pub half_width: f64,
    /// Greatest half-width of the tail fan.
    pub tail_half_width: f64,
    /// Length of the side fins; 0 when folded away.
    pub side_fin: f64,
    /// Height of dorsal and anal fin over the trunk (seen from the side); 0 from above.
    pub back_fin: f64,
    /// Whether the back lies on the right of the direction snout → tail.
    pub flip: bool,
    /// Bend of the axis over the whole body, degrees: even, and from one side to the other.
    pub bend: (f64, f64),
    /// The axis on the plane, filled by [`Body::laid`].
    pub axis: Vec<Point>,
}

/// A place on the fish.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Millimetres along the axis from the snout.
    pub s: f64,
    /// Millimetres across, positive on the right of the direction snout → tail.
    pub t: f64,
    /// `s` over the standard length.
    pub u: f64,
    /// `t` over the local half-width of the part.
    pub v: f64,
    /// Trunk or finnage (the coat tells eyes, gill and belly apart).
    pub part: Part,
    /// Along the fin from root (0) to edge (1); 0 on the trunk.
    pub fin: f64,
}

impl Body {
    /// Total length along the body.
    pub fn total_length(&self) -> f64 {
        self.standard_length + self.tail
    }

    /// This body with its axis laid on the plane from `snout` in the direction `heading` (degrees).
    pub fn laid(&self, snout: Point, heading: f64) -> Self {
        let step = self.total_length() / PIECES as f64;
        let mut axis = vec![snout];
        let mut at = snout;
        for i in 0..PIECES {
            let u = (i as f64 + 0.5) / PIECES as f64;
            let angle = heading + self.bend.0 * (u - 0.5) + self.bend.1 * (std::f64::consts::PI * u).sin();
            let (sin, cos) = angle.to_radians().sin_cos();
            at = at + Point::new(cos, sin) * step;
            axis.push(at);
        }
        Self { axis, ..self.clone() }
    }

    /// A box around the whole fish.
    pub fn bounds(&self) -> PixelBox {
        let b = PixelBox::around(&self.axis).unwrap_or_default();
        let m = self.reach() + 0.5;
        PixelBox { x0: b.x0 - m, y0: b.y0 - m, x1: b.x1 + m, y1: b.y1 + m }
    }

    /// Half-width of the trunk at `u` of the standard length.
    pub fn half_width_at(&self, u: f64) -> f64 {
        let i = ABOVE.partition_point(|k| k.0 <= u).clamp(1, ABOVE.len() - 1);
        let ((u0, w0), (u1, w1)) = (ABOVE[i - 1], ABOVE[i]);
        let t = ((u - u0) / (u1 - u0)).clamp(0.0, 1.0);
        // The snout is round: the first piece rises like a square root.
        let t = if i == 1 { t.sqrt() } else { t };
        self.half_width * (w0 + (w1 - w0) * t)
    }

    /// Axis coordinates of the nearest place on the axis: along, across; `None` farther than `reach` from every joint.
    fn along_across(&self, at: Point, reach: f64) -> Option<(f64, f64)> {
        let step = self.total_length() / PIECES as f64;
        let distance2 = |p: &Point| (p.x - at.x).powi(2) + (p.y - at.y).powi(2);
        let (joint, near) = self.axis.iter().map(distance2).enumerate().min_by(|a, b| a.1.total_cmp(&b.1))?;
        if near > (reach + step).powi(2) {
            return None;
        }
        let mut best = (f64::MAX, 0.0, 0.0);
        for i in joint.saturating_sub(1)..=joint.min(PIECES - 1) {
            let (w0, w1) = (self.axis[i], self.axis[i + 1]);
            let (d, p) = (w1 - w0, at - w0);
            let mut k = (p.x * d.x + p.y * d.y) / (step * step);
            // The last piece goes on beyond its end, so the tail's round edge is not cut.
            k = if i + 1 == PIECES { k.max(0.0) } else { k.clamp(0.0, 1.0) };
            let off = p - d * k;
            let d2 = off.x * off.x + off.y * off.y;
            if d2 < best.0 {
                best = (d2, (i as f64 + k) * step, d.x * p.y - d.y * p.x);
            }
        }
        let side = if best.2 < 0.0 { -1.0 } else { 1.0 };
        Some((best.1, side * best.0.sqrt()))
    }

    /// Greatest distance of any part from the axis.
    fn reach(&self) -> f64 {
        self.half_width.max(self.tail_half_width) + self.side_fin + self.back_fin
    }

    /// Where a point of the plane is on the fish.
    pub fn locate(&self, at: Point) -> Option<Place> {
        let (s, t) = self.along_across(at, self.reach())?;
        let t = if self.flip { -t } else { t };
        let u = s / self.standard_length;
        let w = self.half_width_at(u.min(1.0));
        if u <= 1.0 && t.abs() <= w {
            return Some(Place { s, t, u, v: t / w.max(1e-9), part: Part::Trunk, fin: 0.0 });
        }
        self.on_tail(s, t, u).or_else(|| self.on_side_fin(s, t, u)).or_else(|| self.on_back_fin(s, t, u))
    }

    fn on_tail(&self, s: f64, t: f64, u: f64) -> Option<Place> {
        let root = 0.97 * self.standard_length;
        let reach = self.standard_length + self.tail - root;
        let w0 = self.half_width_at(1.0);
        let f = (s - root) / reach;
        if !(0.0..=1.0).contains(&f) {
            return None;
        }
        let w = w0 + (self.tail_half_width - w0) * smooth(0.0, 0.75, f);
        let v = t / w;
        // The edge is a shallow arc.
        (v.abs() <= 1.0 && f <= 1.0 - 0.16 * v * v).then_some(Place { s, t, u, v, part: Part::Finnage, fin: f })
    }

    fn on_side_fin(&self, s: f64, t: f64, u: f64) -> Option<Place> {
        if self.side_fin <= 0.0 || u > 0.75 {
            return None;
        }
        // A fan from the flank at 0.25, swept back by 50°.
        let root = Point::new(0.25 * self.standard_length, 0.92 * self.half_width);
        let d = Point::new(s - root.x, t.abs() - root.y);
        let r = d.x.hypot(d.y) / self.side_fin;
        let angle = (d.y.atan2(d.x).to_degrees() - 40.0) / 26.0;
        (r <= 1.0 - 0.1 * angle * angle && angle.abs() <= 1.0).then_some(Place {
            s,
            t,
            u,
            v: angle,
            part: Part::Finnage,
            fin: r,
        })
    }

    /// Dorsal fin above, a shorter anal fin below.
    fn on_back_fin(&self, s: f64, t: f64, u: f64) -> Option<Place> {
        let (from, to, height) = if t < 0.0 { (0.46, 0.72, self.back_fin) } else { (0.56, 0.70, 0.7 * self.back_fin) };
        // Both lean back by half their height.
        let over = t.abs() - self.half_width_at(u.min(1.0));
        let f = over / height.max(1e-9);
        let along = (u - from) / (to - from) - 0.5 * f;
        let edge = 1.0 - 0.35 * along;
        (height > 0.0 && (0.0..=1.0).contains(&along) && (0.0..=edge).contains(&f)).then_some(Place {
            s,
            t,
            u,
            v: 2.0 * along - 1.0,
            part: Part::Finnage,
            fin: f,
        })
    }

    /// Places spread evenly over the trunk: millimetres along and across.
    pub fn trunk_places(&self) -> Vec<(f64, f64)> {
        let step = self.standard_length / 60.0;
        (0..60)
            .flat_map(|i| {
                let s = (f64::from(i) + 0.5) * step;
                let n = (self.half_width_at(s / self.standard_length) / step) as i32;
                (-n..=n).map(move |j| (s, f64::from(j) * step))
            })
            .collect()
    }

    /// Places spread over the tail fin.
    pub fn tail_places(&self) -> Vec<(f64, f64)> {
        let w0 = self.half_width_at(1.0);
        (0..20)
            .flat_map(|i| {
                let f = (f64::from(i) + 0.5) / 20.0;
                let w = w0 + (self.tail_half_width - w0) * smooth(0.0, 0.75, f);
                (-10..=10).map(move |j| (self.standard_length + f * self.tail, w * f64::from(j) / 10.0))
            })
            .collect()
    }

    /// Lamp's mirror image along the back, 0…1.
    pub fn shine(&self, place: &Place) -> f64 {
        let across = (place.v - 0.18) / 0.10;
        let along = |c: f64, w: f64| (-((place.u - c) / w).powi(2)).exp();
        let k = (-across * across).exp() * (along(0.30, 0.07) + 0.6 * along(0.52, 0.05));
        if k > 0.25 { k } else { 0.0 }
    }

    /// How much of a soft shadow of this body falls at a place: 1 well inside, 0 outside.
    pub fn shade(&self, at: Point, softness: f64) -> f64 {
        let Some((s, t)) = self.along_across(at, self.reach() + softness) else { return 0.0 };
        let u = s / self.standard_length;
        let (w, solid) = if u <= 1.0 {
            (self.half_width_at(u), 1.0)
        } else {
            (self.half_width_at(1.0) + (self.tail_half_width - self.half_width_at(1.0)) * smooth(1.0, 1.25, u), 0.4)
        };
        let ends = (self.total_length() - s).min(s + softness);
        let inside = (w - t.abs()).min(ends);
        solid * smooth(-softness, softness, inside)
    }
}
