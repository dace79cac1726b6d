//! Whole set-ups from a seed: a tray of invented fish with a card, a camera stand and a phone.

use broodhue::geometry::Point;
use broodhue::units::{Sex, View as Side};
use rand::seq::SliceRandom;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::chart::Chart;
use super::clutter::Clutter;
use super::fish::{Base, Body, Coat, Cover, Fish, Patchwork};
use super::light::Light;
use super::paint::tri;
use super::scene::{Scene, Shadow, Shot, draw};
use super::tray::{FloorColour, Tray};
use super::truth::{self, Truth};
use super::{Camera, View};

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
}

/// Where card and tray are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// The tray fills the picture; the card lies on its floor beside the fish.
    Fills,
    /// The tray lies on a table, the card beside it.
    OnTable,
}

/// How to make a set-up.
#[derive(Debug, Clone, PartialEq)]
pub struct Recipe {
    /// Decides everything that is left to chance.
    pub seed: u64,
    /// Picture size in pixels.
    pub size: (u32, u32),
    /// Colour of the floor.
    pub floor: FloorColour,
    /// Where things are.
    pub place: Place,
    /// Looks of the fish, one each.
    pub kinds: Vec<Kind>,
    /// Ground type of each fish; the list repeats.
    pub bases: Vec<Base>,
    /// Sex of each fish; the list repeats; empty: by chance.
    pub sexes: Vec<Sex>,
    /// Total length, millimetres, smallest and largest.
    pub lengths: (f64, f64),
    /// Share of fish that touch or cross another.
    pub touching: f64,
    /// Strength of cast, gradient, noise, clutter: 0 (a studio) … 1 (a bad phone photo).
    pub hard: f64,
    /// Turn of the card, degrees.
    pub card_turn: f64,
    /// Tilt of the camera, degrees.
    pub tilt: f64,
    /// Whether the floor has moulded rings.
    pub rings: bool,
}

impl Recipe {
    /// A tidy tray of 2000 × 1500 pixels with 14 fish.
    pub fn tidy(seed: u64) -> Self {
        Self {
            seed,
            size: (2000, 1500),
            floor: FloorColour::White,
            place: if seed.is_multiple_of(2) { Place::Fills } else { Place::OnTable },
            kinds: some_of_each(seed, 14),
            bases: vec![Base::Grey, Base::Blond],
            sexes: Vec::new(),
            lengths: (20.0, 32.0),
            touching: 0.0,
            hard: 0.25,
            card_turn: 0.0,
            tilt: 3.0,
            rings: false,
        }
    }

    /// A hard one: grey or blue floor, upside-down or turned card, tilt, strong gradient and noise, clutter.
    pub fn hard(seed: u64) -> Self {
        let floor = [FloorColour::Grey, FloorColour::Blue][(seed / 2 % 2) as usize];
        let card_turn = [180.0, 90.0, 173.0, -12.0][(seed % 4) as usize];
        Self { floor, card_turn, hard: 0.8, tilt: 12.0, rings: seed.is_multiple_of(3), ..Self::tidy(seed) }
    }
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

/// A scene with the stand and the phone that photographs it.
#[derive(Debug, Clone)]
pub struct Setup {
    /// What lies there.
    pub scene: Scene,
    /// Where the camera stands.
    pub view: View,
    /// The phone.
    pub camera: Camera,
}

impl Setup {
    /// Draws it.
    pub fn draw(&self) -> Shot {
        draw(&self.scene, &self.view, &self.camera)
    }

    /// Tells the truth without drawing.
    pub fn truth(&self) -> Truth {
        truth::tell(&self.scene, &self.view)
    }
}

/// Width of the plane that the picture shows, millimetres: inside a large tray, or a small tray with the card beside it.
const SHOWN_INSIDE: f64 = 268.0;
const SHOWN_TABLE: f64 = 300.0;
/// Pitch of the card, millimetres: the folding size of the chart (measured on open photographs against its case).
pub const CARD_PITCH: f64 = 12.4;

/// Makes a set-up after a recipe.
pub fn setup(recipe: &Recipe) -> Setup {
    let mut rng = ChaCha8Rng::seed_from_u64(recipe.seed);
    let (w, h) = recipe.size;
    let shown = if recipe.place == Place::OnTable { SHOWN_TABLE } else { SHOWN_INSIDE };
    let mut view = View::straight(w, h, f64::from(w) / shown, Point::default());
    view.tilt = recipe.tilt * rng.random_range(0.7..1.0);
    view.tilt_towards = rng.random_range(0.0..360.0);
    view.turn = rng.random_range(-3.0..3.0);
    let tall = shown * f64::from(h) / f64::from(w);
    let (half, card, room) = layout(recipe.place, tall, &mut rng);
    view.centre = if recipe.place == Place::OnTable { Point::new(52.0, 0.0) } else { Point::default() };
    let tray = tray(recipe, half, &mut rng);
    let mut chart = Chart::new(card, CARD_PITCH);
    chart.turn = recipe.card_turn + rng.random_range(-2.0..2.0);
    let light = lamp(recipe, view.centre, &mut rng);
    let fish = brood(recipe, &room, &mut rng);
    let clutter = litter(recipe, &room, &mut rng);
    let shadows = shadows(recipe, &mut rng);
    let scene = Scene { tray, charts: vec![chart], fish, clutter, shadows, light };
    let camera = phone(recipe, &scene, &view, &mut rng);
    Setup { scene, view, camera }
}

/// Where fish may be: a box less the card's place.
#[derive(Debug, Clone, Copy)]
struct Room {
    half: Point,
    card: Option<(Point, f64)>,
}

impl Room {
    fn holds(&self, p: Point, margin: f64) -> bool {
        let free = self.card.is_none_or(|(c, r)| (p.x - c.x).abs() > r + margin || (p.y - c.y).abs() > r + margin);
        p.x.abs() < self.half.x - margin && p.y.abs() < self.half.y - margin && free
    }
}

fn layout(place: Place, tall: f64, rng: &mut ChaCha8Rng) -> (Point, Point, Room) {
    match place {
        Place::Fills => {
            let sx = if rng.random_bool(0.5) { 1.0 } else { -1.0 };
            let sy = if rng.random_bool(0.5) { 1.0 } else { -1.0 };
            let card = Point::new(sx * (SHOWN_INSIDE / 2.0 - 56.0), sy * (tall / 2.0 - 50.0));
            let half = Point::new(SHOWN_INSIDE / 2.0 - 12.0, tall / 2.0 - 10.0);
            (Point::new(190.0, 160.0), card, Room { half, card: Some((card, 42.0)) })
        }
        Place::OnTable => {
            let half = Point::new(74.0, (tall / 2.0 - 22.0).min(86.0));
            let card = Point::new(74.0 + 10.0 + 8.0 + 40.0, rng.random_range(-30.0..30.0));
            (half, card, Room { half: half - Point::new(4.0, 4.0), card: None })
        }
    }
}

fn tray(recipe: &Recipe, half: Point, rng: &mut ChaCha8Rng) -> Tray {
    let wood = rng.random_bool(0.5);
    Tray {
        floor: recipe.floor.lab(),
        half,
        corner: 14.0,
        rim: 8.0,
        rings: if recipe.rings { 0.05 + 0.04 * recipe.hard } else { 0.0 },
        ring_pitch: rng.random_range(9.0..15.0),
        ring_centre: Point::new(rng.random_range(-20.0..20.0), rng.random_range(-20.0..20.0)),
        table: if wood { [58.0, 10.0, 24.0] } else { [38.0, 1.0, 4.0] },
        wood,
        wear: 0.02 + 0.03 * recipe.hard,
        seed: rng.random(),
    }
}

fn lamp(recipe: &Recipe, centre: Point, rng: &mut ChaCha8Rng) -> Light {
    let k = recipe.hard;
    Light {
        spot: centre + Point::new(rng.random_range(-70.0..70.0), rng.random_range(-50.0..50.0)),
        spread: rng.random_range(110.0..170.0),
        share: 0.10 + 0.35 * k,
        slope: Point::new(rng.random_range(-1.0..1.0), rng.random_range(-1.0..1.0)) * (0.0008 * k),
        vignette: 0.05 + 0.15 * k,
    }
}

fn shadows(recipe: &Recipe, rng: &mut ChaCha8Rng) -> Vec<Shadow> {
    let lamps = if recipe.hard > 0.5 { 2 } else { 1 };
    (0..lamps)
        .map(|_| {
            let angle: f64 = rng.random_range(0.0..std::f64::consts::TAU);
            Shadow {
                offset: Point::new(angle.cos(), angle.sin()) * rng.random_range(0.3..0.7),
                depth: rng.random_range(0.12..0.26),
                softness: rng.random_range(0.5..1.6),
            }
        })
        .collect()
}

fn phone(recipe: &Recipe, scene: &Scene, view: &View, rng: &mut ChaCha8Rng) -> Camera {
    let k = recipe.hard;
    let mut matrix = [[0.0; 3]; 3];
    for (i, row) in matrix.iter_mut().enumerate() {
        let (p, q) = (rng.random_range(-0.06..0.14), rng.random_range(-0.05..0.10));
        row[(i + 1) % 3] = p;
        row[(i + 2) % 3] = q;
        row[i] = 1.0 - p - q;
    }
    let cast = 0.03 + 0.12 * k;
    let warm = rng.random_range(-cast..cast);
    let green = rng.random_range(-cast..cast) * 0.4;
    Camera {
        matrix,
        leak: rng.random_range(0.10..0.25),
        gains: [1.0 + warm, 1.0 + green, 1.0 - warm],
        exposure: exposure(scene, view) / (1.0 + cast),
        contrast: rng.random_range(0.1..0.4),
        blur: 0.6 + 0.3 * k,
        shot: 0.0001 + 0.0004 * k,
        read: 0.001 + 0.002 * k,
        sharpen: rng.random_range(0.2..0.6),
        quality: 92,
        seed: rng.random(),
    }
}

/// The exposure at which the brightest of card white and floor in the picture comes out at 0.86 of full scale.
fn exposure(scene: &Scene, view: &View) -> f64 {
    let back = view.to_plane();
    let [l, a, b] = scene.tray.floor;
    let white = f64::from(tri(l, a, b)[1]).max(0.89);
    let brightest = (0..25)
        .map(|i| {
            let at = Point::new(
                f64::from(view.width) * f64::from(i % 5) / 4.0,
                f64::from(view.height) * f64::from(i / 5) / 4.0,
            );
            super::scene::light_at(scene, view, &back, at)
        })
        .fold(0.0, f64::max);
    0.86 / (white * brightest)
}

fn litter(recipe: &Recipe, room: &Room, rng: &mut ChaCha8Rng) -> Vec<Clutter> {
    let k = recipe.hard;
    let mut all = Vec::new();
    let spot = |rng: &mut ChaCha8Rng| loop {
        let p = Point::new(rng.random_range(-room.half.x..room.half.x), rng.random_range(-room.half.y..room.half.y));
        if room.holds(p, 3.0) {
            return p;
        }
    };
    for _ in 0..(2.0 + 10.0 * k) as usize {
        let lab = [rng.random_range(30.0..48.0), 4.0, rng.random_range(10.0..18.0)];
        let (length, turn) = (rng.random_range(1.5..5.0), rng.random_range(0.0..360.0));
        all.push(Clutter::Dropping { at: spot(rng), length, turn, lab });
    }
    for _ in 0..(2.0 + 8.0 * k) as usize {
        let lab = [rng.random_range(40.0..60.0), rng.random_range(5.0..20.0), rng.random_range(15.0..35.0)];
        all.push(Clutter::Crumb { at: spot(rng), radius: rng.random_range(0.3..0.9), lab, seed: rng.random() });
    }
    for _ in 0..(12.0 * k) as usize {
        all.push(Clutter::Bubble { at: spot(rng), radius: rng.random_range(0.6..2.2) });
    }
    if k > 0.5 {
        let (from, to) = (spot(rng), spot(rng));
        all.push(Clutter::WaterLine { from, to, width: 0.5, strength: 0.12, seed: rng.random() });
        let radius = Point::new(rng.random_range(3.0..7.0), rng.random_range(2.0..4.0));
        all.push(Clutter::Reflection { at: spot(rng), radius, turn: rng.random_range(0.0..180.0), strength: 0.5 });
    }
    all
}

fn brood(recipe: &Recipe, room: &Room, rng: &mut ChaCha8Rng) -> Vec<Fish> {
    let mut placed: Vec<(Fish, Body)> = Vec::new();
    for (i, &kind) in recipe.kinds.iter().enumerate() {
        let base = recipe.bases[i % recipe.bases.len()];
        let length = rng.random_range(recipe.lengths.0..=recipe.lengths.1);
        let chance = if rng.random_bool(0.5) { Sex::Male } else { Sex::Female };
        let sex = if recipe.sexes.is_empty() { chance } else { recipe.sexes[i % recipe.sexes.len()] };
        let mut fish = invent(kind, base, sex, length, rng);
        let touch = !placed.is_empty() && rng.random_bool(recipe.touching);
        for attempt in 0..400 {
            fish.heading = rng.random_range(0.0..360.0);
            fish.snout = if touch {
                let other = &placed[rng.random_range(0..placed.len())].1.axis;
                let near = other[rng.random_range(0..other.len())];
                near + Point::new(rng.random_range(-length..length), rng.random_range(-length..length)) * 0.5
            } else {
                Point::new(rng.random_range(-room.half.x..room.half.x), rng.random_range(-room.half.y..room.half.y))
            };
            let body = fish.body.laid(fish.snout, fish.heading);
            let inside = body.axis.iter().all(|p| room.holds(*p, 5.0));
            let gap = placed.iter().map(|(_, b)| clearance(&body, b)).fold(f64::MAX, f64::min);
            // Touching fish overlap by no more than their width; lone ones keep 2.5 mm and their shadows apart.
            let apart = if touch { (-1.6..0.1).contains(&gap) } else { gap > 2.5 };
            if inside && (apart || attempt == 399) {
                if apart {
                    placed.push((fish, body));
                }
                break;
            }
        }
    }
    placed.into_iter().map(|(f, _)| f).collect()
}

/// Smallest distance between two bodies' flanks, millimetres; negative when they overlap.
fn clearance(a: &Body, b: &Body) -> f64 {
    let wide = |f: &Body, i: usize| {
        let u = i as f64 / (f.axis.len() - 1) as f64 * f.total_length() / f.standard_length;
        if u <= 1.0 { f.half_width_at(u) } else { f.tail_half_width }
    };
    let mut least = f64::MAX;
    for (i, p) in a.axis.iter().enumerate() {
        for (j, q) in b.axis.iter().enumerate() {
            least = least.min(p.distance(*q) - wide(a, i) - wide(b, j));
        }
    }
    least
}

/// Invents one fish of a kind.
pub fn invent(kind: Kind, base: Base, sex: Sex, length: f64, rng: &mut ChaCha8Rng) -> Fish {
    let female = sex == Sex::Female;
    let standard = length / rng.random_range(1.24..1.34);
    let width = standard * if female { rng.random_range(0.090..0.115) } else { rng.random_range(0.075..0.092) };
    let tail = length - standard;
    let body = Body {
        standard_length: standard,
        tail,
        half_width: width,
        tail_half_width: tail * rng.random_range(0.42..0.62),
        side_fin: if rng.random_bool(0.7) { standard * rng.random_range(0.12..0.17) } else { 0.0 },
        bend: (rng.random_range(-45.0..45.0), rng.random_range(-25.0..25.0)),
        axis: Vec::new(),
    };
    Fish {
        snout: Point::default(),
        heading: 0.0,
        coat: coat(kind, base, female, standard, rng),
        body,
        sex: Some(sex),
        side: Side::Above,
        height: rng.random_range(2.0..6.0),
        shine: rng.random_range(0.0..0.5),
    }
}

fn coat(kind: Kind, base: Base, female: bool, standard: f64, rng: &mut ChaCha8Rng) -> Coat {
    let grey = base == Base::Grey;
    let ground = if grey {
        [rng.random_range(51.0..57.0), rng.random_range(-1.0..2.0), rng.random_range(7.0..13.0)]
    } else {
        [rng.random_range(70.0..78.0), rng.random_range(1.0..3.5), rng.random_range(12.0..17.0)]
    };
    Coat {
        base,
        ground,
        net: if grey { rng.random_range(0.75..0.95) } else { rng.random_range(0.02..0.10) },
        net_pitch: 0.42,
        covers: covers(kind, standard, rng),
        fin_cover: rng.random_range(0.12..0.30),
        fin: [rng.random_range(60.0..74.0), 0.0, rng.random_range(5.0..10.0)],
        gravid: if female && rng.random_bool(0.5) { rng.random_range(0.4..0.8) } else { 0.0 },
        belly: ([48.0, 6.0, 20.0], rng.random_range(0.0..0.6)),
        seed: rng.random(),
    }
}

/// The middle CIELAB of a cover, by hue and chroma.
fn polar(l: f64, c: f64, h: f64) -> [f64; 3] {
    let (s, co) = h.to_radians().sin_cos();
    [l, c * co, c * s]
}

fn covers(kind: Kind, standard: f64, rng: &mut ChaCha8Rng) -> Vec<Patchwork> {
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
        Kind::Red => vec![work(Cover::Red, (0.4, 0.8), (0.5, 0.9)), work(Cover::Black, (0.0, 0.05), (0.0, 0.0))],
        Kind::ReducedRed => vec![work(Cover::Red, (0.07, 0.11), (0.07, 0.11))],
        Kind::Plain => vec![work(Cover::Black, (0.0, 0.07), (0.0, 0.06))],
        Kind::Orange => vec![work(Cover::Orange, (0.45, 0.8), (0.4, 0.8))],
        Kind::Yellow => vec![work(Cover::Yellow, (0.45, 0.8), (0.5, 0.9))],
        Kind::White => {
            vec![work(Cover::White, (0.85, 1.0), (0.5, 0.9)), work(Cover::Reflective, (0.05, 0.2), (0.0, 0.0))]
        }
        Kind::Mixed => vec![work(Cover::Yellow, (1.0, 1.0), (0.6, 0.9)), work(Cover::Red, (0.42, 0.55), (0.4, 0.6))],
    }
}
