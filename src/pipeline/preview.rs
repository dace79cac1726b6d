//! A calibrated picture of a photo or of a part of it, as a screen shows it: what the eye compares.

use image::{Rgb, RgbImage};
use rayon::prelude::*;

use crate::calibrate::CalibratedPhoto;
use crate::colour::{linear_srgb_from_lab, srgb_encode};
use crate::error::{Error, Result};
use crate::geometry::{PixelBox, Point};

/// JPEG quality of previews, of 100: no block edges to be seen, a tenth of the original's size.
const QUALITY: u8 = 85;

/// What a fish is shown on; the same as `--grey` of the page's style sheet. Encoded 119 is L* 50 (IEC 61966-2-1, CIE 15).
const GREY: Rgb<u8> = Rgb([119; 3]);

/// The calibrated picture inside `bounds` (cut to the photo), reduced so that its longer side has at most `longest`
/// pixels, never enlarged.
pub fn picture(calibrated: &CalibratedPhoto<'_>, bounds: PixelBox, longest: u32) -> RgbImage {
    let photo = calibrated.photo;
    let (x0, y0) = (whole(bounds.x0, photo.width - 1), whole(bounds.y0, photo.height - 1));
    let (x1, y1) =
        (whole(bounds.x1.ceil(), photo.width).max(x0 + 1), whole(bounds.y1.ceil(), photo.height).max(y0 + 1));
    let step = (x1 - x0).max(y1 - y0).div_ceil(longest.max(1)).max(1);
    let (width, height) = ((x1 - x0).div_ceil(step), (y1 - y0).div_ceil(step));
    let rows: Vec<Vec<Rgb<u8>>> = (0..height)
        .into_par_iter()
        .map(|j| (0..width).map(|i| shown(calibrated, x0 + i * step, y0 + j * step, step)).collect())
        .collect();
    RgbImage::from_fn(width, height, |i, j| rows[j as usize][i as usize])
}

/// One fish alone on neutral grey: the square of `side` pixels around the middle of its outline's box, reduced to at most
/// `longest` pixels. What lies outside the outline or the photo is grey, so that nothing but fish is compared.
pub fn alone(calibrated: &CalibratedPhoto<'_>, outline: &[Point], side: f64, longest: u32) -> RgbImage {
    let photo = calibrated.photo;
    let side = whole(side.ceil(), photo.width.max(photo.height) * 2).max(1);
    let step = side.div_ceil(longest.max(1)).max(1);
    let across = side.div_ceil(step);
    let bounds = PixelBox::around(outline).unwrap_or_default();
    let corner = |low: f64, high: f64| f64::midpoint(low, high) - f64::from(side) / 2.0;
    let (left, top) = (corner(bounds.x0, bounds.x1), corner(bounds.y0, bounds.y1));
    let rows: Vec<Vec<Rgb<u8>>> = (0..across)
        .into_par_iter()
        .map(|j| {
            let y = top + (f64::from(j) + 0.5) * f64::from(step);
            let edges = crossings(outline, y);
            let pixel = |i: u32| {
                let x = left + (f64::from(i) + 0.5) * f64::from(step);
                let inside = edges.partition_point(|edge| *edge < x) % 2 == 1;
                let seen = inside && x >= 0.0 && y >= 0.0 && x < f64::from(photo.width) && y < f64::from(photo.height);
                if seen { shown(calibrated, whole(x, photo.width - 1), whole(y, photo.height - 1), step) } else { GREY }
            };
            (0..across).map(pixel).collect()
        })
        .collect();
    RgbImage::from_fn(across, across, |i, j| rows[j as usize][i as usize])
}

/// Where a closed polygon crosses the horizontal line at `y`, from left to right.
fn crossings(polygon: &[Point], y: f64) -> Vec<f64> {
    let next = polygon.iter().skip(1).chain(polygon.first());
    let mut found: Vec<f64> = polygon
        .iter()
        .zip(next)
        .filter(|(a, b)| (a.y <= y) != (b.y <= y))
        .map(|(a, b)| a.x + (y - a.y) / (b.y - a.y) * (b.x - a.x))
        .collect();
    found.sort_by(f64::total_cmp);
    found
}

/// A picture as JPEG, without any EXIF.
///
/// # Errors
/// A picture without pixels.
pub fn jpeg(picture: &RgbImage) -> Result<Vec<u8>> {
    let mut bytes = Vec::new();
    image::codecs::jpeg::JpegEncoder::new_with_quality(&mut bytes, QUALITY)
        .encode_image(picture)
        .map_err(|e| Error::failed("preview", e, "check the photo"))?;
    Ok(bytes)
}

/// The part of a preview inside `bounds` (pixels of the photo, `photo_width` of them across), with a margin of a tenth.
///
/// # Errors
/// A preview that cannot be read.
pub fn crop(preview: &[u8], photo_width: u32, bounds: PixelBox) -> Result<Vec<u8>> {
    let shown = image::load_from_memory(preview).map_err(|e| Error::failed("preview", e, "measure the photo again"))?;
    let scale = f64::from(shown.width()) / f64::from(photo_width.max(1));
    let margin = (bounds.x1 - bounds.x0).max(bounds.y1 - bounds.y0) / 10.0;
    let at = |v: f64, limit: u32| whole(v * scale, limit);
    let (x0, y0) = (at(bounds.x0 - margin, shown.width() - 1), at(bounds.y0 - margin, shown.height() - 1));
    let (x1, y1) = (at(bounds.x1 + margin, shown.width()), at(bounds.y1 + margin, shown.height()));
    jpeg(&shown.crop_imm(x0, y0, (x1 - x0).max(1), (y1 - y0).max(1)).into_rgb8())
}

/// The mean colour of the four corners' pixels of a block, or of its one pixel.
fn shown(calibrated: &CalibratedPhoto<'_>, x: u32, y: u32, step: u32) -> Rgb<u8> {
    let photo = calibrated.photo;
    let (far_x, far_y) = ((x + step / 2).min(photo.width - 1), (y + step / 2).min(photo.height - 1));
    let places = if step == 1 { vec![(x, y)] } else { vec![(x, y), (far_x, y), (x, far_y), (far_x, far_y)] };
    let mut sum = [0.0; 3];
    for (x, y) in &places {
        let linear = linear_srgb_from_lab(calibrated.lab_at(*x, *y));
        (0..3).for_each(|c| sum[c] += linear[c] / places.len() as f64);
    }
    Rgb(sum.map(eight_bits))
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to 0…255 first")]
fn eight_bits(linear: f64) -> u8 {
    (srgb_encode(linear.clamp(0.0, 1.0)) * 255.0).round() as u8
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to the picture first")]
fn whole(place: f64, most: u32) -> u32 {
    place.clamp(0.0, f64::from(most)) as u32
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::Lab;

    #[test]
    fn a_line_crosses_a_polygon_in_pairs() {
        // A square with a notch cut into it from above.
        let notched = [(0.0, 0.0), (2.0, 0.0), (5.0, 6.0), (8.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)];
        let notched = notched.map(|(x, y)| Point::new(x, y));
        assert_eq!(crossings(&notched, 3.0), [0.0, 3.5, 6.5, 10.0]);
        assert_eq!(crossings(&notched, 8.0), [0.0, 10.0]);
        assert_eq!(crossings(&notched, 11.0), [0.0; 0]);
    }

    #[test]
    fn the_chart_white_and_a_red_come_out_as_published() {
        // CIELAB (D50) of sRGB white and of sRGB (255, 0, 0): IEC 61966-2-1 with Bradford adaptation, from memory.
        let encoded = |l, a, b| linear_srgb_from_lab(Lab::new(l, a, b)).map(eight_bits);
        assert_eq!(encoded(100.0, 0.0, 0.0), [255, 255, 255]);
        assert_eq!(encoded(54.29, 80.81, 69.89), [255, 0, 0]);
    }
}
