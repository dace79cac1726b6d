//! Heads, told by a small network that was taught on drawn trays: a fry that lies across a grown fish has hardly an outline of its own,
//! but it has a head.

mod convolve;
mod glimpse;
mod layers;
mod look;
mod net;
mod planes;
#[cfg(test)]
mod reference;

use crate::geometry::Point;

use super::Scene;
use super::seek::{Blob, Survey};
use super::spindle::Spindle;
pub(super) use glimpse::likely;
use look::Look;
pub(super) use look::shows_heads;
pub(super) use planes::Spare;

/// A head seen from above, in pixels of the survey.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Head {
    /// A tenth of the fish's length behind its snout.
    pub(super) at: Point,
    /// Direction from the snout to the tail, radians.
    pub(super) turn: f64,
    /// Total length of the fish.
    pub(super) length: f64,
    /// How sure the network is, 0 to 1.
    pub(super) sure: f32,
}

/// What is seen of the fish in a group of things.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Heads {
    /// Their heads, sure or not, the surest first.
    pub(super) heads: Vec<Head>,
    /// For each thing, its pixels by their numbers in its grid, each with the middle of the fish to which it is seen to belong, in
    /// pixels of the survey; nothing where fewer than two heads are sure.
    pub(super) middles: Vec<Vec<(usize, Point)>>,
}

/// How sure the network must be of a head that parts a thing into fish (starting value, between what drawn trays and another renderer's
/// photos ask for).
const SURE: f32 = 0.4;
/// Share of the length that the place of a head lies behind the snout.
const BEHIND: f64 = 0.1;
/// Squared length over area of the fish behind a head (common descriptions, no source).
const SLENDERNESS: f64 = 7.0;

impl Head {
    /// Whether it is sure enough to part things into fish.
    pub(super) fn is_sure(&self) -> bool {
        self.sure >= SURE
    }

    /// The fish behind it.
    pub(super) fn fish(&self) -> Spindle {
        let back = Point::new(self.turn.cos(), self.turn.sin());
        let middle = self.at + back * ((0.5 - BEHIND) * self.length);
        Spindle::new(middle, self.turn, self.length, self.length * self.length / SLENDERNESS)
    }

    /// Whether it lies in a thing or at its outline.
    pub(super) fn lies_in(&self, blob: &Blob) -> bool {
        const NEAR: f64 = 2.0;
        let grid = &blob.grid;
        let corner = Point::new(blob.at.0 as f64, blob.at.1 as f64);
        let place = |k: usize| Point::new((k % grid.width) as f64 + 0.5, (k / grid.width) as f64 + 0.5);
        let (at, size) = (self.at - corner, Point::new(grid.width as f64, grid.height as f64));
        let near = |v: f64, size: f64| (-NEAR..size + NEAR).contains(&v);
        near(at.x, size.x) && near(at.y, size.y) && grid.indices().any(|k| place(k).distance(at) <= NEAR)
    }
}

impl Heads {
    /// Those that are sure enough to part things into fish.
    pub(super) fn sure(&self) -> impl Iterator<Item = &Head> {
        self.heads.iter().filter(|h| h.is_sure())
    }

    /// How sure the surest head in a thing is, 0 to 1.
    pub(super) fn surest_in(&self, blob: &Blob) -> f32 {
        self.heads.iter().find(|h| h.lies_in(blob)).map_or(0.0, |h| h.sure)
    }
}

/// What is seen of the fish in some things; `None` where the card gives no millimetres.
pub(super) fn heads(scene: &Scene<'_>, survey: &Survey, things: &[Blob]) -> Option<Heads> {
    let look = Look::at(scene, survey, about(things)?, &mut Spare::default())?;
    let mut heads = look.heads();
    heads.retain(|h| things.iter().any(|b| h.lies_in(b)));
    let mut seen = Heads { heads, middles: Vec::new() };
    if seen.sure().count() > 1 {
        let width = survey.block.width;
        let middle = |b: &Blob, k: usize| Some((k, look.middle(survey.place(b.place(k, width)))?));
        seen.middles = things.iter().map(|b| b.grid.indices().filter_map(|k| middle(b, k)).collect()).collect();
    }
    Some(seen)
}

/// The rectangle about some things, in pixels of the survey.
fn about(things: &[Blob]) -> Option<(Point, Point)> {
    let low = Point::new(things.iter().map(|b| b.at.0).min()? as f64, things.iter().map(|b| b.at.1).min()? as f64);
    let right = things.iter().map(|b| b.at.0 + b.grid.width).max()? as f64;
    let bottom = things.iter().map(|b| b.at.1 + b.grid.height).max()? as f64;
    Some((low, Point::new(right, bottom)))
}

/// What the network takes for fish in a rectangle, both in pixels of the survey.
pub(super) struct Fish {
    /// Places of the survey, each once.
    pub(super) places: Vec<usize>,
    /// Sure heads.
    pub(super) heads: Vec<Point>,
}

/// Left and top, right and bottom, in pixels of the survey.
pub(super) type Rectangle = ((usize, usize), (usize, usize));

/// What is seen in a rectangle; `None` where nobody can look.
pub(super) fn fish(scene: &Scene<'_>, survey: &Survey, (low, high): Rectangle, spare: &mut Spare) -> Option<Fish> {
    let corner = |(x, y): (usize, usize)| Point::new(x as f64, y as f64);
    let look = Look::at(scene, survey, (corner(low), corner(high)), spare)?;
    let width = survey.block.width;
    let all = (low.1..high.1).flat_map(|y| (low.0..high.0).map(move |x| y * width + x));
    let places = all.filter(|&k| survey.inside.on[k] && look.is_fish(survey.place(k))).collect();
    let heads = look.heads().into_iter().filter(Head::is_sure).map(|h| h.at).collect();
    Some(Fish { places, heads })
}
