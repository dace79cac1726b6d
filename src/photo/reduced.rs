//! The photo at a fraction of its size, in linear light.

use rayon::prelude::*;

use super::Photo;
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
    let (width, height) = (photo.width / factor, photo.height / factor);
    let row = |y: u32| {
        (0..width).map(move |x| {
            let mut sum = [0.0f32; 3];
            for dy in 0..factor {
                for dx in 0..factor {
                    let p = photo.linear(x * factor + dx, y * factor + dy);
                    sum[0] += p.red;
                    sum[1] += p.green;
                    sum[2] += p.blue;
                }
            }
            let n = (factor * factor) as f32;
            LinearRgb::new(sum[0] / n, sum[1] / n, sum[2] / n)
        })
    };
    let pixels = (0..height).into_par_iter().flat_map_iter(row).collect();
    LinearImage { width: width as usize, height: height as usize, factor, pixels }
}
