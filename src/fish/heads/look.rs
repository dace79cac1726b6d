//! What the network says of a rectangle about some things.
#![expect(clippy::cast_possible_truncation, reason = "places are clamped to the picture before the cast")]

use crate::fish::Scene;
use crate::fish::differ::{Block, Difference};
use crate::fish::seek::Survey;
use crate::geometry::Point;

use super::Head;
use super::net::{INPUTS, MULTIPLE, pass};
use super::planes::{Planes, Spare};

/// Places a millimetre at which the network looks; it speaks of every second one.
const FINE: f64 = 6.0;
/// Millimetres about a thing that it sees as well.
const MARGIN: f64 = 2.5;
/// L*a*b* units that are one to it.
const UNIT: f32 = 30.0;
/// Length, millimetres, that it calls one.
const LENGTH: f64 = 15.0;
/// Way to a fish's middle, millimetres, that it calls one.
const WAY: f64 = 5.0;
/// How sure it must be of a head to name it.
const FAINT: f32 = 0.03;
/// Share of the length by which the heads of two fish lie apart at least.
const APART: f64 = 0.06;
/// Places up to which a head must be the surest.
const REACH: usize = 2;
/// Fewest photo pixels a place: on fewer a fry's head does not show, and what the network looks at grows beyond the photo.
const LEAST_PITCH: f64 = 0.5;
/// Pixels of the survey a place with which it is as good to look at as the photo (with 0.83 as many fish were found on 156 drawn trays).
const SEEN: std::ops::Range<f64> = 0.75..2.0;
/// Most places looked at at once, those of 170 by 170 mm: no heap of fish is larger, and memory stays small.
const MOST_PLACES: f64 = 1_048_576.0;

/// Whether a photo of so many millimetres a pixel shows heads.
pub(in crate::fish) fn shows_heads(mm_per_px: f64) -> bool {
    1.0 / (FINE * mm_per_px) >= LEAST_PITCH
}

/// The part of the photo that is looked at.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Window {
    /// Left and top, in photo pixels.
    origin: (u32, u32),
    /// Photo pixels across and down.
    size: (u32, u32),
    /// Photo pixels a place of the network's input.
    pitch: f64,
}

impl Window {
    /// The one about the rectangle from `low` to `high`, in photo pixels; `None` where it shows too little, or too much at once.
    fn about(low: Point, high: Point, mm_per_px: f64, photo: (u32, u32)) -> Option<Self> {
        let pitch = 1.0 / (FINE * mm_per_px);
        let margin = MARGIN / mm_per_px;
        let from = |v: f64| (v - margin).max(0.0) as u32;
        let origin = (from(low.x), from(low.y));
        let to = |v: f64, limit: u32| (v + margin).min(f64::from(limit)) as u32;
        let end = (to(high.x, photo.0), to(high.y, photo.1));
        let size = (end.0.saturating_sub(origin.0), end.1.saturating_sub(origin.1));
        let places = f64::from(size.0) * f64::from(size.1) / (pitch * pitch);
        (shows_heads(mm_per_px) && places <= MOST_PLACES).then_some(Self { origin, size, pitch })
    }

    /// What is seen in it: of `seen` where that is about as fine as the network's input, else of the photo.
    fn block(&self, scene: &Scene<'_>, seen: &Block) -> Block {
        if SEEN.contains(&(self.pitch / f64::from(seen.step))) {
            let (from, size) = (self.origin, self.size);
            let first = (from.0 / seen.step, from.1 / seen.step);
            let past = |from: u32, size: u32, limit: usize| ((from + size).div_ceil(seen.step) as usize).min(limit);
            return seen.part(first, (past(from.0, size.0, seen.width), past(from.1, size.1, seen.height)));
        }
        let step = (self.pitch as u32).max(1);
        let blocks = |pixels: u32| (pixels / step).max(1) as usize;
        let size = (blocks(self.size.0), blocks(self.size.1));
        Block::close_up(scene.photo, scene.floor, self.origin, step, size)
    }
}

/// What the network says, and where: see `training/heads.py` for what each channel means.
pub(super) struct Look {
    /// Left and top of the rectangle, in pixels of the survey.
    at: Point,
    /// Pixels of the survey a place.
    pitch: f64,
    /// Pixels of the survey a millimetre.
    per_mm: f64,
    said: Planes,
}

impl Look {
    /// Looks at the rectangle from `low` to `high`, in pixels of the survey, and a little about it; `None` where the card gives no
    /// millimetres, or too few pixels a millimetre.
    pub(super) fn at(
        scene: &Scene<'_>,
        survey: &Survey,
        (low, high): (Point, Point),
        spare: &mut Spare,
    ) -> Option<Self> {
        let coarse = f64::from(survey.block.step);
        let (low, high) = (low * coarse, high * coarse);
        let mm_per_px = scene.mm_per_px((low + high) * 0.5)?;
        let window = Window::about(low, high, mm_per_px, (scene.photo.width, scene.photo.height))?;
        let block = window.block(scene, &survey.block);
        let said = pass(&picture(&block, window.pitch / f64::from(block.step)), spare);
        let at = Point::new(f64::from(block.origin.0), f64::from(block.origin.1)) * (1.0 / coarse);
        Some(Self { at, pitch: 2.0 * window.pitch / coarse, per_mm: 1.0 / (mm_per_px * coarse), said })
    }

    /// What is said at place number `k`, row by row.
    fn said_at(&self, k: usize) -> &[f32] {
        self.said.at(k % self.said.width, k / self.said.width)
    }

    fn sure(&self, k: usize) -> f32 {
        1.0 / (1.0 + (-self.said_at(k)[0]).exp())
    }

    /// The heads, the surest first, and of those in one place only the surest.
    pub(super) fn heads(&self) -> Vec<Head> {
        let (width, height) = (self.said.width, self.said.height);
        let greatest = |k: usize| {
            let (x, y) = (k % width, k / width);
            let rows = y.saturating_sub(REACH)..(y + REACH + 1).min(height);
            let columns = x.saturating_sub(REACH)..(x + REACH + 1).min(width);
            let mut about = rows.flat_map(|y| columns.clone().map(move |x| y * width + x));
            about.all(|q| self.said_at(q)[0] <= self.said_at(k)[0])
        };
        let named = (0..width * height).filter(|&k| self.sure(k) >= FAINT && greatest(k));
        let mut found: Vec<Head> = named.map(|k| self.head(k)).collect();
        found.sort_by(|a, b| b.sure.total_cmp(&a.sure));
        let mut heads: Vec<Head> = Vec::new();
        for head in found {
            if heads.iter().all(|h| h.at.distance(head.at) > APART * h.length.max(head.length)) {
                heads.push(head);
            }
        }
        heads
    }

    fn head(&self, k: usize) -> Head {
        let said = |channel: usize| f64::from(self.said_at(k)[channel]);
        let place = Point::new((k % self.said.width) as f64 + 0.5, (k / self.said.width) as f64 + 0.5);
        Head {
            at: self.at + place * self.pitch,
            turn: said(2).atan2(said(1)),
            length: LENGTH * said(3).exp() * self.per_mm,
            sure: self.sure(k),
        }
    }

    /// What is said of a pixel of the survey; `None` outside of what was looked at.
    fn said_of(&self, p: Point) -> Option<&[f32]> {
        let place = (p - self.at) * (1.0 / self.pitch);
        let inside = |v: f64, size: usize| v >= 0.0 && v < size as f64;
        let known = inside(place.x, self.said.width) && inside(place.y, self.said.height);
        known.then(|| self.said.at(place.x as usize, place.y as usize))
    }

    /// Where the middle of the fish lies to which a pixel of the survey belongs, both in pixels of the survey; `None` outside of
    /// what was looked at.
    pub(super) fn middle(&self, p: Point) -> Option<Point> {
        let said = self.said_of(p)?;
        Some(p + Point::new(f64::from(said[6]), f64::from(said[7])) * (WAY * self.per_mm))
    }

    /// Whether a pixel of the survey rather belongs to a fish than not.
    pub(super) fn is_fish(&self, p: Point) -> bool {
        self.said_of(p).is_some_and(|said| said[4] > 0.0)
    }
}

/// A block as the network sees it, `pitch` of its pixels a place.
pub(super) fn picture(block: &Block, pitch: f64) -> Planes {
    let places = |n: usize| ((n as f64 / pitch) as usize).div_ceil(MULTIPLE).max(1) * MULTIPLE;
    let mut out = Planes::new(places(block.width), places(block.height), INPUTS);
    let width = out.width;
    let across: Vec<Between> = (0..width).map_while(|x| Between::at(x, pitch, block.width)).collect();
    for y in 0..out.height {
        let Some(down) = Between::at(y, pitch, block.height) else { break };
        for (place, across) in out.row_mut(y).chunks_exact_mut(INPUTS).zip(&across) {
            let seen = |x: usize, y: usize| channels(block.pixels[y * block.width + x]);
            let upper = across.mean(seen(across.low, down.low), seen(across.high, down.low));
            let lower = across.mean(seen(across.low, down.high), seen(across.high, down.high));
            place.iter_mut().zip(down.mean(upper, lower)).for_each(|(v, seen)| *v = seen / UNIT);
        }
    }
    out
}

/// A place between two pixels of a row.
struct Between {
    low: usize,
    high: usize,
    /// Share of the higher one.
    share: f32,
}

impl Between {
    /// Place number `i` of those `pitch` pixels apart; `None` beyond the last pixel.
    fn at(i: usize, pitch: f64, pixels: usize) -> Option<Self> {
        let last = pixels.checked_sub(1).filter(|_| (i as f64) * pitch < pixels as f64)?;
        let v = ((i as f64 + 0.5) * pitch - 0.5).max(0.0);
        let low = (v as usize).min(last);
        Some(Self { low, high: (low + 1).min(last), share: (v - low as f64).min(1.0) as f32 })
    }

    fn mean(&self, low: [f32; INPUTS], high: [f32; INPUTS]) -> [f32; INPUTS] {
        std::array::from_fn(|i| low[i] + (high[i] - low[i]) * self.share)
    }
}

fn channels(d: Difference) -> [f32; INPUTS] {
    [d.lightness, d.tint[0], d.tint[1]]
}

#[cfg(test)]
mod tests {
    use super::*;

    const PHOTO: (u32, u32) = (4000, 3000);
    const LOW: Point = Point { x: 1000.0, y: 1000.0 };
    const HIGH: Point = Point { x: 1400.0, y: 1200.0 };

    #[test]
    fn a_window_has_a_margin_and_stays_in_the_photo() {
        let window = Window::about(LOW, HIGH, 0.05, PHOTO).unwrap();
        assert_eq!((window.origin, window.size), ((950, 950), (500, 300)));
        let window = Window::about(Point::default(), Point::new(4000.0, 100.0), 0.02, PHOTO).unwrap();
        assert_eq!((window.origin, window.size), ((0, 0), (4000, 225)));
    }

    #[test]
    fn nobody_looks_where_a_head_does_not_show_or_at_half_a_square_metre() {
        assert!(Window::about(LOW, HIGH, 0.3, PHOTO).is_some());
        assert!(Window::about(LOW, HIGH, 0.4, PHOTO).is_none());
        assert!(Window::about(LOW, HIGH, 2.0, PHOTO).is_none());
        assert!(Window::about(Point::default(), Point::new(4000.0, 3000.0), 0.2, PHOTO).is_none());
    }
}
