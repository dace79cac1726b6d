//! The lowest point of a smooth function of a few variables.

/// Nelder & Mead's (1965) simplex with the usual factors (reflection 1, expansion 2, contraction and shrinking ½), started
/// around `start` with steps of `step`; stops when the simplex is flat to `tolerance` (relative) or after 2000 moves.
pub fn nelder_mead(f: impl Fn(&[f64]) -> f64, start: &[f64], step: f64, tolerance: f64) -> Vec<f64> {
    let mut simplex: Vec<(f64, Vec<f64>)> = (0..=start.len())
        .map(|corner| {
            let mut x = start.to_vec();
            if corner > 0 {
                x[corner - 1] += step;
            }
            (f(&x), x)
        })
        .collect();
    for _ in 0..2000 {
        simplex.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (best, worst) = (simplex[0].0, simplex[start.len()].0);
        if (worst - best).abs() <= tolerance * (best.abs() + tolerance) {
            break;
        }
        improve(&mut simplex, &f);
    }
    simplex.sort_by(|a, b| a.0.total_cmp(&b.0));
    simplex.swap_remove(0).1
}

/// Replaces the worst corner of a sorted simplex, or draws all corners towards the best.
fn improve(simplex: &mut [(f64, Vec<f64>)], f: &impl Fn(&[f64]) -> f64) {
    let n = simplex.len() - 1;
    let centre: Vec<f64> = (0..n).map(|j| simplex[..n].iter().map(|c| c.1[j]).sum::<f64>() / n as f64).collect();
    let worst = simplex[n].clone();
    let along = |t: f64| {
        let x: Vec<f64> = centre.iter().zip(&worst.1).map(|(c, w)| c + t * (c - w)).collect();
        (f(&x), x)
    };
    let reflected = along(1.0);
    let better = if reflected.0 < simplex[0].0 {
        let expanded = along(2.0);
        if expanded.0 < reflected.0 { expanded } else { reflected }
    } else if reflected.0 < simplex[n - 1].0 {
        reflected
    } else {
        along(if reflected.0 < worst.0 { 0.5 } else { -0.5 })
    };
    if better.0 < worst.0 {
        simplex[n] = better;
        return;
    }
    let best = simplex[0].1.clone();
    for corner in &mut simplex[1..] {
        corner.1 = corner.1.iter().zip(&best).map(|(x, b)| f64::midpoint(*x, *b)).collect();
        corner.0 = f(&corner.1);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rosenbrock's (1960) valley has its lowest point at (1, 1).
    #[test]
    fn finds_the_end_of_a_bent_valley() {
        let valley = |x: &[f64]| (1.0 - x[0]).powi(2) + 100.0 * (x[1] - x[0] * x[0]).powi(2);
        let found = nelder_mead(valley, &[-1.2, 1.0], 0.5, 1e-14);
        assert!((found[0] - 1.0).abs() < 1e-4 && (found[1] - 1.0).abs() < 1e-4, "{found:?}");
    }
}
