//! CIEDE2000 for small differences: a linear frame at one colour.

use super::Lab;

/// The matrix that takes a small CIELAB difference (ΔL*, Δa*, Δb*) at `lab` to differences of lightness, chroma and hue,
/// each in units of CIEDE2000, so that the length of the result is the CIEDE2000 (Sharma, Wu & Dalal 2005, equations 2–21,
/// without the rotation term, which matters for saturated blues alone).
pub fn de00_frame(lab: Lab) -> [[f64; 3]; 3] {
    let chroma = lab.a.hypot(lab.b);
    let seventh = chroma.powi(7);
    // 25⁷, equation 4.
    let g = 0.5 * (1.0 - (seventh / (seventh + 6_103_515_625.0)).sqrt());
    let a = lab.a * (1.0 + g);
    let c = a.hypot(lab.b);
    let (along, across) = if c > 1e-9 { (a / c, lab.b / c) } else { (1.0, 0.0) };
    let h = lab.b.atan2(a).to_degrees();
    let cos = |k: f64, shift: f64| (k * h + shift).to_radians().cos();
    let t = 1.0 - 0.17 * cos(1.0, -30.0) + 0.24 * cos(2.0, 0.0) + 0.32 * cos(3.0, 6.0) - 0.20 * cos(4.0, -63.0);
    let from_middle = (lab.l - 50.0).powi(2);
    let s_l = 1.0 + 0.015 * from_middle / (20.0 + from_middle).sqrt();
    let s_c = 1.0 + 0.045 * c;
    let s_h = 1.0 + 0.015 * c * t;
    [[1.0 / s_l, 0.0, 0.0], [0.0, along * (1.0 + g) / s_c, across / s_c], [0.0, -across * (1.0 + g) / s_h, along / s_h]]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::ciede2000;

    proptest::proptest! {
        #[test]
        fn small_differences_have_the_length_of_their_ciede2000(
            l in 10.0f64..95.0, c in 0.0f64..80.0, h in 0.0f64..200.0, d in proptest::array::uniform3(-1.0f64..1.0),
        ) {
            // Hues below 200° stay clear of the rotation term around 275°.
            let (a, b) = (c * h.to_radians().cos(), c * h.to_radians().sin());
            let d = d.map(|v| v * 0.02);
            // The frame stands at the middle of the two, as the formula's weights do.
            let (p, q) = (
                Lab::new(l - d[0] / 2.0, a - d[1] / 2.0, b - d[2] / 2.0),
                Lab::new(l + d[0] / 2.0, a + d[1] / 2.0, b + d[2] / 2.0),
            );
            let frame = de00_frame(Lab::new(l, a, b));
            let length = frame.map(|r| r[0] * d[0] + r[1] * d[1] + r[2] * d[2]).iter().map(|v| v * v).sum::<f64>().sqrt();
            // G changes along the difference too; the frame holds it fixed.
            proptest::prop_assert!((length - ciede2000(p, q)).abs() < 0.12 * ciede2000(p, q) + 1e-5);
        }
    }
}
