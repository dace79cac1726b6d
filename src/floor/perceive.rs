//! An approximate CIELAB for comparing neighbouring places of one photo, cheap enough for every reduced pixel.
#![expect(clippy::cast_possible_truncation, reason = "matrix entries near one are kept as f32")]

use std::array::from_fn;

use crate::colour::{D50_WHITE, LinearRgb, SRGB_TO_XYZ_D50};

/// Linear light to X, Y, Z as shares of the white's.
const SHARES: [[f32; 3]; 3] = shares();

const fn shares() -> [[f32; 3]; 3] {
    let mut out = [[0.0; 3]; 3];
    let mut i = 0;
    while i < 9 {
        out[i / 3][i % 3] = (SRGB_TO_XYZ_D50[i / 3][i % 3] / D50_WHITE[i / 3]) as f32;
        i += 1;
    }
    out
}

/// L*, a*, b* with full scale of the file as white and the cube root all the way down to black.
///
/// Good for differences between places of one photo; never reported.
#[inline]
pub fn perceived(rgb: LinearRgb) -> [f32; 3] {
    perceived_all([[rgb.red], [rgb.green], [rgb.blue]]).map(|[v]| v)
}

/// The same for several places at once, given red, green and blue of all: a processor does the same to eight numbers in little
/// more time than to one.
#[inline]
pub fn perceived_all<const N: usize>([r, g, b]: [[f32; N]; 3]) -> [[f32; N]; 3] {
    let [x, y, z] = SHARES.map(|m| -> [f32; N] { from_fn(|i| cube_root(m[0] * r[i] + m[1] * g[i] + m[2] * b[i])) });
    [from_fn(|i| 116.0 * y[i] - 16.0), from_fn(|i| 500.0 * (x[i] - y[i])), from_fn(|i| 200.0 * (y[i] - z[i]))]
}

/// Cube root to 1e-4 relative, 0 for what is not positive: exponent divided by three, then one step of Halley's
/// (the bit trick is W. Kahan's, from memory).
#[inline]
fn cube_root(v: f32) -> f32 {
    let v = v.max(0.0);
    let r = f32::from_bits(v.to_bits() / 3 + 709_921_077);
    let cube = r * r * r;
    let root = r * (cube + 2.0 * v) / (2.0 * cube + v);
    // For a zero `r` is about 1e-13 and the step would only halve it. A mask instead of a branch, so that several go at once.
    f32::from_bits(root.to_bits() & u32::from(v >= 1e-9).wrapping_neg())
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
