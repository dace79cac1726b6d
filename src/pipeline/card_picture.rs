//! The picture of a card check: the light over the tray in false colour, the card's outline, each patch's error as a bar.
#![expect(clippy::cast_possible_truncation, reason = "places and lengths inside a picture of some hundred pixels")]

use image::{Rgb, RgbImage};
use imageproc::drawing::{draw_filled_rect_mut, draw_hollow_rect_mut, draw_line_segment_mut};
use imageproc::rect::Rect;

use super::card_check::{CardCheck, PatchCheck};
use super::glyphs;
use crate::calibrate::CalibratedPhoto;
use crate::colour::{Lab, profile_xyz, srgb_encode, srgb_from_lab};
use crate::geometry::Point;

/// Pixels of the longer side of the map.
const MAP_LONGEST: u32 = 900;
/// Blank pixels around everything.
const MARGIN: u32 = 20;
/// Pixels above the map: verdict and captions.
const TOP: u32 = 80;
/// Width and height of the legend's ramp in pixels.
const LEGEND: (u32, u32) = (30, 480);
/// Pixels from the legend's left edge to the bars'.
const LEGEND_TO_BARS: u32 = 150;
/// Pixels from one bar to the next.
const ROW: u32 = 20;
/// Longest bar in pixels.
const BAR: u32 = 250;
/// Bands of the false colour; lines of equal light run between them.
const BANDS: u32 = 8;
/// Greatest ratio of the ramp over 1; the least of these that holds the whole tray is used, and its inverse below 1.
const SPANS: [f64; 5] = [1.1, 1.25, 1.5, 2.0, 4.0];
/// CIEDE2000 between two marks of the bars' scale.
const MARK: u32 = 5;

const INK: Rgb<u8> = Rgb([30; 3]);
const FAINT: Rgb<u8> = Rgb([200; 3]);
const PAPER: Rgb<u8> = Rgb([255; 3]);

/// The ramp's dark, middle and bright end in CIELAB: lightness rises evenly, and hue goes from blue over grey to yellow,
/// the axis that people with the common red-green deficiencies see.
const RAMP: [[f64; 3]; 3] = [[20.0, 12.0, -42.0], [57.0, 0.0, 0.0], [94.0, -6.0, 62.0]];

/// Draws the check of `calibrated`'s card. In the tray the false colour is the light relative to the card's centre,
/// outside it the photo is shown in grey. Bars are filled, those of patches left out of the fit hollow.
pub fn draw(check: &CardCheck, calibrated: &CalibratedPhoto<'_>) -> RgbImage {
    let most = check.light.highest.max(1.0 / check.light.lowest);
    let span = SPANS.into_iter().find(|s| *s >= most).unwrap_or(SPANS[SPANS.len() - 1]);
    let map = map(calibrated, span);
    let legend_x = map.width() + 2 * MARGIN;
    let bars_x = legend_x + LEGEND_TO_BARS;
    let bars_height = ROW * (check.patches.len() as u32 + 1);
    let height = TOP + map.height().max(LEGEND.1).max(bars_height) + MARGIN;
    let mut picture = RgbImage::from_pixel(bars_x + 2 * MARGIN + BAR + MARGIN, height, PAPER);
    let title = if check.card.found { format!("{:?}", check.card.verdict) } else { "no card".to_owned() };
    glyphs::write(&mut picture, &title, (MARGIN as i32, MARGIN as i32), 6, INK);
    image::imageops::replace(&mut picture, &map, i64::from(MARGIN), i64::from(TOP));
    legend(&mut picture, legend_x, span);
    if check.patches.iter().any(|p| p.loo_de00.is_some()) {
        bars(&mut picture, bars_x, &check.patches);
    }
    picture
}

/// The ramp's colour of a ratio.
fn colour(ratio: f64, span: f64) -> Rgb<u8> {
    let t = 2.0 * place(ratio, span);
    let (from, to, t) = if t < 1.0 { (RAMP[0], RAMP[1], t) } else { (RAMP[1], RAMP[2], t - 1.0) };
    let [l, a, b] = [0, 1, 2].map(|c| from[c] + (to[c] - from[c]) * t);
    Rgb(srgb_from_lab(Lab::new(l, a, b)).map(|v| (v * 255.0).round() as u8))
}

/// Where a ratio stands on the ramp, 0…1, evenly in its logarithm; 1 stands in the middle.
fn place(ratio: f64, span: f64) -> f64 {
    (0.5 + 0.5 * ratio.ln() / span.ln()).clamp(0.0, 1.0)
}

/// The ratio at a place of the ramp; undoes [`place`].
fn ratio_at(place: f64, span: f64) -> f64 {
    span.powf(2.0 * place - 1.0)
}

fn map(calibrated: &CalibratedPhoto<'_>, span: f64) -> RgbImage {
    let photo = calibrated.photo;
    let scale = (f64::from(photo.width.max(photo.height)) / f64::from(MAP_LONGEST)).max(1.0);
    let size = |side: u32| ((f64::from(side) / scale) as u32).max(1);
    let in_photo = |i: u32, j: u32| Point::new((f64::from(i) + 0.5) * scale, (f64::from(j) + 0.5) * scale);
    let ratio = |i, j| f64::from(calibrated.floor.field.ratio(in_photo(i, j)));
    let band = |i, j| (place(ratio(i, j), span) * f64::from(BANDS)) as u32;
    let mut map = RgbImage::from_fn(size(photo.width), size(photo.height), |i, j| {
        let at = in_photo(i, j);
        if !calibrated.floor.contains(at) {
            let (x, y) = ((at.x as u32).min(photo.width - 1), (at.y as u32).min(photo.height - 1));
            let grey = srgb_encode(profile_xyz(photo.linear(x, y)).y.clamp(0.0, 1.0));
            return Rgb([(grey * 255.0).round() as u8; 3]);
        }
        let here = band(i, j);
        if here == band(i + 1, j) && here == band(i, j + 1) { colour(ratio(i, j), span) } else { INK }
    });
    if let Some(card) = &calibrated.card {
        outline(&mut map, &card.corners.map(|c| c * (1.0 / scale)));
    }
    map
}

/// A closed line, black beside white so that it is seen on every ground.
fn outline(map: &mut RgbImage, corners: &[Point]) {
    for (offset, line) in [(0.0, INK), (1.0, PAPER), (-1.0, PAPER), (0.0, INK)] {
        for (a, b) in corners.iter().zip(corners.iter().cycle().skip(1)) {
            let end = |p: &Point| ((p.x + offset) as f32, (p.y + offset) as f32);
            draw_line_segment_mut(map, end(a), end(b), line);
        }
    }
}

/// The ramp, bright end up, with the ratio beside every line of equal light.
fn legend(picture: &mut RgbImage, x: u32, span: f64) {
    glyphs::write(picture, "light", (x as i32, (TOP - 25) as i32), 3, INK);
    let (width, height) = LEGEND;
    for j in 0..height {
        let place = 1.0 - (f64::from(j) + 0.5) / f64::from(height);
        let line = Rect::at(x as i32, (TOP + j) as i32).of_size(width, 1);
        draw_filled_rect_mut(picture, line, colour(ratio_at(place, span), span));
    }
    for k in 0..=BANDS {
        let y = (TOP + height * k / BANDS) as i32;
        draw_filled_rect_mut(picture, Rect::at(x as i32, y).of_size(width + 6, 1), INK);
        let ratio = ratio_at(1.0 - f64::from(k) / f64::from(BANDS), span);
        let label_y = y - glyphs::extent("", 3).1 as i32 / 2;
        glyphs::write(picture, &format!("{ratio:.2}"), ((x + width + 12) as i32, label_y), 3, INK);
    }
}

/// One bar a patch with its number, over a scale in CIEDE2000.
fn bars(picture: &mut RgbImage, x: u32, patches: &[PatchCheck]) {
    glyphs::write(picture, "CIEDE2000", ((x + 2 * MARGIN) as i32, (TOP - 50) as i32), 3, INK);
    let from = x + 2 * MARGIN;
    let greatest = patches.iter().filter_map(|p| p.loo_de00).fold(0.0, f64::max);
    let marks = ((greatest / f64::from(MARK)).ceil() as u32).max(2);
    let length = |de: f64| (de / f64::from(marks * MARK) * f64::from(BAR)) as u32;
    for mark in 0..=marks {
        let at = from + length(f64::from(mark * MARK));
        draw_filled_rect_mut(picture, Rect::at(at as i32, TOP as i32).of_size(1, ROW * patches.len() as u32), FAINT);
        let label = (mark * MARK).to_string();
        let label_x = at as i32 - glyphs::extent(&label, 3).0 as i32 / 2;
        glyphs::write(picture, &label, (label_x, (TOP - 25) as i32), 3, INK);
    }
    for (row, patch) in (0..).zip(patches) {
        let y = (TOP + row * ROW) as i32;
        glyphs::write(picture, &patch.patch.to_string(), (x as i32, y + 3), 3, INK);
        let Some(de) = patch.loo_de00 else { continue };
        let bar = Rect::at(from as i32, y + 3).of_size(length(de).max(2), ROW - 6);
        if patch.left_out.is_none() {
            draw_filled_rect_mut(picture, bar, INK);
        } else {
            draw_hollow_rect_mut(picture, bar, INK);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::{LinearRgb, lab_from_xyz, srgb_decode};

    #[test]
    fn more_light_is_always_a_brighter_colour() {
        let lightness = |ratio| {
            let [red, green, blue] = colour(ratio, 2.0).0.map(|v| srgb_decode(f64::from(v) / 255.0) as f32);
            lab_from_xyz(profile_xyz(LinearRgb::new(red, green, blue))).l
        };
        let ramp: Vec<f64> = (0..=20).map(|k| lightness(ratio_at(f64::from(k) / 20.0, 2.0))).collect();
        // 74 units of L* in twenty steps; within one unit, which is what rounding to eight bits and the gamut may cost.
        assert!(ramp.windows(2).all(|w| (w[1] - w[0] - 3.7).abs() < 1.0), "{ramp:?}");
    }

    #[test]
    fn the_card_s_own_light_is_neutral_and_in_the_middle() {
        let Rgb([red, green, blue]) = colour(1.0, 1.25);
        assert!(red.abs_diff(green) <= 1 && green.abs_diff(blue) <= 1);
        assert_eq!((place(1.0, 1.5), place(1.5, 1.5), place(0.1, 1.5)), (0.5, 1.0, 0.0));
    }
}
