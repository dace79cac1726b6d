//! The middle line of a shape and its width along it, for bodies straight or bent.
#![expect(clippy::cast_possible_truncation, reason = "bin numbers are clamped before the cast")]

use crate::geometry::Point;

use super::grid::Grid;

/// Most stations along the middle line: a bend of a right angle turns 6° from one to the next.
const STATIONS: usize = 16;
/// Fewest pixels that have a middle line.
const LEAST: usize = 12;

/// A middle line with the shape's pixels placed along and across it.
#[derive(Debug, Clone)]
pub(super) struct Spine {
    /// Stations from one end to the other, in pixels of the grid.
    pub(super) line: Vec<Point>,
    stretches: Vec<Stretch>,
    /// Distance along the line of the shape's foremost pixel (at most 0) and of its last.
    pub(super) span: (f64, f64),
    /// Width of the shape at equal steps over the span, in pixels.
    pub(super) widths: Vec<f64>,
}

impl Spine {
    /// Finds the line; `None` for a shape of fewer than 12 pixels.
    pub(super) fn of(grid: &Grid) -> Option<Self> {
        let pixels: Vec<usize> = grid.indices().collect();
        if pixels.len() < LEAST {
            return None;
        }
        let places: Vec<Point> = pixels.iter().map(|&k| centre(grid, k)).collect();
        let (mut spine, mut along) = Self::along(&places, walked_line(grid, &pixels, &places)?)?;
        // Again about the line's own middle: the walk starts in a corner and cuts corners, the slices do not.
        for _ in 0..2 {
            let line = spine.recentred(&places, &along);
            (spine, along) = Self::along(&places, line)?;
        }
        Some(spine)
    }

    /// Length of the shape along the line.
    pub(super) fn length(&self) -> f64 {
        self.span.1 - self.span.0
    }

    /// Distance along the line and to its right of a place.
    pub(super) fn locate(&self, p: Point) -> (f64, f64) {
        locate(&self.stretches, p)
    }

    /// The place at distance `s` along the line, straight on beyond its ends.
    pub(super) fn at(&self, s: f64) -> Point {
        let mut left = s;
        let last = self.line.len() - 2;
        for (i, pair) in self.line.windows(2).enumerate() {
            let d = pair[0].distance(pair[1]).max(1e-9);
            if left <= d || i == last {
                return pair[0].lerp(pair[1], left / d);
            }
            left -= d;
        }
        self.line[0]
    }

    /// The same line from the other end.
    pub(super) fn reversed(&self) -> Self {
        let mut line = self.line.clone();
        line.reverse();
        let total = polyline_length(&line);
        let mut widths = self.widths.clone();
        widths.reverse();
        Self { stretches: stretches(&line), line, span: (total - self.span.1, total - self.span.0), widths }
    }

    /// The shape along `line`, and how far along it each of its places lies.
    fn along(places: &[Point], line: Vec<Point>) -> Option<(Self, Vec<f64>)> {
        let stretches = stretches(&line);
        let along = distances(&stretches, places);
        let (lo, hi) = along.iter().fold((f64::MAX, f64::MIN), |(a, b), &s| (a.min(s), b.max(s)));
        // A pixel reaches half its side beyond its centre.
        let span = (lo - 0.5, hi + 0.5);
        let length = span.1 - span.0;
        let bins = ((length / 1.5) as usize).clamp(6, 3 * STATIONS);
        let mut widths = vec![0.0; bins];
        for s in &along {
            let t = (s - span.0) / length * bins as f64;
            // Each pixel is spread over its own length, so that narrow bins do not alternate.
            let half = 0.5 * bins as f64 / length;
            spread(&mut widths, t - half, t + half);
        }
        // `spread` gave each pixel a total of one: a bin's sum over its length is the width.
        widths.iter_mut().for_each(|w| *w *= bins as f64 / length);
        (length > 0.0).then_some((Self { line, stretches, span, widths }, along))
    }

    /// The line through the middle of each slice, smoothed; `along` says how far along this one each place lies.
    fn recentred(&self, places: &[Point], along: &[f64]) -> Vec<Point> {
        let n = stations(self.length(), places.len());
        let mut sums = vec![(0.0, 0.0, 0.0); n];
        for (p, s) in places.iter().zip(along) {
            let bin = (((s - self.span.0) / self.length() * n as f64) as usize).min(n - 1);
            let (x, y, w) = sums[bin];
            sums[bin] = (x + p.x, y + p.y, w + 1.0);
        }
        let middles: Vec<Point> = sums.iter().filter(|s| s.2 > 0.0).map(|s| Point::new(s.0 / s.2, s.1 / s.2)).collect();
        if middles.len() < 3 { self.line.clone() } else { straight_ends(smooth(&smooth(&middles))) }
    }
}

/// Stations for a shape of some length and area: two to each body width, so that a ragged outline does not bend the line.
fn stations(length: f64, area: usize) -> usize {
    ((2.0 * length * length / area.max(1) as f64) as usize).clamp(5, STATIONS)
}

/// Centre of grid pixel `k`.
pub(super) fn centre(grid: &Grid, k: usize) -> Point {
    Point::new((k % grid.width) as f64 + 0.5, (k / grid.width) as f64 + 0.5)
}

/// Length of a polyline.
pub(super) fn polyline_length(line: &[Point]) -> f64 {
    line.windows(2).map(|p| p[0].distance(p[1])).sum()
}

/// Adds one, spread evenly over the bins between `from` and `to`.
fn spread(bins: &mut [f64], from: f64, to: f64) {
    let (from, to) = (from.clamp(0.0, bins.len() as f64), to.clamp(0.0, bins.len() as f64));
    let total = (to - from).max(1e-9);
    let (first, last) = (from as usize, (to.ceil() as usize).min(bins.len()));
    for (i, bin) in bins.iter_mut().enumerate().take(last).skip(first) {
        let part = (to.min(i as f64 + 1.0) - from.max(i as f64)).max(0.0);
        *bin += part / total;
    }
}

/// One stretch of a polyline, made ready for many places to be located on it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stretch {
    start: Point,
    /// Unit vector along it.
    along: Point,
    /// Distance along the line of its start, and the range of distances from its start that are on it.
    from: f64,
    low: f64,
    high: f64,
}

/// The stretches of a polyline; the first and the last go straight on beyond its ends.
pub(super) fn stretches(line: &[Point]) -> Vec<Stretch> {
    let mut from = 0.0;
    let last = line.len().saturating_sub(2);
    let stretch = |(i, pair): (usize, &[Point])| {
        let length = pair[0].distance(pair[1]).max(1e-9);
        let low = if i == 0 { f64::MIN } else { 0.0 };
        let high = if i == last { f64::MAX } else { length };
        let out = Stretch { start: pair[0], along: (pair[1] - pair[0]) * (1.0 / length), from, low, high };
        from += length;
        out
    };
    line.windows(2).enumerate().map(stretch).collect()
}

impl Stretch {
    /// Squared distance of a place, its distance along the line, and its signed distance to the right.
    #[inline]
    fn locate(self, p: Point) -> (f64, f64, f64) {
        let v = p - self.start;
        let raw = v.x * self.along.x + v.y * self.along.y;
        // `clamp` would first ask, for every place and stretch anew, whether the limits are in order.
        let s = raw.max(self.low).min(self.high);
        let across = self.along.x * v.y - self.along.y * v.x;
        ((raw - s) * (raw - s) + across * across, self.from + s, across)
    }

    /// Sets, where this is the nearest stretch so far, the squared distance and the distance along the line: without a branch, so
    /// that a processor does several places at once.
    fn take_nearer(self, places: &[Point], nearest: &mut [f64], along: &mut [f64]) {
        for ((place, nearest), along) in places.iter().zip(nearest).zip(along) {
            let (off, s, _) = self.locate(*place);
            *along = if off < *nearest { s } else { *along };
            *nearest = off.min(*nearest);
        }
    }
}

/// Distance along a polyline (straight on beyond its ends) and signed distance to its right.
pub(super) fn locate(stretches: &[Stretch], p: Point) -> (f64, f64) {
    let mut best = (f64::MAX, 0.0, 0.0);
    for here in stretches.iter().map(|s| s.locate(p)) {
        if here.0 < best.0 {
            best = here;
        }
    }
    (best.1, best.2)
}

/// Distances along a polyline of many places, as [`locate`] tells them.
fn distances(stretches: &[Stretch], places: &[Point]) -> Vec<f64> {
    // So many places and what is known of them stay at hand while stretch after stretch is asked.
    const TOGETHER: usize = 256;
    let mut along = vec![0.0; places.len()];
    for (places, along) in places.chunks(TOGETHER).zip(along.chunks_mut(TOGETHER)) {
        let mut nearest = vec![f64::MAX; places.len()];
        stretches.iter().for_each(|stretch| stretch.take_nearer(places, &mut nearest, along));
    }
    along
}

/// Middle line by walking: from the end farthest from the middle, pixels of equal walking distance form slices; `places` are
/// the pixels' centres.
fn walked_line(grid: &Grid, pixels: &[usize], places: &[Point]) -> Option<Vec<Point>> {
    let from_middle = walk(grid, pixels[pixels.len() / 2], pixels);
    let reached = pixels.iter().filter(|&&k| from_middle[k] != u32::MAX).count();
    // A shape in pieces may have its middle in a small one.
    let from_middle =
        if 2 * reached < pixels.len() { walk(grid, in_largest_piece(grid)?, pixels) } else { from_middle };
    let first = pixels.iter().copied().filter(|&k| from_middle[k] != u32::MAX).max_by_key(|&k| from_middle[k])?;
    let steps = walk(grid, first, pixels);
    let far = pixels.iter().map(|&k| steps[k]).filter(|s| *s != u32::MAX).max()?;
    let bins = stations(f64::from(far), pixels.len()).min(far as usize / 2 + 1).max(2);
    let mut sums = vec![(0.0, 0.0, 0.0); bins];
    for (&k, p) in pixels.iter().zip(places).filter(|(k, _)| steps[**k] != u32::MAX) {
        let bin = (steps[k] as usize * bins / (far as usize + 1)).min(bins - 1);
        sums[bin] = (sums[bin].0 + p.x, sums[bin].1 + p.y, sums[bin].2 + 1.0);
    }
    let points: Vec<Point> = sums.iter().filter(|s| s.2 > 0.0).map(|s| Point::new(s.0 / s.2, s.1 / s.2)).collect();
    (points.len() >= 2).then(|| smooth(&points))
}

fn in_largest_piece(grid: &Grid) -> Option<usize> {
    let largest = grid.pieces().into_iter().max_by_key(Vec::len)?;
    largest.get(largest.len() / 2).copied()
}

/// Walking distance from `start` within the set, by turns to four and to eight neighbours: an octagon for a circle
/// (Rosenfeld & Pfaltz 1968). Where only a corner leads on, it is gone round when there is no other way left.
fn walk(grid: &Grid, start: usize, pixels: &[usize]) -> Vec<u32> {
    let mut steps = vec![u32::MAX; grid.on.len()];
    steps[start] = 0;
    let (mut front, mut reached, mut corners) = (vec![start], 1, false);
    while !front.is_empty() {
        let mut next = Vec::new();
        for &k in &front {
            let distance = steps[k] + 1;
            let mut visit = |q: usize| {
                if grid.on[q] && steps[q] == u32::MAX {
                    steps[q] = distance;
                    next.push(q);
                }
            };
            grid.neighbours(k).for_each(&mut visit);
            if corners || distance % 2 == 0 {
                grid.diagonals(k).for_each(&mut visit);
            }
        }
        reached += next.len();
        corners = next.is_empty() && reached < pixels.len();
        front = next;
        if corners {
            let leads_on = |k: &usize| grid.diagonals(*k).any(|q| grid.on[q] && steps[q] == u32::MAX);
            front.extend(pixels.iter().filter(|k| steps[**k] != u32::MAX && leads_on(k)));
        }
    }
    steps
}

/// Carries the line straight on over its two outermost stations at either end: slices there are skewed by whichever corner
/// the walk began in.
fn straight_ends(mut line: Vec<Point>) -> Vec<Point> {
    const REACH: usize = 3;
    for _ in 0..2 {
        if line.len() > REACH + 2 {
            let step = (line[2] - line[2 + REACH]) * (1.0 / REACH as f64);
            line[1] = line[2] + step;
            line[0] = line[1] + step;
        }
        line.reverse();
    }
    line
}

/// Weights ¼ ½ ¼ over neighbours; the ends stay.
fn smooth(line: &[Point]) -> Vec<Point> {
    let mut out = line.to_vec();
    for i in 1..line.len().saturating_sub(1) {
        out[i] = (line[i - 1] + line[i] * 2.0 + line[i + 1]) * 0.25;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn disc_chain(width: usize, height: usize, along: impl Fn(f64) -> (Point, f64)) -> Grid {
        let mut grid = Grid::empty(width, height);
        for i in 0..=400 {
            let (c, r) = along(f64::from(i) / 400.0);
            for k in 0..grid.on.len() {
                if centre(&grid, k).distance(c) <= r {
                    grid.on[k] = true;
                }
            }
        }
        grid
    }

    #[test]
    fn a_straight_bar_has_its_own_length_and_width() {
        let on = (0..20 * 70).map(|k| (5..65).contains(&(k % 70)) && (6..14).contains(&(k / 70))).collect();
        let spine = Spine::of(&Grid { width: 70, height: 20, on }).unwrap();
        assert!((spine.length() - 60.0).abs() < 1.0, "{}", spine.length());
        assert!((spine.widths[spine.widths.len() / 2] - 8.0).abs() < 0.5);
    }

    /// A quarter circle of radius 60: its length by the formula is 94.2, and 12 more at each round end.
    #[test]
    fn a_bent_body_is_measured_along_its_bend() {
        let grid = disc_chain(100, 100, |t| {
            let a = t * std::f64::consts::FRAC_PI_2;
            (Point::new(15.0 + 60.0 * a.sin(), 15.0 + 60.0 * a.cos()), 8.0)
        });
        let spine = Spine::of(&grid).unwrap();
        assert!((spine.length() - (94.25 + 16.0)).abs() < 4.0, "{}", spine.length());
        let (s, t) = spine.locate(spine.at(30.0));
        assert!((s - 30.0).abs() < 1e-6 && t.abs() < 1e-6);
        assert!((spine.reversed().length() - spine.length()).abs() < 1e-9);
    }

    #[test]
    fn pixels_that_only_touch_at_corners_and_a_speck_in_the_middle_hide_no_line() {
        // From corner to corner, half a pixel's diagonal farther than from centre to centre.
        let stairs = Grid { width: 30, height: 30, on: (0..900).map(|k| k % 30 == k / 30).collect() };
        let spine = Spine::of(&stairs).unwrap();
        assert!((spine.length() - 30.0 * std::f64::consts::SQRT_2).abs() < 1.0, "{}", spine.length());
        // The speck is the middle one of all pixels in reading order.
        let bars = |k: usize| (5..65).contains(&(k % 70)) && (2..6).contains(&(k / 70)) || k == 8 * 70 + 3;
        let on = (0..20 * 70).map(|k| bars(k) || (5..65).contains(&(k % 70)) && (11..15).contains(&(k / 70))).collect();
        let spine = Spine::of(&Grid { width: 70, height: 20, on }).unwrap();
        assert!((spine.length() - 60.0).abs() < 3.0, "{}", spine.length());
    }

    #[test]
    fn what_hangs_on_at_a_corner_does_not_lie_at_the_far_end() {
        let bar = |k: usize| (5..65).contains(&(k % 70)) && (6..14).contains(&(k / 70));
        let spur = |k: usize| (60..66).contains(&(k % 70)) && (14..18).contains(&(k / 70));
        let fin = |k: usize| (2..5).contains(&(k % 70)) && (14..18).contains(&(k / 70));
        for hangs in [spur as fn(usize) -> bool, fin] {
            let on = (0..20 * 70).map(|k| bar(k) || hangs(k)).collect();
            let spine = Spine::of(&Grid { width: 70, height: 20, on }).unwrap();
            assert!((spine.length() - 62.0).abs() < 5.0, "{}", spine.length());
        }
    }
}
