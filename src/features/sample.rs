//! Reading the pixels of one part as CIELAB.

use crate::calibrate::CalibratedPhoto;
use crate::colour::{Lab, LinearRgb};
use crate::fish::{Mask, Region};
use crate::geometry::Point;

/// Pixels of a fish that are read at most: more would not make a median better, only slower. Chosen so that a share's
/// counting error stays below 1 % (binomial, worst case √(¼/n)).
const AT_MOST: f64 = 5_000.0;

/// How far light spills over through lens, sharpening and compression, in pixels: from a clipped pixel, and from the floor
/// into a fish.
const SPILL: u32 = 2;

/// Readings of one part.
#[derive(Debug, Clone, Default)]
pub(super) struct Samples {
    /// Colours in reading order, glare left out.
    pub(super) colours: Vec<Lab>,
    /// Pixel (x, y) of each.
    pub(super) places: Vec<(u32, u32)>,
    /// Pixels from one place to the next, along both sides.
    pub(super) stride: u32,
    /// Whether other light is mixed in, the lamp's mirror image or the floor beside: its hue still tells a cover, its
    /// lightness tells nothing.
    pub(super) mixed: Vec<bool>,
    /// How many pixels were left out because they are clipped or as bright as the lamp's image: the brightest of the part.
    pub(super) glare: usize,
    /// How many were left out because the lamp's image covers that place, whatever is there.
    pub(super) under_lamp: usize,
}

impl Samples {
    /// Readings that stand in one row.
    #[cfg(test)]
    pub(super) fn of(colours: Vec<Lab>) -> Self {
        let places = (0..).zip(&colours).map(|(x, _)| (x, 0)).collect();
        Self { mixed: vec![false; colours.len()], places, stride: 1, glare: 0, under_lamp: 0, colours }
    }

    /// Takes out the readings that `is_glare` says yes to.
    pub(super) fn drop_glare(&mut self, is_glare: impl Fn(Lab) -> bool) {
        let glare: Vec<bool> = self.colours.iter().map(|c| is_glare(*c)).collect();
        self.glare += glare.iter().filter(|g| **g).count();
        // `retain` asks for each reading once and in order.
        fn without<T>(list: &mut Vec<T>, glare: &[bool]) {
            let mut flags = glare.iter();
            list.retain(|_| flags.next() == Some(&false));
        }
        without(&mut self.colours, &glare);
        without(&mut self.places, &glare);
        without(&mut self.mixed, &glare);
    }

    /// Marks the readings that `which` says yes to as mixed.
    pub(super) fn mark_mixed(&mut self, which: &[bool]) {
        self.mixed.iter_mut().zip(which).for_each(|(mixed, more)| *mixed |= more);
    }

    /// How many pixels were looked at.
    pub(super) fn seen(&self) -> usize {
        self.colours.len() + self.glare + self.under_lamp
    }
}

/// Share of a fish's mean width that is left out along its outline at most.
const RIM_SHARE: f64 = 0.19;

/// The inside of a fish: without the rim whose pixels show fish and floor mixed, as deep as the outline is coarse.
pub(super) fn inside(region: &Region, coarseness: u32) -> Mask {
    let width = region.area_px / region.length_px.max(1.0);
    #[expect(clippy::cast_possible_truncation, reason = "a few pixels")]
    let most = (RIM_SHARE * width) as u32;
    match coarseness.min(most) {
        0 => region.mask.clone(),
        depth => region.mask.eroded(depth),
    }
}

/// Which readings stand at the outline of `inside`, where lens and compression still mix some of the floor in; none where
/// that would be most of them.
pub(super) fn at_outline(samples: &Samples, inside: &Mask) -> Vec<bool> {
    let core = inside.eroded(SPILL);
    let outer: Vec<bool> = samples.places.iter().map(|(x, y)| !core.contains(*x, *y)).collect();
    if 2 * outer.iter().filter(|o| **o).count() > outer.len() { vec![false; outer.len()] } else { outer }
}

/// Distance in pixels between the readings of a fish of that many pixels.
pub(super) fn stride(area: u64) -> u32 {
    let mut k = 1;
    while area as f64 / f64::from(k * k) > AT_MOST {
        k += 1;
    }
    k
}

/// Reads every `stride`-th pixel of `mask`, along both sides; those in `glare` tell nothing.
pub(super) fn read(photo: &CalibratedPhoto, mask: &Mask, glare: &Mask, stride: u32) -> Samples {
    read_with(photo, mask, glare, stride, |_, light| light)
}

/// Like [`read`], with `change` applied to the relit light of each place before it becomes a colour.
pub(super) fn read_with(
    photo: &CalibratedPhoto,
    mask: &Mask,
    glare: &Mask,
    stride: u32,
    change: impl Fn(Point, LinearRgb) -> LinearRgb,
) -> Samples {
    let mut out = Samples { stride, ..Samples::default() };
    for run in mask.runs().iter().filter(|r| r.y % stride == 0) {
        for x in (run.x0.next_multiple_of(stride)..run.x1).step_by(stride as usize) {
            if glare.contains(x, run.y) {
                out.under_lamp += 1;
                continue;
            }
            if dazzled(photo, x, run.y) {
                out.glare += 1;
                continue;
            }
            let place = Point::new(f64::from(x) + 0.5, f64::from(run.y) + 0.5);
            out.colours.push(photo.calibration.lab(change(place, photo.relit_at(x, run.y))));
            out.places.push((x, run.y));
        }
    }
    out.mixed = vec![false; out.colours.len()];
    out
}

/// Whether the pixel or one near it is clipped.
fn dazzled(photo: &CalibratedPhoto, x: u32, y: u32) -> bool {
    let p = photo.photo;
    let (left, right) = (x.saturating_sub(SPILL), (x + SPILL).min(p.width - 1));
    let (up, down) = (y.saturating_sub(SPILL), (y + SPILL).min(p.height - 1));
    p.clipped(x, y) || p.clipped(left, y) || p.clipped(right, y) || p.clipped(x, up) || p.clipped(x, down)
}
