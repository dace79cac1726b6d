//! Invents fish: body plan and coat of a kind.

use broodhue::geometry::Point;
use broodhue::units::{Sex, View as Side};
use rand::seq::SliceRandom;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::common::render::fish::{Base, Body, Coat, Cover, Fish, Patchwork};

/// What a fish looks like as a whole.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Red over much of trunk and fins.
    Red,
    /// A little red: between the limits of the starting sheet.
    ReducedRed,
    /// No red, orange or yellow: ground and perhaps a few black spots.
    Plain,
    /// Orange.
    Orange,
    /// Yellow.
    Yellow,
    /// White cover.
    White,
    /// Two colours at once.
    Mixed,
    /// No cover; the ground itself nearly white.
    Pale,
}

/// A list of looks with every kind in it, shuffled.
pub fn some_of_each(seed: u64, n: usize) -> Vec<Kind> {
    use Kind::{Mixed, Orange, Plain, Red, ReducedRed, White, Yellow};
    let mut rng = ChaCha8Rng::seed_from_u64(seed ^ 0x6b);
    let mut all: Vec<Kind> =
        [Red, Plain, Red, ReducedRed, Plain, Yellow, Red, White, Orange, Mixed].into_iter().cycle().take(n).collect();
    all.shuffle(&mut rng);
    all
}

/// Invents one fish of a kind.
pub fn invent(kind: Kind, base: Base, sex: Sex, length: f64, side: Side, rng: &mut ChaCha8Rng) -> Fish {
    let female = sex == Sex::Female;
    let standard = length / rng.random_range(1.24..1.34);
    let deep = if side == Side::Side { 1.35 } else { 1.0 };
    let width = deep * standard * if female { rng.random_range(0.090..0.115) } else { rng.random_range(0.075..0.092) };
    let tail = length - standard;
    let body = Body {
        standard_length: standard,
        tail,
        half_width: width,
        tail_half_width: tail * rng.random_range(0.42..0.62),
        side_fin: if rng.random_bool(0.7) { standard * rng.random_range(0.12..0.17) } else { 0.0 },
        bend: (rng.random_range(-45.0..45.0), rng.random_range(-25.0..25.0)),
        back_fin: 0.0,
        flip: rng.random_bool(0.5),
        axis: Vec::new(),
    };
    let body = if side == Side::Side { from_the_side(body) } else { Body { flip: false, ..body } };
    Fish {
        snout: Point::default(),
        heading: 0.0,
        coat: coat(kind, base, female, standard, rng),
        body,
        sex: Some(sex),
        side,
        height: rng.random_range(2.0..6.0),
        shine: rng.random_range(0.0..0.5),
    }
}

/// A body plan as seen from the side: a dorsal and an anal fin, hardly any bend.
fn from_the_side(body: Body) -> Body {
    Body {
        side_fin: 0.0,
        back_fin: 0.14 * body.standard_length,
        bend: (body.bend.0 * 0.15, body.bend.1 * 0.15),
        ..body
    }
}

fn coat(kind: Kind, base: Base, female: bool, standard: f64, rng: &mut ChaCha8Rng) -> Coat {
    let grey = base == Base::Grey;
    let ground = if kind == Kind::Pale {
        [rng.random_range(86.0..90.0), rng.random_range(-0.5..1.5), rng.random_range(3.0..6.5)]
    } else if grey {
        [rng.random_range(51.0..57.0), rng.random_range(-1.0..2.0), rng.random_range(7.0..13.0)]
    } else {
        [rng.random_range(70.0..78.0), rng.random_range(1.0..3.5), rng.random_range(12.0..17.0)]
    };
    Coat {
        base,
        ground,
        net: if grey && kind != Kind::Pale { rng.random_range(0.75..0.95) } else { rng.random_range(0.02..0.10) },
        net_pitch: 0.42,
        covers: covers(kind, standard, rng),
        fin_cover: rng.random_range(0.12..0.30),
        fin: [rng.random_range(60.0..74.0), 0.0, rng.random_range(5.0..10.0)],
        gravid: if female && rng.random_bool(0.5) { rng.random_range(0.4..0.8) } else { 0.0 },
        belly: ([48.0, 6.0, 20.0], rng.random_range(0.0..0.6)),
        eye: 1.0,
        seed: rng.random(),
    }
}

/// The middle CIELAB of a cover, by hue and chroma.
fn polar(l: f64, c: f64, h: f64) -> [f64; 3] {
    let (s, co) = h.to_radians().sin_cos();
    [l, c * co, c * s]
}

fn covers(kind: Kind, standard: f64, rng: &mut ChaCha8Rng) -> Vec<Patchwork> {
    let few = rng.random_bool(0.2);
    let grain = standard * rng.random_range(0.10..0.18);
    let mut work = |cover, body: (f64, f64), fins: (f64, f64)| {
        let lab = match cover {
            Cover::Red => {
                polar(rng.random_range(43.0..50.0), rng.random_range(50.0..60.0), rng.random_range(28.0..39.0))
            }
            Cover::Orange => {
                polar(rng.random_range(58.0..64.0), rng.random_range(52.0..62.0), rng.random_range(61.0..68.0))
            }
            Cover::Yellow => {
                polar(rng.random_range(74.0..80.0), rng.random_range(45.0..58.0), rng.random_range(88.0..96.0))
            }
            Cover::White => polar(rng.random_range(82.0..88.0), rng.random_range(3.0..7.0), 95.0),
            Cover::Black => polar(rng.random_range(15.0..20.0), 3.0, 60.0),
            Cover::Reflective => polar(rng.random_range(80.0..87.0), rng.random_range(4.0..9.0), 230.0),
        };
        Patchwork {
            cover,
            lab,
            body: rng.random_range(body.0..=body.1),
            fins: rng.random_range(fins.0..=fins.1),
            grain,
        }
    };
    match kind {
        // Most red fish are red nearly all over, some carry a few patches.
        Kind::Red if few => vec![work(Cover::Red, (0.22, 0.34), (0.3, 0.6))],
        Kind::Red => vec![work(Cover::Red, (0.66, 0.93), (0.6, 0.95)), work(Cover::Black, (0.0, 0.05), (0.0, 0.0))],
        Kind::ReducedRed => vec![work(Cover::Red, (0.07, 0.11), (0.07, 0.11))],
        Kind::Pale => Vec::new(),
        Kind::Plain => vec![work(Cover::Black, (0.0, 0.07), (0.0, 0.06))],
        Kind::Orange => vec![work(Cover::Orange, (0.66, 0.93), (0.5, 0.9))],
        Kind::Yellow => vec![work(Cover::Yellow, (0.66, 0.93), (0.5, 0.9))],
        Kind::White => {
            vec![work(Cover::White, (0.85, 1.0), (0.5, 0.9)), work(Cover::Reflective, (0.05, 0.2), (0.0, 0.0))]
        }
        Kind::Mixed => vec![work(Cover::Yellow, (1.0, 1.0), (0.6, 0.9)), work(Cover::Red, (0.34, 0.42), (0.4, 0.6))],
    }
}
