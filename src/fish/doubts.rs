//! What makes one fish's colours doubtful: blur, shade, glare, too few pixels, the picture's edge.
#![expect(clippy::cast_possible_truncation, reason = "places inside a block")]

use std::collections::BTreeSet;

use crate::geometry::{PixelBox, Point};

use super::body::Body;
use super::differ::Difference;
use super::head::Heading;
use super::mask::Mask;
use super::{Flag, Scene};

/// Fewest pixels of the photo a fish's colour can be read on (starting value: a 7 mm fry at 6 pixels a millimetre).
const LEAST_PIXELS: u64 = 150;
/// Width of the edge, as a standard deviation in shares of the body's width, from which a fish is blurred (starting value: its
/// net and the rims of its patches are gone by then).
const BLURRED: f64 = 0.11;
/// Widest edge of a picture in focus, photo pixels: lens and JPEG alone leave about one.
const FOCUSED: f64 = 2.0;
/// L* units below the model that floor in shade is at least, and the share of the floor around a shaded fish that is.
const SHADE: (f32, f64) = (-6.0, 0.6);
/// Share of pixels that are clipped or in the lamp's image from which glare covers much of a fish (starting value).
const GLARE: f64 = 0.08;

/// The doubts about one fish.
pub(super) fn doubts(scene: &Scene<'_>, body: &Body, heading: &Heading, mask: &Mask, glare: &Mask) -> BTreeSet<Flag> {
    let mut flags = BTreeSet::new();
    let mut doubt = |flag: Flag, when: bool| {
        if when {
            flags.insert(flag);
        }
    };
    doubt(Flag::TooSmall, mask.area() < LEAST_PIXELS);
    doubt(Flag::Cut, mask.bounds().is_some_and(|b| cut(scene, b)));
    doubt(Flag::Blurred, is_blurred(body, heading));
    doubt(Flag::Shaded, is_shaded(body));
    let lost = mask.pixels().filter(|&(x, y)| scene.photo.clipped(x, y) || glare.contains(x, y)).count();
    doubt(Flag::Glare, lost as f64 > GLARE * mask.area() as f64);
    flags
}

/// Whether a box comes to the picture's edge.
fn cut(scene: &Scene<'_>, b: PixelBox) -> bool {
    const NEAR: f64 = 2.0;
    let (w, h) = (f64::from(scene.photo.width), f64::from(scene.photo.height));
    b.x0 < NEAR || b.y0 < NEAR || b.x1 > w - NEAR || b.y1 > h - NEAR
}

/// Whether the edge across the trunk is wide against the trunk itself.
fn is_blurred(body: &Body, heading: &Heading) -> bool {
    const STATIONS: usize = 12;
    let spine = &heading.spine;
    let end = heading.stalk.unwrap_or(spine.length()) * 0.8;
    let width = body.grid.count() as f64 / spine.length();
    let mut edges: Vec<f64> = (0..STATIONS)
        .flat_map(|i| {
            let s = spine.span.0 + end * (0.2 + 0.8 * i as f64 / STATIONS as f64);
            [1.0, -1.0].map(|side| edge_width(body, spine.at(s), spine.at(s + 1.0), side, width))
        })
        .flatten()
        .collect();
    if edges.len() < STATIONS / 2 {
        return false;
    }
    // The sharper third: net, patches and shadow beside the edge only widen it.
    edges.sort_by(f64::total_cmp);
    let edge = edges[edges.len() / 3];
    edge > BLURRED * width && edge * f64::from(body.block.step) > FOCUSED
}

/// Standard deviation of the blur that makes the edge at one side of the body as steep as it is, in block pixels: a step blurred
/// by σ rises by 1/(σ√2π) of itself a pixel. `None` where there is no clear step.
fn edge_width(body: &Body, at: Point, ahead: Point, side: f64, width: f64) -> Option<f64> {
    const LEAST_STEP: f32 = 8.0;
    const BASE: f64 = 0.1;
    let along = ahead - at;
    let normal = Point::new(-along.y, along.x) * (side / along.x.hypot(along.y).max(1e-9));
    let profile: Vec<Difference> =
        (0..=(1.5 * width) as usize).map_while(|t| pixel(body, at + normal * t as f64)).collect();
    let (first, last) = (profile.first()?, profile.last()?);
    let step = apart(first, last);
    // Over a tenth of the width, or noise from one pixel to the next passes for a steep edge.
    let reach = ((BASE * width).round() as usize).max(1);
    let rise = |p: &[Difference]| apart(&p[0], &p[reach]) / reach as f32;
    let steepest = profile.windows(reach + 1).map(rise).fold(0.0, f32::max);
    (step > LEAST_STEP).then(|| f64::from(step / steepest.max(1e-3)) / (2.0 * std::f64::consts::PI).sqrt())
}

fn apart(a: &Difference, b: &Difference) -> f32 {
    (a.lightness - b.lightness).hypot((a.tint[0] - b.tint[0]).hypot(a.tint[1] - b.tint[1]))
}

fn pixel(body: &Body, p: Point) -> Option<Difference> {
    let (x, y) = (p.x.floor(), p.y.floor());
    let inside = x >= 0.0 && y >= 0.0 && (x as usize) < body.block.width && (y as usize) < body.block.height;
    inside.then(|| body.block.pixels[y as usize * body.block.width + x as usize])
}

/// Whether most of the floor around the fish is far darker than the light's model says.
fn is_shaded(body: &Body) -> bool {
    let around = (0..body.grid.on.len()).filter(|&k| !body.grid.on[k]);
    let (mut dark, mut all) = (0.0, 0.0);
    for d in around.map(|k| body.block.pixels[k]) {
        all += 1.0;
        dark += f64::from(u8::from(d.lightness < SHADE.0));
    }
    dark > SHADE.1 * f64::max(all, 1.0)
}
