//! Things that lie close together, taken as the few fish that explain them best: touching and crossing fish come apart, and the
//! pieces of one fish whose stalk is as pale as the floor come together.
#![expect(clippy::cast_possible_truncation, reason = "small counts and factors")]

use crate::geometry::Point;

use super::by_shape::{is_endless, is_plain, is_thick};
use super::evidence::Kind;
use super::explain::{explain, explain_one_more};
use super::eyes;
use super::grid::Grid;
use super::heads::Heads;
use super::parted::parted;
use super::seek::{Blob, Survey};
use super::shape::{Shape, Usual};
use super::share::share_out;
use super::spindle::{Expected, Spindle};
use super::stand_out::{behind_heads, standing_out};
use super::worth::Worth;

/// Widest gap between things that may be one fish, in lengths of a usual one (starting value, tuned on drawn trays).
const GAP: f64 = 0.2;
/// Area in places of the map that a usual fish is fitted at: it needs no more than a few across.
const FITTED_AREA: f64 = 150.0;
/// Most fish one group is told apart into; what they leave over is a cluster.
pub(super) const MOST: usize = 6;
/// What shade is worth: it may be clear fin.
const SHADE: f32 = -0.25;

/// Fishness below which a thing by itself is no fish (starting value).
pub(super) const NO_FISH: f64 = 0.12;

/// What a group holds.
#[derive(Debug, Clone)]
pub(super) enum Told {
    /// One fish, or something that is none: the judge decides.
    One(Blob),
    /// One of several fish that touch; where they cross, pixels belong to both.
    Touching(Blob),
    /// About this many fish that could not be told apart.
    Cluster(Blob, u32),
}

/// Share of a usual fish's area below which a thing may be a piece of the larger thing beside it.
pub(super) const PIECE: f64 = 0.6;

/// Blobs, each small one together with the nearest larger one that no more than a narrow gap parts it from, as lists of their
/// numbers.
pub(super) fn groups(blobs: &[Blob], usual: Option<Usual>) -> Vec<Vec<usize>> {
    let mut of: Vec<usize> = (0..blobs.len()).collect();
    if let Some(usual) = usual {
        let reach = GAP * usual.length();
        let rims: Vec<Vec<Point>> = blobs.iter().map(rim).collect();
        let area = |i: usize| (blobs[i].grid.count(), i);
        for i in (0..blobs.len()).filter(|&i| (area(i).0 as f64) < PIECE * usual.area) {
            let larger = (0..blobs.len()).filter(|&j| area(j) > area(i) && boxes_near(&blobs[i], &blobs[j], reach));
            let nearest = larger.map(|j| (gap(&rims[i], &rims[j]), j)).min_by(|a, b| a.0.total_cmp(&b.0));
            if let Some((_, j)) = nearest.filter(|n| n.0 <= reach) {
                of[i] = j;
            }
        }
    }
    // Links only lead to larger things, so that following them ends.
    let root = |mut i: usize| {
        while of[i] != i {
            i = of[i];
        }
        i
    };
    let mut lists: Vec<Vec<usize>> = vec![Vec::new(); blobs.len()];
    (0..blobs.len()).for_each(|i| lists[root(i)].push(i));
    lists.retain(|l| !l.is_empty());
    lists
}

fn rim(blob: &Blob) -> Vec<Point> {
    let g = &blob.grid;
    let at = |k: usize| Point::new((blob.at.0 + k % g.width) as f64, (blob.at.1 + k / g.width) as f64);
    g.indices().filter(|&k| g.neighbours(k).any(|q| !g.on[q])).map(at).collect()
}

fn boxes_near(a: &Blob, b: &Blob, reach: f64) -> bool {
    let apart =
        |a0: usize, an: usize, b0: usize, bn: usize| (b0 as f64 - (a0 + an) as f64).max(a0 as f64 - (b0 + bn) as f64);
    apart(a.at.0, a.grid.width, b.at.0, b.grid.width) <= reach
        && apart(a.at.1, a.grid.height, b.at.1, b.grid.height) <= reach
}

/// Shortest distance between two rims.
fn gap(a: &[Point], b: &[Point]) -> f64 {
    a.iter().flat_map(|p| b.iter().map(|q| p.distance(*q))).fold(f64::MAX, f64::min)
}

/// What a group holds, and how sure the surest head in it is, 0 to 1; `None` where nobody could look.
#[derive(Debug, Clone)]
pub(super) struct Seen {
    /// What it is.
    pub(super) told: Told,
    /// See [`Seen`].
    pub(super) head: Option<f32>,
}

/// What looks for heads.
pub(super) trait HeadFinder {
    /// What the network sees of the fish in some things; `None` where it cannot look.
    fn heads(&self, things: &[Blob]) -> Option<Heads>;
    /// The heads that a thing shows by their eyes.
    fn eyes(&self, thing: &Blob) -> Vec<eyes::Head>;
}

/// Multiple of a usual fish's area from which a thing of a fish's shape may be two that lie along each other (starting value).
const TWO: f64 = 1.6;

/// Tells what a group of blobs is; `fins_are_short`, as they are from above, lets what is long and stands out be a fish of its own.
pub(super) fn tell(
    survey: &Survey,
    mut group: Vec<Blob>,
    usual: Option<Usual>,
    fins_are_short: bool,
    finder: &impl HeadFinder,
) -> Vec<Seen> {
    group.retain(|b| !usual.is_some_and(|u| is_thick(b, u)));
    let endless = group.iter().any(|b| is_endless(b, usual));
    // What is plainly one fish is not looked at again: few others hide in it, and looking takes its time.
    let is_small = |b: &Blob, u: Usual| (b.grid.count() as f64) < TWO * u.area;
    let plain = usual.is_some_and(|u| group.iter().all(|b| is_plain(b, usual) && is_small(b, u)));
    let reaches_in = endless && group.iter().any(|b| b.at_edge);
    let heads = if reaches_in || plain { None } else { finder.heads(&group) };
    let parted = heads.as_ref().and_then(|heads| parted(survey, &group, heads));
    let is_one = || heads.as_ref().is_some_and(|heads| shows_one(&group, heads, usual));
    let told = match parted {
        Some(told) => told,
        None if endless || is_one() => group.into_iter().map(Told::One).collect(),
        None => told_by_shape(survey, group, usual, fins_are_short, finder),
    };
    told.into_iter().map(|told| told.seen(heads.as_ref())).collect()
}

/// How sure the network is at most of a head where there is none (starting value).
const NO_HEAD: f32 = 0.1;
/// Multiple of its fish's area that a thing with one head has at most when that is all it is (starting value).
const ONE_FISH: f64 = 1.5;

/// Whether the network sees one head and no trace of another in a thing, or no head in one too small for several fish.
fn shows_one(group: &[Blob], heads: &Heads, usual: Option<Usual>) -> bool {
    let [thing] = group else { return false };
    let area = thing.grid.count() as f64;
    let mut here = heads.heads.iter().filter(|h| h.sure >= NO_HEAD && h.lies_in(thing));
    match (here.next(), here.next()) {
        (None, _) => usual.is_some_and(|u| area < PIECE * u.area),
        (Some(head), None) => head.is_sure() && area < ONE_FISH * head.fish().area(),
        _ => false,
    }
}

fn told_by_shape(
    survey: &Survey,
    group: Vec<Blob>,
    usual: Option<Usual>,
    fins_are_short: bool,
    finder: &impl HeadFinder,
) -> Vec<Told> {
    let small = |b: &Blob| usual.is_some_and(|u| (b.grid.count() as f64) < PIECE * u.area);
    let alone = matches!(&group[..], [one] if small(one));
    let heads: Vec<Vec<eyes::Head>> = group.iter().map(|b| finder.eyes(b)).collect();
    let several = heads.iter().any(|h| h.len() > 1);
    if (alone || group.iter().all(|b| is_plain(b, usual))) && !several {
        return group.into_iter().map(Told::One).collect();
    }
    let mut fish = if alone { Spindles::default() } else { spindles(survey, &group, usual, fins_are_short) };
    for (blob, heads) in group.iter().zip(&heads) {
        let known: Vec<Spindle> = fish.explain.iter().chain(&fish.stand_out).copied().collect();
        let more = behind_heads(blob, &known, heads);
        fish.stand_out.extend(more);
    }
    if alone && fish.stand_out.len() < 2 {
        return group.into_iter().map(Told::One).collect();
    }
    share_out(survey, group, &fish, usual)
}

impl Told {
    fn seen(self, heads: Option<&Heads>) -> Seen {
        let (Self::One(blob) | Self::Touching(blob) | Self::Cluster(blob, _)) = &self;
        let head = heads.map(|heads| heads.surest_in(blob));
        Seen { told: self, head }
    }
}

/// The fish of a group, in pixels of the survey.
#[derive(Debug, Default)]
pub(super) struct Spindles {
    /// Those that explain the group best.
    pub(super) explain: Vec<Spindle>,
    /// Those that stand out from them.
    pub(super) stand_out: Vec<Spindle>,
}

fn spindles(survey: &Survey, group: &[Blob], usual: Option<Usual>, fins_are_short: bool) -> Spindles {
    let area = group.iter().map(|b| b.grid.count()).sum::<usize>() as f64;
    // Without a usual fish the group itself says what to expect: one or two.
    let usual_area = usual.map_or(area / 1.5, |u| u.area);
    let slenderness = usual.map_or(SLENDERNESS, |u| u.slenderness);
    let length = (usual_area * slenderness).sqrt();
    let factor = ((usual_area / FITTED_AREA).sqrt() as usize).max(1);
    let expected = Expected::new(length / factor as f64, slenderness);
    let most = ((1.5 * area / usual_area).ceil() as usize + 1).clamp(1, MOST);
    let no_fish = |s: Shape| s.area > PIECE * usual_area && s.fishness(None) <= NO_FISH;
    let several = group.iter().any(|b| b.shape().is_some_and(no_fish));
    let frame = Frame::around(group, survey, factor);
    let map = frame.worth(survey, group);
    let found = explain(&map, expected, most, several);
    let scaled = |found: &[Spindle]| found.iter().map(|s| s.scaled(factor as f64, frame.at)).collect::<Vec<_>>();
    let standing_out = |fish: &[Spindle]| -> Vec<Spindle> {
        let Some(usual) = usual.filter(|_| fins_are_short) else { return Vec::new() };
        group.iter().flat_map(|b| standing_out(survey, b, fish, usual)).collect()
    };
    let explain = scaled(&found);
    let stand_out = standing_out(&explain);
    if !stand_out.is_empty()
        && let Some(more) = explain_one_more(&map, &found, expected)
    {
        let explain = scaled(&more);
        return Spindles { stand_out: standing_out(&explain), explain };
    }
    Spindles { explain, stand_out }
}

/// Squared length over area of a fish, where none in the photo tells (common descriptions, no source).
const SLENDERNESS: f64 = 6.0;

/// The rectangle around a group.
struct Frame {
    at: (usize, usize),
    size: (usize, usize),
    factor: usize,
}

impl Frame {
    fn around(group: &[Blob], survey: &Survey, factor: usize) -> Self {
        let (w, h) = (survey.block.width, survey.block.height);
        let x0 = group.iter().map(|b| b.at.0).min().unwrap_or(0);
        let y0 = group.iter().map(|b| b.at.1).min().unwrap_or(0);
        let x1 = group.iter().map(|b| b.at.0 + b.grid.width).max().unwrap_or(w).min(w);
        let y1 = group.iter().map(|b| b.at.1 + b.grid.height).max().unwrap_or(h).min(h);
        Self { at: (x0, y0), size: (x1 - x0, y1 - y0), factor }
    }

    /// What covering is worth: the group's pixels one, shade a little less than nothing, bare floor and others' pixels minus one.
    fn worth(&self, survey: &Survey, group: &[Blob]) -> Worth {
        let f = self.factor;
        let (width, height) = (self.size.0.div_ceil(f), self.size.1.div_ceil(f));
        let across = survey.block.width;
        let mut own = Grid::empty(self.size.0, self.size.1);
        for k in group.iter().flat_map(|b| b.places(across)) {
            own.on[(k / across - self.at.1) * own.width + k % across - self.at.0] = true;
        }
        let mut sums = vec![(0.0f32, 0.0f32); width * height];
        for k in 0..own.on.len() {
            let (x, y) = (k % own.width, k / own.width);
            let kind = survey.kinds[(self.at.1 + y) * across + self.at.0 + x];
            let value = match (own.on[k], kind) {
                (true, _) => 1.0,
                (false, Kind::Light) => SHADE,
                (false, _) => -1.0,
            };
            let sum = &mut sums[y / f * width + x / f];
            *sum = (sum.0 + value, sum.1 + 1.0);
        }
        Worth { width, height, value: sums.into_iter().map(|(s, n)| s / n.max(1.0)).collect() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fish::heads::Head;
    use crate::fish::seek::blobs;

    /// A picture with fish of length 60 and width 9 heading left, each with its tail from 48 on parted from the trunk by `gap`.
    fn survey(heads: &[(f64, f64)], gap: f64) -> Survey {
        let mut survey = Survey::bare(200, 120);
        for k in 0..survey.kinds.len() {
            let p = survey.place(k);
            let on = heads.iter().any(|&(x, y)| {
                let (u, v) = (p.x - x, (p.y - y).abs());
                let trunk = u >= 0.0 && u < 48.0 - gap && v < 4.5 * (1.0 - ((u - 16.0) / 34.0).powi(2)).max(0.1).sqrt();
                trunk || (48.0..60.0).contains(&u) && v < 2.0 + (u - 48.0) * 0.35
            });
            if on {
                survey.kinds[k] = Kind::Thing;
            }
        }
        survey
    }

    /// Somebody who sees no head.
    struct Blind;

    impl HeadFinder for Blind {
        fn heads(&self, _: &[Blob]) -> Option<Heads> {
            None
        }

        fn eyes(&self, _: &Blob) -> Vec<eyes::Head> {
            Vec::new()
        }
    }

    fn told(survey: &Survey, usual: Usual) -> Vec<Told> {
        let blobs = blobs(survey, 24);
        groups(&blobs, Some(usual))
            .into_iter()
            .flat_map(|g| tell(survey, g.iter().map(|&i| blobs[i].clone()).collect(), Some(usual), true, &Blind))
            .map(|seen| seen.told)
            .collect()
    }

    fn usual() -> Usual {
        let whole = &blobs(&survey(&[(30.0, 40.0)], 0.0), 24)[0];
        let shape = whole.shape().unwrap();
        Usual { area: shape.area, slenderness: shape.slenderness }
    }

    #[test]
    fn a_tail_behind_a_pale_stalk_is_the_same_fish() {
        let survey = survey(&[(30.0, 40.0)], 6.0);
        assert_eq!(blobs(&survey, 24).len(), 2);
        let told = told(&survey, usual());
        let [Told::One(fish)] = &told[..] else { panic!("{} of them", told.len()) };
        assert!(fish.grid.pieces().len() == 1 && fish.grid.count() as f64 > 0.85 * usual().area);
    }

    #[test]
    fn fish_apart_stay_apart_and_fish_that_touch_come_apart() {
        let apart = told(&survey(&[(30.0, 30.0), (40.0, 60.0)], 0.0), usual());
        assert!(matches!(&apart[..], [Told::One(_), Told::One(_)]), "{} of them", apart.len());
        let touching = told(&survey(&[(30.0, 30.0), (36.0, 38.0)], 0.0), usual());
        assert!(matches!(&touching[..], [Told::Touching(_), Told::Touching(_)]), "{} of them", touching.len());
    }

    #[test]
    fn one_sure_head_and_no_trace_of_another_is_one_fish() {
        let survey = survey(&[(30.0, 40.0)], 0.0);
        let group = blobs(&survey, 24);
        let head = |x: f64, sure: f32| Head { at: Point::new(x, 40.0), turn: 0.0, length: 60.0, sure };
        let one = |heads: &[Head], times: f64| {
            let usual = Usual { area: usual().area * times, ..usual() };
            shows_one(&group, &Heads { heads: heads.to_vec(), middles: Vec::new() }, Some(usual))
        };
        assert!(one(&[head(36.0, 0.8)], 1.0) && one(&[head(36.0, 0.8), head(60.0, 0.05)], 1.0));
        assert!(!one(&[head(36.0, 0.8), head(60.0, 0.2)], 1.0) && !one(&[head(36.0, 0.3)], 1.0));
        // Half as long a fish leaves room for another.
        assert!(!one(&[Head { length: 30.0, ..head(36.0, 0.8) }], 1.0));
        assert!(one(&[], 2.0) && !one(&[], 1.0));
    }

    #[test]
    fn a_crumb_of_a_frys_shape_beside_a_fish_is_no_part_of_it() {
        let mut survey = survey(&[(30.0, 40.0)], 0.0);
        for k in 0..survey.kinds.len() {
            let p = survey.place(k);
            if ((p.x - 52.0) / 9.0).hypot((p.y - 48.5) / 2.2) < 1.0 {
                survey.kinds[k] = Kind::Thing;
            }
        }
        let usual = usual();
        let told = told(&survey, usual);
        let counts: Vec<usize> = told
            .iter()
            .map(|t| match t {
                Told::One(b) | Told::Touching(b) | Told::Cluster(b, _) => b.grid.count(),
            })
            .collect();
        assert_eq!(counts.len(), 2, "{counts:?}");
        assert!(counts.iter().any(|n| (*n as f64) < 1.02 * usual.area && *n as f64 > 0.98 * usual.area), "{counts:?}");
    }
}
