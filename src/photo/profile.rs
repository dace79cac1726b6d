//! How a file's values become linear light on the sRGB primaries.
#![expect(clippy::cast_possible_truncation, reason = "table entries in 0…1 are kept as f32")]

use std::array::from_fn;

use crate::colour::{LinearRgb, srgb_decode};

/// A tone curve a channel and a matrix to linear sRGB.
#[derive(Debug, Clone)]
pub struct Profile {
    /// What the profile calls itself; `sRGB` when none is embedded.
    pub name: String,
    eight: [Box<[f32; 256]>; 3],
    sixteen: Option<[Vec<f32>; 3]>,
    matrix: Option<[[f32; 3]; 3]>,
}

impl Profile {
    /// The profile assumed when a file has none.
    pub fn srgb() -> Self {
        Self::srgb_for(false)
    }

    /// The same for samples of 8 or of 16 bits.
    pub(super) fn srgb_for(sixteen: bool) -> Self {
        Self::from_curves("sRGB", |_, v| srgb_decode(v), None, sixteen)
    }

    /// Builds the tables from a curve per channel (encoded 0…1 to linear 0…1) and a matrix to linear sRGB.
    pub(super) fn from_curves(
        name: &str,
        curve: impl Fn(usize, f64) -> f64,
        matrix: Option<[[f32; 3]; 3]>,
        with_sixteen: bool,
    ) -> Self {
        let light = |c: usize, i: usize, n: usize| curve(c, i as f64 / (n - 1) as f64) as f32;
        Self {
            name: name.to_owned(),
            eight: from_fn(|c| Box::new(from_fn(|i| light(c, i, 256)))),
            sixteen: with_sixteen.then(|| from_fn(|c| (0..65_536).map(|i| light(c, i, 65_536)).collect())),
            matrix,
        }
    }

    /// Linear light of an 8-bit value.
    #[inline]
    pub fn linear8(&self, [r, g, b]: [u8; 3]) -> LinearRgb {
        let [tr, tg, tb] = &self.eight;
        self.mix([tr[usize::from(r)], tg[usize::from(g)], tb[usize::from(b)]])
    }

    /// Linear light of a 16-bit value.
    #[inline]
    pub fn linear16(&self, value: [u16; 3]) -> LinearRgb {
        match &self.sixteen {
            Some([tr, tg, tb]) => {
                self.mix([tr[usize::from(value[0])], tg[usize::from(value[1])], tb[usize::from(value[2])]])
            }
            None => self.linear8(value.map(|v| v.to_be_bytes()[0])),
        }
    }

    /// The channels' tone curves for 8-bit values, before any matrix.
    pub(super) fn curves8(&self) -> &[Box<[f32; 256]>; 3] {
        &self.eight
    }

    /// Linear light of a value already taken through the channels' tone curves.
    #[inline]
    pub(super) fn mix(&self, [r, g, b]: [f32; 3]) -> LinearRgb {
        match &self.matrix {
            None => LinearRgb::new(r, g, b),
            Some(m) => {
                let [x, y, z] = m.map(|row| row[0] * r + row[1] * g + row[2] * b);
                LinearRgb::new(x, y, z)
            }
        }
    }
}
