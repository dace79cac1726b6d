//! A chart shown on a screen: its colours as far as sRGB goes, glowing black, dots of three stripes.
//!
//! The screen's own light is drawn as if the lamp lit it, so that nothing but its dots, its glow and its gamut tell it
//! from a card: light that does not follow the lamp would tell it too.

use broodhue::colour::SRGB_TO_XYZ_D50;
use broodhue::geometry::Point;

use super::camera::xyz_to_linear_srgb;
use super::paint::Tri;

/// Share of white that a black dot glows with (contrast of about 1 : 300 in a lit room; from memory, no source).
const GLOW: f64 = 0.003;
/// Dark lines on either side of a stripe, as shares of its width, and above and below a dot, as shares of its height
/// (an aperture of two thirds; from memory, no source).
const DARK: (f64, f64) = (0.12, 0.07);

/// What of a colour (XYZ under D50) a dot of `size` shows at `at`, both in the same unit.
pub fn dot(colour: Tri, at: Point, size: f64) -> Tri {
    let across = at.x.rem_euclid(size) / size * 3.0;
    let (stripe, along) = ((across as usize).min(2), at.y.rem_euclid(size) / size);
    let within = |v: f64, dark: f64| v > dark && v < 1.0 - dark;
    if !within(across.fract(), DARK.0) || !within(along, DARK.1) {
        return [0.0; 3];
    }
    // The lit share of the dot sends what the whole of it would.
    let gain = 3.0 / ((1.0 - 2.0 * DARK.0) * (1.0 - 2.0 * DARK.1));
    let value = (xyz_to_linear_srgb(colour)[stripe].clamp(0.0, 1.0) + GLOW) * gain;
    std::array::from_fn(|k| (SRGB_TO_XYZ_D50[k][stripe] * value) as f32)
}
