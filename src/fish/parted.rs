//! Fish told apart by what is seen of each: the network names their heads, and for each pixel the middle of the fish it belongs to.

use std::collections::VecDeque;

use crate::geometry::Point;

use super::grid::Grid;
use super::group::Told;
use super::heads::{Head, Heads};
use super::seek::{Blob, Survey};
use super::spindle::Spindle;

/// Share of a fish's length up to which a pixel of it may miss its middle (starting value, tuned on the renderer's tuning seeds).
const MISSED: f64 = 0.3;
/// How sure a head must be to be one even if hardly a pixel says that it belongs to it; and by how much of its spindle more those of a
/// less sure one must fill per unit of what it lacks, lest a fin, a patch or a dropping pass for a head (starting values, tuned on the
/// renderer's tuning seeds: of 2000 heads with 0.7 and more there fewer than ten are none, however little is filled).
const CERTAIN: (f64, f64) = (0.7, 2.0);
/// Share of its spindle below which a fish's pixels say too little of it: the spindle's inside is its own then (starting value).
const THIN: f64 = 0.45;
/// Half widths from its axis that are a fish's inside.
const INSIDE: f64 = 0.9;
/// Half widths from the axes of fish within which pixels without an owner are given out, one after the other (starting values).
const REACH: [f64; 4] = [1.0, 1.5, 2.0, f64::INFINITY];
/// Share of the shorter one's length by which the middles of two fish that lie along each other are apart (starting value).
const TWINS: f64 = 0.15;
/// See [`TWINS`]: least cosine between them.
const ALONG: f64 = 0.7;
/// Share of a fish's pixels below which a piece of them is rather another's (starting value).
const STRAY: f64 = 0.15;
/// Half widths from its axis within which another's pixels belong to a fish that lies under it.
const CROSSED: f64 = 0.8;

/// Multiple of its spindle from which a fish's pixels are another's as well, whose head does not show (starting value).
const OVERFULL: f64 = 2.0;

/// The fish of a group that shows several sure heads; `None` for one that does not, or whose heads are not all seen.
pub(super) fn parted(survey: &Survey, group: &[Blob], seen: &Heads) -> Option<Vec<Told>> {
    let fish = fish_behind(seen);
    if fish.len() < 2 {
        return None;
    }
    let thin: Vec<bool> =
        fish.iter().zip(belonging(&fish, seen)).map(|(one, pixels)| pixels < THIN * one.area()).collect();
    let mut parts: Vec<Part> = fish.iter().map(|_| Part::default()).collect();
    let mut told = Vec::new();
    for (blob, middles) in group.iter().zip(&seen.middles) {
        let mut owners = vec![None; blob.grid.on.len()];
        middles.iter().for_each(|(k, middle)| owners[*k] = nearest(&fish, *middle));
        let distance = |i: usize, k: usize| fish[i].distance(survey.place(blob.place(k, survey.block.width)));
        for i in (0..fish.len()).filter(|&i| thin[i]) {
            blob.grid.indices().filter(|&k| distance(i, k) <= INSIDE).for_each(|k| owners[k] = Some(i));
        }
        for i in 0..fish.len() {
            drop_strays(blob, &mut owners, i);
        }
        for reach in REACH {
            spread(blob, &mut owners, |i, k| distance(i, k) <= reach);
        }
        let here: Vec<usize> = (0..fish.len()).filter(|i| owners.contains(&Some(*i))).collect();
        if here.is_empty() {
            told.push(Told::One(blob.clone()));
        }
        for &i in &here {
            parts[i].take(survey, blob, &fish[i], |k| owners[k] == Some(i));
            parts[i].touching |= here.len() > 1;
        }
    }
    if parts.iter().zip(&fish).any(|(part, fish)| part.own.len() as f64 > OVERFULL * fish.area()) {
        return None;
    }
    told.extend(parts.into_iter().filter(|p| !p.own.is_empty()).map(|p| p.told(survey)));
    Some(told)
}

/// The fish behind sure heads, as far as pixels say that they belong to them.
fn fish_behind(seen: &Heads) -> Vec<Spindle> {
    let mut heads: Vec<Head> = Vec::new();
    for head in seen.sure() {
        if !heads.iter().any(|other| are_twins(&other.fish(), &head.fish())) {
            heads.push(*head);
        }
    }
    loop {
        let fish: Vec<Spindle> = heads.iter().map(Head::fish).collect();
        let mut pixels = belonging(&fish, seen).into_iter();
        heads.retain(|head| pixels.next().is_some_and(|n| n >= needed(head.sure) * head.fish().area()));
        if heads.len() == fish.len() {
            return fish;
        }
    }
}

/// Share of its spindle that the pixels of a fish fill at least whose head is this sure.
fn needed(sure: f32) -> f64 {
    (CERTAIN.0 - f64::from(sure)).max(0.0) * CERTAIN.1
}

/// How many pixels say of each fish that they belong to it.
fn belonging(fish: &[Spindle], seen: &Heads) -> Vec<f64> {
    let mut pixels = vec![0.0; fish.len()];
    let middles = seen.middles.iter().flatten();
    middles.filter_map(|(_, middle)| nearest(fish, *middle)).for_each(|i| pixels[i] += 1.0);
    pixels
}

/// Whether two heads are seen of one fish.
fn are_twins(a: &Spindle, b: &Spindle) -> bool {
    (a.turn - b.turn).cos().abs() > ALONG && a.middle.distance(b.middle) < TWINS * a.length.min(b.length)
}

/// The fish whose middle lies nearest, in lengths.
fn nearest(fish: &[Spindle], middle: Point) -> Option<usize> {
    let missed = fish.iter().map(|f| f.middle.distance(middle) / f.length).enumerate();
    missed.min_by(|a, b| a.1.total_cmp(&b.1)).filter(|n| n.1 < MISSED).map(|n| n.0)
}

/// Takes small pieces away from fish number `i`.
fn drop_strays(blob: &Blob, owners: &mut [Option<usize>], i: usize) {
    let mut own = Grid::empty(blob.grid.width, blob.grid.height);
    own.on.iter_mut().zip(owners.iter()).for_each(|(on, owner)| *on = *owner == Some(i));
    let least = STRAY * own.count() as f64;
    let strays = own.pieces().into_iter().filter(|piece| (piece.len() as f64) < least);
    strays.flatten().for_each(|k| owners[k] = None);
}

/// Gives each pixel that has no owner the nearest one's, as far as it is `within` reach of that fish.
fn spread(blob: &Blob, owners: &mut [Option<usize>], within: impl Fn(usize, usize) -> bool) {
    let mut open: VecDeque<usize> = blob.grid.indices().filter(|&k| owners[k].is_some()).collect();
    while let Some(k) = open.pop_front() {
        for q in blob.grid.neighbours(k).filter(|&q| blob.grid.on[q]) {
            if owners[q].is_none() && owners[k].is_some_and(|i| within(i, q)) {
                owners[q] = owners[k];
                open.push_back(q);
            }
        }
    }
}

/// What is seen of one fish.
#[derive(Debug, Default)]
struct Part {
    own: Vec<usize>,
    /// Pixels that only join what would fall apart.
    bridge: Vec<usize>,
    /// Whether it shares a blob with another fish.
    touching: bool,
}

impl Part {
    /// Takes its pixels of a blob; where they fall apart, those of the fish that lies across it as well.
    fn take(&mut self, survey: &Survey, blob: &Blob, fish: &Spindle, own: impl Fn(usize) -> bool) {
        let width = survey.block.width;
        let mut grid = Grid::empty(blob.grid.width, blob.grid.height);
        blob.grid.indices().filter(|&k| own(k)).for_each(|k| grid.on[k] = true);
        let falls_apart = grid.pieces().len() > 1;
        for k in blob.grid.indices() {
            let place = blob.place(k, width);
            let under = || falls_apart && fish.distance(survey.place(place)) < CROSSED;
            if !grid.on[k] && !under() {
                continue;
            }
            if blob.bridge.on[k] {
                self.bridge.push(place);
            } else {
                self.own.push(place);
            }
        }
    }

    fn told(self, survey: &Survey) -> Told {
        let blob = Blob::of(survey, self.own, self.bridge);
        if self.touching { Told::Touching(blob) } else { Told::One(blob) }
    }
}

#[cfg(test)]
mod tests {
    use super::super::evidence::Kind;
    use super::super::seek::blobs;
    use super::*;

    /// An adult that lies along the picture, and a fry across its back.
    const ADULT: Head = Head { at: Point { x: 48.0, y: 60.0 }, turn: 0.0, length: 130.0, sure: 0.9 };
    const FRY: Head = Head { at: Point { x: 90.0, y: 45.0 }, turn: 1.4, length: 40.0, sure: 0.8 };

    /// The things that `fish` make, each pixel that of the last one that covers it.
    fn seen(fish: &[Head], heads: &[Head]) -> (Survey, Vec<Blob>, Heads) {
        let mut survey = Survey::bare(200, 120);
        let owner = |p: Point| fish.iter().rev().map(Head::fish).find(|f| f.distance(p) <= 1.0);
        for k in 0..survey.kinds.len() {
            if owner(survey.place(k)).is_some() {
                survey.kinds[k] = Kind::Thing;
            }
        }
        let group = blobs(&survey, 24);
        let middle = |b: &Blob, k: usize| Some((k, owner(survey.place(b.place(k, 200)))?.middle));
        let middles = group.iter().map(|b| b.grid.indices().filter_map(|k| middle(b, k)).collect()).collect();
        (survey, group, Heads { heads: heads.to_vec(), middles })
    }

    fn areas(told: &[Told]) -> Vec<f64> {
        let area = |t: &Told| match t {
            Told::One(b) | Told::Touching(b) | Told::Cluster(b, _) => b.grid.count() as f64,
        };
        told.iter().map(area).collect()
    }

    #[test]
    fn a_fry_across_an_adult_has_its_pixels_and_the_adult_the_others() {
        let (survey, group, seen) = seen(&[ADULT, FRY], &[ADULT, FRY]);
        let told = parted(&survey, &group, &seen).unwrap();
        assert!(matches!(&told[..], [Told::Touching(_), Told::Touching(_)]), "{} of them", told.len());
        let [adult, fry] = areas(&told)[..] else { unreachable!() };
        assert!((fry / FRY.fish().area() - 1.0).abs() < 0.15 && adult > 0.85 * ADULT.fish().area(), "{adult}, {fry}");
    }

    #[test]
    fn a_fish_that_another_parts_in_two_stays_one() {
        // As long as the other is broad, and over its middle.
        let over = Head { at: Point::new(100.0, 20.0), turn: 1.57, length: 100.0, sure: 0.8 };
        let (survey, group, seen) = seen(&[ADULT, over], &[ADULT, over]);
        let told = parted(&survey, &group, &seen).unwrap();
        let Told::Touching(adult) = &told[0] else { panic!("not touching") };
        assert_eq!(adult.grid.pieces().len(), 1);
        assert!((areas(&told)[0] / ADULT.fish().area() - 1.0).abs() < 0.15, "{:?}", areas(&told));
    }

    #[test]
    fn a_certain_head_is_a_fish_even_if_its_pixels_seem_to_be_the_ones_of_the_fish_below() {
        let (survey, group, told) = seen(&[ADULT], &[ADULT, FRY]);
        let told = parted(&survey, &group, &told).unwrap();
        let common = (0..200 * 120).filter(|&k| {
            let p = survey.place(k);
            FRY.fish().distance(p) <= INSIDE && ADULT.fish().distance(p) <= 1.0
        });
        let [_, fry] = areas(&told)[..] else { panic!("{} of them", told.len()) };
        assert!((fry / common.count() as f64 - 1.0).abs() < 0.15, "{fry}");
    }

    #[test]
    fn a_fry_over_the_middle_of_an_adult_is_no_twin_of_it() {
        let over = Head { at: Point::new(98.0, 48.0), turn: 0.3, ..FRY };
        assert!(ADULT.fish().middle.distance(over.fish().middle) < TWINS * ADULT.length);
        let (survey, group, told) = seen(&[ADULT, over], &[ADULT, over]);
        assert_eq!(parted(&survey, &group, &told).unwrap().len(), 2);
    }

    #[test]
    fn a_head_to_which_no_pixel_belongs_is_none_and_one_head_parts_nothing() {
        let doubtful = Head { sure: 0.5, ..FRY };
        let (survey, group, told) = seen(&[ADULT], &[ADULT, doubtful]);
        assert!(parted(&survey, &group, &told).is_none());
        let second = Head { at: ADULT.at + Point::new(4.0, 1.0), sure: 0.7, ..ADULT };
        let (survey, group, told) = seen(&[ADULT, FRY], &[ADULT, FRY, second]);
        assert_eq!(parted(&survey, &group, &told).unwrap().len(), 2);
        let unsure = Head { sure: 0.2, ..FRY };
        let (survey, group, told) = seen(&[ADULT, FRY], &[ADULT, unsure]);
        assert!(parted(&survey, &group, &told).is_none());
    }
}
