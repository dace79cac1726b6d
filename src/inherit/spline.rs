//! Pooled dams whose young show one of two classes: the integral over their shares as one along the mixed share alone.
//!
//! For shares w uniform over the simplex, Σ w_i t_i has the B-spline with the knots t_i as its density (Curry & Schoenberg 1966),
//! of one degree less than there are dams between; a dam with k breeders stands among the knots k + 1 times. Between two knots the
//! integrand is a polynomial.

use statrs::function::gamma::ln_gamma;

use super::mixture::times_ln;

/// Knots nearer to each other than this are one: far below any chance that is told apart, far above rounding.
const SAME_KNOT: f64 = 1e-12;

/// ln E[Π w_i^k_i T^a (1 - T)^b] with T = Σ w_i t_i: `chances` holds the t of each dam, `kids` the k of each; `grid` the nodes and
/// weights of a quadrature on 0..1 that is exact, or good enough, for a polynomial of that degree.
pub(super) fn ln_expectation(chances: &[f64], kids: &[usize], (a, b): (usize, usize), grid: &[(f64, f64)]) -> f64 {
    let mut knots: Vec<f64> = chances.iter().zip(kids).flat_map(|(t, k)| std::iter::repeat_n(*t, k + 1)).collect();
    knots.sort_by(f64::total_cmp);
    let of_kids: f64 = kids.iter().map(|k| ln_gamma(*k as f64 + 1.0)).sum();
    let dirichlet = ln_gamma(chances.len() as f64) + of_kids - ln_gamma(knots.len() as f64);
    let ln = |t: f64| times_ln(a as f64, t) + times_ln(b as f64, 1.0 - t);
    let (Some(first), Some(last)) = (knots.first().copied(), knots.last().copied()) else { return dirichlet };
    if last - first < SAME_KNOT {
        return dirichlet + ln(first);
    }
    // The integrand is scaled by its largest value, so that what is left cannot underflow.
    let peak = if a + b > 0 { a as f64 / (a + b) as f64 } else { first };
    let top = ln(peak.clamp(first, last));
    let stretches = knots.windows(2).filter(|ends| ends[1] - ends[0] >= SAME_KNOT);
    let over = |ends: &[f64]| -> f64 {
        let width = ends[1] - ends[0];
        let point = |(u, weight): &(f64, f64)| {
            let t = ends[0] + u * width;
            weight * (ln(t) - top).exp() * density(&knots, t)
        };
        width * grid.iter().map(point).sum::<f64>()
    };
    dirichlet + top + stretches.map(over).sum::<f64>().ln()
}

/// The B-spline of integral 1 with these knots, in order, at a place between two of them: de Boor's recursion.
fn density(knots: &[f64], t: f64) -> f64 {
    let one = |ends: &[f64]| if ends[0] <= t && t < ends[1] { 1.0 / (ends[1] - ends[0]) } else { 0.0 };
    let mut values: Vec<f64> = knots.windows(2).map(one).collect();
    for order in 2..knots.len() {
        let scale = order as f64 / (order - 1) as f64;
        values = (0..knots.len() - order)
            .map(|i| {
                let width = knots[i + order] - knots[i];
                let mixed = (t - knots[i]) * values[i] + (knots[i + order] - t) * values[i + 1];
                if width > 0.0 { scale * mixed / width } else { 0.0 }
            })
            .collect();
    }
    values.first().copied().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::super::expansion;
    use super::super::shares::{legendre, node_count};
    use super::*;

    fn both(chances: &[f64], kids: &[usize], counts: (usize, usize)) -> (f64, f64) {
        let knots = chances.len() + kids.iter().sum::<usize>();
        let grid = legendre(node_count(counts.0 + counts.1 + knots));
        let rows: Vec<Vec<f64>> = chances.iter().map(|t| vec![*t, 1.0 - t]).collect();
        let found = ln_expectation(chances, kids, counts, &grid);
        (found, expansion::ln_expectation(&rows, kids, &[counts.0, counts.1]))
    }

    /// The power series over the dams' shares is the second route.
    #[test]
    fn it_agrees_with_the_power_series() {
        for (chances, kids) in [
            (vec![0.25], vec![2]),
            (vec![0.25, 0.5], vec![0, 0]),
            (vec![0.5, 0.5, 0.5], vec![0, 1, 0]),
            (vec![0.99, 0.01, 0.25], vec![0, 0, 0]),
            (vec![0.75, 0.01, 0.75, 0.5], vec![1, 0, 2, 0]),
            (vec![0.5, 0.25, 0.5, 0.4375, 0.99], vec![0, 0, 0, 0, 0]),
        ] {
            for counts in [(0, 0), (3, 0), (0, 7), (17, 23), (300, 40)] {
                let (found, expected) = both(&chances, &kids, counts);
                assert!((found - expected).abs() < 1e-9, "{chances:?} {kids:?} {counts:?}: {found} is not {expected}");
            }
        }
    }

    /// By hand: of two dams of chances 0 and 1 the mixed share is uniform, so that three young of three come to 1/4.
    #[test]
    fn two_opposite_dams_give_a_uniform_share() {
        let (found, _) = both(&[0.0, 1.0], &[0, 0], (3, 0));
        assert!((found.exp() - 0.25).abs() < 1e-12);
        let (impossible, _) = both(&[1.0, 1.0], &[0, 0], (0, 1));
        assert!(impossible < f64::MIN);
    }
}
