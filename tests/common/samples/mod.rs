//! The sample pictures: which trays of the invented scenario are drawn, and what is written beside them.

pub mod exif;
pub mod record;
pub mod scenario;

use broodhue::units::Sex;

use super::render::brood::{Kind, Place, Recipe};
use super::render::fish::Base;
use super::render::tray::FloorColour;

/// One sample picture.
pub struct Sample {
    /// File name in `sample-images/`.
    pub file: &'static str,
    /// The brood it shows.
    pub brood: &'static str,
    /// Capture time, by the phone's clock.
    pub taken: &'static str,
    /// How it is drawn.
    pub recipe: Recipe,
}

/// Quality of the samples' JPEG: small files, no visible blocks.
pub const QUALITY: u8 = 88;

/// Looks of a tray: so many full red, reduced and red-free fish, red ones first.
fn looks(red: usize, reduced: usize, plain: usize) -> Vec<Kind> {
    [(Kind::Red, red), (Kind::ReducedRed, reduced), (Kind::Plain, plain)]
        .into_iter()
        .flat_map(|(kind, n)| std::iter::repeat_n(kind, n))
        .collect()
}

fn tray(seed: u64, kinds: Vec<Kind>, bases: &[Base], lengths: (f64, f64)) -> Recipe {
    let sexes = vec![Sex::Male, Sex::Female, Sex::Female, Sex::Male, Sex::Male, Sex::Female];
    Recipe { kinds, bases: bases.to_vec(), sexes, lengths, size: (2016, 1512), ..Recipe::tidy(seed) }
}

/// Every sample picture, in the order of the story.
pub fn all() -> Vec<Sample> {
    use Base::{Blond, Grey};
    // Grey is dominant over blond in the scenario: all grey in K1 and K3, one in four blond in K2, all blond in K4.
    let mixed = [Grey, Grey, Blond, Grey];
    let young = (19.0, 26.0);
    let older = (23.0, 31.0);
    let sample = |file, brood, taken, recipe| Sample { file, brood, taken, recipe };
    let hard = Recipe {
        floor: FloorColour::Grey,
        place: Place::OnTable,
        card_turn: 180.0,
        hard: 0.6,
        tilt: 9.0,
        rings: true,
        ..tray(2042, looks(8, 0, 4), &mixed, older)
    };
    let blue = Recipe { floor: FloorColour::Blue, ..tray(3011, looks(14, 0, 0), &[Grey], older) };
    vec![
        sample("K1-1.jpg", "K1-1", "2025-10-18T10:05:00", tray(1010, looks(16, 0, 0), &[Grey], older)),
        sample("K2-1-tray-a.jpg", "K2-1", "2026-03-07T09:40:00", tray(2010, looks(9, 1, 3), &mixed, young)),
        sample("K2-1-tray-b.jpg", "K2-1", "2026-03-07T09:52:00", tray(2013, looks(8, 1, 3), &mixed, young)),
        sample("K2-1-later.jpg", "K2-1", "2026-04-04T10:20:00", tray(2020, looks(14, 0, 6), &mixed, older)),
        sample("K2-2-tray-a.jpg", "K2-2", "2026-04-18T10:10:00", tray(2031, looks(11, 0, 3), &mixed, older)),
        sample("K2-2-tray-b-hard.jpg", "K2-2", "2026-04-18T10:31:00", hard),
        sample("K3-1.jpg", "K3-1", "2026-08-08T11:00:00", blue),
        sample("K4-1.jpg", "K4-1", "2026-08-08T11:24:00", tray(4010, looks(0, 0, 14), &[Blond], older)),
    ]
}
