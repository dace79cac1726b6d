//! Colour types that do not mix, and the few conversions Broodhue needs.
//!
//! Encoded (gamma) values, linear light, CIE XYZ and CIELAB are different types of the `palette` crate, so mixing them
//! does not compile:
//!
//! ```compile_fail
//! use broodhue::colour::{EncodedRgb, LinearRgb};
//! let encoded = EncodedRgb::new(200, 80, 40);
//! let linear: LinearRgb = encoded;
//! ```

mod frame;

pub use frame::de00_frame;

use palette::color_difference::Ciede2000;
use palette::convert::{FromColorUnclamped, IntoColorUnclamped};
use palette::white_point::D50;

/// Gamma-encoded sRGB, 8 bits a channel.
pub type EncodedRgb = palette::Srgb<u8>;
/// Linear light on the sRGB primaries, 1.0 = full scale of the file; not clipped, so wide-gamut photos go below 0 and above 1.
pub type LinearRgb = palette::LinSrgb<f32>;
/// CIE XYZ relative to D50, 2° observer, Y of the perfect white = 1.
pub type Xyz = palette::Xyz<D50, f64>;
/// CIELAB under D50, 2° observer: L* in 0…100.
pub type Lab = palette::Lab<D50, f64>;

/// Linear sRGB (D65) to XYZ (D50), Bradford-adapted: IEC 61966-2-1 primaries, ICC.1:2022 annex E adaptation, 7 digits.
pub const SRGB_TO_XYZ_D50: [[f64; 3]; 3] = [
    [0.436_074_7, 0.385_064_9, 0.143_080_4],
    [0.222_504_5, 0.716_878_6, 0.060_616_9],
    [0.013_932_2, 0.097_104_5, 0.714_173_3],
];

/// White of [`Xyz`] and [`Lab`], the sums of the rows of [`SRGB_TO_XYZ_D50`]: D50 after ASTM E308-01 (B. Lindbloom, "Reference
/// whites"). The ICC's profile connection space rounds it to 0.9642, 1 and 0.8249.
pub const D50_WHITE: [f64; 3] = [0.964_22, 1.0, 0.825_21];

/// XYZ (D50) of a linear sRGB value read as the file's profile says, without a card.
pub fn profile_xyz(rgb: LinearRgb) -> Xyz {
    let v = [f64::from(rgb.red), f64::from(rgb.green), f64::from(rgb.blue)];
    let [x, y, z] = SRGB_TO_XYZ_D50.map(|row| row[0] * v[0] + row[1] * v[1] + row[2] * v[2]);
    Xyz::new(x, y, z)
}

/// CIELAB of an XYZ value (CIE 15:2018); not clipped, so a light beyond the white stays beyond it.
pub fn lab_from_xyz(xyz: Xyz) -> Lab {
    Lab::from_color_unclamped(xyz)
}

/// XYZ of a CIELAB value.
pub fn xyz_from_lab(lab: Lab) -> Xyz {
    lab.into_color_unclamped()
}

/// XYZ (D50) to linear sRGB, Bradford-adapted: the inverse of [`SRGB_TO_XYZ_D50`]
/// (B. Lindbloom, "RGB/XYZ Matrices", sRGB adapted to D50).
const XYZ_D50_TO_SRGB: [[f64; 3]; 3] = [
    [3.133_856_1, -1.616_866_7, -0.490_614_6],
    [-0.978_768_4, 1.916_141_5, 0.033_454_0],
    [0.071_945_3, -0.228_991_4, 1.405_242_7],
];

/// The linear sRGB value of a colour; outside 0…1 where a screen cannot show it.
pub fn linear_srgb_from_lab(lab: Lab) -> [f64; 3] {
    let v = xyz_from_lab(lab);
    XYZ_D50_TO_SRGB.map(|row| row[0] * v.x + row[1] * v.y + row[2] * v.z)
}

/// The sRGB-encoded value of a colour, each channel cut to 0…1: what a screen or printer is told, not a measurement.
pub fn srgb_from_lab(lab: Lab) -> [f64; 3] {
    linear_srgb_from_lab(lab).map(|v| srgb_encode(v.clamp(0.0, 1.0)))
}

/// CIEDE2000 colour difference (CIE 142:2001; Sharma, Wu & Dalal 2005), with kL = kC = kH = 1.
pub fn ciede2000(a: Lab, b: Lab) -> f64 {
    a.difference(b)
}

/// Chroma C*ab.
#[inline]
pub fn chroma(lab: Lab) -> f64 {
    // No colour overflows or vanishes when squared, which is what `hypot` takes ten times as long for.
    (lab.a * lab.a + lab.b * lab.b).sqrt()
}

/// Hue angle h_ab in degrees, [0, 360).
pub fn hue(lab: Lab) -> f64 {
    let h = lab.b.atan2(lab.a).to_degrees().rem_euclid(360.0);
    // The remainder of a tiny negative angle rounds up to 360 itself.
    if h >= 360.0 { 0.0 } else { h }
}

/// Saturation 100·C/√(C² + L²) (Lübbe 2010), 0…100; 0 for perfect black.
pub fn saturation(lab: Lab) -> f64 {
    let c = chroma(lab);
    let d = c.hypot(lab.l);
    if d > 0.0 { 100.0 * c / d } else { 0.0 }
}

/// The sRGB encoding of a linear value in 0…1 (IEC 61966-2-1).
pub fn srgb_encode(linear: f64) -> f64 {
    if linear <= 0.003_130_8 { 12.92 * linear } else { 1.055 * linear.powf(1.0 / 2.4) - 0.055 }
}

/// The linear value of an sRGB-encoded one in 0…1 (IEC 61966-2-1).
pub fn srgb_decode(encoded: f64) -> f64 {
    if encoded <= 0.040_45 { encoded / 12.92 } else { ((encoded + 0.055) / 1.055).powf(2.4) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_white_is_that_of_cielab_and_of_the_matrix() {
        let [x, y, z] = D50_WHITE;
        let white = lab_from_xyz(Xyz::new(x, y, z));
        assert!((white.l - 100.0).abs() < 1e-9 && chroma(white) < 1e-9, "{white:?}");
        for (row, white) in SRGB_TO_XYZ_D50.iter().zip(D50_WHITE) {
            assert!((row.iter().sum::<f64>() - white).abs() < 1e-6);
        }
    }
}
