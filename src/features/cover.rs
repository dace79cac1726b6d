//! Which cover a pixel carries, and the share of a part that carries it.

use super::colour::{middle, quantile};
use super::sample::Samples;
use super::{Estimate, HueRange, Limits};
use crate::calibrate::ColourError;
use crate::colour::{Lab, chroma};

/// The trunk's pixels that are left when all cover is taken away count as a ground from this share of them on: fewer
/// are seams between patches of cover. Starting value, tuned on rendered trays.
const LEAST_GROUND: f64 = 0.05;

/// The lamp's mirror image on a wet back takes at most this share of a trunk; what looks like it and takes more is
/// pigment. Starting value, tuned on rendered trays.
const MOST_SHINE: f64 = 0.12;

/// How far in a* and b* a pixel may stand from its ground under added white light and still be a mirror image.
/// Starting value: twice the pixel noise of a phone photo.
const SHINE_NEAR: f64 = 3.0;

/// Rounds in which ground and cover are told apart; each uses the ground of the one before.
const ROUNDS: usize = 4;

/// How often a reading of a part counts in its colour at most, for others of its cover that are left out, and how seldom at least: a
/// few readings left of a cover must not speak for all of it (starting value; without a limit drawn fish are read the same).
const MOST_WEIGHT: f32 = 3.0;

/// How many covers there are, the bare ground one of them.
const KINDS: usize = 6;

/// The kinds of cover.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Cover {
    Red,
    Orange,
    Yellow,
    Black,
    Reflective,
}

/// A cover's number below [`KINDS`].
fn number(cover: Option<Cover>) -> usize {
    cover.map_or(0, |c| c as usize + 1)
}

/// The limits of one fish: those of the sheet, the chroma limit and reflective's lightness set by its own ground.
#[derive(Debug, Clone, Copy)]
pub(super) struct Judge {
    red: Sector,
    orange: Sector,
    yellow: Sector,
    chroma: f64,
    black_lightness: f64,
    black_chroma: f64,
    shiny_lightness: f64,
    shiny_chroma: f64,
    /// The ground's median colour, where a ground is visible.
    pub(super) ground: Option<Lab>,
    /// Whether bright pixels in the ground's own hue are the lamp's mirror image.
    mirrors: bool,
}

impl Judge {
    /// Sets the limits of one fish from its trunk's readings: the ground is what no cover hides, and cover is what
    /// stands out from the ground, so both are found in turn. `slack` is how far in L* the lighting field may err.
    pub(super) fn of(trunk: &[Lab], limits: &Limits, slack: f64) -> Self {
        let mut judge = Self {
            red: Sector::new(limits.red_hue),
            orange: Sector::new(limits.orange_hue),
            yellow: Sector::new(limits.yellow_hue),
            chroma: limits.chroma,
            black_lightness: limits.black_lightness,
            black_chroma: limits.black_chroma,
            shiny_lightness: f64::INFINITY,
            shiny_chroma: limits.reflective_chroma,
            ground: None,
            mirrors: false,
        };
        let least = LEAST_GROUND * trunk.len() as f64;
        let above = limits.reflective_above_ground.max(3.0 * slack);
        // The darker quarter starts: where shiny cover takes more than half, the middle would be the shine itself.
        let bare = |j: &Self| trunk.iter().copied().filter(|c| j.cover(*c).is_none()).collect::<Vec<_>>();
        let first = bare(&judge);
        if let Some(start) = quantile(first.iter().map(|c| c.l), 0.25).filter(|_| first.len() as f64 >= least) {
            judge.shiny_lightness = start + above;
        }
        for _ in 0..ROUNDS {
            let rest = bare(&judge);
            let Some(ground) = middle(rest.iter()) else { break };
            if (rest.len() as f64) < least {
                judge.ground = None;
                break;
            }
            judge.ground = Some(ground);
            judge.chroma = limits.chroma.max(chroma(ground) + limits.chroma_above_ground);
            judge.shiny_lightness = ground.l + above;
        }
        judge.mirrors = true;
        let mirrored = trunk.iter().filter(|c| judge.is_mirror_image(**c)).count();
        judge.mirrors = mirrored as f64 <= MOST_SHINE * trunk.len() as f64;
        judge
    }

    /// Whether a pixel shows the lamp through white light added to the ground.
    ///
    /// Equal amounts added to X, Y and Z (over the white's) leave their differences as they are, so a* and b* shrink as
    /// (Y₀/Y)^⅔, which is ((L₀* + 16) / (L* + 16))² (from the definition of CIELAB, CIE 15).
    pub(super) fn is_mirror_image(&self, c: Lab) -> bool {
        let Some(ground) = self.ground.filter(|_| self.mirrors && c.l > self.shiny_lightness) else { return false };
        let shrunk = ((ground.l + 16.0) / (c.l + 16.0)).powi(2);
        (c.a - ground.a * shrunk).abs() <= SHINE_NEAR && (c.b - ground.b * shrunk).abs() <= SHINE_NEAR
    }

    /// The cover of a pixel; `None` where the ground shows.
    pub(super) fn cover(&self, c: Lab) -> Option<Cover> {
        let purity = chroma(c);
        if purity >= self.chroma {
            for (sector, cover) in [(self.red, Cover::Red), (self.orange, Cover::Orange), (self.yellow, Cover::Yellow)]
            {
                if sector.contains(c) {
                    return Some(cover);
                }
            }
        }
        if c.l <= self.black_lightness && purity <= self.black_chroma {
            return Some(Cover::Black);
        }
        // Iridescence: bright blues and blue-greens (hue beyond 135°) that no other pigment of these fish gives.
        let cold = c.b < 0.0 || c.a < -c.b;
        (c.l > self.shiny_lightness && (purity <= self.shiny_chroma || cold)).then_some(Cover::Reflective)
    }

    /// Share of the readings with that cover, and its standard error from the colours' common error and from counting.
    pub(super) fn share(&self, readings: &[&Covered<'_>], kind: Cover, error: ColourError) -> Option<Estimate> {
        let n: usize = readings.iter().map(|r| r.colours.len()).sum();
        if n == 0 {
            return None;
        }
        let share =
            |count: &dyn Fn(&Covered<'_>) -> usize| readings.iter().map(|r| count(r)).sum::<usize>() as f64 / n as f64;
        let value = share(&|r| r.with(kind).count());
        let count = |shift: [f64; 3]| {
            let hit = |c: &&Lab| self.cover(Lab::new(c.l + shift[0], c.a + shift[1], c.b + shift[2])) == Some(kind);
            share(&|r| r.colours.iter().filter(hit).count())
        };
        let axes: &[[f64; 3]] = match kind {
            Cover::Red | Cover::Orange | Cover::Yellow => &[[0.0, error.a, 0.0], [0.0, 0.0, error.b]],
            Cover::Black => &[[error.l, 0.0, 0.0]],
            // The ground moves along with the cover, so a common error of L* cancels.
            Cover::Reflective => &[],
        };
        let moved = axes.iter().map(|s| 0.5 * (count(*s) - count(s.map(|v| -v))));
        let counting = value * (1.0 - value) / n as f64;
        let se = (moved.map(|d| d * d).sum::<f64>() + counting).sqrt();
        Some(Estimate { value, se })
    }
}

/// The readings of one part, each with its cover.
#[derive(Debug)]
pub(super) struct Covered<'a> {
    colours: &'a [Lab],
    covers: Vec<Option<Cover>>,
}

impl<'a> Covered<'a> {
    pub(super) fn of(part: &'a Samples, judge: &Judge) -> Self {
        Self { covers: part.colours.iter().map(|c| judge.cover(*c)).collect(), colours: &part.colours }
    }

    /// How often each reading counts, where those `mixed` are left out, so that each cover counts for as much as it takes of the part
    /// and its `rim`: of a patch that lies along the outline more is left out than of one in the middle.
    pub(super) fn weights(&self, mixed: &[bool], rim: Option<&Self>) -> Vec<f32> {
        let mut all = [0.0f32; KINDS];
        self.covers.iter().chain(rim.iter().flat_map(|r| &r.covers)).for_each(|c| all[number(*c)] += 1.0);
        let mut kept = [0.0f32; KINDS];
        self.covers.iter().zip(mixed).filter(|(_, mixed)| !**mixed).for_each(|(c, _)| kept[number(*c)] += 1.0);
        let usual = all.iter().sum::<f32>() / kept.iter().sum::<f32>().max(1.0);
        let weight = |k: usize| (all[k] / kept[k].max(1.0) / usual).clamp(1.0 / MOST_WEIGHT, MOST_WEIGHT);
        let weights: [f32; KINDS] = std::array::from_fn(weight);
        self.covers.iter().map(|c| weights[number(*c)]).collect()
    }

    /// Whether reading number `k` carries that cover; `None` is the ground.
    pub(super) fn carries(&self, k: usize, cover: Option<Cover>) -> bool {
        self.covers[k] == cover
    }

    /// The readings that carry that cover.
    pub(super) fn with(&self, kind: Cover) -> impl Iterator<Item = &'a Lab> + Clone + '_ {
        let pairs = self.colours.iter().zip(&self.covers);
        pairs.filter(move |(_, cover)| **cover == Some(kind)).map(|(colour, _)| colour)
    }
}

/// A range of hues as two directions, so that a pixel is judged without finding its angle.
#[derive(Debug, Clone, Copy)]
struct Sector {
    from: (f64, f64),
    to: (f64, f64),
    wide: bool,
}

impl Sector {
    fn new(HueRange(from, to): HueRange) -> Self {
        let direction = |degrees: f64| {
            let (s, c) = degrees.to_radians().sin_cos();
            (c, s)
        };
        Self { from: direction(from), to: direction(to), wide: (to - from).rem_euclid(360.0) > 180.0 }
    }

    fn contains(&self, c: Lab) -> bool {
        let after = self.from.0 * c.b - self.from.1 * c.a >= 0.0;
        let before = c.a * self.to.1 - c.b * self.to.0 > 0.0;
        if self.wide { after || before } else { after && before }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::hue;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn a_sector_agrees_with_the_angle(a in -60.0..60.0f64, b in -60.0..60.0f64, from in 0.0..360.0f64, width in 1.0..359.0f64) {
            let to = (from + width).rem_euclid(360.0);
            let colour = Lab::new(50.0, a, b);
            let h = hue(colour);
            // Right on an edge, rounding may fall either way.
            let near = |edge: f64| ((h - edge + 540.0).rem_euclid(360.0) - 180.0).abs() < 1e-9;
            prop_assume!(!near(from) && !near(to) && chroma(colour) > 1e-6);
            prop_assert_eq!(Sector::new(HueRange(from, to)).contains(colour), HueRange(from, to).contains(h));
        }
    }

    fn polar(l: f64, c: f64, h: f64) -> Lab {
        Lab::new(l, c * h.to_radians().cos(), c * h.to_radians().sin())
    }

    #[test]
    fn covers_of_literal_colours() {
        let ground = vec![polar(60.0, 10.0, 85.0); 100];
        let judge = Judge::of(&ground, &Limits::default(), 0.0);
        for (colour, cover) in [
            (polar(50.0, 40.0, 30.0), Some(Cover::Red)),
            (polar(50.0, 40.0, 350.0), Some(Cover::Red)),
            (polar(50.0, 19.0, 30.0), None),
            (polar(60.0, 45.0, 60.0), Some(Cover::Orange)),
            (polar(75.0, 45.0, 95.0), Some(Cover::Yellow)),
            (polar(75.0, 45.0, 115.0), None),
            (polar(20.0, 5.0, 0.0), Some(Cover::Black)),
            (polar(31.0, 5.0, 0.0), None),
            (polar(75.0, 5.0, 250.0), Some(Cover::Reflective)),
            (polar(69.0, 5.0, 250.0), None),
        ] {
            assert_eq!(judge.cover(colour), cover, "{colour:?}");
        }
    }

    #[test]
    fn a_yellowish_ground_raises_the_chroma_limit_and_full_cover_leaves_no_ground() {
        // 60 % of a ground of chroma 17, 40 % of a colour of chroma 23: 23 < 17 + 8, so it is no cover.
        let mut trunk = vec![polar(60.0, 17.0, 85.0); 60];
        trunk.extend(vec![polar(60.0, 23.0, 85.0); 40]);
        let judge = Judge::of(&trunk, &Limits::default(), 0.0);
        assert_eq!(judge.cover(polar(60.0, 23.0, 85.0)), None);
        assert_eq!(judge.cover(polar(60.0, 26.0, 85.0)), Some(Cover::Yellow));
        assert_eq!(Judge::of(&vec![polar(50.0, 40.0, 30.0); 50], &Limits::default(), 0.0).ground, None);
    }

    #[test]
    fn shiny_cover_is_found_even_where_it_takes_more_than_half() {
        let mut trunk = vec![polar(55.0, 8.0, 85.0); 35];
        trunk.extend(vec![polar(80.0, 4.0, 250.0); 65]);
        let judge = Judge::of(&trunk, &Limits::default(), 0.0);
        assert_eq!(judge.ground.map(|g| g.l.round()), Some(55.0));
        let samples = Samples::of(trunk);
        let share = judge
            .share(&[&Covered::of(&samples, &judge)], Cover::Reflective, ColourError { l: 1.0, a: 1.0, b: 1.0 })
            .unwrap();
        assert!((share.value - 0.65).abs() < 1e-12);
    }

    #[test]
    fn the_lamp_on_a_wet_back_is_told_from_shiny_pigment() {
        // White light added to a ground of L* 50, b* 10: Y 0.184 + 0.3, b* 10 · (0.184 / 0.484)^⅔ = 5.2, L* 75.1.
        let ground = Lab::new(50.0, 0.0, 10.0);
        let xyz = crate::colour::xyz_from_lab(ground);
        let lit = crate::colour::Xyz::new(xyz.x + 0.3 * 0.9642, xyz.y + 0.3, xyz.z + 0.3 * 0.8251);
        let lamp = crate::colour::lab_from_xyz(lit);
        assert!((lamp.b - 5.2).abs() < 0.3, "{lamp:?}");
        let shiny = Lab::new(75.0, -2.0, -5.0);
        let trunk =
            |lamp_pixels: usize| -> Vec<Lab> { [vec![ground; 90], vec![lamp; lamp_pixels], vec![shiny; 5]].concat() };
        let judge = Judge::of(&trunk(5), &Limits::default(), 0.0);
        assert!(judge.is_mirror_image(lamp) && !judge.is_mirror_image(shiny) && !judge.is_mirror_image(ground));
        assert!(!Judge::of(&trunk(40), &Limits::default(), 0.0).is_mirror_image(lamp), "so much is pigment");
    }

    #[test]
    fn a_patch_along_the_outline_counts_for_what_is_left_out_of_it() {
        // Six in ten are red; of these two thirds lie at the outline, of the ground none.
        let samples = Samples::of([vec![polar(60.0, 10.0, 85.0); 40], vec![polar(42.0, 45.0, 30.0); 60]].concat());
        let judge = Judge::of(&samples.colours, &Limits::default(), 0.0);
        let covered = Covered::of(&samples, &judge);
        let mixed: Vec<bool> = (0..100).map(|k| k >= 60).collect();
        let weights = covered.weights(&mixed, None);
        let kept = |range: std::ops::Range<usize>| weights[range].iter().sum::<f32>();
        assert!((kept(40..60) / kept(0..60) - 0.6).abs() < 1e-6);
        // A rim of forty more, all red, and hardly a reading left: three times as often as the usual one, not forty times.
        let rim = Samples::of(vec![polar(42.0, 45.0, 30.0); 40]);
        let few: Vec<bool> = (0..100).map(|k| k > 40).collect();
        assert!((covered.weights(&few, Some(&Covered::of(&rim, &judge)))[40] - MOST_WEIGHT).abs() < 1e-6);
    }

    #[test]
    fn a_share_near_a_colour_limit_has_a_wide_error() {
        // Chroma evenly from 15 to 25 at hue 30: half lies above 20. A common error of 1 along the chroma moves a tenth.
        let colours: Vec<Lab> = (0..1000).map(|i| polar(50.0, 15.005 + 0.01 * f64::from(i), 30.0)).collect();
        let samples = Samples::of(colours);
        let judge = Judge::of(&[], &Limits::default(), 0.0);
        let share =
            judge.share(&[&Covered::of(&samples, &judge)], Cover::Red, ColourError { l: 1.0, a: 1.0, b: 1.0 }).unwrap();
        assert!((share.value - 0.5).abs() < 2e-3, "{share:?}");
        // √((0.1·cos 30°)² + (0.1·sin 30°)² + 0.25/1000) = 0.1012.
        assert!((share.se - 0.1012).abs() < 2e-3, "{share:?}");
    }
}
