//! An approximate CIELAB for comparing neighbouring places of one photo, cheap enough for every reduced pixel.
#![expect(clippy::cast_possible_truncation, reason = "matrix entries near one are kept as f32")]

use crate::colour::{LinearRgb, SRGB_TO_XYZ_D50};

/// D50 white, CIE 15:2018, Y = 1.
const WHITE: [f32; 3] = [0.964_22, 1.0, 0.825_21];

/// L*, a*, b* with full scale of the file as white and the cube root all the way down to black.
///
/// Good for differences between places of one photo; never reported.
pub fn perceived(rgb: LinearRgb) -> [f32; 3] {
    let [x, y, z]: [f32; 3] = std::array::from_fn(|i| {
        let m = SRGB_TO_XYZ_D50[i].map(|v| v as f32);
        cube_root(((m[0] * rgb.red + m[1] * rgb.green + m[2] * rgb.blue) / WHITE[i]).max(0.0))
    });
    [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
}

/// Cube root of a number that is not negative, to 1e-4 relative: exponent divided by three, then two Newton steps
/// (the bit trick is W. Kahan's, from memory).
fn cube_root(v: f32) -> f32 {
    if v < 1e-9 {
        return 0.0;
    }
    let mut r = f32::from_bits(v.to_bits() / 3 + 709_921_077);
    r -= (r - v / (r * r)) / 3.0;
    r - (r - v / (r * r)) / 3.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::{lab_from_xyz, profile_xyz};
    use proptest::prelude::*;

    proptest! {
        /// Above L* = 8 the cube root and CIE 15:2018 are the same formula.
        #[test]
        fn agrees_with_cielab_above_the_dark(r in 0.05f32..1.0, g in 0.05f32..1.0, b in 0.05f32..1.0) {
            let rgb = LinearRgb::new(r, g, b);
            let (fast, lab) = (perceived(rgb), lab_from_xyz(profile_xyz(rgb)));
            prop_assert!((f64::from(fast[0]) - lab.l).abs() < 0.1);
            prop_assert!((f64::from(fast[1]) - lab.a).abs() < 0.3);
            prop_assert!((f64::from(fast[2]) - lab.b).abs() < 0.3);
        }
    }

    #[test]
    fn black_stays_finite() {
        let black = perceived(LinearRgb::new(0.0, 0.0, 0.0));
        assert!((black[0] + 16.0).abs() < 1e-6 && black[1].abs() < 1e-6 && black[2].abs() < 1e-6);
    }
}
