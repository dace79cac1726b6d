//! What a thing does to the light from below it, and the layers a picture is painted with.

use broodhue::colour::{Lab, xyz_from_lab};
use broodhue::geometry::{PixelBox, Point};

/// CIE XYZ under D50, white Y = 1, as plain numbers.
pub type Tri = [f32; 3];

/// The XYZ of a CIELAB colour.
pub fn tri(l: f64, a: f64, b: f64) -> Tri {
    let xyz = xyz_from_lab(Lab::new(l, a, b));
    [xyz.x as f32, xyz.y as f32, xyz.z as f32]
}

/// The CIELAB of an XYZ colour.
pub fn lab(t: Tri) -> Lab {
    broodhue::colour::lab_from_xyz(broodhue::colour::Xyz::new(f64::from(t[0]), f64::from(t[1]), f64::from(t[2])))
}

/// `t` of the way from `a` to `b`, in light.
pub fn mix(a: Tri, b: Tri, t: f64) -> Tri {
    let t = t as f32;
    std::array::from_fn(|k| a[k] + (b[k] - a[k]) * t)
}

/// `a` times `k`.
pub fn scale(a: Tri, k: f64) -> Tri {
    a.map(|v| v * k as f32)
}

/// What reaches the eye is `keep` × (what lies below) + `paint`, a channel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ink {
    /// Share of the light from below that passes.
    pub keep: Tri,
    /// What the thing itself sends back.
    pub paint: Tri,
}

impl Ink {
    /// Nothing there.
    pub const CLEAR: Self = Self { keep: [1.0; 3], paint: [0.0; 3] };

    /// An opaque colour.
    pub fn solid(paint: Tri) -> Self {
        Self { keep: [0.0; 3], paint }
    }

    /// A colour that covers `alpha` of what is below.
    pub fn veil(paint: Tri, alpha: f64) -> Self {
        Self { keep: [1.0 - alpha as f32; 3], paint: scale(paint, alpha) }
    }

    /// Takes away `depth` (0…1) of the light.
    pub fn shadow(depth: f64) -> Self {
        Self { keep: [1.0 - depth as f32; 3], paint: [0.0; 3] }
    }

    /// Adds the mirror image of the lamp, `strength` times a white surface.
    pub fn shine(strength: f64) -> Self {
        Self { keep: [1.0; 3], paint: [0.9642 * strength as f32, strength as f32, 0.8251 * strength as f32] }
    }

    /// This ink over `below`.
    pub fn over(&self, below: Tri) -> Tri {
        std::array::from_fn(|k| self.keep[k] * below[k] + self.paint[k])
    }
}

/// Something painted over what lies below it.
pub trait Layer: Sync + Send {
    /// A box in millimetres around everything it touches.
    fn bounds(&self) -> PixelBox;
    /// What it does at a place of the plane, in millimetres; `None` where it is not.
    fn ink(&self, at: Point) -> Option<Ink>;
    /// Places per pixel side at which it is asked: three for sharp edges, one for what is soft anyway.
    fn samples(&self) -> u32 {
        3
    }
}

/// The mean ink of a pixel from a grid of places, so that edges are smooth; `place` maps 0…1 in the pixel to the plane.
pub fn pixel_ink(layer: &dyn Layer, place: impl Fn(f64, f64) -> Point) -> Option<Ink> {
    let n = layer.samples();
    let (mut keep, mut paint, mut hit) = ([0.0_f32; 3], [0.0_f32; 3], false);
    let step = 1.0 / f64::from(n);
    for j in 0..n {
        for i in 0..n {
            let ink = layer.ink(place((f64::from(i) + 0.5) * step, (f64::from(j) + 0.5) * step));
            hit |= ink.is_some();
            let ink = ink.unwrap_or(Ink::CLEAR);
            for k in 0..3 {
                keep[k] += ink.keep[k];
                paint[k] += ink.paint[k];
            }
        }
    }
    let all = (n * n) as f32;
    hit.then(|| Ink { keep: keep.map(|v| v / all), paint: paint.map(|v| v / all) })
}
