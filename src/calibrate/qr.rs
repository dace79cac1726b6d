//! Least squares by Householder reflections, for systems of a few dozen rows.

use ndarray::{Array1, Array2};

/// Below this share of the largest column, a column counts as a combination of the others.
const RANK_LIMIT: f64 = 1e-12;

/// Solves `a · x ≈ b` in the least-squares sense; `None` when `a` has fewer rows than columns or dependent columns.
///
/// Golub & Van Loan, Matrix Computations (4th ed.), algorithm 5.3.2. Both inputs are used up.
pub(super) fn least_squares(mut a: Array2<f64>, mut b: Array1<f64>) -> Option<Array1<f64>> {
    let (rows, cols) = a.dim();
    if rows < cols {
        return None;
    }
    let scale = a.columns().into_iter().map(|c| c.dot(&c).sqrt()).fold(0.0, f64::max);
    for k in 0..cols {
        let norm = (k..rows).map(|i| a[[i, k]] * a[[i, k]]).sum::<f64>().sqrt();
        if norm.is_nan() || norm <= scale * RANK_LIMIT {
            return None;
        }
        // The reflection sends column k to alpha·e_k; the sign avoids cancellation.
        let alpha = if a[[k, k]] > 0.0 { -norm } else { norm };
        let mut v: Vec<f64> = (k..rows).map(|i| a[[i, k]]).collect();
        v[0] -= alpha;
        let vv: f64 = v.iter().map(|x| x * x).sum();
        for j in k..cols {
            let t = 2.0 * (k..rows).map(|i| v[i - k] * a[[i, j]]).sum::<f64>() / vv;
            for i in k..rows {
                a[[i, j]] -= t * v[i - k];
            }
        }
        let t = 2.0 * (k..rows).map(|i| v[i - k] * b[i]).sum::<f64>() / vv;
        for i in k..rows {
            b[i] -= t * v[i - k];
        }
    }
    let mut x = Array1::zeros(cols);
    for k in (0..cols).rev() {
        let known: f64 = (k + 1..cols).map(|j| a[[k, j]] * x[j]).sum();
        x[k] = (b[k] - known) / a[[k, k]];
    }
    Some(x)
}

#[cfg(test)]
mod tests {
    use super::*;
    use ndarray::{arr1, arr2};

    #[test]
    fn fits_a_literal_line() {
        // y = 1 + 2x through (0, 1), (1, 3.5), (2, 4.5): normal equations by hand give 1.25 and 1.75.
        let a = arr2(&[[1.0, 0.0], [1.0, 1.0], [1.0, 2.0]]);
        let x = least_squares(a, arr1(&[1.0, 3.5, 4.5])).unwrap();
        assert!((x[0] - 1.25).abs() < 1e-12 && (x[1] - 1.75).abs() < 1e-12, "{x}");
    }

    #[test]
    fn dependent_columns_and_too_few_rows_have_no_solution() {
        assert_eq!(least_squares(arr2(&[[1.0, 2.0], [2.0, 4.0], [3.0, 6.0]]), arr1(&[1.0, 1.0, 1.0])), None);
        assert_eq!(least_squares(arr2(&[[1.0, 2.0]]), arr1(&[1.0])), None);
    }

    proptest::proptest! {
        #[test]
        fn the_residual_stands_at_right_angles_to_every_column(
            values in proptest::collection::vec(-1.0f64..1.0, 24 * 4),
            b in proptest::collection::vec(-1.0f64..1.0, 24),
        ) {
            let a = Array2::from_shape_vec((24, 4), values).unwrap();
            let b = Array1::from(b);
            if let Some(x) = least_squares(a.clone(), b.clone()) {
                let rest = &b - &a.dot(&x);
                proptest::prop_assert!(a.t().dot(&rest).iter().all(|v| v.abs() < 1e-9));
            }
        }
    }
}
