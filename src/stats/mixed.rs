//! Linear mixed models with one grouping: random intercepts, or random intercepts and slopes, by REML or ML.
//!
//! Groups are broods, generations or sessions. The likelihood is profiled over the fixed effects and the residual variance,
//! as lme4 does (Bates et al. 2015, J. Stat. Softw. 67(1)), so that only the relative covariance factor θ is searched.

use super::cholesky;
use super::minimise::nelder_mead;

/// Which likelihood is maximised.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Criterion {
    /// Restricted likelihood: variance components free of the bias from estimating the fixed effects.
    Reml,
    /// Full likelihood.
    Ml,
}

/// One observation: its group, its value, and its rows of the two design matrices.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Number of the group, from 0.
    pub group: usize,
    /// The value.
    pub y: f64,
    /// Fixed effects, the intercept's 1 included.
    pub x: Vec<f64>,
    /// Random effects: `[1]` for an intercept, `[1, t]` for intercept and slope.
    pub z: Vec<f64>,
}

/// The fitted model.
#[derive(Debug, Clone, PartialEq)]
pub struct Mixed {
    /// Fixed effects.
    pub fixed: Vec<f64>,
    /// Their standard errors, the variance components taken as known.
    pub se: Vec<f64>,
    /// Covariance matrix of the random effects.
    pub random: Vec<Vec<f64>>,
    /// Residual variance.
    pub residual: f64,
    /// REML criterion, or deviance for ML: −2 log likelihood.
    pub criterion: f64,
}

/// Fits the model. `None` when there are not more rows than effects, or the fixed effects cannot be told apart.
pub fn fit(rows: &[Row], criterion: Criterion) -> Option<Mixed> {
    let sums = Sums::of(rows)?;
    let q = sums.q;
    // Lower triangle of the relative factor, row by row; starts at the identity.
    let start: Vec<f64> = (0..q).flat_map(|i| (0..=i).map(move |j| f64::from(u8::from(i == j)))).collect();
    let score = |theta: &[f64]| sums.profile(theta, criterion).map_or(f64::INFINITY, |p| p.criterion);
    // A restart from the first answer frees a simplex that collapsed too early.
    let once = nelder_mead(score, &start, 0.5, 1e-13);
    let theta = nelder_mead(score, &once, 0.1, 1e-14);
    let best = sums.profile(&theta, criterion)?;
    let factor = lower(&theta, q);
    let random = (0..q)
        .map(|i| (0..q).map(|j| best.residual * (0..q).map(|k| factor[i][k] * factor[j][k]).sum::<f64>()).collect())
        .collect();
    Some(Mixed { fixed: best.fixed, se: best.se, random, residual: best.residual, criterion: best.criterion })
}

/// Cross products of one group: Z'Z and Z'[X y].
struct GroupSums {
    zz: Vec<Vec<f64>>,
    zw: Vec<Vec<f64>>,
}

/// All that the likelihood needs: per group, and [X y]'[X y] over all rows.
struct Sums {
    groups: Vec<GroupSums>,
    ww: Vec<Vec<f64>>,
    n: usize,
    p: usize,
    q: usize,
}

/// The likelihood at one θ, with the fixed effects and the residual variance that go with it.
struct Profile {
    criterion: f64,
    fixed: Vec<f64>,
    se: Vec<f64>,
    residual: f64,
}

impl Sums {
    fn of(rows: &[Row]) -> Option<Self> {
        let (p, q) = (rows.first()?.x.len(), rows.first()?.z.len());
        if rows.len() <= p {
            return None;
        }
        let count = rows.iter().map(|r| r.group).max()? + 1;
        let mut groups: Vec<GroupSums> =
            (0..count).map(|_| GroupSums { zz: zeros(q, q), zw: zeros(q, p + 1) }).collect();
        let mut ww = zeros(p + 1, p + 1);
        for row in rows {
            let w: Vec<f64> = row.x.iter().copied().chain([row.y]).collect();
            add_outer(&mut ww, &w, &w);
            add_outer(&mut groups[row.group].zz, &row.z, &row.z);
            add_outer(&mut groups[row.group].zw, &row.z, &w);
        }
        Some(Self { groups, ww, n: rows.len(), p, q })
    }

    /// Woodbury's identity for each group: V = I + ZΛΛ'Z' has V⁻¹ = I − ZΛ M⁻¹ Λ'Z' and |V| = |M|, M = I + Λ'Z'ZΛ.
    fn profile(&self, theta: &[f64], criterion: Criterion) -> Option<Profile> {
        let factor = lower(theta, self.q);
        let (mut w, mut log_det) = (self.ww.clone(), 0.0);
        for group in &self.groups {
            let mut m = times(&transposed_times(&factor, &group.zz), &factor);
            (0..self.q).for_each(|i| m[i][i] += 1.0);
            let root = lower_factor(&m)?;
            log_det += 2.0 * root.iter().enumerate().map(|(i, r)| r[i].ln()).sum::<f64>();
            let half = forward(&root, &transposed_times(&factor, &group.zw));
            for (i, row) in w.iter_mut().enumerate() {
                row.iter_mut().enumerate().for_each(|(j, cell)| *cell -= half.iter().map(|h| h[i] * h[j]).sum::<f64>());
            }
        }
        self.finish(&w, log_det, criterion)
    }

    /// From [X y]'V⁻¹[X y]: its Cholesky factor holds X'V⁻¹X, the estimates and the residual sum of squares.
    fn finish(&self, w: &[Vec<f64>], log_det: f64, criterion: Criterion) -> Option<Profile> {
        let (n, p) = (self.n as f64, self.p);
        let root = lower_factor(w)?;
        let squares = root[p][p].powi(2);
        let log_x: f64 = 2.0 * (0..p).map(|i| root[i][i].ln()).sum::<f64>();
        let df = if criterion == Criterion::Reml { n - p as f64 } else { n };
        let residual = squares / df;
        let extra = if criterion == Criterion::Reml { log_x } else { 0.0 };
        let criterion = log_det + extra + df * (1.0 + (2.0 * std::f64::consts::PI * residual).ln());
        let (mut fixed, mut se) = (vec![0.0; p], vec![0.0; p]);
        for i in (0..p).rev() {
            let known: f64 = (i + 1..p).map(|k| root[k][i] * fixed[k]).sum();
            fixed[i] = (root[p][i] - known) / root[i][i];
        }
        let top: Vec<Vec<f64>> = root[..p].iter().map(|r| r[..p].to_vec()).collect();
        for column in forward(&top, &identity(p)) {
            // Rows of R⁻¹: the squares of column j add up to the variance of effect j.
            column.iter().zip(&mut se).for_each(|(v, s)| *s += v * v * residual);
        }
        se.iter_mut().for_each(|s| *s = s.sqrt());
        Some(Profile { criterion, fixed, se, residual })
    }
}

fn zeros(rows: usize, columns: usize) -> Vec<Vec<f64>> {
    vec![vec![0.0; columns]; rows]
}

fn identity(n: usize) -> Vec<Vec<f64>> {
    (0..n).map(|i| (0..n).map(|j| f64::from(u8::from(i == j))).collect()).collect()
}

fn lower(theta: &[f64], q: usize) -> Vec<Vec<f64>> {
    let at = |i: usize, j: usize| if j <= i { theta[i * (i + 1) / 2 + j] } else { 0.0 };
    (0..q).map(|i| (0..q).map(|j| at(i, j)).collect()).collect()
}

fn add_outer(into: &mut [Vec<f64>], a: &[f64], b: &[f64]) {
    for (row, x) in into.iter_mut().zip(a) {
        row.iter_mut().zip(b).for_each(|(cell, y)| *cell += x * y);
    }
}

fn times(a: &[Vec<f64>], b: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let columns = b.first().map_or(0, Vec::len);
    a.iter().map(|row| (0..columns).map(|j| row.iter().zip(b).map(|(x, r)| x * r[j]).sum()).collect()).collect()
}

fn transposed_times(a: &[Vec<f64>], b: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let turned: Vec<Vec<f64>> = (0..a.len()).map(|j| a.iter().map(|row| row[j]).collect()).collect();
    times(&turned, b)
}

/// Lower Cholesky factor; `None` when the matrix is not positive definite.
fn lower_factor(a: &[Vec<f64>]) -> Option<Vec<Vec<f64>>> {
    let n = a.len();
    let mut flat = a.concat();
    cholesky::factor(&mut flat, n)?;
    Some((0..n).map(|i| (0..n).map(|j| if j <= i { flat[i * n + j] } else { 0.0 }).collect()).collect())
}

/// Solves L·X = B for a lower triangle L.
fn forward(root: &[Vec<f64>], b: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let mut x = b.to_vec();
    for i in 0..root.len() {
        for j in 0..x[i].len() {
            let known: f64 = (0..i).map(|k| root[i][k] * x[k][j]).sum();
            x[i][j] = (x[i][j] - known) / root[i][i];
        }
    }
    x
}
