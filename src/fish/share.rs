//! The pixels of things that lie close together, shared out to the fish that explain them.
#![expect(clippy::cast_possible_truncation, reason = "slices and places inside the picture")]

use super::by_shape::is_plain;
use super::evidence::Kind;
use super::group::{NO_FISH, Spindles, Told};
use super::seek::{Blob, Survey};
use super::shape::{Shape, Usual};
use super::spindle::Spindle;

/// Half widths from an axis up to which pixels are a fish's: fins stand out from the body.
const FINS: f64 = 2.5;
/// Share of a blob from which on the whole of it belongs to one fish.
const WHOLE: f64 = 0.85;
/// Half widths from an axis within which pixels are a fish's although another is nearer: there the two cross.
const CROSSED: f64 = 0.8;
/// Share of a blob from which on a fish has part in it.
const PART: f64 = 0.1;
/// Usual areas from which a thing that looks like no fish is a heap of them (starting value).
const HEAP: f64 = 1.6;
/// Multiple of its spindle's area from which a thing is more than that one fish (starting value).
const BEYOND: f64 = 2.2;

/// The group's pixels as the fish that spindles say they are.
pub(super) fn share_out(survey: &Survey, group: Vec<Blob>, spindles: &Spindles, usual: Option<Usual>) -> Vec<Told> {
    let share = |stands_out: bool| move |&spindle: &Spindle| Share { spindle, stands_out, ..Share::default() };
    let standing_out = spindles.stand_out.iter().map(share(true));
    let mut fish: Vec<Share> = spindles.explain.iter().map(share(false)).chain(standing_out).collect();
    let at_edge = group.iter().any(|b| b.at_edge);
    let largest = group.iter().map(|b| b.grid.count()).max().unwrap_or(0);
    let (beside, group): (Vec<Blob>, Vec<Blob>) =
        group.into_iter().partition(|b| b.grid.count() < largest && lies_beside(survey, b, &fish));
    let (taken, mut left): (Vec<Blob>, Vec<Blob>) =
        group.into_iter().partition(|b| hand_out(survey, b, usual, &mut fish));
    left.extend(beside.into_iter().filter(|b| usual.is_none_or(|u| b.grid.count() as f64 >= CRUMB * u.area)));
    let clear: Vec<usize> = taken.iter().flat_map(|b| b.bridge_places(survey.block.width)).collect();
    let told = fish.into_iter().filter(|f| !f.own.is_empty()).map(|f| f.told(survey, &clear, at_edge, usual));
    told.chain(left.into_iter().map(|blob| leftover(blob, usual))).collect()
}

/// What one fish gets.
#[derive(Debug, Default)]
struct Share {
    spindle: Spindle,
    own: Vec<usize>,
    /// Whether it shares a blob with another fish.
    touching: bool,
    /// Whether it stands out from the fish it touches, however small a part of their blob it is.
    stands_out: bool,
}

/// Fishness from which a thing beside a fish is another one, or a dropping, and no fin or tail of it; and its share of a usual fish's area
/// below which it is rather a dropping (starting values, tuned on the renderer's tuning seeds).
const ANOTHER: f64 = 0.65;
/// See [`ANOTHER`].
const CRUMB: f64 = 0.07;

/// Whether a thing of a fish's shape lies beside all fish on the whole, near enough to one for a fin and yet a part of none.
fn lies_beside(survey: &Survey, blob: &Blob, fish: &[Share]) -> bool {
    let off = |f: &Share| {
        let distances = blob.places(survey.block.width).map(|k| f.spindle.distance(survey.place(k)));
        distances.sum::<f64>() / blob.grid.count() as f64
    };
    let nearest = || fish.iter().map(off).fold(f64::MAX, f64::min);
    blob.shape().is_some_and(|s| s.fishness(None) >= ANOTHER) && (1.0..FINS).contains(&nearest())
}

/// Gives a blob's pixels to the fish nearest to them; `false` when it lies off all of them.
fn hand_out(survey: &Survey, blob: &Blob, usual: Option<Usual>, fish: &mut [Share]) -> bool {
    let pixels: Vec<usize> = blob.places(survey.block.width).collect();
    let off = |f: &Share, k: usize| f.spindle.distance(survey.place(k));
    let nearest = |k: &usize| {
        let all = fish.iter().enumerate().map(|(i, f)| (off(f, *k), i));
        all.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((f64::MAX, 0))
    };
    let owners: Vec<(f64, usize)> = pixels.iter().map(nearest).collect();
    let mut counts = vec![0.0; fish.len()];
    owners.iter().filter(|o| o.0 <= FINS).for_each(|o| counts[o.1] += 1.0);
    let total = pixels.len() as f64;
    if counts.iter().sum::<f64>() < 0.5 * total {
        return false;
    }
    let parted = fish.iter().zip(&counts).any(|(f, n)| f.stands_out && *n > 0.0);
    // A blob that is a fish by itself is not parted because small things lie beside it.
    let main = (0..fish.len()).max_by(|&a, &b| counts[a].total_cmp(&counts[b]));
    if let Some(main) = main.filter(|&i| !parted && (counts[i] >= WHOLE * total || is_plain(blob, usual))) {
        fish[main].own.extend(pixels);
        return true;
    }
    for (i, f) in fish.iter_mut().enumerate() {
        let own =
            pixels.iter().zip(&owners).filter(|(k, o)| o.1 == i || f.spindle.distance(survey.place(**k)) < CROSSED);
        f.own.extend(own.map(|(k, _)| *k));
        f.touching |= counts[i] > if f.stands_out { 0.0 } else { PART * total };
    }
    true
}

impl Share {
    /// The fish as a blob; `clear` are pixels that only bridge gaps.
    fn told(self, survey: &Survey, clear: &[usize], at_edge: bool, usual: Option<Usual>) -> Told {
        let near = clear.iter().copied().filter(|&k| self.spindle.distance(survey.place(k)) <= FINS);
        let bridge: Vec<usize> = self.stalk(survey).into_iter().chain(near).collect();
        let area = self.own.len() as f64;
        let blob = Blob::of(survey, self.own, bridge);
        let blob = Blob { at_edge: blob.at_edge && at_edge, ..blob };
        match usual {
            Some(u) if area > HEAP * u.area && area > BEYOND * self.spindle.area() => {
                Told::Cluster(blob, number(area, u))
            }
            _ if self.touching => Told::Touching(blob),
            _ => Told::One(blob),
        }
    }

    /// The spindle's own places in slices that hold none of its pixels though slices on either side do: a stalk as pale as the
    /// floor.
    fn stalk(&self, survey: &Survey) -> Vec<usize> {
        const SLICES: usize = 40;
        const BODY: f64 = 0.9;
        let slice = |k: usize| (self.spindle.share(survey.place(k)).clamp(0.0, 1.0) * SLICES as f64) as usize;
        let mut filled = [false; SLICES + 1];
        self.own.iter().for_each(|&k| filled[slice(k)] = true);
        let (Some(first), Some(last)) = (filled.iter().position(|f| *f), filled.iter().rposition(|f| *f)) else {
            return Vec::new();
        };
        // The slices beside a gap as well, so that both ends hold.
        let gap = |i: usize| i > first && i < last && !(filled[i - 1] && filled[i] && filled[i + 1]);
        if !(first..=last).any(gap) {
            return Vec::new();
        }
        let bare = |&k: &usize| survey.kinds[k] != Kind::Thing && self.spindle.distance(survey.place(k)) <= BODY;
        survey.around(self.spindle.middle, 0.6 * self.spindle.length).filter(|k| gap(slice(*k))).filter(bare).collect()
    }
}

/// A blob that no fish explains.
fn leftover(blob: Blob, usual: Option<Usual>) -> Told {
    let area = blob.grid.count() as f64;
    let shapeless = |s: Shape| s.fishness(usual) <= NO_FISH && s.slenderness < 30.0;
    match usual {
        Some(u) if area > HEAP * u.area && blob.shape().is_some_and(shapeless) => Told::Cluster(blob, number(area, u)),
        _ => Told::One(blob),
    }
}

/// About how many usual fish make up an area; two at least.
fn number(area: f64, usual: Usual) -> u32 {
    ((area / usual.area).round() as u32).max(2)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Point;

    #[test]
    fn what_is_too_large_for_its_fish_is_a_cluster_though_it_touches_another() {
        let survey = Survey::bare(200, 120);
        let spindle = Spindle::new(Point::new(60.0, 40.0), 0.0, 60.0, 500.0);
        let usual = Some(Usual { area: 500.0, slenderness: 7.2 });
        let told = |rows: usize| {
            let own = (0..rows * 60).map(|i| (i / 60 + 35) * 200 + i % 60 + 30).collect();
            Share { spindle, own, touching: true, stands_out: false }.told(&survey, &[], false, usual)
        };
        assert!(matches!(told(8), Told::Touching(_)));
        assert!(matches!(told(25), Told::Cluster(_, 3)), "1500 pixels where a fish has 500");
    }
}
