//! Heads that show two eyes: dark spots side by side at a free end. A fry that lies across a grown fish has hardly an outline of its
//! own, but its eyes are the darkest and roundest things on it.
#![expect(clippy::cast_possible_truncation, reason = "places are clamped to the block before the cast")]

use crate::geometry::Point;

use super::Scene;
use super::differ::Block;
use super::judge::FAINT;
use super::seek::{Blob, Survey};
use super::spindle::Spindle;

/// A head seen from above, in pixels of the survey.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Head {
    /// Half way between the eyes.
    pub(super) middle: Point,
    /// Direction from the snout to the tail, radians.
    pub(super) turn: f64,
    /// From the middle of one eye to that of the other.
    pub(super) apart: f64,
}

/// Total length and greatest half width over the distance between the eyes, and how far the snout lies before them (proportions of
/// livebearers seen from above, from common descriptions, no source).
const LENGTH: f64 = 9.5;
/// See [`LENGTH`].
const HALF_WIDTH: f64 = 0.6;
/// See [`LENGTH`].
const SNOUT: f64 = 0.6;

impl Head {
    /// The fish behind it.
    pub(super) fn fish(&self) -> Spindle {
        let length = LENGTH * self.apart;
        let back = Point::new(self.turn.cos(), self.turn.sin());
        let middle = self.middle + back * (0.5 * length - SNOUT * self.apart);
        Spindle { middle, turn: self.turn, bend: 0.0, length, half_width: HALF_WIDTH * self.apart }
    }

    /// Whether it is the head of `fish`, or what passes for one at its tail.
    pub(super) fn is_of(&self, fish: &Spindle) -> bool {
        const ENDS: f64 = 0.25;
        const ALONG: f64 = 0.6;
        let size = LENGTH * self.apart / fish.length;
        let share = fish.share(self.middle);
        let at_end = !(ENDS..=1.0 - ENDS).contains(&share) && (-ENDS..=1.0 + ENDS).contains(&share);
        let near = fish.distance(self.middle) < 2.0;
        (0.5..2.0).contains(&size) && at_end && near && (self.turn - fish.turn).cos().abs() > ALONG
    }
}

/// Least contrast of an eye with what is about it, L* units, and as a share of how far it lies below the floor; and with the head
/// between the eyes (starting values: drawn fry have 16.5, 0.36 and 16 and more, of spots in a pattern one pair in ten has).
const CONTRAST: f32 = 16.0;
/// See [`CONTRAST`].
const KEEN: f32 = 0.35;
/// See [`CONTRAST`].
const DIP: f32 = 8.0;
/// Share of the body's difference from the floor below which a place is bare floor (starting value).
const BARE: f32 = 0.5;
/// Radii in close-up pixels at which eyes are sought.
const RADII: [usize; 6] = [1, 2, 3, 4, 6, 8];
/// Most spots of one thing that are paired: a peppered fish has hundreds.
const MOST: usize = 120;
/// Largest quotient of two eyes' radii.
const ALIKE: f64 = 1.5;
/// Distance of the eyes over the radius of one.
const APART: std::ops::Range<f64> = 2.2..7.0;

/// The heads with two eyes in one thing.
pub(super) fn heads(scene: &Scene<'_>, survey: &Survey, blob: &Blob) -> Vec<Head> {
    // Where the floor is dark, what is bare beside a fish passes for an eye.
    if survey.block.is_dark() {
        return Vec::new();
    }
    Close::of(scene, survey, blob).heads()
}

/// A dark spot.
#[derive(Debug, Clone, Copy)]
struct Spot {
    at: Point,
    radius: f64,
    contrast: f32,
    lightness: f32,
}

/// A close look at the lightness of one thing.
struct Close {
    /// Left and top, in pixels of the survey.
    at: Point,
    /// Its pixels a pixel of the survey.
    fine: usize,
    width: usize,
    height: usize,
    /// Sums of lightness over all rows above and columns before, a row and a column more than there are pixels.
    sums: Vec<f64>,
    /// Whether a pixel is the thing's or beside it.
    near: Vec<bool>,
    /// Differences from the floor.
    block: Block,
}

impl Close {
    fn of(scene: &Scene<'_>, survey: &Survey, blob: &Blob) -> Self {
        let coarse = survey.block.step;
        let step = (coarse / 2).max(1);
        let fine = (coarse / step) as usize;
        let origin = (blob.at.0 as u32 * coarse, blob.at.1 as u32 * coarse);
        let size = (blob.grid.width * fine, blob.grid.height * fine);
        Self::on(Block::close_up(scene.photo, scene.floor, origin, step, size), blob, fine)
    }

    /// On a block over a blob's rectangle that is `fine` times as fine.
    fn on(block: Block, blob: &Blob, fine: usize) -> Self {
        let (width, height) = (block.width, block.height);
        let mut sums = vec![0.0; (width + 1) * (height + 1)];
        for y in 0..height {
            let mut row = 0.0;
            for x in 0..width {
                row += f64::from(block.pixels[y * width + x].lightness);
                sums[(y + 1) * (width + 1) + x + 1] = sums[y * (width + 1) + x + 1] + row;
            }
        }
        let grown = blob.grid.dilated(1);
        let near = (0..width * height).map(|k| grown.on[(k / width / fine) * grown.width + k % width / fine]).collect();
        let at = Point::new(blob.at.0 as f64, blob.at.1 as f64);
        Self { at, fine, width, height, sums, near, block }
    }

    /// Mean lightness of the square of `reach` pixels about (x, y), as far as it lies in the block.
    fn mean(&self, x: usize, y: usize, reach: usize) -> f32 {
        let (x0, y0) = (x.saturating_sub(reach), y.saturating_sub(reach));
        let (x1, y1) = ((x + reach + 1).min(self.width), (y + reach + 1).min(self.height));
        let sum = |x: usize, y: usize| self.sums[y * (self.width + 1) + x];
        let total = sum(x1, y1) - sum(x0, y1) - sum(x1, y0) + sum(x0, y0);
        (total / ((x1 - x0) * (y1 - y0)).max(1) as f64) as f32
    }

    /// The heads, the surest of those in one place.
    fn heads(&self) -> Vec<Head> {
        let spots = self.spots();
        let mut found: Vec<(f32, Head)> = Vec::new();
        for (i, a) in spots.iter().enumerate() {
            for b in &spots[..i] {
                found.extend(self.head(a, b));
            }
        }
        found.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mut heads: Vec<Head> = Vec::new();
        for (_, head) in found {
            let same = |h: &Head| h.middle.distance(head.middle) < 0.7 * h.apart.max(head.apart);
            if !heads.iter().any(|h| same(h) || head.is_of(&h.fish())) {
                heads.push(head);
            }
        }
        heads
    }

    /// Dark spots, the most conspicuous first.
    fn spots(&self) -> Vec<Spot> {
        let mut all: Vec<Spot> = RADII.iter().flat_map(|&r| self.spots_of(r)).collect();
        all.sort_by(|a, b| b.contrast.total_cmp(&a.contrast));
        let mut spots: Vec<Spot> = Vec::new();
        for spot in all {
            // Two eyes side by side are one larger spot as well: only what is of one size is seen twice.
            let same = |s: &Spot| {
                let (small, large) = (s.radius.min(spot.radius), s.radius.max(spot.radius));
                large <= ALIKE * small && s.at.distance(spot.at) <= 1.2 * large
            };
            if spots.len() < MOST && !spots.iter().any(same) {
                spots.push(spot);
            }
        }
        spots
    }

    /// Those about `r` pixels in radius.
    fn spots_of(&self, r: usize) -> Vec<Spot> {
        let around = (5 * r).div_ceil(2);
        let mut contrast = vec![0.0f32; self.width * self.height];
        for k in (0..contrast.len()).filter(|&k| self.near[k]) {
            let (x, y) = (k % self.width, k / self.width);
            contrast[k] = self.mean(x, y, around) - self.mean(x, y, r);
        }
        let reach = (4 * r / 5).max(1);
        let greatest = |k: usize| {
            let (x, y) = (k % self.width, k / self.width);
            let rows = y.saturating_sub(reach)..(y + reach + 1).min(self.height);
            let columns = x.saturating_sub(reach)..(x + reach + 1).min(self.width);
            rows.flat_map(|y| columns.clone().map(move |x| y * self.width + x)).all(|q| contrast[q] <= contrast[k])
        };
        let spot = |k: usize| {
            let (x, y) = (k % self.width, k / self.width);
            let at = Point::new(x as f64 + 0.5, y as f64 + 0.5);
            Spot { at, radius: 0.8 * r as f64 + 0.2, contrast: contrast[k], lightness: self.mean(x, y, r / 2) }
        };
        (0..contrast.len()).filter(|&k| contrast[k] >= CONTRAST && greatest(k)).map(spot).collect()
    }

    /// Mean lightness about a place.
    fn lightness(&self, p: Point) -> f32 {
        let within = |v: f64, n: usize| (v.max(0.0) as usize).min(n - 1);
        self.mean(within(p.x, self.width), within(p.y, self.height), 1)
    }

    /// The head whose eyes two spots are, with how sure that is.
    fn head(&self, a: &Spot, b: &Spot) -> Option<(f32, Head)> {
        let (small, large) = (a.radius.min(b.radius), a.radius.max(b.radius));
        let (faint, bold) = (a.contrast.min(b.contrast), a.contrast.max(b.contrast));
        let between = b.at - a.at;
        let apart = between.x.hypot(between.y);
        if large > ALIKE * small || faint < 0.45 * bold || !APART.contains(&(apart / (small * large).sqrt())) {
            return None;
        }
        let middle = (a.at + b.at) * 0.5;
        let lightest =
            [-0.12, 0.0, 0.12].map(|t| self.lightness(middle + between * t)).into_iter().fold(f32::MIN, f32::max);
        let eyes = a.lightness.max(b.lightness);
        if lightest - eyes < DIP || faint < -KEEN * eyes {
            return None;
        }
        let across = between.y.atan2(between.x);
        let ways = [0.5, -0.5].map(|side| Head { middle, turn: across + side * std::f64::consts::PI, apart });
        let (sure, head) = ways.map(|head| (self.free(head), head)).into_iter().max_by_key(|w| w.0)?;
        let k = 1.0 / self.fine as f64;
        sure.map(|sure| {
            (f32::from(sure) + faint / 30.0, Head { middle: self.at + head.middle * k, apart: head.apart * k, ..head })
        })
    }

    /// How many places about a head, in pixels of the block, are bare where they should be; `None` where it is no free end of a fish.
    fn free(&self, head: Head) -> Option<u8> {
        let (sin, cos) = head.turn.sin_cos();
        // So many distances of the eyes towards the tail and to the side.
        let differs = |&(back, side): &(f64, f64)| {
            let p = head.middle + Point::new(back * cos - side * sin, back * sin + side * cos) * head.apart;
            let inside = p.x >= 0.0 && p.y >= 0.0 && p.x < self.width as f64 && p.y < self.height as f64;
            if inside { self.block.pixels[p.y as usize * self.width + p.x as usize].size() } else { 0.0 }
        };
        let mut body = [0.5, 1.0, 1.5, 2.0, 2.6, 3.2].map(|back| differs(&(back, 0.0)));
        body.sort_by(f32::total_cmp);
        let bare_below = BARE * body[2];
        let bare = |places: &[(f64, f64)]| places.iter().filter(|p| differs(p) < bare_below).count() as u8;
        let ahead =
            |r: f64| [-50.0f64, -25.0, 0.0, 25.0, 50.0].map(|a| (-r * a.to_radians().cos(), r * a.to_radians().sin()));
        let (near, far) = (bare(&ahead(1.25)), bare(&ahead(1.7)));
        let beside = bare(&[(0.0, 1.0), (0.0, -1.0)]);
        let flanks = bare(&[(1.2, 1.4), (1.2, -1.4), (2.2, 1.5), (2.2, -1.5)]);
        let whole = body[1] >= bare_below.max(FAINT);
        (near >= 4 && far >= 4 && beside >= 1 && flanks >= 2 && whole).then_some(near + far + 2 * beside + flanks)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const FRY: Head = Head { middle: Point { x: 60.0, y: 40.0 }, turn: 0.7, apart: 9.0 };

    /// The heads found in a picture of 160 by 120 pixels, each three to a pixel of the survey: what lies in fish, 40 L* darker than the
    /// floor, and spots of a radius, 80 darker.
    fn seen(fish: &[Spindle], spots: &[Point], radius: f64) -> Vec<Head> {
        let (width, height, fine) = (162, 120, 3);
        let survey = Survey::bare(width / fine, height / fine);
        let mut block = Block { width, height, ..Survey::bare(width, height).block };
        for (k, pixel) in block.pixels.iter_mut().enumerate() {
            let p = Point::new((k % width) as f64 + 0.5, (k / width) as f64 + 0.5);
            let spot = spots.iter().any(|s| s.distance(p) <= radius);
            let body = fish.iter().any(|f| f.distance(p) <= 1.0);
            pixel.lightness = if spot { -80.0 } else { -40.0 * f32::from(u8::from(body)) };
        }
        let all = (0..survey.kinds.len()).collect();
        let blob = Blob { at: (0, 0), ..Blob::of(&survey, all, Vec::new()) };
        assert_eq!((blob.grid.width, blob.grid.height), (width / fine, height / fine));
        Close::on(block, &blob, fine).heads()
    }

    fn eyes(head: Head) -> [Point; 2] {
        let across = Point::new(-head.turn.sin(), head.turn.cos()) * (0.5 * head.apart);
        [head.middle + across, head.middle - across]
    }

    #[test]
    fn two_eyes_at_a_free_end_are_a_head() {
        let [head] = seen(&[FRY.fish()], &eyes(FRY), 2.5)[..] else { panic!("not one head") };
        assert!(
            (head.middle * 3.0).distance(FRY.middle) < 1.5 && (3.0 * head.apart - FRY.apart).abs() < 1.0,
            "{head:?}"
        );
        assert!((head.turn - FRY.turn).cos() > 0.98, "{head:?}");
    }

    #[test]
    fn one_eye_none_and_two_spots_on_a_back_are_no_head() {
        let fish = FRY.fish();
        assert!(seen(&[fish], &[], 2.5).is_empty());
        assert!(seen(&[fish], &eyes(FRY)[..1], 2.5).is_empty());
        let adult = Spindle { half_width: 30.0, length: 140.0, middle: Point::new(80.0, 60.0), ..fish };
        let back = Head { middle: adult.middle, ..FRY };
        assert!(seen(&[adult], &eyes(back), 2.5).is_empty());
    }

    #[test]
    fn what_passes_for_a_head_at_a_tail_is_of_that_fish_and_a_head_beside_it_is_not() {
        let fish = FRY.fish();
        let at =
            |share: f64| fish.middle + Point::new(fish.turn.cos(), fish.turn.sin()) * ((share - 0.5) * fish.length);
        let tail = Head { middle: at(0.97), turn: fish.turn + std::f64::consts::PI, ..FRY };
        assert!(FRY.is_of(&fish) && tail.is_of(&fish));
        assert!(!Head { middle: at(0.5), ..FRY }.is_of(&fish));
        assert!(!Head { turn: fish.turn + 1.5, ..FRY }.is_of(&fish));
        assert!(!Head { apart: 4.0 * FRY.apart, ..FRY }.is_of(&fish));
    }
}
