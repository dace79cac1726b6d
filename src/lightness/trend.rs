//! Is the line getting lighter: generations, slopes, age, and the realised response to selection.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use super::age::{age_adjusted, per_30_days};
use super::response::{Heritability, heritability};
use super::words::DIFFERENT_SHEETS;
use crate::error::{Error, Result};
use crate::features::{Limits, pixels_for_net};
use crate::stats::Interval;
use crate::stats::mixed::{self, Criterion, Row};
use crate::stats::slope::{theil_sen, weighted_line};
use crate::stats::student::{Ranged, mean, t_critical, welch};
use crate::units::counted;

/// One brood of the line at one sitting: the mean over its fish.
#[derive(Debug, Clone, PartialEq)]
pub struct BroodPoint {
    /// The brood.
    pub brood: String,
    /// Generations since the line's founders, 0 for the first young measured.
    pub generation: u32,
    /// Number of fish behind the mean.
    pub fish: usize,
    /// Mean of the feature.
    pub value: f64,
    /// Mean age in days; `None` when not known.
    pub age: Option<f64>,
    /// Mean of the brood's two parents, where both were measured.
    pub mid_parent: Option<f64>,
    /// Colour of the floor these fish lay over, where it is known; a brood seen over two floors makes two points.
    pub floor: Option<String>,
}

/// What a trend is made from.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TrendInput {
    /// The line.
    pub line: String,
    /// The feature, in words with its unit, for the verdict: `lightness`.
    pub feature: String,
    /// Between which values it can lie at all, where there are such.
    pub limits: Option<Interval>,
    /// All broods, a point for each floor they were seen over.
    pub broods: Vec<BroodPoint>,
    /// The sheets their features were read with, by hash.
    pub sheets: BTreeSet<String>,
    /// Fish left out because they lay over a floor of another colour.
    pub other_floors: Vec<BroodPoint>,
}

impl TrendInput {
    /// Leaves out the fish over another floor than that of most broods, of several alike that of the latest generation:
    /// fish change their shade with the floor within minutes, and two floors would count as a change of the line.
    pub fn over_one_floor(mut self) -> Self {
        let mut floors: BTreeMap<&str, (usize, u32)> = BTreeMap::new();
        for (floor, generation) in self.broods.iter().filter_map(|b| Some((b.floor.as_deref()?, b.generation))) {
            let (broods, latest) = floors.entry(floor).or_default();
            (*broods, *latest) = (*broods + 1, generation.max(*latest));
        }
        let usual = floors.into_iter().max_by_key(|(_, weight)| *weight).map(|(floor, _)| floor.to_owned());
        let stays = |b: &BroodPoint| b.floor.is_none() || b.floor == usual;
        let (stay, leave): (Vec<_>, Vec<_>) = self.broods.into_iter().partition(stays);
        self.broods = one_a_brood(&stay);
        self.other_floors.extend(leave);
        self
    }
}

/// The points of each brood as one, its mean over all fish.
fn one_a_brood(points: &[BroodPoint]) -> Vec<BroodPoint> {
    let mut out: Vec<BroodPoint> = Vec::new();
    for point in points {
        let Some(known) = out.iter_mut().find(|b| b.brood == point.brood) else {
            out.push(point.clone());
            continue;
        };
        let (a, b) = (known.fish as f64, point.fish as f64);
        known.value = (known.value * a + point.value * b) / (a + b);
        known.fish += point.fish;
        known.mid_parent = known.mid_parent.or(point.mid_parent);
        known.floor = known.floor.take().or_else(|| point.floor.clone());
    }
    out
}

/// Said where photos were taken over floors of different colour.
fn floors_differ(input: &TrendInput) -> Option<String> {
    let floors: BTreeSet<&str> = input.broods.iter().filter_map(|b| b.floor.as_deref()).collect();
    let floors = floors.into_iter().collect::<Vec<_>>().join(", ");
    let named = |b: &BroodPoint| format!("{} ({} fish, {})", b.brood, b.fish, b.floor.as_deref().unwrap_or_default());
    let left: Vec<String> = input.other_floors.iter().map(named).collect();
    if !left.is_empty() {
        return Some(format!(
            "left out, because the others lie over a floor of another colour ({floors}): {}; fish change their shade \
             with the floor within minutes: photograph all broods over the same one, or ask with --across-floors",
            left.join(", ")
        ));
    }
    floors.contains(", ").then(|| {
        format!(
            "the broods lie over floors of different colour ({floors}): fish change their shade with the floor, so the \
             difference may be the floor's"
        )
    })
}

/// One generation: its broods, each counted once.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Generation {
    /// Number of the generation.
    pub generation: u32,
    /// Broods.
    pub broods: usize,
    /// Fish.
    pub fish: usize,
    /// Mean of the brood means.
    pub mean: f64,
    /// 95 % interval from the spread of broods within generations; `None` when no generation has two.
    pub interval: Option<Interval>,
}

/// Both slopes, per generation.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Slopes {
    /// Regression on generation means.
    pub regression: f64,
    /// Value of the regression's line at generation 0.
    pub intercept: f64,
    /// Its 95 % interval; `None` with too little to judge by.
    pub interval: Option<Interval>,
    /// How it was made, and its unit.
    pub method: String,
    /// Theil–Sen over generation means.
    pub theil_sen: f64,
    /// Sen's interval; `None` below five generations.
    pub theil_sen_interval: Option<Interval>,
    /// Regression with the age of the young beside the generation; `None` when ages are missing or hardly differ within generations.
    pub age_adjusted: Option<Ranged>,
    /// Change of the feature per 30 days of age, between broods of one generation.
    pub per_30_days: Option<Ranged>,
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Trend {
    /// Generations in order.
    pub generations: Vec<Generation>,
    /// Slopes; `None` with a single generation.
    pub slopes: Option<Slopes>,
    /// Realised heritability; `None` without measured parents that differ from their generation.
    pub heritability: Option<Heritability>,
    /// The sentence.
    pub verdict: String,
    /// What weakens it.
    pub cautions: Vec<String>,
}

/// Judges a line over its generations.
///
/// # Errors
/// No brood with a value.
pub fn trend(input: &TrendInput) -> Result<Trend> {
    if input.broods.is_empty() {
        let hint = match input.feature.as_str() {
            "net" => format!(
                "the net is read from about {:.0} pixels a millimetre on: photograph the fish closer, and say the card's pitch",
                pixels_for_net(&Limits::default())
            ),
            _ => "score photos of its broods with `broodhue score`".to_owned(),
        };
        return Err(Error::failed(&input.line, format!("no brood of this line has a {}", input.feature), hint));
    }
    let broods = one_a_brood(&input.broods);
    let generations = generations(&broods, input.limits);
    let slopes = slopes(&broods, &generations);
    let heritability = heritability(&broods, &generations);
    let verdict = verdict(input, broods.len(), &generations, slopes.as_ref());
    let cautions = cautions(input, &broods, &generations, (slopes.as_ref(), heritability.as_ref()));
    Ok(Trend { generations, slopes, heritability, verdict, cautions })
}

fn generations(broods: &[BroodPoint], limits: Option<Interval>) -> Vec<Generation> {
    let mut by: BTreeMap<u32, Vec<&BroodPoint>> = BTreeMap::new();
    for brood in broods {
        by.entry(brood.generation).or_default().push(brood);
    }
    let centre = |of: &[&BroodPoint]| of.iter().map(|b| b.value).sum::<f64>() / of.len() as f64;
    let squares: f64 = by.values().map(|of| of.iter().map(|b| (b.value - centre(of)).powi(2)).sum::<f64>()).sum();
    let df = (broods.len() - by.len()) as f64;
    let half = |n: usize| (df > 0.0).then(|| t_critical(0.95, df) * (squares / df / n as f64).sqrt());
    by.iter()
        .map(|(&generation, of)| Generation {
            generation,
            broods: of.len(),
            fish: of.iter().map(|b| b.fish).sum(),
            mean: centre(of),
            interval: half(of.len()).map(|half| within(Interval::around(centre(of), half), limits)),
        })
        .collect()
}

fn within(interval: Interval, limits: Option<Interval>) -> Interval {
    limits.map_or(interval, |l| Interval::new(interval.low.max(l.low), interval.high.min(l.high)))
}

fn slopes(broods: &[BroodPoint], generations: &[Generation]) -> Option<Slopes> {
    let x: Vec<f64> = generations.iter().map(|g| f64::from(g.generation)).collect();
    let y: Vec<f64> = generations.iter().map(|g| g.mean).collect();
    let robust = theil_sen(&x, &y, 0.95)?;
    let (regression, intercept, interval, method) = if x.len() == 2 {
        two_generations(broods, &x)?
    } else {
        let fit = weighted_line(&x, &y, &weights(broods, generations))?;
        let method = format!(
            "weighted regression on the means of {} generations, each brood counted once; the generation is the unit \
             (t with {}), so that drift of whole generations is in the interval",
            x.len(),
            counted(x.len() - 2, "degree of freedom", "degrees of freedom")
        );
        (fit.slope.value, fit.intercept, Some(fit.slope.interval(0.95)), method)
    };
    Some(Slopes {
        regression,
        intercept,
        interval,
        method,
        theil_sen: robust.slope,
        theil_sen_interval: (x.len() >= 5).then_some(robust.interval),
        age_adjusted: age_adjusted(broods, x.len()),
        per_30_days: per_30_days(broods),
    })
}

/// Between two generations only broods can be the unit, and drift of a whole generation stays invisible.
fn two_generations(broods: &[BroodPoint], x: &[f64]) -> Option<(f64, f64, Option<Interval>, String)> {
    let of = |g: f64| -> Vec<f64> {
        broods.iter().filter(|b| f64::from(b.generation).total_cmp(&g).is_eq()).map(|b| b.value).collect()
    };
    let (first, last, gap) = (of(x[0]), of(x[1]), x[1] - x[0]);
    let value = (mean(&last)? - mean(&first)?) / gap;
    let intercept = mean(&first)? - value * x[0];
    let interval = welch(&last, &first).map(|e| e.interval(0.95)).map(|i| Interval::new(i.low / gap, i.high / gap));
    let method = "difference of two generations, broods as the unit (Welch); chance differences between whole \
                  generations are not in the interval";
    Some((value, intercept, interval, method.to_owned()))
}

/// Weight of each generation's mean from the variance among generations and among broods (REML): with the same number of
/// broods everywhere all are equal.
fn weights(broods: &[BroodPoint], generations: &[Generation]) -> Vec<f64> {
    let place = |g: u32| generations.iter().position(|x| x.generation == g).unwrap_or(0);
    let rows: Vec<Row> = broods
        .iter()
        .map(|b| Row { group: place(b.generation), y: b.value, x: vec![1.0, f64::from(b.generation)], z: vec![1.0] })
        .collect();
    let repeated = broods.len() > generations.len();
    let fit = if repeated { mixed::fit(&rows, Criterion::Reml) } else { None };
    let (among, within) = fit.map_or((1.0, 0.0), |f| (f.random[0][0], f.residual));
    let weight = |g: &Generation| 1.0 / (among + within / g.broods as f64);
    let all: Vec<f64> = generations.iter().map(weight).collect();
    if all.iter().all(|w| w.is_finite()) { all } else { vec![1.0; generations.len()] }
}

fn verdict(input: &TrendInput, broods: usize, generations: &[Generation], slopes: Option<&Slopes>) -> String {
    let TrendInput { line, feature, .. } = input;
    let count =
        format!("{}, {}", counted(generations.len(), "generation", "generations"), counted(broods, "brood", "broods"));
    let Some(slopes) = slopes else {
        return format!("{line}: one generation alone says nothing about a change of {feature}");
    };
    let Some(interval) = slopes.interval else {
        return format!(
            "{line}: {feature} differs by {:.2} per generation, but with one brood in a generation nothing tells how \
             much of it is chance ({count})",
            slopes.regression
        );
    };
    let (value, Interval { low, high }) = (slopes.regression, interval);
    let range = format!("{value:.2} per generation, 95 % interval {low:.2} to {high:.2}");
    match (low > 0.0, high < 0.0) {
        (true, _) => format!("{line}: {feature} rises by {range} ({count})"),
        (_, true) => format!("{line}: {feature} falls by {range} ({count})"),
        _ => format!("{line}: no change of {feature} is shown: {range} ({count})"),
    }
}

fn cautions(
    input: &TrendInput,
    broods: &[BroodPoint],
    generations: &[Generation],
    (slopes, heritability): (Option<&Slopes>, Option<&Heritability>),
) -> Vec<String> {
    let mut out: Vec<String> = floors_differ(input).into_iter().collect();
    if input.sheets.len() > 1 {
        out.push(DIFFERENT_SHEETS.to_owned());
    }
    let missing: Vec<String> =
        generations.windows(2).flat_map(|w| w[0].generation + 1..w[1].generation).map(|g| g.to_string()).collect();
    if !missing.is_empty() {
        out.push(format!("no measured brood in generation {}", missing.join(", ")));
    }
    let ages = broods.iter().filter(|b| b.age.is_some()).count();
    if ages < broods.len() {
        let unknown = broods.len() - ages;
        out.push(format!(
            "the age of {} is not known: fish that are photographed older may just look lighter",
            counted(unknown, "brood", "broods")
        ));
    } else if slopes.is_some_and(|s| s.per_30_days.is_none()) {
        out.push("ages are known but do not vary enough within generations to tell age from generation".to_owned());
    }
    if slopes.is_some() {
        out.push(
            "without a control line kept alongside, changes of food, temperature, light or camera count as a change of \
             the line"
                .to_owned(),
        );
    }
    if heritability.is_some() {
        out.push(
            "realised heritability without a control counts drift, food, age and light as response; its error is larger \
             than the regression's, so none is given"
                .to_owned(),
        );
    }
    out
}
