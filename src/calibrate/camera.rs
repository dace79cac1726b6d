//! The camera as a few numbers: from the file's linear light to XYZ, with derivatives.

use super::patch::Patch;
use crate::colour::{D50_WHITE, Lab, SRGB_TO_XYZ_D50, Xyz, lab_from_xyz, srgb_decode};

/// How many numbers describe a camera.
pub(super) const TERMS: usize = 26;
/// Logarithms of the channels' gains: white balance and exposure.
pub(super) const GAINS: std::ops::Range<usize> = 0..3;
/// How much of each other channel a channel takes, greys kept grey.
pub(super) const MIX: std::ops::Range<usize> = 3..9;
/// Logarithm of the decoding exponent, strength of the S-curve, lift of the middle tones.
pub(super) const TONE: std::ops::Range<usize> = 9..12;
/// Logarithm of the light over the card: along x, along y, x², xy, y².
pub(super) const SHADE: std::ops::Range<usize> = 12..17;
/// Root-polynomial terms of degree two (Finlayson, Mackiewicz & Hurlbert 2015), written so that they vanish on greys.
pub(super) const ROOTS: std::ops::Range<usize> = 17..26;

/// The (to, from) channels of the six [`MIX`] terms.
const PAIRS: [(usize, usize); 6] = [(0, 1), (0, 2), (1, 0), (1, 2), (2, 0), (2, 1)];

/// Smallest encoded value the tone curve is read at: below, its logarithm runs away.
const DARKEST: f64 = 1e-4;

type Tri = [f64; 3];
type Square = [[f64; 3]; 3];

/// A camera's numbers, by the ranges above; all zero is a camera that writes sRGB.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Camera(pub(super) [f64; TERMS]);

/// A patch seen through a camera, with the derivatives of its CIELAB by every number of the camera.
#[derive(Debug)]
pub(super) struct Seen {
    pub(super) lab: Lab,
    pub(super) by: [Tri; TERMS],
}

impl Camera {
    /// The scene's light behind an encoded value: the phone's contrast curve undone, white stays 1. Below zero, where a wide-gamut
    /// file's colours reach outside of sRGB, the curve is that above zero turned about zero.
    pub(super) fn tone(&self, encoded: f64) -> f64 {
        let [exponent, ..] = self.tone_terms();
        srgb_decode(self.straightened(encoded.abs())).powf(exponent.exp()).copysign(encoded)
    }

    fn tone_terms(&self) -> Tri {
        [self.0[TONE.start], self.0[TONE.start + 1], self.0[TONE.start + 2]]
    }

    fn straightened(&self, e: f64) -> f64 {
        let [_, contrast, middle] = self.tone_terms();
        let [by_contrast, by_middle] = bends(e);
        (e + contrast * by_contrast + middle * by_middle).max(DARKEST)
    }

    /// The tone of an encoded value and its derivatives by the three tone terms.
    fn tone_by(&self, e: f64) -> (f64, Tri) {
        if e < 0.0 {
            let (tone, by) = self.tone_by(-e);
            return (-tone, by.map(|d| -d));
        }
        let power = self.0[TONE.start].exp();
        let straight = self.straightened(e);
        let decoded = srgb_decode(straight);
        let tone = decoded.powf(power);
        // Derivative of the sRGB decoding (IEC 61966-2-1).
        let slope =
            if straight <= 0.040_45 { 1.0 / 12.92 } else { 2.4 / 1.055 * ((straight + 0.055) / 1.055).powf(1.4) };
        let outer = power * tone / decoded * slope;
        let [by_contrast, by_middle] = bends(e);
        (tone, [tone * power * decoded.ln(), outer * by_contrast, outer * by_middle])
    }

    /// The light at a place of the card relative to its centre.
    fn shade(&self, place: [f64; 2]) -> f64 {
        let basis = shade_basis(place);
        basis.iter().zip(&self.0[SHADE]).map(|(b, p)| b * p).sum::<f64>().exp()
    }

    /// White-balanced light of a scene's light at the card's centre.
    fn balanced(&self, scene: Tri) -> Tri {
        std::array::from_fn(|c| scene[c] * self.0[c].exp())
    }

    /// The 3 × 3 part, rows summing to 1.
    fn mix(&self) -> Square {
        let mut m = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
        for ((to, from), share) in PAIRS.into_iter().zip(&self.0[MIX]) {
            m[to][from] += share;
            m[to][to] -= share;
        }
        m
    }

    fn root_matrix(&self) -> Square {
        std::array::from_fn(|r| std::array::from_fn(|c| self.0[ROOTS.start + 3 * r + c]))
    }

    /// XYZ of a scene's light at the card's centre.
    pub(super) fn xyz(&self, scene: Tri) -> Xyz {
        let w = self.balanced(scene);
        let (linear, bent) = (times(&self.mix(), w), times(&self.root_matrix(), roots(w)));
        let [x, y, z] = times(&SRGB_TO_XYZ_D50, std::array::from_fn(|c| linear[c] + bent[c]));
        Xyz::new(x, y, z)
    }

    /// CIELAB of a patch.
    pub(super) fn lab(&self, patch: &Patch) -> Lab {
        let shade = self.shade(patch.place);
        lab_from_xyz(self.xyz(patch.encoded.map(|e| self.tone(e) / shade)))
    }

    /// CIELAB of a patch and its derivatives.
    pub(super) fn see(&self, patch: &Patch) -> Seen {
        let shade = self.shade(patch.place);
        let tones = patch.encoded.map(|e| self.tone_by(e));
        let w = self.balanced(tones.map(|(t, _)| t / shade));
        let q = roots(w);
        let (mix, bend) = (self.mix(), self.root_matrix());
        let (linear, bent) = (times(&mix, w), times(&bend, q));
        let mixed: Tri = std::array::from_fn(|c| linear[c] + bent[c]);
        let by_root = product(&bend, &roots_by(w));
        // Derivative of the mixed light by the balanced light.
        let by_w: Square = std::array::from_fn(|r| std::array::from_fn(|c| mix[r][c] + by_root[r][c]));
        let [x, y, z] = times(&SRGB_TO_XYZ_D50, mixed);
        let lab = lab_from_xyz(Xyz::new(x, y, z));
        let outer = product(&lab_by_xyz(lab), &SRGB_TO_XYZ_D50);
        let mut inner = [[0.0; 3]; TERMS];
        for c in GAINS {
            inner[c] = std::array::from_fn(|r| by_w[r][c] * w[c]);
        }
        for ((to, from), k) in PAIRS.into_iter().zip(MIX) {
            inner[k][to] = w[from] - w[to];
        }
        for (t, k) in TONE.enumerate() {
            let change: Tri = std::array::from_fn(|c| w[c] / tones[c].0 * tones[c].1[t]);
            inner[k] = times(&by_w, change);
        }
        for (basis, k) in shade_basis(patch.place).into_iter().zip(SHADE) {
            inner[k] = times(&by_w, w.map(|v| -v * basis));
        }
        for (i, k) in ROOTS.enumerate() {
            inner[k][i / 3] = q[i % 3];
        }
        Seen { lab, by: inner.map(|v| times(&outer, v)) }
    }
}

/// The two shapes a contrast curve bends by, zero at black and at white: an S around the middle, and a hump on it.
/// Beyond white they go on straight.
fn bends(e: f64) -> [f64; 2] {
    if e > 1.0 {
        return [4.0 * (1.0 - e), 0.0];
    }
    let hill = e * (1.0 - e);
    [4.0 * hill * (2.0 * e - 1.0), 16.0 * hill * hill]
}

fn shade_basis([x, y]: [f64; 2]) -> [f64; 5] {
    [x, y, x * x, x * y, y * y]
}

/// Least light that a root is taken of: below zero there is none, and at zero its slope has no end.
const LEAST_ROOTED: f64 = 1e-6;

/// Geometric less arithmetic mean of each pair of channels: of degree one in the light, zero on greys.
fn roots(light: Tri) -> Tri {
    let [r, g, b] = light.map(|v| v.max(LEAST_ROOTED));
    [(r * g).sqrt() - (r + g) / 2.0, (g * b).sqrt() - (g + b) / 2.0, (r * b).sqrt() - (r + b) / 2.0]
}

/// Derivatives of [`roots`] by the three channels.
fn roots_by(light: Tri) -> Square {
    let [r, g, b] = light.map(|v| v.max(LEAST_ROOTED));
    let half = |p: f64, q: f64| ((p / q).sqrt() - 1.0) / 2.0;
    let all = [[half(g, r), half(r, g), 0.0], [0.0, half(b, g), half(g, b)], [half(b, r), 0.0, half(r, b)]];
    all.map(|row| std::array::from_fn(|c| if light[c] > LEAST_ROOTED { row[c] } else { 0.0 }))
}

/// Derivative of CIELAB by XYZ (CIE 15:2018), from the CIELAB value itself.
fn lab_by_xyz(lab: Lab) -> Square {
    let fy = (lab.l + 16.0) / 116.0;
    let slope = |f: f64, white: f64| if f > 6.0 / 29.0 { 1.0 / (3.0 * f * f) } else { 841.0 / 108.0 } / white;
    let (x, y, z) =
        (slope(fy + lab.a / 500.0, D50_WHITE[0]), slope(fy, D50_WHITE[1]), slope(fy - lab.b / 200.0, D50_WHITE[2]));
    [[0.0, 116.0 * y, 0.0], [500.0 * x, -500.0 * y, 0.0], [0.0, 200.0 * y, -200.0 * z]]
}

pub(super) fn times(m: &Square, v: Tri) -> Tri {
    std::array::from_fn(|r| m[r][0] * v[0] + m[r][1] * v[1] + m[r][2] * v[2])
}

fn product(p: &Square, q: &Square) -> Square {
    std::array::from_fn(|r| std::array::from_fn(|c| (0..3).map(|k| p[r][k] * q[k][c]).sum()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::de00_frame;

    fn patch(encoded: Tri, place: [f64; 2]) -> Patch {
        let lab = Lab::new(50.0, 0.0, 0.0);
        Patch { index: 0, encoded, place, lab, frame: de00_frame(lab), error: 0.0, neutral: false }
    }

    #[test]
    fn a_camera_of_zeros_writes_srgb() {
        let seen = Camera([0.0; TERMS]).lab(&patch([0.8, 0.5, 0.2], [0.3, -0.7]));
        let srgb = crate::colour::LinearRgb::new(0.603_827, 0.214_041, 0.033_105);
        let by_profile = lab_from_xyz(crate::colour::profile_xyz(srgb));
        assert!(crate::colour::ciede2000(seen, by_profile) < 1e-3, "{seen:?} {by_profile:?}");
    }

    /// A cyan of Display P3 (0, 0.53, 0.66 encoded there) on the sRGB primaries: its red is below zero and stays so.
    #[test]
    fn a_colour_outside_of_srgb_is_not_cut() {
        let light = [-0.056_f32, 0.250, 0.403];
        let encoded = light.map(f64::from).map(|v| crate::colour::srgb_encode(v.abs()).copysign(v));
        let seen = Camera([0.0; TERMS]).lab(&patch(encoded, [0.0; 2]));
        let [r, g, b] = light;
        let whole = lab_from_xyz(crate::colour::profile_xyz(crate::colour::LinearRgb::new(r, g, b)));
        assert!(crate::colour::ciede2000(seen, whole) < 1e-3, "{seen:?} {whole:?}");
    }

    proptest::proptest! {
        /// The second route to a derivative: the difference quotient.
        #[test]
        fn derivatives_are_those_of_the_difference_quotient(
            terms in proptest::collection::vec(-0.08f64..0.08, TERMS),
            encoded in proptest::array::uniform3(0.15f64..0.95),
            outside in 0.0f64..0.4,
            place in proptest::array::uniform2(-1.0f64..1.0),
        ) {
            // In half of them one channel lies below zero, as a wide-gamut file's may.
            let encoded = if outside > 0.2 { [-outside, encoded[1], encoded[2]] } else { encoded };
            let camera = Camera(terms.try_into().unwrap());
            let patch = patch(encoded, place);
            let seen = camera.see(&patch);
            let h = 1e-6;
            for k in 0..TERMS {
                let moved = |d: f64| {
                    let mut other = camera.clone();
                    other.0[k] += d;
                    other.lab(&patch)
                };
                let (up, down) = (moved(h), moved(-h));
                let slope = [up.l - down.l, up.a - down.a, up.b - down.b].map(|d| d / (2.0 * h));
                for (ours, theirs) in seen.by[k].iter().zip(slope) {
                    proptest::prop_assert!((ours - theirs).abs() < 1e-3 * (1.0 + theirs.abs()), "term {k}: {ours} {theirs}");
                }
            }
        }
    }
}
