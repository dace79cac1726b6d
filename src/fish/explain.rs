//! How many fish, and which, explain a thing best: spindles are added one by one as long as each earns its place.

use rayon::prelude::*;

use crate::geometry::Point;

use super::spindle::{Expected, Spindle};
use super::worth::Worth;

/// What a place is worth that another spindle covers already: fish may cross, but seldom do.
pub(super) const CROSSED: f32 = -0.15;
/// Smallest share of its own area that a further spindle must add to what is explained; more for one so much smaller than is
/// expected that a fin would do (starting values, tuned on the renderer's tuning seeds).
const EARNED: (f64, f64) = (0.34, 0.65);
/// The same where one fish alone cannot be what there is.
const SEVERAL: f64 = 0.31;
/// The same of the one fish more where something is known to stand out (starting value, tuned on the renderer's tuning seeds).
const STANDS_OUT: f64 = 0.2;
/// Share of the expected area below which a fin would do.
const FIN: f64 = 0.3;

/// The few spindles that explain a map best, at most `most`; none when even one explains nothing. `several` says that it is known
/// to be more than one fish.
///
/// Each further one must explain much that those before do not; after each addition all settle anew, in turns (after the
/// marked point processes of Descombes & Zerubia 2002, made greedy).
pub(super) fn explain(map: &Worth, expected: Expected, most: usize, several: bool) -> Vec<Spindle> {
    let mut searched = Searched::default();
    let mut told: Vec<Spindle> = Vec::new();
    let mut total = 0.0;
    while told.len() < most {
        let Some((worth, trial)) = with_one_more(map, &told, expected, &mut searched) else { break };
        let smallest = trial.iter().map(Spindle::area).fold(f64::MAX, f64::min);
        let earned = match smallest < FIN * expected.area() {
            true => EARNED.1,
            false if several => SEVERAL,
            false => EARNED.0,
        };
        if worth - total < earned * smallest {
            break;
        }
        (told, total) = (trial, worth);
    }
    told
}

/// The spindles with one more, where something stands out from them and another one explains a little more at least.
pub(super) fn explain_one_more(map: &Worth, told: &[Spindle], expected: Expected) -> Option<Vec<Spindle>> {
    let (worth, trial) = with_one_more(map, told, expected, &mut Searched::default())?;
    let smallest = trial.iter().map(Spindle::area).fold(f64::MAX, f64::min);
    (worth - total_worth(map, told, expected) >= STANDS_OUT * smallest).then_some(trial)
}

/// The best set with one spindle more, and what it is worth: one beside those that stand, or one of them parted in two.
fn with_one_more(
    map: &Worth,
    told: &[Spindle],
    expected: Expected,
    searched: &mut Searched,
) -> Option<(f64, Vec<Spindle>)> {
    let (_, next) = searched.best(&without(map, told, None), expected)?;
    let added = told.iter().copied().chain([next]).collect();
    let added = settled(map, added, expected, |rest| searched.best(rest, expected));
    let trials = parted(told).into_par_iter();
    let parted: Vec<(f64, Vec<Spindle>)> = trials.map(|trial| settled(map, trial, expected, |_| None)).collect();
    parted.into_iter().chain([added]).max_by(|a, b| a.0.total_cmp(&b.0))
}

/// Spindles after each has settled anew in the presence of the others, in turns, and what they are worth together; `search` may find a
/// better one for what the others leave.
fn settled(
    map: &Worth,
    mut spindles: Vec<Spindle>,
    expected: Expected,
    mut search: impl FnMut(&Worth) -> Option<(f64, Spindle)> + Send,
) -> (f64, Vec<Spindle>) {
    const ROUNDS: usize = 2;
    let n = spindles.len();
    let turns = if n > 1 { ROUNDS * n } else { 0 };
    for i in (0..turns).map(|turn| turn % n) {
        let rest = without(map, &spindles, Some(i));
        let (again, anew) = rayon::join(|| spindles[i].refined(&rest, expected), || search(&rest));
        spindles[i] = anew.filter(|a| a.0 > again.0).unwrap_or(again).1;
    }
    (total_worth(map, &spindles, expected), spindles)
}

/// The spindles with each in turn parted in two, side by side and end to end: one broad or long spindle may stand for two fish.
fn parted(spindles: &[Spindle]) -> Vec<Vec<Spindle>> {
    // A little over half, since the two may overlap.
    const HALF: f64 = 0.55;
    let mut out = Vec::new();
    for (i, s) in spindles.iter().enumerate() {
        let along = Point::new(s.turn.cos(), s.turn.sin());
        let across = Point::new(-along.y, along.x);
        let beside = |way: f64| Spindle {
            middle: s.middle + across * (0.5 * way * s.half_width),
            half_width: HALF * s.half_width,
            ..*s
        };
        let behind = |way: f64| Spindle {
            middle: s.middle + along * (0.25 * way * s.length),
            length: HALF * s.length,
            bend: 0.0,
            ..*s
        };
        for pair in [[beside(1.0), beside(-1.0)], [behind(1.0), behind(-1.0)]] {
            let others = spindles.iter().enumerate().filter(|(j, _)| *j != i).map(|(_, s)| *s);
            out.push(others.chain(pair).collect());
        }
    }
    out
}

/// The best single spindle of every map searched so far: while fish settle, those that stand still leave the others the same map.
#[derive(Debug, Default)]
struct Searched(Vec<(Worth, Option<(f64, Spindle)>)>);

impl Searched {
    fn best(&mut self, map: &Worth, expected: Expected) -> Option<(f64, Spindle)> {
        if let Some((_, known)) = self.0.iter().find(|(searched, _)| searched == map) {
            return *known;
        }
        let best = best(map, expected);
        self.0.push((map.clone(), best));
        best
    }
}

/// The best single spindle in a map.
fn best(map: &Worth, expected: Expected) -> Option<(f64, Spindle)> {
    const SEEDS: usize = 10;
    const TURNS: usize = 8;
    const REFINED: usize = 3;
    let things: Vec<usize> = (0..map.value.len()).filter(|&k| map.value[k] > 0.5).collect();
    let every = things.len().div_ceil(SEEDS).max(1);
    let starts: Vec<Spindle> = things
        .iter()
        .skip(every / 2)
        .step_by(every)
        .flat_map(|&k| {
            let middle = Point::new((k % map.width) as f64 + 0.5, (k / map.width) as f64 + 0.5);
            (0..TURNS).map(move |i| {
                let turn = i as f64 * std::f64::consts::PI / TURNS as f64;
                let half_width = expected.aspect * expected.length;
                Spindle { middle, turn, bend: 0.0, length: expected.length, half_width }
            })
        })
        .collect();
    let mut starts: Vec<(f64, Spindle)> = starts.into_par_iter().map(|s| (s.worth(map, expected), s)).collect();
    starts.sort_by(|a, b| b.0.total_cmp(&a.0));
    starts.truncate(REFINED);
    let both_ways = |(_, s): (f64, Spindle)| [s, Spindle { turn: s.turn + std::f64::consts::PI, ..s }];
    let refined: Vec<(f64, Spindle)> =
        starts.into_par_iter().flat_map_iter(both_ways).map(|s| s.refined(map, expected)).collect();
    refined.into_iter().max_by(|a, b| a.0.total_cmp(&b.0))
}

/// The map with what all spindles but number `left_out` cover counted as crossed.
fn without(map: &Worth, spindles: &[Spindle], left_out: Option<usize>) -> Worth {
    let mut rest = map.clone();
    for (_, s) in spindles.iter().enumerate().filter(|(i, _)| Some(*i) != left_out) {
        rest.covered(s, CROSSED);
    }
    rest
}

/// What spindles are worth together.
fn total_worth(map: &Worth, spindles: &[Spindle], expected: Expected) -> f64 {
    let mut rest = map.clone();
    spindles
        .iter()
        .map(|s| {
            let worth = s.worth(&rest, expected);
            rest.covered(s, CROSSED);
            worth
        })
        .sum()
}

#[cfg(test)]
mod tests {
    use super::super::drawn::in_fish;
    use super::*;

    fn map(heads: &[(f64, f64, f64)]) -> Worth {
        let (width, height) = (160, 140);
        let place = |k: usize| Point::new((k % width) as f64 + 0.5, (k / width) as f64 + 0.5);
        let value = (0..width * height).map(|k| if in_fish(heads, place(k)) { 1.0 } else { -1.0 }).collect();
        Worth { width, height, value }
    }

    fn told(heads: &[(f64, f64, f64)]) -> Vec<Spindle> {
        explain(&map(heads), Expected { length: 60.0, aspect: 0.09 }, 5, false)
    }

    #[test]
    fn as_many_spindles_as_fish() {
        let one = [(40.0, 60.0, 30.0)];
        let beside = [(40.0, 60.0, 0.0), (44.0, 71.0, 4.0)];
        let crossing = [(50.0, 60.0, 20.0), (75.0, 40.0, 95.0)];
        let angle = [(40.0, 60.0, 0.0), (60.0, 66.0, 60.0)];
        let three = [(30.0, 60.0, 0.0), (34.0, 71.0, 4.0), (94.0, 70.0, -30.0)];
        for (name, heads) in
            [("one", &one[..]), ("beside", &beside), ("crossing", &crossing), ("angle", &angle), ("three", &three)]
        {
            assert_eq!(told(heads).len(), heads.len(), "{name}");
        }
    }

    #[test]
    fn a_spindle_lies_on_its_fish_head_first() {
        let fish = told(&[(40.0, 60.0, 0.0)])[0];
        assert!(fish.middle.distance(Point::new(70.0, 60.0)) < 4.0, "{fish:?}");
        assert!((fish.length / 60.0 - 1.0).abs() < 0.15 && fish.turn.cos() > 0.95, "{fish:?}");
    }

    #[test]
    fn one_broad_spindle_gives_way_to_two_side_by_side() {
        let both = map(&[(40.0, 60.0, 0.0), (40.0, 70.0, 0.0)]);
        let expected = Expected { length: 60.0, aspect: 0.09 };
        let broad = Spindle { middle: Point::new(70.0, 65.0), turn: 0.0, bend: 0.0, length: 60.0, half_width: 11.0 };
        let (worth, two) = with_one_more(&both, &[broad], expected, &mut Searched::default()).unwrap();
        let apart = (two[0].middle.y - two[1].middle.y).abs();
        assert!(
            worth > total_worth(&both, &[broad], expected) && two.len() == 2 && (apart - 10.0).abs() < 3.0,
            "{two:?}"
        );
    }

    #[test]
    fn bare_floor_is_explained_by_nothing() {
        assert!(told(&[]).is_empty());
    }
}
