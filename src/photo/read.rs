//! From a file's bytes to a [`Photo`]: limits first, then decoding, orientation, profile and capture time.

use std::io::Cursor;

use image::metadata::Orientation;
use image::{ColorType, DynamicImage, ExtendedColorType, ImageDecoder, ImageFormat, ImageReader, RgbImage};
use rayon::prelude::*;
use sha2::{Digest, Sha256};

use super::exif::{self, About};
use super::icc::{self, Managed};
use super::{Photo, Profile, Samples, jpeg, kind};
use crate::error::{Error, Result, Warning};

/// Bytes of memory that the system hands out at once, at least.
const PAGE: usize = 4096;

/// Coarseness of a JPEG from which on fish are lost or invented (starting value: sample images saved again at "quality 65"; one at 50
/// shows fish that are none, phones write 0.1 to 0.3).
const COARSE: f64 = 0.7;

/// What is refused before decoding.
#[derive(Debug, Clone, Copy)]
pub struct Limits {
    /// Largest file in bytes.
    pub bytes: usize,
    /// Largest picture in pixels.
    pub pixels: u64,
    /// Smallest picture along its shorter side, in pixels.
    pub side: u32,
}

impl Default for Limits {
    /// 256 MiB and 120 million pixels: above the largest phone sensors of 2026, below what exhausts 2 GB of memory. 16 pixels:
    /// no fish and no card can be read on fewer.
    fn default() -> Self {
        Self { bytes: 256 << 20, pixels: 120_000_000, side: 16 }
    }
}

/// Decodes a photo from the bytes of its file; `name` serves messages and tells raw files by their ending.
///
/// # Errors
/// Empty, oversized, tiny, truncated, raw or unreadable files, each with what to do about it.
pub fn read(name: &str, bytes: &[u8], limits: Limits) -> Result<Photo> {
    refuse(name, bytes, limits)?;
    let decode = if kind::is_heic(bytes) { heic } else { decode };
    let (decoded, hash) = rayon::join(|| decode(name, bytes, limits), || identity(bytes));
    let decoded = decoded?;
    let (width, height) = (decoded.picture.width(), decoded.picture.height());
    let grey = !decoded.picture.color().has_color();
    let samples = match decoded.picture {
        p @ (DynamicImage::ImageRgb16(_)
        | DynamicImage::ImageRgba16(_)
        | DynamicImage::ImageLuma16(_)
        | DynamicImage::ImageLumaA16(_)
        | DynamicImage::ImageRgb32F(_)
        | DynamicImage::ImageRgba32F(_)) => Samples::Sixteen(p.into_rgb16().into_raw()),
        p => Samples::Eight(p.into_rgb8().into_raw()),
    };
    let mut warnings = decoded.warnings;
    let (samples, profile) = manage(samples, grey, decoded.icc.as_deref(), &mut warnings);
    Ok(Photo {
        name: name.to_owned(),
        hash,
        width,
        height,
        taken: decoded.about.taken,
        camera: decoded.about.camera,
        samples,
        profile,
        warnings,
    })
}

/// A file's identity: the SHA-256 of its bytes in lower-case hex.
pub fn identity(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect()
}

/// What must not reach a decoder.
fn refuse(name: &str, bytes: &[u8], limits: Limits) -> Result<()> {
    if bytes.is_empty() {
        return Err(Error::failed(name, "the file is empty (0 bytes)", "copy the photo again from the camera"));
    }
    if bytes.len() > limits.bytes {
        let what = format!("the file has {} bytes, the limit is {}", bytes.len(), limits.bytes);
        return Err(Error::failed(name, what, "export the photo as JPEG"));
    }
    if kind::is_raw(name, bytes) {
        return Err(kind::raw().of(name));
    }
    Ok(())
}

fn check_size(name: &str, (w, h): (u32, u32), limits: Limits) -> Result<()> {
    if u64::from(w) * u64::from(h) > limits.pixels {
        let what = format!("the picture claims {w} × {h} pixels, the limit is {} million", limits.pixels / 1_000_000);
        return Err(Error::failed(name, what, "reduce it, or check that the file is a photo"));
    }
    if w.min(h) < limits.side {
        let what = format!("the picture has {w} × {h} pixels, at least {0} × {0} are needed", limits.side);
        return Err(Error::failed(name, what, "use the original photo, not a thumbnail"));
    }
    Ok(())
}

/// An upright picture and what came with it.
struct Decoded {
    picture: DynamicImage,
    icc: Option<Vec<u8>>,
    about: About,
    warnings: Vec<Warning>,
}

fn decode(name: &str, bytes: &[u8], limits: Limits) -> Result<Decoded> {
    let failed = |e: image::ImageError| {
        Error::failed(name, format!("the picture cannot be decoded ({e})"), "copy it again or export it as JPEG")
    };
    let mut reader = ImageReader::new(Cursor::new(bytes)).with_guessed_format().map_err(|e| failed(e.into()))?;
    let Some(format) = reader.format() else {
        return Err(kind::unknown(bytes).of(name));
    };
    let mut warnings = Vec::new();
    if jpeg::is_jpeg(bytes) {
        check_jpeg(name, bytes, &mut warnings)?;
    }
    let mut allowed = image::Limits::default();
    // Eight bytes a pixel: four channels of 16 bits.
    allowed.max_alloc = Some(limits.pixels * 8);
    reader.limits(allowed);
    let decoder = reader.into_decoder().map_err(failed)?;
    check_size(name, decoder.dimensions(), limits)?;
    let mut decoded = collect(decoder, warnings).map_err(failed)?;
    if format == ImageFormat::Tiff {
        decoded.about = about_tiff(name, bytes)?;
    }
    Ok(decoded)
}

/// Everything a decoder has to give, the picture upright.
fn collect(mut decoder: impl ImageDecoder, mut warnings: Vec<Warning>) -> image::ImageResult<Decoded> {
    let about = match decoder.exif_metadata().ok().flatten() {
        None => About::default(),
        Some(block) => exif::about(&block).unwrap_or_else(|e| {
            let message = format!("the EXIF block cannot be read ({e}); capture time unknown");
            warnings.push(Warning::new("broken-exif", message));
            About::default()
        }),
    };
    let orientation = decoder.orientation().unwrap_or(Orientation::NoTransforms);
    let icc = decoder.icc_profile().ok().flatten();
    if matches!(decoder.original_color_type(), ExtendedColorType::Cmyk8 | ExtendedColorType::Cmyk16) {
        warnings.push(printing_colours());
    }
    let mut picture = pixels(decoder)?;
    picture.apply_orientation(orientation);
    if icc.as_ref().is_none_or(Vec::is_empty)
        && matches!(picture, DynamicImage::ImageRgb32F(_) | DynamicImage::ImageRgba32F(_))
    {
        let message = "the picture holds floating-point values and no colour profile; 0 to 1 is read as sRGB, and if they are \
                       linear light all colours are wrong (export the photo as 16-bit TIFF or JPEG in sRGB)";
        warnings.push(Warning::new("float-values", message));
    }
    Ok(Decoded { picture, icc, about, warnings })
}

/// The picture itself.
///
/// One core decodes; a fourth of its time would go into having memory handed out by the system page by page, so all cores
/// ask for it beforehand.
fn pixels(decoder: impl ImageDecoder) -> image::ImageResult<DynamicImage> {
    if decoder.color_type() != ColorType::Rgb8 {
        return DynamicImage::from_decoder(decoder);
    }
    let (width, height) = decoder.dimensions();
    let mut picture = RgbImage::new(width, height);
    picture.par_chunks_mut(256 * PAGE).for_each(|part| part.iter_mut().step_by(PAGE).for_each(|byte| *byte = 0));
    decoder.read_image(&mut picture)?;
    Ok(DynamicImage::ImageRgb8(picture))
}

/// A JPEG that is cut short would decode to grey rows; one in printing colours loses its meaning.
fn check_jpeg(name: &str, bytes: &[u8], warnings: &mut Vec<Warning>) -> Result<()> {
    let outline = jpeg::outline(bytes);
    if !outline.whole {
        let what = format!("the JPEG is cut short after {} bytes", bytes.len());
        return Err(Error::failed(name, what, "copy the photo again from the camera"));
    }
    if outline.coarseness.is_some_and(|c| c > COARSE) {
        let message = "the JPEG was compressed hard: pale fish and clear fins may be missed, blotches may pass for fish and classes may be \
                       wrong; use the file as the camera wrote it";
        warnings.push(Warning::new("coarse-photo", message));
    }
    if outline.channels == 4 {
        warnings.push(printing_colours());
    }
    Ok(())
}

/// The decoder makes printing colours into RGB by rule of thumb, whatever their profile says.
fn printing_colours() -> Warning {
    let message = "the picture is in printing colours (CMYK); its colours are only roughly those of the scene (export the photo as sRGB)";
    Warning::new("cmyk", message)
}

fn about_tiff(name: &str, bytes: &[u8]) -> Result<About> {
    match exif::tiff_tags(bytes) {
        Some(tags) if tags.negative => Err(kind::raw().of(name)),
        tags => Ok(tags.map(|t| t.about).unwrap_or_default()),
    }
}

#[cfg(feature = "heic")]
fn heic(name: &str, bytes: &[u8], limits: Limits) -> Result<Decoded> {
    let options = heifer::Options { max_threads: 0, max_pixels: limits.pixels };
    let failed = |e: image::ImageError| {
        Error::failed(name, format!("the HEIC photo cannot be decoded ({e})"), "export it as JPEG")
    };
    let decoder = heifer::image_crate::HeifDecoder::from_bytes(bytes, &options).map_err(failed)?;
    check_size(name, decoder.dimensions(), limits)?;
    collect(decoder, Vec::new()).map_err(failed)
}

#[cfg(not(feature = "heic"))]
fn heic(name: &str, _bytes: &[u8], _limits: Limits) -> Result<Decoded> {
    Err(Error::failed(
        name,
        "this build reads no HEIC photos",
        "set the phone's camera to the most compatible format (JPEG), export the photo as JPEG, or install with 'cargo install --path . --features heic'",
    ))
}

/// Samples and profile that belong together, by the embedded profile where it can be used.
fn manage(samples: Samples, grey: bool, icc: Option<&[u8]>, warnings: &mut Vec<Warning>) -> (Samples, Profile) {
    let sixteen = matches!(samples, Samples::Sixteen(_));
    let printing = warnings.iter().any(|w| w.code == "cmyk");
    let managed = match icc {
        // The decoder has already left the profile's own colour space.
        Some(bytes) if !printing && !bytes.is_empty() => icc::read(bytes, grey, sixteen),
        _ => Ok(Managed::Tables(Profile::srgb_for(sixteen))),
    };
    let outcome = managed.and_then(|managed| match managed {
        Managed::Tables(profile) => Ok((None, profile)),
        Managed::Through(table, intent) => {
            let (converted, profile, warning) = icc::through(&table, intent, &samples)?;
            warnings.push(warning);
            Ok((Some(converted), profile))
        }
    });
    match outcome {
        Ok((converted, profile)) => (converted.unwrap_or(samples), profile),
        Err(why) => {
            let message = format!("the embedded colour profile cannot be used ({why}); sRGB is assumed");
            warnings.push(Warning::new("bad-profile", message));
            (samples, Profile::srgb_for(sixteen))
        }
    }
}
