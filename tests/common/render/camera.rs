//! A phone's camera: from light at the sensor to an encoded picture.
//!
//! In order: lens blur, sensor (crosstalk that no matrix undoes, white-balance error, shot and read noise), contrast
//! curve over the sRGB encoding, sharpening, 8 bits.

use broodhue::colour::{SRGB_TO_XYZ_D50, srgb_encode};
use image::RgbImage;
use rayon::prelude::*;

use super::noise::normal;
use super::paint::Tri;

/// How a phone turns light into numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct Camera {
    /// Linear sRGB → the phone's own linear RGB; rows sum to 1, so greys stay grey.
    pub matrix: [[f64; 3]; 3],
    /// Strength of the part no matrix undoes: geometric means of channels leak over (0: a colorimetric sensor).
    pub leak: f64,
    /// White-balance error: gains of red, green, blue.
    pub gains: [f64; 3],
    /// Exposure: linear value of a perfect white in full light.
    pub exposure: f64,
    /// Strength of the contrast curve, 0 (none) … 0.6.
    pub contrast: f64,
    /// Lens blur, standard deviation in pixels.
    pub blur: f64,
    /// Variance of the shot noise per unit of linear light.
    pub shot: f64,
    /// Standard deviation of the read noise in linear light.
    pub read: f64,
    /// Strength of the sharpening, 0 … 1.
    pub sharpen: f64,
    /// Quality of the JPEG, 1…100.
    pub quality: u8,
    /// Seed of the noise.
    pub seed: u32,
}

impl Camera {
    /// A camera that writes exact sRGB: no error of any kind.
    pub fn perfect() -> Self {
        Self {
            matrix: [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]],
            leak: 0.0,
            gains: [1.0; 3],
            exposure: 1.0,
            contrast: 0.0,
            blur: 0.0,
            shot: 0.0,
            read: 0.0,
            sharpen: 0.0,
            quality: 100,
            seed: 1,
        }
    }

    /// The encoded value (0…1) of one colour without noise, blur and sharpening.
    pub fn encode(&self, light: Tri) -> [f64; 3] {
        self.tone(self.sense(light))
    }

    /// The sensor's linear answer to light given as XYZ (D50).
    pub fn sense(&self, light: Tri) -> [f64; 3] {
        let s = xyz_to_linear_srgb(light);
        let m: [f64; 3] = std::array::from_fn(|i| (0..3).map(|k| self.matrix[i][k] * s[k]).sum());
        let [r, g, b] = m.map(|v| v.max(0.0));
        // Degree-one terms: they scale with the light and vanish on greys, as a real sensor's error does.
        let leak = [
            self.leak * ((r * g).sqrt() - r.max(1e-9).mul_add(0.5, 0.5 * g)),
            self.leak * ((g * b).sqrt() - (r * b).sqrt()) * 0.6,
            self.leak * ((r * b).sqrt() - 0.5 * (r + b)) * 0.8,
        ];
        std::array::from_fn(|i| (m[i] + leak[i]) * self.gains[i] * self.exposure)
    }

    /// The phone's tone curve: linear 0…1 → encoded 0…1.
    fn tone(&self, linear: [f64; 3]) -> [f64; 3] {
        linear.map(|v| self.curve(v))
    }

    /// One channel of the tone curve: the sRGB encoding, then a symmetric S.
    pub fn curve(&self, linear: f64) -> f64 {
        let e = srgb_encode(linear.clamp(0.0, 1.0));
        e + self.contrast * e * (1.0 - e) * (2.0 * e - 1.0)
    }

    /// Develops light (XYZ under D50, row by row, `width` a row) into a picture.
    pub fn develop(&self, light: &mut Vec<Tri>, width: usize) -> RgbImage {
        if self.blur > 0.0 {
            blur(light, width, self.blur);
        }
        let table: Vec<f32> = (0..=TABLE).map(|i| self.curve(f64::from(i) / f64::from(TABLE)) as f32).collect();
        light.par_chunks_mut(width).enumerate().for_each(|(y, row)| {
            for (x, v) in row.iter_mut().enumerate() {
                let sensed = self.sense(*v);
                for (k, value) in v.iter_mut().enumerate() {
                    let clean = sensed[k] as f32;
                    let sigma = (self.shot as f32 * clean.max(0.0) + (self.read * self.read) as f32).sqrt();
                    let noisy = clean + sigma * normal(x as i32, y as i32, self.seed ^ (k as u32 + 1));
                    *value = look_up(&table, noisy);
                }
            }
        });
        if self.sharpen > 0.0 {
            sharpen(light, width, self.sharpen as f32);
        }
        let bytes: Vec<u8> =
            light.par_iter().flat_map_iter(|v| v.map(|c| (c * 255.0 + 0.5).clamp(0.0, 255.0) as u8)).collect();
        RgbImage::from_raw(width as u32, (light.len() / width) as u32, bytes).unwrap()
    }
}

/// Steps of the tone curve's table; the steep foot of the curve is linear, so straight lines between do.
const TABLE: u16 = 8192;

fn look_up(table: &[f32], linear: f32) -> f32 {
    let x = linear.clamp(0.0, 1.0) * f32::from(TABLE);
    let i = (x as usize).min(usize::from(TABLE) - 1);
    table[i] + (table[i + 1] - table[i]) * (x - i as f32)
}

/// XYZ (D50) → linear sRGB, the inverse of the program's matrix.
pub fn xyz_to_linear_srgb(t: Tri) -> [f64; 3] {
    // Inverse of SRGB_TO_XYZ_D50; a test multiplies the two.
    const BACK: [[f64; 3]; 3] = [
        [3.133_856_1, -1.616_866_7, -0.490_614_6],
        [-0.978_768_4, 1.916_141_5, 0.033_454_0],
        [0.071_945_3, -0.228_991_4, 1.405_242_7],
    ];
    BACK.map(|row| (0..3).map(|k| row[k] * f64::from(t[k])).sum())
}

/// The product of the two matrices, for the test.
pub fn round_trip() -> [[f64; 3]; 3] {
    let column = |k: usize| {
        let unit: Tri = std::array::from_fn(|i| SRGB_TO_XYZ_D50[i][k] as f32);
        xyz_to_linear_srgb(unit)
    };
    [column(0), column(1), column(2)]
}

/// Separable Gaussian blur with kernel of ±3 standard deviations; edges repeat.
fn blur(light: &mut Vec<Tri>, width: usize, sigma: f64) {
    let reach = (3.0 * sigma).ceil() as i64;
    let mut kernel: Vec<f32> =
        (-reach..=reach).map(|i| (-(i * i) as f64 / (2.0 * sigma * sigma)).exp() as f32).collect();
    let sum: f32 = kernel.iter().sum();
    kernel.iter_mut().for_each(|k| *k /= sum);
    let height = light.len() / width;
    let gather = |source: &[Tri], place: &dyn Fn(i64) -> usize| {
        let mut out = [0.0_f32; 3];
        for (k, w) in kernel.iter().enumerate() {
            let v = source[place(k as i64 - reach)];
            (0..3).for_each(|c| out[c] += w * v[c]);
        }
        out
    };
    light.par_chunks_mut(width).for_each(|row| {
        let source = row.to_vec();
        for (x, v) in row.iter_mut().enumerate() {
            *v = gather(&source, &|d| (x as i64 + d).clamp(0, width as i64 - 1) as usize);
        }
    });
    let mut out = vec![[0.0; 3]; light.len()];
    out.par_chunks_mut(width).enumerate().for_each(|(y, row)| {
        for (x, v) in row.iter_mut().enumerate() {
            *v = gather(light, &|d| (y as i64 + d).clamp(0, height as i64 - 1) as usize * width + x);
        }
    });
    *light = out;
}

/// Unsharp mask on the encoded luma, 3 × 3 neighbourhood, halved at strong edges as phones do against halos.
fn sharpen(picture: &mut Vec<Tri>, width: usize, amount: f32) {
    let luma: Vec<f32> = picture.par_iter().map(|v| 0.299 * v[0] + 0.587 * v[1] + 0.114 * v[2]).collect();
    let height = picture.len() / width;
    picture.par_chunks_mut(width).enumerate().for_each(|(y, row)| {
        let (above, below) = (y.saturating_sub(1), (y + 1).min(height - 1));
        for (x, v) in row.iter_mut().enumerate() {
            let (left, right) = (x.saturating_sub(1), (x + 1).min(width - 1));
            let near =
                luma[above * width + x] + luma[below * width + x] + luma[y * width + left] + luma[y * width + right];
            let d = luma[y * width + x] - near / 4.0;
            let d = amount * d.clamp(-0.06, 0.06);
            v.iter_mut().for_each(|c| *c = (*c + d).clamp(0.0, 1.0));
        }
    });
}
