//! A photo together with all that turns its pixels into colours and millimetres.

use super::Calibration;
use crate::card::reference::CHART_GRID;
use crate::card::{Card, Layout};
use crate::colour::{Lab, LinearRgb};
use crate::floor::LightField;
use crate::geometry::{Homography, Point};
use crate::photo::Photo;

/// A photo whose every pixel can be read as CIELAB, as the card's white at that place would call it.
#[derive(Debug, Clone)]
pub struct CalibratedPhoto<'a> {
    /// The picture.
    pub photo: &'a Photo,
    /// The card, where one is usable.
    pub card: Option<&'a Card>,
    /// Light at a place relative to the card's centre.
    pub field: LightField,
    /// From light at the card's place to CIELAB.
    pub calibration: Calibration,
    /// From pixels to millimetres in the card's plane, where the card's size is known.
    pub plane: Option<Homography>,
}

impl CalibratedPhoto<'_> {
    /// Linear light of pixel (x, y) as it would be at the card's centre; `x` and `y` inside the picture.
    pub fn relit_at(&self, x: u32, y: u32) -> LinearRgb {
        let centre = Point::new(f64::from(x) + 0.5, f64::from(y) + 0.5);
        self.field.relight(centre, self.photo.linear(x, y))
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

/// From pixels to millimetres by a 4 × 6 card whose neighbouring patch centres stand `pitch_mm` apart; `None` for other
/// layouts and for a card whose corner patches stand in line.
pub fn plane_of_chart(card: &Card, pitch_mm: f64) -> Option<Homography> {
    let (columns, rows) = CHART_GRID;
    if !matches!(card.layout, Layout::Chart24 | Layout::Unknown24) || card.patches.len() != columns * rows {
        return None;
    }
    let at = |c: usize, r: usize| card.patches[r * columns + c].centre;
    let mm = |c: usize, r: usize| Point::new(c as f64 * pitch_mm, r as f64 * pitch_mm);
    let corners = [(0, 0), (columns - 1, 0), (columns - 1, rows - 1), (0, rows - 1)];
    Homography::from_quads(&corners.map(|(c, r)| at(c, r)), &corners.map(|(c, r)| mm(c, r)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::card::PatchReading;

    #[test]
    fn a_chart_seen_straight_gives_its_scale() {
        let patch = |i: usize| PatchReading {
            centre: Point::new(100.0 + 40.0 * (i % 6) as f64, 50.0 + 40.0 * (i / 6) as f64),
            linear: LinearRgb::new(0.5, 0.5, 0.5),
            spread: [0.0; 3],
            pixels: 100,
            clipped_share: 0.0,
        };
        let card = Card {
            layout: Layout::Chart24,
            corners: [Point::default(); 4],
            patches: (0..24).map(patch).collect(),
            pitch_px: 40.0,
            mirrored: false,
        };
        let plane = plane_of_chart(&card, 13.5).unwrap();
        let p = Point::new(500.0, 300.0);
        assert!((plane.magnification(p) - 13.5 / 40.0).abs() < 1e-9);
        assert!(plane.apply(Point::new(140.0, 50.0)).distance(Point::new(13.5, 0.0)) < 1e-9);
    }
}
