//! The models from the file's linear light to XYZ.

use ndarray::{Array1, Array2};

use super::qr::least_squares;
use crate::colour::{LinearRgb, Xyz, profile_xyz};

/// A map from the file's linear light at the card's place to XYZ.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Model {
    /// The file's profile alone.
    Profile,
    /// A 3 × 3 matrix, row by row.
    Linear([[f64; 3]; 3]),
}

impl Model {
    /// The name that reports show.
    pub(super) const fn name(&self) -> &'static str {
        match self {
            Self::Profile => "profile",
            Self::Linear(_) => "linear",
        }
    }

    /// XYZ of a value read at (or relit to) the card's place.
    pub(super) fn xyz(&self, value: LinearRgb) -> Xyz {
        match self {
            Self::Profile => profile_xyz(value),
            Self::Linear(m) => {
                let v = terms(value);
                let [x, y, z] = m.map(|row| row[0] * v[0] + row[1] * v[1] + row[2] * v[2]);
                Xyz::new(x, y, z)
            }
        }
    }
}

fn terms(value: LinearRgb) -> [f64; 3] {
    [value.red, value.green, value.blue].map(f64::from)
}

/// The 3 × 3 matrix closest to the references, each patch weighted by the slope of lightness at its luminance, so that
/// dark patches count as much as light ones; `None` when the readings do not span three dimensions.
pub(super) fn linear(readings: &[(LinearRgb, Xyz)]) -> Option<Model> {
    let weight = |y: f64| (y.max(0.01)).powf(-2.0 / 3.0);
    let rows = readings.len();
    let mut matrix = [[0.0; 3]; 3];
    for (c, row) in matrix.iter_mut().enumerate() {
        let a = Array2::from_shape_fn((rows, 3), |(i, j)| terms(readings[i].0)[j] * weight(readings[i].1.y));
        let b = Array1::from_shape_fn(rows, |i| {
            let xyz = readings[i].1;
            [xyz.x, xyz.y, xyz.z][c] * weight(xyz.y)
        });
        let x = least_squares(a, b)?;
        *row = [x[0], x[1], x[2]];
    }
    Some(Model::Linear(matrix))
}
