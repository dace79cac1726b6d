//! A small linear least-squares fit of three channels that gives little weight to what does not fit.

/// Constant, three colour channels, two slopes across the card.
pub(super) const TERMS: usize = 6;

/// Rounds of reweighting; the weights hardly move after them.
const ROUNDS: usize = 6;

/// How many medians a residual may have before its weight falls to a half (Cauchy weights). For a normal spread 2.5
/// medians are 1.7 standard deviations of a 3-channel length: honest patches stay nearly untouched.
const SCALE: f64 = 2.5;

/// One patch: its terms, what was seen a channel (`None` where a channel says nothing).
#[derive(Debug, Clone, Copy)]
pub(super) struct Sample {
    pub(super) terms: [f64; TERMS],
    pub(super) seen: [Option<f64>; 3],
}

/// The fit's outcome.
#[derive(Debug, Clone)]
pub(super) struct Fitted {
    /// Coefficients a channel.
    pub(super) coefficients: [[f64; TERMS]; 3],
    /// Length of each sample's residual, as the caller measures it.
    pub(super) residuals: Vec<f64>,
    /// Weight of each sample, 0…1.
    pub(super) weights: Vec<f64>,
}

impl Fitted {
    /// What the fit expects of `terms`.
    pub(super) fn expect(&self, terms: &[f64; TERMS]) -> [f64; 3] {
        self.coefficients.map(|c| c.iter().zip(terms).map(|(a, b)| a * b).sum())
    }
}

/// Fits the samples, beginning with the weights given; `measure` is the length of the residual of sample `i` when the fit
/// expects a value. Residuals below `floor` count as none. `None` when the samples do not fix the coefficients.
pub(super) fn fit(
    samples: &[Sample],
    start: Vec<f64>,
    floor: f64,
    measure: impl Fn(usize, [f64; 3]) -> f64,
) -> Option<Fitted> {
    let mut out = Fitted { coefficients: [[0.0; TERMS]; 3], residuals: Vec::new(), weights: start };
    for _ in 0..ROUNDS {
        out.coefficients = solve(samples, &out.weights)?;
        out.residuals = samples.iter().enumerate().map(|(i, s)| measure(i, out.expect(&s.terms))).collect();
        let mut order = out.residuals.clone();
        let middle = order.len() / 2;
        let scale = SCALE * order.select_nth_unstable_by(middle, f64::total_cmp).1.max(floor);
        out.weights = out.residuals.iter().map(|r| 1.0 / (1.0 + (r / scale).powi(2))).collect();
    }
    Some(out)
}

/// Normal equations with the right-hand sides of the three channels beside them.
type System = [[f64; TERMS + 3]; TERMS];

/// Weighted least squares of the three channels. Samples that say something in all of them share one matrix.
fn solve(samples: &[Sample], weights: &[f64]) -> Option<[[f64; TERMS]; 3]> {
    let mut shared: System = [[0.0; TERMS + 3]; TERMS];
    let mut partial = Vec::new();
    for (sample, weight) in samples.iter().zip(weights) {
        match sample.seen {
            [Some(r), Some(g), Some(b)] => add(&mut shared, &sample.terms, *weight, [r, g, b]),
            _ => partial.push((sample, *weight)),
        }
    }
    if partial.is_empty() {
        return eliminated(shared);
    }
    let mut out = [[0.0; TERMS]; 3];
    for (channel, line) in out.iter_mut().enumerate() {
        let mut system = shared;
        for (sample, weight) in &partial {
            if let Some(value) = sample.seen[channel] {
                add(&mut system, &sample.terms, *weight, [value; 3]);
            }
        }
        *line = eliminated(system)?[channel];
    }
    Some(out)
}

/// Adds a sample to the lower half of the matrix and to the right-hand sides.
fn add(system: &mut System, terms: &[f64; TERMS], weight: f64, seen: [f64; 3]) {
    for (r, line) in system.iter_mut().enumerate() {
        let weighted = weight * terms[r];
        for (v, x) in line[..=r].iter_mut().zip(terms) {
            *v += weighted * x;
        }
        for (v, y) in line[TERMS..].iter_mut().zip(seen) {
            *v += weighted * y;
        }
    }
}

/// The solutions by Gauss–Jordan elimination with partial pivoting; `None` when the samples do not fix them.
fn eliminated(mut system: System) -> Option<[[f64; TERMS]; 3]> {
    let lower = system;
    for (r, line) in system.iter_mut().enumerate() {
        for (c, v) in line.iter_mut().enumerate().take(TERMS).skip(r + 1) {
            *v = lower[c][r];
        }
    }
    for col in 0..TERMS {
        let pivot = (col..TERMS).max_by(|&a, &b| system[a][col].abs().total_cmp(&system[b][col].abs()))?;
        // The terms are of the order of one, so a pivot far below a single sample's weight is none.
        if system[pivot][col].abs() < 1e-6 {
            return None;
        }
        system.swap(col, pivot);
        let lead = system[col].map(|v| v / system[col][col]);
        system[col] = lead;
        for (r, line) in system.iter_mut().enumerate() {
            if r != col {
                let k = line[col];
                for (v, l) in line.iter_mut().zip(lead) {
                    *v -= k * l;
                }
            }
        }
    }
    Some(std::array::from_fn(|channel| std::array::from_fn(|r| system[r][TERMS + channel])))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two slopes and a constant seen without noise but for one wild sample and one that is clipped in red.
    #[test]
    fn a_wild_sample_pulls_little_and_a_clipped_channel_is_left_out() {
        let wanted = |c: usize, (x, y): (f64, f64)| 10.0 * c as f64 + 3.0 * x - 2.0 * y;
        let mut samples: Vec<Sample> = (0..24)
            .map(|i| {
                let (x, y) = (f64::from(i % 6) / 2.5 - 1.0, f64::from(i / 6) / 1.5 - 1.0);
                let terms = [1.0, x * x, x * y, y * y * y, x, y];
                Sample { terms, seen: std::array::from_fn(|c| Some(wanted(c, (x, y)))) }
            })
            .collect();
        samples[5].seen = [Some(200.0); 3];
        samples[9].seen[0] = None;
        let length = |i: usize, fitted: [f64; 3]| {
            (0..3).filter_map(|c| samples[i].seen[c].map(|v| (v - fitted[c]).abs())).fold(0.0, f64::max)
        };
        let fitted = fit(&samples, vec![1.0; 24], 1e-3, length).unwrap();
        for (c, line) in fitted.coefficients.iter().enumerate() {
            for (got, due) in line.iter().zip([10.0 * c as f64, 0.0, 0.0, 0.0, 3.0, -2.0]) {
                assert!((got - due).abs() < 0.02, "channel {c}: {line:?}");
            }
        }
        assert!(fitted.weights[5] < 1e-3 && fitted.weights[6] > 0.5);
    }
}
