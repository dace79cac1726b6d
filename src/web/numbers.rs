//! Where the fish's numbers stand in the tray picture: beside the end of the outline that has room, on no other number and, as far as
//! there is room, on no fish.

use crate::geometry::{PixelBox, Point, polygon_contains};

/// Width of a digit of bold type, by its size, with its dark rim.
const DIGIT: f64 = 0.72;

/// Height of a digit likewise.
const HEIGHT: f64 = 0.9;

/// How far from the outline a number is tried, by its own size: close by, then where there is more room.
const REACH: [f64; 3] = [0.15, 0.8, 1.6];

/// What it costs a number to lie wholly on another, on a fish by each of five places of it, and to stand one try later: on
/// another it cannot be read, on a fish it can (starting values).
const ON_A_NUMBER: f64 = 100.0;
const ON_A_FISH: f64 = 4.0;
const LATER: f64 = 1.0;

/// A box around its middle, half as wide and half as high as it is.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Label {
    at: Point,
    half: Point,
}

impl Label {
    /// The share of this box that lies on another one of about the same size.
    fn on(&self, other: &Self) -> f64 {
        let over = |a: f64, b: f64, reach: f64| (reach - (a - b).abs()).max(0.0);
        let x = over(self.at.x, other.at.x, self.half.x + other.half.x);
        let y = over(self.at.y, other.at.y, self.half.y + other.half.y);
        (x * y / (4.0 * self.half.x * self.half.y)).min(1.0)
    }

    /// Its middle and corners.
    fn places(&self) -> [Point; 5] {
        let corner = |x: f64, y: f64| self.at + Point::new(x * self.half.x, y * self.half.y);
        [self.at, corner(-1.0, -1.0), corner(1.0, -1.0), corner(1.0, 1.0), corner(-1.0, 1.0)]
    }
}

/// The middle of each fish's number, in pixels of the photo; `size` is that of the type, `picture` the photo's width and height.
pub(super) fn places(fish: &[(&[Point], u32)], size: f64, picture: (f64, f64)) -> Vec<Point> {
    let boxed: Vec<(PixelBox, &[Point])> = fish.iter().filter_map(|(o, _)| Some((PixelBox::around(o)?, *o))).collect();
    let on_a_fish = |p: &Point| boxed.iter().any(|(around, o)| around.contains(*p) && polygon_contains(o, *p));
    let mut placed: Vec<Label> = Vec::with_capacity(fish.len());
    for (outline, number) in fish {
        let digits = f64::from(number.checked_ilog10().unwrap_or(0) + 1);
        let half = Point::new(digits * DIGIT, HEIGHT) * (size / 2.0);
        let (ends, middle) = (anchors(outline), middle(outline));
        let tries = REACH.iter().flat_map(|reach| ends.iter().map(move |end| beside(*end, middle, half, reach * size)));
        let mut best = (f64::INFINITY, Label { at: middle, half });
        for (i, label) in (0_u32..).zip(tries.map(|label| inside(label, picture))) {
            let on_numbers: f64 = placed.iter().map(|other| label.on(other)).sum();
            let on_fish: f64 = label.places().iter().filter(|p| on_a_fish(p)).map(|_| ON_A_FISH).sum();
            let cost = on_numbers * ON_A_NUMBER + on_fish + f64::from(i) * LATER;
            if cost < best.0 {
                best = (cost, label);
            }
        }
        placed.push(best.1);
    }
    placed.into_iter().map(|label| label.at).collect()
}

/// The places of an outline at which a number is tried: its two ends, then its two flanks.
fn anchors(outline: &[Point]) -> Vec<Point> {
    let middle = middle(outline);
    let farthest = |from: Point| outline.iter().copied().max_by(|a, b| a.distance(from).total_cmp(&b.distance(from)));
    let Some((one, other)) = farthest(middle).and_then(|one| Some((one, farthest(one)?))) else { return Vec::new() };
    let along = other - one;
    let aside = |p: &Point| (p.x - one.x) * along.y - (p.y - one.y) * along.x;
    let flanks = [
        outline.iter().copied().max_by(|a, b| aside(a).total_cmp(&aside(b))),
        outline.iter().copied().min_by(|a, b| aside(a).total_cmp(&aside(b))),
    ];
    [one, other].into_iter().chain(flanks.into_iter().flatten()).collect()
}

fn middle(outline: &[Point]) -> Point {
    #[expect(clippy::cast_precision_loss, reason = "an outline has some hundred points")]
    let share = 1.0 / outline.len().max(1) as f64;
    outline.iter().fold(Point::new(0.0, 0.0), |sum, p| sum + *p * share)
}

/// A number just outside of an end, away from the middle of the fish.
fn beside(end: Point, middle: Point, half: Point, gap: f64) -> Label {
    let out = end - middle;
    let out = out * (1.0 / out.length().max(f64::MIN_POSITIVE));
    let reach = out.x.abs() * half.x + out.y.abs() * half.y + gap;
    Label { at: end + out * reach, half }
}

fn inside(label: Label, (width, height): (f64, f64)) -> Label {
    let within = |v: f64, half: f64, side: f64| v.min(side - half).max(half);
    let at = Point::new(within(label.at.x, label.half.x, width), within(label.at.y, label.half.y, height));
    Label { at, ..label }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PICTURE: (f64, f64) = (400.0, 300.0);
    const SIZE: f64 = 12.0;

    /// A fish as a box of 80 × 20 pixels.
    fn fish(x: f64, y: f64) -> Vec<Point> {
        let mut all = Vec::new();
        for i in 0..8 {
            all.push(Point::new(x + 10.0 * f64::from(i), y));
        }
        for i in 0..8 {
            all.push(Point::new(x + 80.0 - 10.0 * f64::from(i), y + 20.0));
        }
        all
    }

    fn placed(fish: &[Vec<Point>]) -> Vec<Point> {
        let numbered: Vec<(&[Point], u32)> = fish.iter().map(Vec::as_slice).zip(8..).collect();
        places(&numbered, SIZE, PICTURE)
    }

    /// Whether two numbers of two digits lie clear of each other.
    fn clear(a: Point, b: Point) -> bool {
        (a.x - b.x).abs() >= SIZE || (a.y - b.y).abs() >= SIZE * 0.75
    }

    #[test]
    fn a_number_stands_beside_an_end_of_its_fish_and_on_none() {
        // Two in one line nose to nose, one close below, and one in the corner of the picture.
        let all = [fish(40.0, 60.0), fish(130.0, 60.0), fish(60.0, 84.0), fish(318.0, 279.0)];
        let at = placed(&all);
        for (i, p) in at.iter().enumerate() {
            assert!(all.iter().all(|outline| !polygon_contains(outline, *p)), "number {i} lies on a fish: {p:?}");
            let near = all[i].iter().map(|q| q.distance(*p)).fold(f64::INFINITY, f64::min);
            assert!(near < 2.5 * SIZE, "number {i} is {near} pixels from its fish");
            assert!((5.0..=395.0).contains(&p.x) && (4.0..=296.0).contains(&p.y), "number {i} is cut off: {p:?}");
            assert!(at[..i].iter().all(|q| clear(*p, *q)), "number {i} lies on another: {at:?}");
        }
    }

    #[test]
    fn fish_that_lie_on_each_other_have_numbers_beside_each_other() {
        let at = placed(&[fish(100.0, 100.0), fish(100.0, 100.0), fish(102.0, 101.0)]);
        assert!(clear(at[0], at[1]) && clear(at[0], at[2]) && clear(at[1], at[2]), "{at:?}");
    }
}
