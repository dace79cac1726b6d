//! From a file's bytes to a [`Photo`]: limits first, then decoding, orientation, profile and capture time.

use std::io::Cursor;

use image::{DynamicImage, ImageDecoder, ImageReader};
use sha2::{Digest, Sha256};

use super::{Photo, Profile, Samples, exif, jpeg};
use crate::error::{Error, Result, Warning};

/// What is refused before decoding.
#[derive(Debug, Clone, Copy)]
pub struct Limits {
    /// Largest file in bytes.
    pub bytes: usize,
    /// Largest picture in pixels.
    pub pixels: u64,
}

impl Default for Limits {
    /// 256 MiB and 120 million pixels: above the largest phone sensors of 2026, below what exhausts 2 GB of memory.
    fn default() -> Self {
        Self { bytes: 256 << 20, pixels: 120_000_000 }
    }
}

/// Decodes a photo from the bytes of its file; `name` is only for messages.
///
/// # Errors
/// Empty, oversized, truncated or unreadable files, each with what to do about it.
pub fn read(name: &str, bytes: &[u8], limits: Limits) -> Result<Photo> {
    if bytes.is_empty() {
        return Err(Error::failed(name, "the file is empty (0 bytes)", "copy the photo again from the camera"));
    }
    if bytes.len() > limits.bytes {
        return Err(Error::failed(
            name,
            format!("the file has {} bytes, the limit is {}", bytes.len(), limits.bytes),
            "export the photo as JPEG",
        ));
    }
    if !jpeg::is_whole(bytes) {
        let message = format!("the file is cut short after {} bytes: its end is missing", bytes.len());
        return Err(Error::failed(name, message, "copy it again from the phone"));
    }
    let unreadable = |e: image::ImageError| {
        Error::failed(name, format!("cannot be read as a picture ({e})"), "use a JPEG, PNG, TIFF or WebP photo")
    };
    let mut reader = ImageReader::new(Cursor::new(bytes)).with_guessed_format().map_err(|e| unreadable(e.into()))?;
    let mut allowed = image::Limits::default();
    allowed.max_alloc = Some(limits.pixels * 8);
    reader.limits(allowed);
    let mut decoder = reader.into_decoder().map_err(unreadable)?;
    let (w, h) = decoder.dimensions();
    if u64::from(w) * u64::from(h) > limits.pixels {
        return Err(Error::failed(
            name,
            format!("the picture claims {w} × {h} pixels, the limit is {} million", limits.pixels / 1_000_000),
            "reduce it, or check that the file is a photo",
        ));
    }
    let mut warnings = Vec::new();
    let about = match decoder.exif_metadata().ok().flatten() {
        None => exif::About::default(),
        Some(block) => exif::about(&block).unwrap_or_else(|e| {
            warnings.push(Warning::new(
                "broken-exif",
                format!("the EXIF block cannot be read ({e}); capture time unknown"),
            ));
            exif::About::default()
        }),
    };
    let orientation = decoder.orientation().unwrap_or(image::metadata::Orientation::NoTransforms);
    let mut picture = DynamicImage::from_decoder(decoder).map_err(unreadable)?;
    picture.apply_orientation(orientation);
    let (width, height) = (picture.width(), picture.height());
    let samples = match picture {
        DynamicImage::ImageRgb16(_)
        | DynamicImage::ImageRgba16(_)
        | DynamicImage::ImageLuma16(_)
        | DynamicImage::ImageLumaA16(_) => Samples::Sixteen(picture.into_rgb16().into_raw()),
        other => Samples::Eight(other.into_rgb8().into_raw()),
    };
    Ok(Photo {
        name: name.to_owned(),
        hash: Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect(),
        width,
        height,
        taken: about.taken,
        camera: about.camera,
        samples,
        profile: Profile::srgb(),
        warnings,
    })
}
