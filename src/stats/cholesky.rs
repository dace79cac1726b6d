//! Cholesky's decomposition of a symmetric positive definite matrix, and solving with it.
//!
//! Matrices are square and lie row by row in a slice; only their lower half is looked at. Golub & Van Loan, Matrix
//! Computations (4th ed.), section 4.2.

/// Replaces the lower half of `a` (n × n) by its factor L with a = L·Lᵀ; `None` when `a` is not positive definite.
pub fn factor(a: &mut [f64], n: usize) -> Option<()> {
    for i in 0..n {
        for j in 0..=i {
            let (row, other) = (&a[i * n..i * n + j], &a[j * n..j * n + j]);
            let known: f64 = row.iter().zip(other).map(|(x, y)| x * y).sum();
            let rest = a[i * n + j] - known;
            a[i * n + j] = if i > j {
                rest / a[j * n + j]
            } else if rest > 0.0 {
                rest.sqrt()
            } else {
                return None;
            };
        }
    }
    Some(())
}

/// Solves L·x = b in place.
pub fn forward(l: &[f64], b: &mut [f64]) {
    let n = b.len();
    for i in 0..n {
        let known: f64 = l[i * n..i * n + i].iter().zip(&*b).map(|(x, y)| x * y).sum();
        b[i] = (b[i] - known) / l[i * n + i];
    }
}

/// Solves L·Lᵀ·x = b in place.
pub fn substitute(l: &[f64], b: &mut [f64]) {
    forward(l, b);
    let n = b.len();
    for i in (0..n).rev() {
        let known: f64 = (i + 1..n).map(|k| l[k * n + i] * b[k]).sum();
        b[i] = (b[i] - known) / l[i * n + i];
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn solves_a_literal_system() {
        // 4x + 2y = 10, 2x + 3y = 9 by hand: x = 1.5, y = 2.
        let mut a = [4.0, f64::NAN, 2.0, 3.0];
        let mut b = [10.0, 9.0];
        factor(&mut a, 2).unwrap();
        substitute(&a, &mut b);
        assert!((b[0] - 1.5).abs() < 1e-12 && (b[1] - 2.0).abs() < 1e-12, "{b:?}");
    }

    #[test]
    fn an_indefinite_matrix_has_no_factor() {
        assert_eq!(factor(&mut [1.0, 2.0, 2.0, 1.0], 2), None);
        assert_eq!(factor(&mut [f64::NAN], 1), None);
    }
}
