//! An invented livebearer, seen from above or from the side.

mod coat;
mod marks;
mod outline;
mod shape;

pub use coat::{Base, Coat, Cover, Patchwork};
pub use outline::trace;
pub use shape::Body;

use broodhue::geometry::{PixelBox, Point};
use broodhue::units::{Sex, View as Side};

use super::paint::{Ink, Layer, Tri};
use coat::Ready;

/// Which part of the fish a place belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// Snout to end of the tail stalk, without the rest of this list.
    Trunk,
    /// Tail and other fins.
    Finnage,
    /// An eye.
    Eye,
    /// The gill cover.
    Gill,
    /// The belly, where food shows.
    Belly,
    /// The dark or amber spot of a gravid female.
    GravidSpot,
}

/// What hides the ground at a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hides {
    /// Nothing: this is ground (or a clear fin).
    Nothing,
    /// Red, orange, yellow, white or black pigment.
    Pigment,
    /// The fish's own shiny pigment.
    Reflective,
}

/// One fish as plain values.
#[derive(Debug, Clone, PartialEq)]
pub struct Fish {
    /// Snout tip, millimetres on the plane.
    pub snout: Point,
    /// Direction from tail to snout is `heading` + 180°; the body runs this way from the snout, degrees.
    pub heading: f64,
    /// Its body plan.
    pub body: Body,
    /// Its colours.
    pub coat: Coat,
    /// Male or female; `None` for fry nobody could sex.
    pub sex: Option<Sex>,
    /// From above or from the side.
    pub side: Side,
    /// Height over the floor, millimetres: throws the shadow that far.
    pub height: f64,
    /// Strength of the wet shine along the back, 0: none.
    pub shine: f64,
}

/// What is at a place of a fish.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Skin {
    /// Which part.
    pub part: Part,
    /// What hides the ground there.
    pub hides: Hides,
    /// What it does to the light, without shine.
    pub ink: Ink,
    /// The lamp's mirror image there, as a share of a white surface.
    pub shine: f64,
}

/// A fish made ready for painting.
pub struct FishLayer {
    body: Body,
    coat: Ready,
    shine: f64,
    bounds: PixelBox,
}

impl FishLayer {
    /// Makes a fish ready.
    pub fn new(fish: &Fish) -> Self {
        let body = fish.body.laid(fish.snout, fish.heading);
        Self { bounds: body.bounds(), coat: Ready::new(&fish.coat, fish.side, &body), shine: fish.shine, body }
    }

    /// The fish at a place of the plane; `None` beside it.
    pub fn skin(&self, at: Point) -> Option<Skin> {
        if !self.bounds.contains(at) {
            return None;
        }
        let place = self.body.locate(at)?;
        let mut skin = self.coat.skin(&place)?;
        if self.shine > 0.0 && skin.part != Part::Finnage {
            skin.shine = self.shine * self.body.shine(&place);
        }
        Some(skin)
    }

    /// The surface's colour at a place over a floor of the given colour, without shine and shadow.
    pub fn surface(&self, at: Point, floor: Tri) -> Option<(Skin, Tri)> {
        self.skin(at).map(|s| (s, s.ink.over(floor)))
    }

    /// The body as laid on the plane.
    pub fn body(&self) -> &Body {
        &self.body
    }
}

impl Layer for FishLayer {
    fn bounds(&self) -> PixelBox {
        self.bounds
    }

    fn ink(&self, at: Point) -> Option<Ink> {
        self.skin(at).map(|s| {
            let mut ink = s.ink;
            if s.shine > 0.0 {
                ink.paint = Ink::shine(s.shine).over(ink.paint);
            }
            ink
        })
    }
}

/// The shadow a fish throws on the floor: its outline, moved and softened.
pub struct ShadowLayer {
    fish: FishLayer,
    offset: Point,
    depth: f64,
    softness: f64,
}

impl ShadowLayer {
    /// The shadow of `fish`, moved by `offset` millimetres, taking `depth` of the light, its edge `softness` wide.
    pub fn new(fish: &Fish, offset: Point, depth: f64, softness: f64) -> Self {
        Self { fish: FishLayer::new(fish), offset, depth, softness }
    }
}

impl Layer for ShadowLayer {
    fn bounds(&self) -> PixelBox {
        let (b, s) = (self.fish.bounds, self.softness);
        PixelBox {
            x0: b.x0 + self.offset.x - s,
            y0: b.y0 + self.offset.y - s,
            x1: b.x1 + self.offset.x + s,
            y1: b.y1 + self.offset.y + s,
        }
    }

    fn ink(&self, at: Point) -> Option<Ink> {
        let at = at - self.offset;
        let cover = self.fish.body.shade(at, self.softness);
        (cover > 0.0).then(|| Ink::shadow(self.depth * cover))
    }

    fn samples(&self) -> u32 {
        1
    }
}
