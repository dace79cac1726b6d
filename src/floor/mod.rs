//! The tray floor: where it is, its colour, and the lighting field it reveals, all in linear camera light.

mod background;
mod cells;
mod exposed;
mod field;
mod light;
mod model;
mod perceive;
mod residue;
mod surface;
mod tray;

pub use background::Background;
pub use exposed::MOSTLY_BLOWN_OUT;
pub use field::LightField;
pub use light::ToScene;
pub use model::{PLAIN_FROM, model, reduced};
pub use perceive::{perceived, perceived_all};
pub use tray::grow;

use crate::error::Warning;
use crate::geometry::{Point, polygon_contains};
use crate::photo::{LinearImage, Photo};

/// What a person may say about the tray.
#[derive(Debug, Clone, Copy, Default)]
pub struct FloorOptions<'a> {
    /// Corners of the tray's inside in pixels of the upright picture, at least three, in order around it.
    pub tray: Option<&'a [Point]>,
    /// The same tray from the same place without fish.
    pub empty: Option<&'a Photo>,
}

/// How the tray's inside became known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TraySource {
    /// A person gave its corners.
    Given,
    /// Its edge was found in the picture.
    Found,
    /// No edge was found; the whole picture is taken for the floor.
    WholePicture,
}

/// The floor of one photo.
#[derive(Debug, Clone)]
pub struct Floor {
    /// Outline of the tray's inside in pixels, clockwise on the screen.
    pub tray: Vec<Point>,
    /// How it became known.
    pub source: TraySource,
    /// The scene's light at a place relative to that at the card's centre.
    pub field: LightField,
    /// Share of the floor that is too bright for the camera, 0…1: of the light there nothing is known.
    pub blown_out: f64,
    /// The bare floor as the camera would see it, uneven light and all.
    pub background: Background,
    /// Whether that is a picture of the empty tray, which shows every ring and scratch, and not a smooth surface.
    pub pictured: bool,
    /// Share of the tray's inside that the background explains, 0…1: near 1 for a plain floor, low for gravel, plants, a street.
    pub plainness: f64,
    /// Standard deviation of the bare floor about its background in one reduced pixel, relative, a channel.
    pub noise: [f64; 3],
    /// The photo at the size the floor was modelled at, kept because the fish are sought on it next.
    pub reduced: LinearImage,
    /// What a person should know: no tray edge found, no plain floor.
    pub warnings: Vec<Warning>,
}

impl Floor {
    /// Whether `p` lies inside the tray.
    pub fn contains(&self, p: Point) -> bool {
        polygon_contains(&self.tray, p)
    }
}
