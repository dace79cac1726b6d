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
        for (channel, line) in out.coefficients.iter_mut().enumerate() {
            *line = solve(samples, &out.weights, channel)?;
        }
        out.residuals = samples.iter().enumerate().map(|(i, s)| measure(i, out.expect(&s.terms))).collect();
        let mut sorted = out.residuals.clone();
        sorted.sort_by(f64::total_cmp);
        let scale = SCALE * sorted[sorted.len() / 2].max(floor);
        out.weights = out.residuals.iter().map(|r| 1.0 / (1.0 + (r / scale).powi(2))).collect();
    }
    Some(out)
}

/// Weighted normal equations of one channel by Gauss–Jordan elimination with partial pivoting.
fn solve(samples: &[Sample], weights: &[f64], channel: usize) -> Option<[f64; TERMS]> {
    let mut system = [[0.0; TERMS + 1]; TERMS];
    for (s, w) in samples.iter().zip(weights) {
        let Some(y) = s.seen[channel] else { continue };
        for (r, line) in system.iter_mut().enumerate() {
            let wx = w * s.terms[r];
            for (v, x) in line.iter_mut().zip(&s.terms) {
                *v += wx * x;
            }
            line[TERMS] += wx * y;
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
    Some(std::array::from_fn(|r| system[r][TERMS]))
}
