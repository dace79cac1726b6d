//! A file becomes an upright, colour-managed [`Photo`] whose identity is its content hash.

mod exif;
mod icc;
mod jpeg;
mod kind;
mod profile;
mod read;
mod reduced;

pub use profile::Profile;
pub use read::{Limits, identity, read};
pub use reduced::{EncodedImage, LinearImage};

use crate::colour::LinearRgb;
use crate::error::Warning;

/// The encoded value, of 255, from which a channel counts as clipped.
pub const CLIPPED_FROM: u8 = 250;

/// The samples as the file has them: RGB interleaved, upright, not yet linear.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Samples {
    /// 8 bits a channel.
    Eight(Vec<u8>),
    /// 16 bits a channel.
    Sixteen(Vec<u16>),
}

/// An upright photo with what is needed to read its colours.
#[derive(Debug, Clone)]
pub struct Photo {
    /// The name it was given by the person, as shown in messages and output.
    pub name: String,
    /// SHA-256 of the file's bytes, 64 lower-case hex digits: the photo's identity.
    pub hash: String,
    /// Width of the upright picture in pixels.
    pub width: u32,
    /// Height of the upright picture in pixels.
    pub height: u32,
    /// Capture time by the camera's own clock, where EXIF gives one, with its offset where that is given.
    pub taken: Option<Taken>,
    /// The camera's model, where EXIF names it.
    pub camera: Option<String>,
    /// The pixels.
    pub samples: Samples,
    /// How the file's values become linear light.
    pub profile: Profile,
    /// What was odd about the file: broken EXIF, unusable profile.
    pub warnings: Vec<Warning>,
}

/// When a photo was taken, by the camera's clock.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Taken {
    /// Date and time on the camera's clock.
    pub at: jiff::civil::DateTime,
    /// The clock's offset from UTC, when the file tells it.
    pub offset: Option<jiff::tz::Offset>,
}

impl Photo {
    /// The encoded value of pixel (x, y), reduced to 8 bits; `x < width`, `y < height`.
    pub fn encoded(&self, x: u32, y: u32) -> [u8; 3] {
        let i = self.index(x, y);
        match &self.samples {
            Samples::Eight(v) => [v[i], v[i + 1], v[i + 2]],
            // The high byte of a 16-bit sample is its 8-bit value.
            Samples::Sixteen(v) => [v[i], v[i + 1], v[i + 2]].map(|s| s.to_be_bytes()[0]),
        }
    }

    /// The linear light of pixel (x, y); `x < width`, `y < height`.
    pub fn linear(&self, x: u32, y: u32) -> LinearRgb {
        let i = self.index(x, y);
        match &self.samples {
            Samples::Eight(v) => self.profile.linear8([v[i], v[i + 1], v[i + 2]]),
            Samples::Sixteen(v) => self.profile.linear16([v[i], v[i + 1], v[i + 2]]),
        }
    }

    /// Mean light of the square of `side` pixels whose first is (x, y), inside the picture; beyond its right and lower edge
    /// their last pixels go on.
    pub(crate) fn mean_light(&self, x: u32, y: u32, side: u32) -> LinearRgb {
        let mut sum = LinearRgb::new(0.0, 0.0, 0.0);
        for y in (y..y + side).map(|y| y.min(self.height - 1)) {
            match &self.samples {
                Samples::Eight(v) if x + side <= self.width => {
                    let row = &v[self.index(x, y)..][..3 * side as usize];
                    row.as_chunks().0.iter().for_each(|pixel| sum += self.profile.linear8(*pixel));
                }
                _ => (x..x + side).for_each(|x| sum += self.linear(x.min(self.width - 1), y)),
            }
        }
        sum / (side * side) as f32
    }

    /// Whether a channel of pixel (x, y) is at or above [`CLIPPED_FROM`].
    pub fn clipped(&self, x: u32, y: u32) -> bool {
        self.encoded(x, y).iter().any(|&v| v >= CLIPPED_FROM)
    }

    /// The picture in linear light, each of its pixels the mean of `factor` × `factor` pixels of this one.
    pub fn reduced(&self, factor: u32) -> LinearImage {
        reduced::reduce(self, factor)
    }

    /// The picture's encoded bytes, each pixel the mean of `factor` × `factor` pixels of this one: for finding shapes.
    pub fn reduced_encoded(&self, factor: u32) -> EncodedImage {
        reduced::reduce_encoded(self, factor)
    }

    fn index(&self, x: u32, y: u32) -> usize {
        3 * (y as usize * self.width as usize + x as usize)
    }
}
