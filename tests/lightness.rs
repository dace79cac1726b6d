#![allow(clippy::unwrap_used, reason = "a test may panic")]
//! Are the intervals honest? Disputes, groups and lines drawn from known truths.
//!
//! `BROODHUE_SIMULATIONS=1000` runs the full numbers of docs/validation.md; the default is smaller, with limits to match.

use broodhue::lightness::{
    BroodPoint, Permitted, Reading, SamePhoto, SetUp, Spread, TrendInput, Verdict, compare, feature_named,
    repeatability, trend, two_groups,
};
use broodhue::stats::binomial::upper_tail;
use broodhue::stats::random::Random;
use broodhue::units::View;

/// How many draws of each truth.
fn draws() -> u64 {
    std::env::var("BROODHUE_SIMULATIONS").ok().and_then(|n| n.parse().ok()).unwrap_or(300)
}

/// A count of 5 % events that is not surprising (p ≥ 0.001) when the true rate is 5 %; 67 of 1000 at most.
fn most_at_five_percent() -> u64 {
    let n = draws();
    let unsurprising = (0..=n).filter(|x| upper_tail(*x, n, 0.05) >= 0.001).max().unwrap();
    unsurprising.min(if n >= 1000 { n * 67 / 1000 } else { n })
}

#[derive(Clone, Copy)]
struct Truth {
    /// Broods a side, and fish a brood.
    broods: u64,
    fish: u64,
    /// Standard deviations between broods, between fish, of one reading, of one photo.
    brood_sd: f64,
    fish_sd: f64,
    reading_sd: f64,
    photo_sd: f64,
    /// Photos of each brood; with `shared` all broods of both sides stand in the same photos.
    photos: usize,
    shared: bool,
}

impl Truth {
    fn side(&self, name: &str, level: f64, photo_errors: &mut Vec<f64>, random: &mut Random) -> Vec<Reading> {
        let mut out = Vec::new();
        for brood in 0..self.broods {
            let brood_level = level + self.brood_sd * random.normal();
            let first = if self.shared { 0 } else { photo_errors.len() };
            while photo_errors.len() < first + self.photos {
                photo_errors.push(self.photo_sd * random.normal());
            }
            for fish in 0..self.fish {
                let own = brood_level + self.fish_sd * random.normal();
                for (photo, error) in photo_errors.iter().enumerate().skip(first).take(self.photos) {
                    let l = own + error + self.reading_sd * random.normal();
                    out.push(self.reading(&format!("{name}{brood}-{fish}"), &format!("{name}{brood}"), photo, l));
                }
            }
        }
        out
    }

    fn reading(&self, fish: &str, brood: &str, photo: usize, l: f64) -> Reading {
        Reading {
            fish: fish.into(),
            brood: Some(brood.into()),
            photo: format!("photo {photo}"),
            n: 1,
            lab: [l, 2.0, 15.0],
            own: [self.reading_sd; 3],
            calibration: [self.photo_sd; 3],
            floor: Some("white".into()),
            view: View::Above,
            card: Some("chart-24".into()),
            sheet: None,
            set_up: "phone, chart-24".into(),
        }
    }

    /// How many of the disputes with this true difference end in lighter or darker.
    fn told_apart(&self, difference: f64, seed: u64) -> u64 {
        let mut random = Random::new(seed);
        (0..draws())
            .filter(|_| {
                let mut photos = Vec::new();
                let a = self.side("A", 70.0 + difference, &mut photos, &mut random);
                let b = self.side("B", 70.0, &mut photos, &mut random);
                let found = compare(["A", "B"], &a, &b, None, Permitted::default()).unwrap();
                assert!(!(difference > 2.0 && found.verdict == Verdict::Darker));
                found.verdict != Verdict::NotToldApart
            })
            .count() as u64
    }
}

const LINES: Truth =
    Truth { broods: 3, fish: 8, brood_sd: 1.0, fish_sd: 1.5, reading_sd: 0.4, photo_sd: 0.8, photos: 1, shared: false };

#[test]
fn no_true_difference_is_seldom_told_apart() {
    let truths = [
        ("three broods a side, each in its photo", LINES),
        ("three broods a side, one photo", Truth { shared: true, ..LINES }),
        ("two broods a side, two photos each", Truth { broods: 2, photos: 2, ..LINES }),
        ("six broods of four fish a side", Truth { broods: 6, fish: 4, ..LINES }),
        ("one brood a side, each in its photo", Truth { broods: 1, brood_sd: 0.0, ..LINES }),
        ("one brood a side, one photo", Truth { broods: 1, brood_sd: 0.0, shared: true, ..LINES }),
        ("one fish a side, each in its photo", Truth { broods: 1, fish: 1, brood_sd: 0.0, fish_sd: 0.0, ..LINES }),
        (
            "one fish a side, four shared photos",
            Truth { broods: 1, fish: 1, brood_sd: 0.0, fish_sd: 0.0, photos: 4, shared: true, ..LINES },
        ),
    ];
    for (seed, (name, truth)) in (100..).zip(truths) {
        let wrong = truth.told_apart(0.0, seed);
        println!("no difference, {name}: {wrong} of {} told apart", draws());
        assert!(wrong <= most_at_five_percent(), "{name}: {wrong} of {}", draws());
    }
}

/// 8 fish a side in one photo, fish spread 1.5 L*: a difference of 3 L* is found in at least 90 %.
#[test]
fn three_steps_of_lightness_are_told_apart() {
    let truth = Truth { broods: 1, brood_sd: 0.0, shared: true, ..LINES };
    let found = truth.told_apart(3.0, 7);
    println!("difference 3 L*, 8 fish a side, one photo: {found} of {} told apart", draws());
    assert!(found * 10 >= draws() * 9, "{found} of {}", draws());
}

/// Of pairs of sides without a true difference, how many end in lighter or darker with errors learned from repeats.
fn told_apart_by_repeats(sides: [&Truth; 2], seed: u64, repeats: impl Fn(&mut Random) -> Vec<Reading>) -> u64 {
    let mut random = Random::new(seed);
    (0..draws())
        .filter(|_| {
            let setup = repeatability("phone, chart, tray", &repeats(&mut random)).unwrap().setup;
            let mut photos = Vec::new();
            let a = sides[0].side("A", 70.0, &mut photos, &mut random);
            let b = sides[1].side("B", 70.0, &mut photos, &mut random);
            let found = compare(["A", "B"], &a, &b, Some(&setup), Permitted::default()).unwrap();
            found.verdict != Verdict::NotToldApart
        })
        .count() as u64
}

/// With repeats the interval rests on them: two fish, three photos each, error learned from six fish in the same four photos.
#[test]
fn repeats_give_honest_intervals_too() {
    let truth = Truth { broods: 1, fish: 1, brood_sd: 0.0, fish_sd: 0.0, photos: 3, ..LINES };
    let tray = Truth { fish: 6, photos: 4, fish_sd: 1.5, ..truth };
    let wrong = told_apart_by_repeats([&truth; 2], 21, |random| tray.side("R", 70.0, &mut Vec::new(), random));
    println!("no difference, errors from repeats: {wrong} of {} told apart", draws());
    assert!(wrong <= most_at_five_percent(), "{wrong}");
}

/// Portraits of single fish, three of each of three, do not tell a photo's error from the fish's own; a group in one photo
/// has all of the photo's.
#[test]
fn portraits_leave_a_group_its_photos_error() {
    let one = Truth { broods: 1, fish: 1, brood_sd: 0.0, fish_sd: 0.0, reading_sd: 0.3, photo_sd: 2.0, ..LINES };
    let several = Truth { fish: 12, fish_sd: 1.0, ..one };
    // Three broods of one fish, three photos of each: the names make each a fish of its own.
    let portraits = Truth { broods: 3, brood_sd: 1.0, photos: 3, ..one };
    let in_one = Truth { shared: true, ..several };
    for (seed, name, sides) in [
        (22, "several fish a side, one photo each", [&several, &several]),
        (23, "several fish a side, one photo", [&in_one, &in_one]),
        (24, "one fish against several, one photo each", [&one, &several]),
        (25, "one fish a side, one photo each", [&one, &one]),
    ] {
        let wrong = told_apart_by_repeats(sides, seed, |random| portraits.side("R", 70.0, &mut Vec::new(), random));
        println!("no difference, {name}, errors from portraits: {wrong} of {} told apart", draws());
        assert!(wrong <= most_at_five_percent(), "{name}: {wrong} of {}", draws());
    }
}

/// Two groups of fish in a photo each, and repeats by which a photo may shift by 2 L*: by hand the photos alone leave ±5 L* and more, a
/// side's own mean 2 L*; within one photo it cancels.
#[test]
fn a_photos_error_stays_in_where_repeats_do_not_split_it() {
    let spread = Spread { within: 2.0, df: 6.0, same_photo: None };
    let setup = SetUp { name: "phone".into(), spread: [spread; 4] };
    let group = |name: &str, photo, level: f64| -> Vec<Reading> {
        let fish = |i: i32| LINES.reading(&format!("{name}{i}"), name, photo, level + 0.5 * f64::from(i % 2));
        (0..12).map(fish).collect()
    };
    let of =
        |b: Vec<Reading>| compare(["A", "B"], &group("A", 0, 73.0), &b, Some(&setup), Permitted::default()).unwrap();
    let apart = of(group("B", 1, 70.0));
    assert_eq!(apart.verdict, Verdict::NotToldApart, "{:?}", apart.lightness);
    assert!(apart.lightness.high - apart.lightness.value > 5.0 && apart.a.se > 2.0, "{apart:?}");
    let together = of(group("B", 0, 70.0));
    assert_eq!(together.verdict, Verdict::Lighter, "{:?}", together.lightness);
}

fn book(rise: f64, drift: f64, random: &mut Random) -> TrendInput {
    let mut broods = Vec::new();
    for generation in 0..6u32 {
        let level = 70.0 + rise * f64::from(generation) + drift * random.normal();
        for brood in 0..5 {
            let value = level + 1.0 * random.normal() + 1.5 / 8f64.sqrt() * random.normal();
            broods.push(BroodPoint {
                brood: format!("g{generation}-{brood}"),
                generation,
                fish: 8,
                value,
                age: None,
                mid_parent: None,
                floor: None,
            });
        }
    }
    TrendInput { line: "Lowmere Pale".into(), feature: "lightness".into(), broods, ..TrendInput::default() }
}

/// Six generations of five broods; generation means drift by chance besides. 930 to 970 of 1000 intervals hold the truth;
/// the smaller default run allows what is not surprising at 95 %.
#[test]
fn slopes_hold_the_truth() {
    for (seed, rise, drift) in [(1, 1.0, 0.0), (2, 0.0, 0.0), (3, 1.0, 0.7), (4, 0.0, 0.7)] {
        let mut random = Random::new(seed);
        let held = (0..draws())
            .filter(|_| {
                let found = trend(&book(rise, drift, &mut random)).unwrap();
                found.slopes.unwrap().interval.unwrap().holds(rise)
            })
            .count() as u64;
        println!("slope {rise}, drift {drift}: {held} of {} intervals hold it", draws());
        let (low, high) = if draws() == 1000 { (930, 970) } else { (draws() * 91 / 100, draws() * 99 / 100) };
        assert!((low..=high).contains(&held), "rise {rise}, drift {drift}: {held} of {}", draws());
    }
}

/// Shares of 0, 0.02 and 0.1 in the broods of a generation: their spread alone would reach below zero.
#[test]
fn an_interval_stays_where_a_share_can_be() {
    let brood = |(i, value): (usize, f64)| BroodPoint {
        brood: format!("B{i}"),
        generation: 0,
        fish: 10,
        value,
        age: None,
        mid_parent: None,
        floor: None,
    };
    let broods: Vec<BroodPoint> = [0.0, 0.02, 0.1].into_iter().enumerate().map(brood).collect();
    let of =
        |limits| trend(&TrendInput { line: "Lowmere".into(), limits, broods: broods.clone(), ..TrendInput::default() });
    let low = |limits| of(limits).unwrap().generations[0].interval.unwrap().low;
    assert!(low(None) < 0.0);
    assert!(low(Some(feature_named("red_share").unwrap().limits())).abs() < 1e-12);
}

#[test]
fn one_group_is_seldom_called_two() {
    let mut random = Random::new(11);
    let n = draws() / 3;
    let wrong = (0..n)
        .filter(|i| {
            let brood: Vec<f64> = (0..24).map(|_| 70.0 + 1.5 * random.normal()).collect();
            two_groups(&brood, *i).unwrap().two
        })
        .count() as u64;
    println!("one group of 24 called two: {wrong} of {n}");
    assert!(upper_tail(wrong, n, 0.045) >= 0.001, "{wrong} of {n}");
}

#[test]
fn across_floors_and_views_only_when_asked() {
    let truth = LINES;
    let a = vec![truth.reading("a", "K1-1", 0, 70.0)];
    let mut b = vec![truth.reading("b", "K1-2", 1, 72.0)];
    b[0].floor = Some("black".into());
    let refused = compare(["a", "b"], &a, &b, None, Permitted::default()).unwrap_err().to_string();
    assert!(refused.contains("floors of different colour (black, white)"), "{refused}");
    let asked = Permitted { across_floors: true, ..Permitted::default() };
    assert!(compare(["a", "b"], &a, &b, None, asked).unwrap().cautions[0].contains("the floor"));
    b[0].floor = None;
    b[0].view = View::Side;
    assert!(compare(["a", "b"], &a, &b, None, asked).unwrap_err().to_string().contains("from above"));
    assert!(compare(["a", "b"], &a, &[], None, asked).unwrap_err().to_string().contains("no fish"));
}

/// Bad input: no card in one of two photos, different cards, different sheets: an answer with what it leaves open.
#[test]
fn cards_and_sheets_that_differ_are_said() {
    let truth = Truth { photo_sd: 0.3, reading_sd: 0.3, ..LINES };
    let (a, mut b) = (vec![truth.reading("A", "K1-1", 0, 72.0)], vec![truth.reading("B", "K1-1", 1, 70.0)]);
    let cautions =
        |a: &[Reading], b: &[Reading]| compare(["A", "B"], a, b, None, Permitted::default()).unwrap().cautions;
    assert!(cautions(&a, &b).is_empty());
    b[0].card = Some("tray card".into());
    assert!(cautions(&a, &b)[0].contains("different cards"));
    b[0].card = None;
    assert!(cautions(&a, &b)[0].contains("no usable card in"));
    b[0].card.clone_from(&a[0].card);
    let mut a = a;
    (a[0].sheet, b[0].sheet) = (Some("1f".into()), Some("2e".into()));
    assert!(cautions(&a, &b)[0].contains("different sheets"));
    let mut line = book(0.0, 0.0, &mut Random::new(7));
    line.sheets = ["1f".to_owned(), "2e".to_owned()].into();
    assert!(trend(&line).unwrap().cautions.iter().any(|c| c.contains("different sheets")));
}

#[test]
fn the_sentence_tells_lighter_from_less_yellow() {
    let truth = Truth { photo_sd: 0.3, reading_sd: 0.3, ..LINES };
    let fish = |name: &str, lab: [f64; 3]| vec![Reading { lab, ..truth.reading(name, "K1-1", 0, 0.0) }];
    let paler = fish("A", [71.0, 2.0, 10.0]);
    let yellow = fish("B", [70.8, 2.0, 16.0]);
    let found = compare(["A", "B"], &paler, &yellow, None, Permitted::default()).unwrap();
    assert_eq!(found.verdict, Verdict::NotToldApart);
    assert!(found.because.contains("less yellow"), "{}", found.because);
    assert!(found.because.contains("would settle it"), "{}", found.because);
    assert_eq!(found.visible, Some(true), "{:?}", found.distance);
    let light = fish("A", [75.0, 2.0, 16.0]);
    let found = compare(["A", "B"], &light, &yellow, None, Permitted::default()).unwrap();
    assert_eq!(found.verdict, Verdict::Lighter);
    assert!(found.because.starts_with("A is lighter than B by 4.2 L*"), "{}", found.because);
}

/// Spreads learned from repeats widen the answer when they are larger than the pixels' own error.
#[test]
fn a_set_up_with_poor_repeats_widens_the_interval() {
    let truth = Truth { photo_sd: 0.3, reading_sd: 0.3, ..LINES };
    let (a, b) = (vec![truth.reading("A", "K1-1", 0, 72.0)], vec![truth.reading("B", "K1-1", 0, 70.0)]);
    let spread = Spread {
        within: 2.0,
        df: 12.0,
        same_photo: Some(SamePhoto { sd: 1.0, df: 6.0, photo_sd: 1.7, photos_df: 3.0 }),
    };
    let setup = SetUp { name: "old lamp".into(), spread: [spread; 4] };
    let narrow = compare(["A", "B"], &a, &b, None, Permitted::default()).unwrap();
    let wide = compare(["A", "B"], &a, &b, Some(&setup), Permitted::default()).unwrap();
    assert_eq!(narrow.verdict, Verdict::Lighter);
    assert_eq!(wide.verdict, Verdict::NotToldApart);
    assert!(wide.because.contains("repeated photos"), "{}", wide.because);
}

/// Two groups alike with wide errors: 30 and more units of noise are no difference that anybody has seen.
#[test]
fn wide_errors_show_a_viewer_nothing() {
    let truth = Truth { photo_sd: 6.0, reading_sd: 6.0, ..LINES };
    let far = |fish: &str, photo, l: f64| vec![truth.reading(fish, "K1-1", photo, l)];
    let found = compare(["A", "B"], &far("a", 0, 70.0), &far("b", 1, 74.0), None, Permitted::default()).unwrap();
    assert_eq!(found.visible, None);
    assert!(found.because.contains("cannot be told from these photos"), "{}", found.because);
    // Told to a tenth, the same colours are on one side of 2.3.
    let truth = Truth { photo_sd: 0.05, reading_sd: 0.05, ..LINES };
    let near = |fish: &str, l: f64| vec![truth.reading(fish, "K1-1", 0, l)];
    let found = compare(["A", "B"], &near("a", 70.0), &near("b", 70.3), None, Permitted::default()).unwrap();
    assert_eq!(found.visible, Some(false));
}

fn brood_of(generation: u32, value: f64, floor: &str) -> BroodPoint {
    BroodPoint {
        brood: format!("g{generation} {value} {floor}"),
        generation,
        fish: 8,
        value,
        age: None,
        mid_parent: None,
        floor: Some(floor.to_owned()),
    }
}

/// `lighter` compares no fish across floors, and neither does a line.
#[test]
fn a_line_is_followed_over_one_floor() {
    let broods = [(0, 70.0, "white"), (0, 70.5, "white"), (1, 70.2, "white"), (2, 60.0, "grey")];
    let mut broods: Vec<BroodPoint> = broods.map(|(g, l, f)| brood_of(g, l, f)).into();
    // Half of the third brood lay over a grey floor too, ten units darker.
    broods.push(BroodPoint { value: 60.2, floor: Some("grey".into()), ..broods[2].clone() });
    let input = TrendInput { broods, ..TrendInput::default() };
    let across = trend(&input).unwrap();
    assert!(across.cautions[0].contains("floors of different colour (grey, white)"), "{:?}", across.cautions);
    assert_eq!((across.generations[1].broods, across.generations[1].fish), (1, 16));
    assert!((across.generations[1].mean - 65.2).abs() < 1e-9);
    let found = trend(&input.over_one_floor()).unwrap();
    assert_eq!(found.generations.iter().map(|g| g.broods).collect::<Vec<_>>(), [2, 1]);
    assert!((found.generations[1].mean - 70.2).abs() < 1e-9);
    assert!(
        found.cautions[0].contains("(white): g2 60 grey (8 fish, grey), g1 70.2 white (8 fish, grey)"),
        "{found:?}"
    );
}

/// One, one and five broods whose spread within the last generation leaves nothing for drift, so that the line is the least
/// squares line through all seven: slope 55/13, at generation 0 805/13 (numpy.polyfit).
#[test]
fn the_line_of_unequal_generations_goes_through_its_own_centre() {
    let values = [(0, 60.0), (1, 70.0), (2, 62.0), (2, 66.0), (2, 70.0), (2, 74.0), (2, 78.0)];
    let input = TrendInput { broods: values.map(|(g, l)| brood_of(g, l, "white")).into(), ..TrendInput::default() };
    let slopes = trend(&input).unwrap().slopes.unwrap();
    assert!((slopes.regression - 55.0 / 13.0).abs() < 1e-6, "{}", slopes.regression);
    assert!(slopes.method.contains("(t with 1 degree of freedom)"), "{}", slopes.method);
    assert!((slopes.intercept - 805.0 / 13.0).abs() < 1e-6, "{}", slopes.intercept);
}
