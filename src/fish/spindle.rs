//! A fish as a model: a bent spindle with a tail fan, fitted to pixels.
#![expect(clippy::cast_possible_truncation, reason = "places are clamped to the grid before the cast")]

use std::array::from_fn;
use std::ops::Range;

use super::worth::{Gains, Worth};
use crate::geometry::Point;

/// Half width along a fish from snout (0) to tail tip (1) in equal steps, relative to its widest place: the common outline of
/// small livebearers seen from above, with a fan of middling breadth (common descriptions, no source).
const OUTLINE: [f32; 21] = [
    0.15, 0.55, 0.76, 0.9, 0.98, 1.0, 0.99, 0.96, 0.91, 0.84, 0.75, 0.66, 0.57, 0.49, 0.42, 0.4, 0.5, 0.68, 0.85, 1.0,
    0.9,
];
/// From which share of the length on there is tail fan: it may be clear, so that bare floor there speaks little against a fish.
const FAN: f64 = 0.76;
/// What bare floor in the fan costs, as a share of what it costs in the body (starting value).
const CLEAR_FAN: f32 = 0.3;

/// A bent spindle.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Spindle {
    /// Middle of its axis.
    pub(super) middle: Point,
    /// Direction from snout to tail at the middle, radians.
    pub(super) turn: f64,
    /// How far the axis turns from end to end, radians.
    pub(super) bend: f64,
    /// Snout to tail tip.
    pub(super) length: f64,
    /// Greatest half width of the body.
    pub(super) half_width: f64,
}

/// What covering a place outside the rectangle is worth.
const OUTSIDE: f32 = -1.0;

/// What is expected of a fish's size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Expected {
    /// Total length in places.
    pub(super) length: f64,
    /// Half width over length.
    pub(super) aspect: f64,
}

/// Standard deviations of the logarithms of length and aspect about what is expected; for lengths below it half as wide again, since fry
/// lie among adults (starting values, tuned on the renderer's tuning seeds).
const SPREAD: (f64, f64) = (0.45, 0.22);
/// Farthest a fish bends, radians, standard deviation (starting value).
const BEND: f64 = 0.6;
/// Weight of what is expected against what is seen, as a share of the spindle's area for one standard deviation (starting
/// value, tuned on the renderer's tuning seeds).
const WEIGHT: f64 = 0.06;

impl Expected {
    /// A fish of some length and slenderness (squared length over area).
    pub(super) fn new(length: f64, slenderness: f64) -> Self {
        Self { length, aspect: 0.5 / (mean_width() * slenderness) }
    }

    /// Area of a spindle of that size.
    pub(super) fn area(&self) -> f64 {
        area(self.length, self.aspect * self.length)
    }
}

/// Mean of the outline, relative to the widest place.
fn mean_width() -> f64 {
    OUTLINE.iter().map(|w| f64::from(*w)).sum::<f64>() / OUTLINE.len() as f64
}

fn area(length: f64, half_width: f64) -> f64 {
    2.0 * half_width * length * mean_width()
}

impl Spindle {
    /// A straight one of some length and area about `middle`, its tail in the direction `turn`.
    pub(super) fn new(middle: Point, turn: f64, length: f64, area: f64) -> Self {
        Self { middle, turn, bend: 0.0, length, half_width: 0.5 * area / (length * mean_width()) }
    }

    /// Area it covers.
    pub(super) fn area(&self) -> f64 {
        area(self.length, self.half_width)
    }

    /// Share of the length from the snout, and distance from the axis over the half width there, of a place; the axis is bent
    /// as a parabola.
    fn locate(&self, p: Point, (sin, cos): (f64, f64)) -> (f64, f64) {
        let d = p - self.middle;
        let along = d.x * cos + d.y * sin;
        let across = d.y * cos - d.x * sin;
        let bow = self.bend / self.length / 2.0;
        // The parabola's middle keeps to the chord, so that a bend does not shift the fish.
        let off = across - bow * (along * along - self.length * self.length / 12.0);
        let u = along / self.length + 0.5;
        (u, off / (self.half_width * f64::from(OUTLINE[slot(u)])))
    }

    /// The spindle on a grid `k` times as fine whose origin lies at `origin`.
    pub(super) fn scaled(&self, k: f64, origin: (usize, usize)) -> Self {
        let middle = self.middle * k + Point::new(origin.0 as f64, origin.1 as f64);
        Self { middle, length: self.length * k, half_width: self.half_width * k, ..*self }
    }

    /// Share of the length from the snout at which a place lies.
    pub(super) fn share(&self, p: Point) -> f64 {
        self.locate(p, self.turn.sin_cos()).0
    }

    /// How far outside the spindle a place is, in half widths: below 1 inside.
    pub(super) fn distance(&self, p: Point) -> f64 {
        let (u, v) = self.locate(p, self.turn.sin_cos());
        let over = (u - u.clamp(0.0, 1.0)).abs() * self.length / self.half_width;
        v.abs().max(0.0) + over
    }

    /// Places that may be nearer to it than `margin`, a row and a stretch of it each: those in the turned rectangle around its
    /// bent axis.
    pub(super) fn rows(
        &self,
        margin: f64,
        (sin, cos): (f64, f64),
    ) -> impl Iterator<Item = (isize, Range<isize>)> + use<> {
        let half = 0.5 * self.length + margin;
        // So far the axis bends away from its chord at most.
        let band = self.half_width + margin + (self.bend / self.length / 2.0).abs() * half * half;
        let rows = half * sin.abs() + band * cos.abs();
        let (from, to) = (first(self.middle.y - rows), last(self.middle.y + rows));
        let middle = self.middle;
        let (long, broad) = (Strip::of(cos, half), Strip::of(-sin, band));
        (from..=to).map(move |y| {
            let dy = y as f64 + 0.5 - middle.y;
            let (along, across) = (long.within(dy * sin), broad.within(dy * cos));
            let lo = larger(larger(along.0, across.0), -half - band);
            let hi = -larger(larger(-along.1, -across.1), -half - band);
            (y, first(middle.x + lo)..last(middle.x + hi) + 1)
        })
    }

    /// What it is worth: the places it covers, less what is unusual about its size.
    pub(super) fn worth(&self, map: &Worth, expected: Expected) -> f64 {
        let rotation = self.turn.sin_cos();
        let cover = Cover::of(self, rotation);
        let rows = self.rows(0.0, rotation);
        let sum: f64 = rows.map(|(y, across)| cover.worth_of_row(map.row(y), y, across)).sum();
        sum - WEIGHT * self.area() * self.surprise(expected)
    }

    /// What it is worth, if that is more than `least`; as soon as the rows that are left cannot make up for what is missing, no more
    /// is counted. Nine of ten spindles that are tried are no better, and half of the work on them is saved.
    fn worth_above(&self, map: &Worth, gains: &Gains, expected: Expected, least: f64) -> Option<f64> {
        // Sums may differ in their last digits.
        const SLACK: f64 = 1e-6;
        let rotation = self.turn.sin_cos();
        let cover = Cover::of(self, rotation);
        let cost = WEIGHT * self.area() * self.surprise(expected);
        let rows: Vec<_> = self.rows(0.0, rotation).map(|(y, across)| (gains.within(y, &across), y, across)).collect();
        let mut left: f64 = rows.iter().map(|row| row.0).sum();
        let mut sum = 0.0;
        for (gain, y, across) in rows {
            if sum + left - cost < least - SLACK {
                return None;
            }
            left -= gain;
            sum += cover.worth_of_row(map.row(y), y, across);
        }
        Some(sum - cost).filter(|worth| *worth > least)
    }

    /// How unusual its size and bend are: squared deviations in units of variance.
    fn surprise(&self, expected: Expected) -> f64 {
        let ratio = (self.length / expected.length).ln();
        let length = ratio / if ratio > 0.0 { SPREAD.0 } else { 1.5 * SPREAD.0 };
        let aspect = (self.half_width / self.length / expected.aspect).ln() / SPREAD.1;
        length * length + aspect * aspect + (self.bend / BEND).powi(2)
    }

    /// Changed by `by` steps in parameter number `which`.
    fn moved(mut self, which: usize, by: f64) -> Self {
        match which {
            0 => self.middle = self.middle + Point::new(self.turn.cos(), self.turn.sin()) * (by * 0.15 * self.length),
            1 => self.middle = self.middle + Point::new(-self.turn.sin(), self.turn.cos()) * (by * self.half_width),
            2 => self.turn += by * 0.25,
            3 => self.bend += by * 0.5,
            4 => self.length *= (by * 0.2).exp(),
            _ => self.half_width *= (by * 0.2).exp(),
        }
        self
    }

    /// Climbs to the best spindle nearby, one parameter at a time in shrinking steps (coordinate search).
    pub(super) fn refined(self, map: &Worth, expected: Expected) -> (f64, Self) {
        const PARAMETERS: usize = 6;
        const HALVINGS: usize = 3;
        const ROUNDS: usize = 6;
        let gains = Gains::of(map);
        let mut best = (self.worth(map, expected), self);
        let mut step = 1.0;
        for _ in 0..HALVINGS {
            // Every parameter is tried both ways in turn, until none has helped since the last that did.
            let mut in_vain = 0;
            for which in (0..PARAMETERS).cycle().take(ROUNDS * PARAMETERS) {
                let mut tried = [step, -step].into_iter().map(|by| best.1.moved(which, by));
                let better = tried.find_map(|s| Some((s.worth_above(map, &gains, expected, best.0)?, s)));
                in_vain = if better.is_some() { 0 } else { in_vain + 1 };
                best = better.unwrap_or(best);
                if in_vain == PARAMETERS {
                    break;
                }
            }
            step /= 2.0;
        }
        best
    }
}

/// A spindle made ready for asking of many places whether it covers them: [`Spindle::locate`] without its divisions.
struct Cover {
    middle: Point,
    rotation: (f64, f64),
    /// Share of the length a place.
    per_place: f64,
    /// The axis is `bow` times the squared distance along it, less `chord`, off its chord.
    bow: f64,
    chord: f64,
    /// Half widths in the steps of [`OUTLINE`]; as many as [`Cover::SLOTS`], so that no place need be checked against their number.
    half_widths: [f64; Self::SLOTS],
}

impl Cover {
    const SLOTS: usize = 32;

    fn of(spindle: &Spindle, rotation: (f64, f64)) -> Self {
        Self {
            middle: spindle.middle,
            rotation,
            per_place: 1.0 / spindle.length,
            bow: spindle.bend / spindle.length / 2.0,
            chord: spindle.length * spindle.length / 12.0,
            half_widths: from_fn(|i| spindle.half_width * f64::from(OUTLINE[i.min(OUTLINE.len() - 1)])),
        }
    }

    /// What the covered places of a stretch of row `y` are worth.
    fn worth_of_row(&self, row: &[f32], y: isize, across: Range<isize>) -> f64 {
        let mut sum = 0.0;
        for x in across {
            let Some(share) = self.share(x, y) else { continue };
            let value = row.get(x.cast_unsigned()).copied().unwrap_or(OUTSIDE);
            sum += f64::from(if share > FAN && value < 0.0 { CLEAR_FAN * value } else { value });
        }
        sum
    }

    /// Share of the length from the snout of a place that is covered; `None` for any other.
    #[inline]
    fn share(&self, x: isize, y: isize) -> Option<f64> {
        let (sin, cos) = self.rotation;
        let (dx, dy) = (x as f64 + 0.5 - self.middle.x, y as f64 + 0.5 - self.middle.y);
        let along = dx * cos + dy * sin;
        let off = dy * cos - dx * sin - self.bow * (along * along - self.chord);
        let share = along * self.per_place + 0.5;
        ((0.0..=1.0).contains(&share) && off.abs() <= self.half_widths[step(share) % Self::SLOTS]).then_some(share)
    }
}

/// First and last place whose centre may lie at or beyond, at or before a coordinate.
fn first(v: f64) -> isize {
    (v - 0.5) as isize - isize::from(v < 0.5)
}

fn last(v: f64) -> isize {
    (v - 0.5) as isize + isize::from(v > 0.5)
}

/// The larger of two numbers that are some: asking `f64::max` costs five times as much, for the sake of those that are none.
#[inline]
fn larger(a: f64, b: f64) -> f64 {
    if a > b { a } else { b }
}

/// The places where |slope · x + offset| is at most `limit`, for many offsets.
#[derive(Debug, Clone, Copy)]
struct Strip {
    /// 1 / slope, or a great number where x hardly matters.
    inverse: f64,
    half_width: f64,
}

impl Strip {
    fn of(slope: f64, limit: f64) -> Self {
        let inverse = 1.0 / slope.abs().max(1e-9).copysign(slope);
        Self { inverse, half_width: limit * inverse.abs() }
    }

    /// From which to which x.
    fn within(self, offset: f64) -> (f64, f64) {
        let middle = -offset * self.inverse;
        (middle - self.half_width, middle + self.half_width)
    }
}

/// The step of the outline nearest to a share of the length.
#[inline]
fn slot(u: f64) -> usize {
    step(u).min(OUTLINE.len() - 1)
}

/// The same of a share that is known not to lie beyond the tail.
#[inline]
fn step(u: f64) -> usize {
    usize::from((u * (OUTLINE.len() - 1) as f64 + 0.5) as u8)
}

#[cfg(test)]
mod tests {
    use super::*;

    proptest::proptest! {
        /// Counting to the end is the second route.
        #[test]
        fn giving_up_early_loses_no_spindle_that_is_worth_enough(
            value in proptest::collection::vec(-1.0f32..1.0, 30 * 20), turn in -4.0f64..4.0, bend in -1.0f64..1.0,
            middle in (-3.0f64..33.0, -3.0f64..23.0), least in -30.0f64..30.0,
        ) {
            let map = Worth { width: 30, height: 20, value };
            let expected = Expected { length: 18.0, aspect: 0.12 };
            let middle = Point::new(middle.0, middle.1);
            let spindle = Spindle { middle, turn, bend, length: 16.0, half_width: 2.0 };
            let worth = spindle.worth(&map, expected);
            let found = spindle.worth_above(&map, &Gains::of(&map), expected, least);
            proptest::prop_assert_eq!(found, Some(worth).filter(|w| *w > least));
        }

        /// Every place inside the spindle, looked for over the whole square around it, is among those near it.
        #[test]
        fn no_place_inside_is_passed_over(turn in -4.0f64..4.0, bend in -1.5f64..1.5, length in 4.0f64..60.0, aspect in 0.05f64..0.4) {
            let s = Spindle { middle: Point::new(0.3, -0.7), turn, bend, length, half_width: aspect * length };
            for margin in [0.0, s.half_width] {
                let rows = s.rows(margin, turn.sin_cos());
                let near: std::collections::BTreeSet<_> = rows.flat_map(|(y, across)| across.map(move |x| (x, y))).collect();
                for (x, y) in (-90..90).flat_map(|y| (-90..90).map(move |x| (x, y))) {
                    let p = Point::new(x as f64 + 0.5, y as f64 + 0.5);
                    let (u, v) = s.locate(p, turn.sin_cos());
                    let inside = if margin > 0.0 { s.distance(p) <= 1.0 } else { (0.0..=1.0).contains(&u) && v.abs() <= 1.0 };
                    proptest::prop_assert!(!inside || near.contains(&(x, y)), "({x}, {y})");
                }
            }
        }
    }
}
