//! The place of a tail fan behind a fish's stalk, and whether all of it differs from the floor beside it.

use std::collections::HashSet;

use crate::geometry::Point;
use crate::stats::slope::median;

use super::differ::Difference;
use super::evidence::Kind;
use super::seek::{Blob, Survey};
use super::spine::Spine;

/// Length of a tail fan in lengths of the rest of the fish (common descriptions, no source).
const LENGTH: f64 = 0.3;
/// Half its opening angle, as a tangent: 24°, and 32° for one spread wide.
const OPENING: (f64, f64) = (0.45, 0.62);
/// Half the width at its root at least, in lengths of the fan.
const ROOT: f64 = 0.15;
/// From where to where the fan's middle is compared with the floor, in its lengths, and how much of its width.
const CORE: (std::ops::Range<f64>, f64) = (0.2..1.0, 0.9);
/// The floor on either side of it: from so many half widths on, so many of its lengths wide.
const BESIDE: (f64, f64) = (1.6, 0.45);
/// The floor behind it, in its lengths, and how far to either side.
const BEHIND: (std::ops::Range<f64>, f64) = (1.35..1.75, 0.5);
/// How much darker than that floor, or otherwise tinted, each quarter of a clear fan is, in limits from where on a single pixel differs:
/// means of a hundred pixels and more waver by a tenth (starting values, tuned on the renderer's tuning seeds).
const DARKER: f64 = 0.36;
/// See [`DARKER`].
const TINTED: f64 = 0.42;
/// Largest share of things in it.
const THINGS: f64 = 0.15;
/// Fewest pixels of a quarter, and of the floor it is compared with.
const LEAST: (usize, usize) = (3, 6);

/// Where the fan behind the far end of a spine must lie, in pixels of the survey.
#[derive(Debug)]
pub(super) struct Fan {
    root: Point,
    along: Point,
    /// Its length.
    pub(super) length: f64,
    stalk: f64,
}

impl Fan {
    /// Behind the far end of a blob's spine, whose stalk is `width` wide there.
    pub(super) fn behind(blob: &Blob, spine: &Spine, width: f64) -> Self {
        let length = LENGTH * spine.length();
        // A little inside the outline, so that fan and stalk hold together.
        let root = spine.at(spine.span.1 - 0.1 * length);
        let ahead = spine.at(spine.span.1 + length) - root;
        let along = ahead * (1.0 / ahead.x.hypot(ahead.y).max(1e-9));
        let corner = Point::new(blob.at.0 as f64, blob.at.1 as f64);
        Self { root: root + corner, along, length, stalk: width / 2.0 }
    }

    /// Distance of pixel `k` from the root along the fan, and to its right.
    fn locate(&self, survey: &Survey, k: usize) -> (f64, f64) {
        let d = survey.place(k) - self.root;
        (d.x * self.along.x + d.y * self.along.y, d.y * self.along.x - d.x * self.along.y)
    }

    /// Its pixels, spread wide, with their distances from its root.
    pub(super) fn spread(&self, survey: &Survey) -> Vec<(usize, f64)> {
        let inside = |k: usize| {
            let (s, t) = self.locate(survey, k);
            ((0.0..1.1 * self.length).contains(&s) && t.abs() <= self.stalk + OPENING.1 * s).then_some((k, s))
        };
        survey.around(self.root, self.length * (1.0 + OPENING.1)).filter_map(inside).collect()
    }

    /// Its pixels where each of its quarters differs from the floor beside and behind it: a shadow lies on one side, goes on behind
    /// or ends before. `None` where one does not.
    pub(super) fn faint(&self, survey: &Survey, own: &HashSet<usize>) -> Option<Vec<usize>> {
        let mut seen = Seen::default();
        let near = survey.around(self.root, 2.2 * self.length).filter(|k| survey.inside.on[*k] && !own.contains(k));
        near.for_each(|k| seen.add(survey, k, self));
        let differs = seen.quarters.into_iter().zip(seen.beside).all(|(quarter, mut floor)| {
            floor.extend(&seen.behind);
            differs(survey, &quarter, &floor)
        });
        (differs && seen.things as f64 <= THINGS * seen.fan.len() as f64).then_some(seen.fan)
    }
}

/// The pixels in and about a fan.
#[derive(Debug, Default)]
struct Seen {
    fan: Vec<usize>,
    things: usize,
    /// Near left, near right, far left, far right.
    quarters: [Vec<usize>; 4],
    /// The floor beside each quarter.
    beside: [Vec<usize>; 4],
    behind: Vec<usize>,
}

impl Seen {
    fn add(&mut self, survey: &Survey, k: usize, fan: &Fan) {
        let (s, t) = fan.locate(survey, k);
        let (share, across) = (s / fan.length, t.abs());
        let half = fan.stalk.max(ROOT * fan.length) + OPENING.0 * s;
        let quarter = 2 * usize::from(share > 0.6) + usize::from(t > 0.0);
        let thing = survey.kinds[k] == Kind::Thing;
        let beside = BESIDE.0 * half + 1.0;
        if (0.0..CORE.0.end).contains(&share) && across <= half {
            self.fan.push(k);
            self.things += usize::from(thing);
        }
        if CORE.0.contains(&share) && across <= CORE.1 * half {
            self.quarters[quarter].push(k);
        } else if !thing && CORE.0.contains(&share) && (beside..beside + BESIDE.1 * fan.length).contains(&across) {
            self.beside[quarter].push(k);
        } else if !thing && BEHIND.0.contains(&share) && across < BEHIND.1 * fan.length {
            self.behind.push(k);
        }
    }
}

/// Whether pixels differ from those of the floor, by the medians of lightness and tint.
fn differs(survey: &Survey, pixels: &[usize], floor: &[usize]) -> bool {
    if pixels.len() < LEAST.0 || floor.len() < LEAST.1 {
        return false;
    }
    let middle = |of: &[usize], value: &dyn Fn(&Difference) -> f32| {
        median(&mut of.iter().map(|k| f64::from(value(&survey.block.pixels[*k]))).collect::<Vec<_>>())
            .unwrap_or_default()
    };
    let difference = |value: &dyn Fn(&Difference) -> f32| middle(pixels, value) - middle(floor, value);
    let tint = difference(&|d| d.tint[0]).hypot(difference(&|d| d.tint[1]));
    let limits = survey.limits;
    difference(&|d| d.lightness) < -DARKER * f64::from(limits.lightness) || tint > TINTED * f64::from(limits.tint)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The fan behind a bar that ends at 60, on a floor that is darker by `shade` where it says.
    fn faint(shade: impl Fn(f64, f64) -> f32) -> Option<usize> {
        let mut survey = Survey::bare(120, 80);
        let own: Vec<usize> =
            (0..120 * 80).filter(|k| (10..60).contains(&(k % 120)) && (38..42).contains(&(k / 120))).collect();
        for k in 0..survey.kinds.len() {
            let p = survey.place(k) - Point::new(60.0, 40.0);
            // Noise of a unit either way, in a pattern without quarters.
            let noise = [1.0, -1.0, 0.5, -0.5, 0.0][(k + 2 * (k / 120)) % 5];
            survey.block.pixels[k].lightness = noise - shade(p.x, p.y);
        }
        let blob = Blob::of(&survey, own.clone(), Vec::new());
        let spine = blob.spine().unwrap();
        let right = spine.at(spine.span.1).x > spine.at(spine.span.0).x;
        let fan = Fan::behind(&blob, &if right { spine.clone() } else { spine.reversed() }, 4.0);
        fan.faint(&survey, &own.into_iter().collect()).map(|places| places.len())
    }

    #[test]
    fn a_fan_fainter_than_the_noise_is_seen_as_a_whole() {
        let fan = |x: f64, y: f64| if (0.0..15.0).contains(&x) && y.abs() < 2.0 + 0.6 * x { 1.5 } else { 0.0 };
        assert!(faint(fan).is_some_and(|n| n > 100));
    }

    #[test]
    fn a_bare_floor_a_shadow_on_one_side_and_one_that_goes_on_are_no_fan() {
        assert_eq!(faint(|_, _| 0.0), None);
        assert_eq!(faint(|_, y| if y > 0.0 { 4.0 } else { 0.0 }), None);
        assert_eq!(faint(|x, _| if x > 0.0 { 4.0 } else { 0.0 }), None);
        assert_eq!(faint(|x, _| if x < 8.0 { 4.0 } else { 0.0 }), None);
    }
}
