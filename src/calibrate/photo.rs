//! A photo together with all that turns its pixels into colours and millimetres.

use super::{Calibration, Verdict};
use crate::card::Card;
use crate::colour::{Lab, LinearRgb};
use crate::floor::{Floor, MOSTLY_BLOWN_OUT};
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
    /// A floor that is mostly blown out leaves the light unknown, so that no reading is better than fair.
    pub fn new(photo: &'a Photo, card: Option<Card>, floor: Floor, mut calibration: Calibration) -> Self {
        if floor.blown_out > MOSTLY_BLOWN_OUT {
            calibration.lower(
                Verdict::Fair,
                "most of the tray's floor is too bright for the camera, so the light over it is not known; expose less",
            );
        }
        let plane = card.as_ref().and_then(Card::plane);
        Self { photo, card, floor, calibration, plane }
    }

    /// Linear light of pixel (x, y) as the file would hold it at the card's centre; `x` and `y` inside the picture.
    pub fn relit_at(&self, x: u32, y: u32) -> LinearRgb {
        self.calibration.file(self.scene_at(x, y))
    }

    /// Linear light that the file holds at `place`, as it would hold it at the card's centre.
    pub fn relit(&self, place: Point, file: LinearRgb) -> LinearRgb {
        self.calibration.file(self.floor.field.relight(place, self.calibration.scene(file)))
    }

    /// The scene's light of pixel (x, y) as it would be at the card's centre.
    fn scene_at(&self, x: u32, y: u32) -> LinearRgb {
        let centre = Point::new(f64::from(x) + 0.5, f64::from(y) + 0.5);
        self.floor.field.relight(centre, self.calibration.scene(self.photo.linear(x, y)))
    }

    /// CIELAB of pixel (x, y); `x` and `y` inside the picture.
    pub fn lab_at(&self, x: u32, y: u32) -> Lab {
        self.calibration.lab_of_scene(self.scene_at(x, y))
    }

    /// Millimetres per pixel around `p`; `None` when the card's size is not known.
    pub fn mm_per_px(&self, p: Point) -> Option<f64> {
        self.plane.map(|h| h.magnification(p))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::floor::{Background, LightField, TraySource};
    use crate::photo::{Profile, Samples};

    /// A floor whose light falls to half across the picture, as a file without contrast curve holds it.
    fn floor(photo: &Photo, level: f32) -> Floor {
        let ratios = vec![1.0, 0.5, 1.0, 0.5];
        let cell = f64::from(photo.width);
        Floor {
            tray: [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)]
                .map(|(x, y)| Point::new(x * cell, y * cell))
                .to_vec(),
            source: TraySource::WholePicture,
            field: LightField { cell, columns: 2, rows: 2, ratios, relative_error: 0.01 },
            blown_out: 0.0,
            background: Background::sampled(cell, 2, 2, |p| {
                let v = level * if p.x > 0.0 { 0.5 } else { 1.0 };
                LinearRgb::new(v, v, v)
            }),
            pictured: false,
            plainness: 1.0,
            noise: [0.0; 3],
            reduced: photo.reduced(4),
            warnings: Vec::new(),
        }
    }

    #[test]
    fn equal_fish_in_unequal_light_are_read_alike() {
        // Encoded 188 is linear 0.50, 137 is 0.25: the same grey in full and in half light (IEC 61966-2-1).
        let row: Vec<u8> = (0..16).flat_map(|x| [if x < 8 { 188 } else { 137 }; 3]).collect();
        let photo = Photo {
            name: "grey.png".to_owned(),
            hash: String::new(),
            width: 16,
            height: 16,
            taken: None,
            camera: None,
            samples: Samples::Eight(row.repeat(16)),
            profile: Profile::srgb(),
            warnings: Vec::new(),
        };
        let floor = floor(&photo, 0.8);
        let read = CalibratedPhoto::new(&photo, None, floor, Calibration::from_profile("a test without a card"));
        // The ratios at the pixels' centres are 0.984 and 0.516, so the light differs by 5 % and L* by 1.6 (CIE 15).
        let (bright, dark) = (read.lab_at(0, 8), read.lab_at(15, 8));
        assert!((bright.l - dark.l - 1.6).abs() < 0.1, "{} {}", bright.l, dark.l);
        assert!((read.relit_at(15, 8).green - 0.25 / read.floor.field.ratio(Point::new(15.5, 8.5))).abs() < 1e-3);
    }
}
