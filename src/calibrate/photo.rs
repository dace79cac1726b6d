//! A photo together with all that turns its pixels into colours and millimetres.

use super::Calibration;
use crate::card::Card;
use crate::colour::{Lab, LinearRgb};
use crate::floor::Floor;
use crate::geometry::{Homography, Point};
use crate::photo::Photo;

/// A photo whose every pixel can be read as CIELAB, as the card's white at that place would call it.
#[derive(Debug, Clone)]
pub struct CalibratedPhoto<'a> {
    /// The picture.
    pub photo: &'a Photo,
    /// The card, where one is usable.
    pub card: Option<Card>,
    /// The tray floor and the lighting field.
    pub floor: Floor,
    /// From light at the card's place to CIELAB.
    pub calibration: Calibration,
    /// From pixels to millimetres in the card's plane, where the card's size is known.
    pub plane: Option<Homography>,
}

impl<'a> CalibratedPhoto<'a> {
    /// Puts the parts together; the plane is the card's.
    pub fn new(photo: &'a Photo, card: Option<Card>, floor: Floor, calibration: Calibration) -> Self {
        let plane = card.as_ref().and_then(Card::plane);
        Self { photo, card, floor, calibration, plane }
    }

    /// Linear light of pixel (x, y) as it would be at the card's centre; `x` and `y` inside the picture.
    pub fn relit_at(&self, x: u32, y: u32) -> LinearRgb {
        let centre = Point::new(f64::from(x) + 0.5, f64::from(y) + 0.5);
        self.floor.field.relight(centre, self.photo.linear(x, y))
    }

    /// CIELAB of pixel (x, y); `x` and `y` inside the picture.
    pub fn lab_at(&self, x: u32, y: u32) -> Lab {
        self.calibration.lab(self.relit_at(x, y))
    }

    /// Millimetres per pixel around `p`; `None` when the card's size is not known.
    pub fn mm_per_px(&self, p: Point) -> Option<f64> {
        self.plane.map(|h| h.magnification(p))
    }
}
