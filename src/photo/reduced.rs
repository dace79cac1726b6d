//! The photo at a fraction of its size: in linear light, or as encoded bytes where only shapes are looked for.
#![expect(clippy::cast_possible_truncation, reason = "a mean of bytes is a byte")]

use palette::cast::from_component_vec;
use rayon::prelude::*;

use super::{Photo, Profile, Samples};
use crate::colour::LinearRgb;
use crate::geometry::Point;

/// A picture in linear light at 1/`factor` of the photo's size.
#[derive(Debug, Clone)]
pub struct LinearImage {
    /// Width in reduced pixels.
    pub width: usize,
    /// Height in reduced pixels.
    pub height: usize,
    /// Pixels of the photo per reduced pixel, along each side.
    pub factor: u32,
    /// Row by row.
    pub pixels: Vec<LinearRgb>,
}

impl LinearImage {
    /// The value at (x, y) in reduced pixels.
    pub fn at(&self, x: usize, y: usize) -> LinearRgb {
        self.pixels[y * self.width + x]
    }

    /// The centre of reduced pixel (x, y) in the photo's continuous pixels.
    pub fn place(&self, x: usize, y: usize) -> Point {
        let k = f64::from(self.factor);
        Point::new((x as f64 + 0.5) * k, (y as f64 + 0.5) * k)
    }
}

/// Averages `factor` × `factor` blocks; a last, incomplete row or column of blocks is left out unless it is the only one.
pub(super) fn reduce(photo: &Photo, factor: u32) -> LinearImage {
    let factor = factor.clamp(1, photo.width.min(photo.height).max(1));
    let k = factor as usize;
    let (width, height) = (photo.width as usize / k, photo.height as usize / k);
    let stride = 3 * photo.width as usize;
    // Zeros that the system hands out, and each core fetches, only where they are written over.
    let mut pixels: Vec<LinearRgb> = from_component_vec(vec![0.0; 3 * width * height]);
    pixels.par_chunks_mut(width.max(1)).enumerate().for_each(|(y, out)| match &photo.samples {
        Samples::Eight(v) => {
            let from = &v[y * k * stride..];
            // The sizes most photos come to are known when the program is built, which halves the time.
            match k {
                2 => light_row(from, stride, 2, &photo.profile, out),
                3 => light_row(from, stride, 3, &photo.profile, out),
                k => light_row(from, stride, k, &photo.profile, out),
            }
        }
        Samples::Sixteen(_) => {
            for (x, out) in out.iter_mut().enumerate() {
                *out = photo.mean_light(x as u32 * factor, y as u32 * factor, factor);
            }
        }
    });
    LinearImage { width, height, factor, pixels }
}

/// One row of block means of light; `from` starts at the first of the `k` rows that go into it. The matrix is applied to
/// the means, which is the same and cheaper.
#[inline(always)]
fn light_row(from: &[u8], stride: usize, k: usize, profile: &Profile, out: &mut [LinearRgb]) {
    let [red, green, blue] = profile.curves8();
    let rows: Vec<&[[u8; 3]]> = from.chunks(stride).take(k).map(|row| row.as_chunks().0).collect();
    let n = (k * k) as f32;
    for (x, out) in out.iter_mut().enumerate() {
        let mut sum = [0.0f32; 3];
        for row in &rows {
            for pixel in &row[k * x..k * (x + 1)] {
                sum[0] += red[usize::from(pixel[0])];
                sum[1] += green[usize::from(pixel[1])];
                sum[2] += blue[usize::from(pixel[2])];
            }
        }
        *out = profile.mix(sum.map(|s| s / n));
    }
}

/// The picture's encoded values at 1/`factor` of the photo's size, 3 bytes a pixel, row by row.
///
/// A mean of encoded values is not a mean of light; it serves for finding shapes and edges, never for reading colours.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EncodedImage {
    /// Width in reduced pixels.
    pub width: usize,
    /// Height in reduced pixels.
    pub height: usize,
    /// Pixels of the photo per reduced pixel, along each side.
    pub factor: u32,
    /// RGB interleaved, row by row.
    pub bytes: Vec<u8>,
}

impl EncodedImage {
    /// The value at (x, y) in reduced pixels.
    #[inline]
    pub fn at(&self, x: usize, y: usize) -> [u8; 3] {
        let i = 3 * (y * self.width + x);
        [self.bytes[i], self.bytes[i + 1], self.bytes[i + 2]]
    }

    /// The same picture at half the size; a last odd row or column is left out.
    pub fn halved(&self) -> Self {
        let (width, height) = (self.width / 2, self.height / 2);
        let mut bytes = vec![0u8; 3 * width * height];
        for (y, out) in bytes.chunks_exact_mut((3 * width).max(1)).enumerate() {
            mean_row(&self.bytes[2 * y * 3 * self.width..], 3 * self.width, 2, out, u16::from);
        }
        Self { width, height, factor: 2 * self.factor, bytes }
    }

    /// The value of the pixel that holds `p`, in continuous reduced pixels; `None` outside of the picture.
    #[inline]
    pub fn value(&self, p: Point) -> Option<[u8; 3]> {
        let inside = p.x >= 0.0 && p.y >= 0.0 && p.x < self.width as f64 && p.y < self.height as f64;
        #[expect(clippy::cast_sign_loss, reason = "both coordinates were just found to be at least 0")]
        inside.then(|| self.at(p.x as usize, p.y as usize))
    }
}

/// Averages `factor` × `factor` blocks of encoded values; a last, incomplete row or column of blocks is left out.
pub(super) fn reduce_encoded(photo: &Photo, factor: u32) -> EncodedImage {
    // So many bytes still add up to 16 bits.
    let factor = factor.clamp(1, photo.width.min(photo.height).clamp(1, 256));
    let k = factor as usize;
    let (width, height) = (photo.width as usize / k, photo.height as usize / k);
    let stride = 3 * photo.width as usize;
    let mut bytes = vec![0u8; 3 * width * height];
    bytes.par_chunks_mut((3 * width).max(1)).enumerate().for_each(|(y, out)| match &photo.samples {
        Samples::Eight(v) => mean_row(&v[y * k * stride..], stride, k, out, u16::from),
        // The high byte of a 16-bit sample is its 8-bit value.
        Samples::Sixteen(v) => mean_row(&v[y * k * stride..], stride, k, out, |s| s >> 8),
    });
    EncodedImage { width, height, factor, bytes }
}

/// One row of block means: `from` starts at the first of the `k` rows that go into it. Rows are added up first, which a
/// processor does many values at a time.
fn mean_row<T: Copy>(from: &[T], stride: usize, k: usize, out: &mut [u8], value: impl Fn(T) -> u16 + Copy) {
    let mut columns: Vec<u16> = from[..k * out.len()].iter().map(|v| value(*v)).collect();
    for row in from.chunks(stride).take(k).skip(1) {
        columns.iter_mut().zip(row).for_each(|(sum, v)| *sum += value(*v));
    }
    let n = (k * k) as u32;
    // Most factors are powers of two, and a processor shifts far more quickly than it divides.
    let shift = n.is_power_of_two().then(|| n.trailing_zeros());
    let mean = |sum: u32| shift.map_or_else(|| (sum + n / 2) / n, |shift| (sum + n / 2) >> shift);
    for (out, block) in out.chunks_exact_mut(3).zip(columns.chunks_exact(3 * k)) {
        let add = |s: [u32; 3], v: &[u16; 3]| [0, 1, 2].map(|c| s[c] + u32::from(v[c]));
        let sums = block.as_chunks().0.iter().fold([0; 3], add);
        out.copy_from_slice(&sums.map(|s| mean(s) as u8));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blocks_of_light_are_means_of_their_pixels_light() {
        let samples: Vec<u8> = (0..7 * 5 * 3).map(|i| (i * 37 % 256) as u8).collect();
        let photo = Photo {
            name: String::new(),
            hash: String::new(),
            width: 7,
            height: 5,
            taken: None,
            camera: None,
            samples: Samples::Eight(samples),
            profile: Profile::from_curves(
                "test",
                |_, v| v * v,
                Some([[0.8, 0.2, 0.0], [0.1, 0.9, 0.0], [0.0, 0.1, 0.9]]),
                false,
            ),
            warnings: Vec::new(),
        };
        for factor in [1, 2, 3] {
            let small = reduce(&photo, factor);
            for y in 0..small.height {
                for x in 0..small.width {
                    let slow = photo.mean_light(x as u32 * factor, y as u32 * factor, factor);
                    let quick = small.at(x, y);
                    let off = [slow.red - quick.red, slow.green - quick.green, slow.blue - quick.blue];
                    assert!(off.iter().all(|d| d.abs() < 1e-5), "{factor}: {x}, {y}");
                }
            }
        }
    }

    #[test]
    fn encoded_blocks_are_rounded_means_and_odd_edges_are_left_out() {
        let photo = Photo {
            name: String::new(),
            hash: String::new(),
            width: 3,
            height: 2,
            taken: None,
            camera: None,
            samples: Samples::Eight(vec![0, 0, 0, 10, 20, 30, 9, 9, 9, 2, 4, 6, 4, 8, 253, 9, 9, 9]),
            profile: Profile::srgb(),
            warnings: Vec::new(),
        };
        assert_eq!(reduce_encoded(&photo, 1).halved(), reduce_encoded(&photo, 2));
        let half = reduce_encoded(&photo, 2);
        assert_eq!((half.width, half.height, half.bytes), (1, 1, vec![4, 8, 72]));
    }
}
