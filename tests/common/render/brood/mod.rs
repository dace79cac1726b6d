//! Whole set-ups from a seed: a tray of invented fish with a card, a camera stand and a phone.

mod invent;
mod phone;
mod place;
mod surroundings;

pub use invent::{Kind, invent, some_of_each};
pub use phone::faulty_phone;

use broodhue::units::{Sex, View as Side};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::chart::Chart;
use super::fish::Base;
use super::scene::{Scene, Shot, draw};
use super::tray::FloorColour;
use super::truth::{self, Truth};
use super::{Camera, View};

/// Where card and tray are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// The tray fills the picture; the card lies on its floor beside the fish.
    Fills,
    /// The tray lies on a table, the card beside it.
    OnTable,
    /// A photo tank seen from the side before a plain backdrop, the card held against the glass.
    Backdrop,
}

impl Place {
    /// Width of the plane that the picture shows, millimetres.
    fn shown(self) -> f64 {
        match self {
            Self::Fills => 268.0,
            Self::OnTable => 300.0,
            Self::Backdrop => 190.0,
        }
    }

    /// From where the fish are seen.
    fn side(self) -> Side {
        if self == Self::Backdrop { Side::Side } else { Side::Above }
    }
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
    /// Share of fish that are fry of 7 to 9 mm.
    pub fry: f64,
    /// Share of fish that touch or cross another.
    pub touching: f64,
    /// How many of the fish lie across the picture's edge (only where the tray fills the picture).
    pub cut: usize,
    /// Strength of cast, gradient, noise, clutter: 0 (a studio) … 1 (a bad phone photo).
    pub hard: f64,
    /// Turn of the card, degrees.
    pub card_turn: f64,
    /// Tilt of the camera, degrees.
    pub tilt: f64,
    /// Whether the floor has moulded rings.
    pub rings: bool,
    /// Whether a net or a hand reaches in (only where the tray fills the picture).
    pub reach_in: bool,
    /// Whether some fish have larger eyes than the others, up to nearly twice as large.
    pub large_eyes: bool,
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
            fry: 0.0,
            touching: 0.0,
            cut: 0,
            hard: 0.25,
            card_turn: 0.0,
            tilt: 3.0,
            rings: false,
            reach_in: false,
            large_eyes: false,
        }
    }

    /// A hard one: grey or blue floor, upside-down or turned card, tilt, strong gradient and noise, clutter.
    pub fn hard(seed: u64) -> Self {
        let floor = [FloorColour::Grey, FloorColour::Blue][(seed / 2 % 2) as usize];
        let card_turn = [180.0, 90.0, 173.0, -12.0][(seed % 4) as usize];
        Self { floor, card_turn, hard: 0.75, tilt: 12.0, rings: seed.is_multiple_of(3), ..Self::tidy(seed) }
    }

    /// A tray as it really is: any floor, rings, double shadows, litter, a net or hand, fry beside adults, fish that
    /// touch, cross and are cut, pale fish on white.
    pub fn real(seed: u64) -> Self {
        let floor = FloorColour::ALL[(seed % 5) as usize];
        let mut kinds = some_of_each(seed, 16);
        if floor == FloorColour::White {
            kinds.iter_mut().step_by(4).for_each(|k| *k = Kind::Pale);
        }
        let fills = seed.is_multiple_of(2);
        Self {
            floor,
            kinds,
            size: (2400, 1800),
            lengths: (18.0, 35.0),
            fry: 0.12,
            touching: 0.2,
            cut: if fills && seed.is_multiple_of(3) { 1 } else { 0 },
            hard: [0.3, 0.6, 0.8][(seed / 2 % 3) as usize],
            card_turn: [0.0, 180.0, 90.0, -20.0][(seed / 3 % 4) as usize],
            tilt: 8.0,
            rings: seed % 3 != 1,
            reach_in: fills && seed % 4 == 2,
            ..Self::tidy(seed)
        }
    }

    /// A small tray for colour trials: `strength` 0, 1 or 2 of cast, gradient and noise; eight fish on white or grey.
    pub fn colour(seed: u64, strength: u64) -> Self {
        Self {
            size: (1600, 1200),
            floor: [FloorColour::White, FloorColour::Grey][(seed / 2 % 2) as usize],
            kinds: some_of_each(seed, 8),
            lengths: (24.0, 34.0),
            hard: [0.15, 0.5, 0.85][strength as usize % 3],
            card_turn: [0.0, 180.0, 8.0][(seed % 3) as usize],
            ..Self::tidy(seed)
        }
    }

    /// A portrait: one to three fish from the side before a plain backdrop, with a water line and glass reflections.
    pub fn portrait(seed: u64) -> Self {
        let floor = [FloorColour::Grey, FloorColour::Blue, FloorColour::Black, FloorColour::White][(seed % 4) as usize];
        Self {
            floor,
            place: Place::Backdrop,
            kinds: some_of_each(seed, 1 + (seed % 3) as usize),
            lengths: (28.0, 42.0),
            hard: 0.4,
            tilt: 5.0,
            ..Self::tidy(seed)
        }
    }
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
        truth::tell(&self.scene, &self.view, self.camera.blur)
    }
}

/// Pitch of the card, millimetres: the folding size of the chart (measured on open photographs against its case).
pub const CARD_PITCH: f64 = 12.4;

/// Makes a set-up after a recipe.
pub fn setup(recipe: &Recipe) -> Setup {
    // Each topic draws from a stream of its own, so that a change to one leaves the others as they were.
    let chance = |topic: u64| {
        let mut rng = ChaCha8Rng::seed_from_u64(recipe.seed);
        rng.set_stream(topic);
        rng
    };
    let mut layout = place::layout(recipe, &mut chance(1));
    let view = stand(recipe, &layout, &mut chance(2));
    let tray = surroundings::tray(recipe, layout.tray, &mut chance(3));
    let light = surroundings::lamp(recipe, layout.centre, &mut chance(4));
    let mut clutter = surroundings::reach_in(recipe, &mut layout, &mut chance(5));
    let mut fish = place::brood(recipe, &layout, &mut chance(6));
    if recipe.large_eyes {
        let mut rng = chance(11);
        fish.iter_mut().for_each(|f| f.coat.eye = rng.random_range(1.0..1.9));
    }
    clutter.extend(surroundings::litter(recipe, &layout, &mut chance(7)));
    let shadows = surroundings::shadows(recipe, &mut chance(8));
    let mut chart = Chart::new(layout.card, CARD_PITCH);
    chart.turn = recipe.card_turn + chance(9).random_range(-2.0..2.0);
    let scene = Scene { tray, charts: vec![chart], fish, clutter, shadows, light };
    let camera = phone::phone(recipe, &scene, &view, &mut chance(10));
    Setup { scene, view, camera }
}

fn stand(recipe: &Recipe, layout: &place::Layout, rng: &mut ChaCha8Rng) -> View {
    let (w, h) = recipe.size;
    View {
        tilt: recipe.tilt * rng.random_range(0.7..1.0),
        tilt_towards: rng.random_range(0.0..360.0),
        turn: rng.random_range(-3.0..3.0),
        ..View::straight(w, h, f64::from(w) / recipe.place.shown(), layout.centre)
    }
}
