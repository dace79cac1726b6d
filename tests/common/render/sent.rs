//! What is left of a photo that was taken in poor light, kept small and sent through a messenger.

use image::{RgbImage, imageops};

/// How a picture suffers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wear {
    /// Softness, standard deviation in pixels.
    pub blur: f32,
    /// Share of the encoded values that is left: 1 keeps the exposure.
    pub light: f32,
    /// Quality of the JPEG, 1…100: at 30 whole blocks hold one colour, three and more steps of 8 bits from the next.
    pub quality: u8,
}

impl Wear {
    /// Made small and compressed hard.
    pub const SENT: Self = Self { blur: 0.6, light: 1.0, quality: 30 };
    /// Under-exposed, soft and compressed hard.
    pub const DIM: Self = Self { blur: 1.0, light: 0.55, quality: 40 };

    /// The picture as a JPEG file after it.
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a share of a byte")]
    pub fn jpeg(self, image: &RgbImage) -> Vec<u8> {
        let mut worn = imageops::blur(image, self.blur);
        worn.iter_mut().for_each(|v| *v = (f32::from(*v) * self.light).round() as u8);
        let mut bytes = Vec::new();
        image::codecs::jpeg::JpegEncoder::new_with_quality(&mut bytes, self.quality).encode_image(&worn).unwrap();
        bytes
    }
}
