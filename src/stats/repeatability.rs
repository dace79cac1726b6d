//! How well repeated readings agree: variance components of a one-way and a two-way table, intraclass correlations,
//! within-subject spread and the smallest detectable difference.

use super::Interval;
use super::student::{f_critical, f_upper, t_critical};

/// 1.96·√2: the largest difference two readings of the same thing show in 95 of 100 cases, in units of the
/// within-subject standard deviation (Bland & Altman 1996, BMJ 313:744).
pub const DETECTABLE: f64 = 1.959_963_984_540_054 * std::f64::consts::SQRT_2;

/// One-way analysis of variance of subjects with repeated readings; the numbers of readings may differ.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OneWay {
    /// Mean square between subjects.
    pub between: f64,
    /// Mean square within subjects.
    pub within: f64,
    /// Degrees of freedom between subjects.
    pub between_df: f64,
    /// Degrees of freedom within subjects.
    pub within_df: f64,
    /// Effective number of readings a subject (the plain number when all have as many).
    pub readings: f64,
}

/// Splits the readings of each subject. `None` below two subjects or when no subject was read twice.
pub fn one_way(subjects: &[Vec<f64>]) -> Option<OneWay> {
    let sizes: Vec<f64> = subjects.iter().map(|s| s.len() as f64).filter(|n| *n > 0.0).collect();
    let (k, n) = (sizes.len() as f64, sizes.iter().sum::<f64>());
    if k < 2.0 || n <= k {
        return None;
    }
    let grand = subjects.iter().flatten().sum::<f64>() / n;
    let (mut between, mut within) = (0.0, 0.0);
    for subject in subjects.iter().filter(|s| !s.is_empty()) {
        let mean = subject.iter().sum::<f64>() / subject.len() as f64;
        between += subject.len() as f64 * (mean - grand).powi(2);
        within += subject.iter().map(|v| (v - mean).powi(2)).sum::<f64>();
    }
    Some(OneWay {
        between: between / (k - 1.0),
        within: within / (n - k),
        between_df: k - 1.0,
        within_df: n - k,
        // Sokal & Rohlf: n0 of a one-way table of unequal rows.
        readings: (n - sizes.iter().map(|s| s * s).sum::<f64>() / n) / (k - 1.0),
    })
}

impl OneWay {
    /// F of between against within.
    pub fn f(&self) -> f64 {
        self.between / self.within
    }

    /// P(F at least this large) when subjects do not differ.
    pub fn p(&self) -> f64 {
        f_upper(self.f(), self.between_df, self.within_df)
    }

    /// Variance among subjects; below zero when chance made readings of one subject differ more than subjects do.
    pub fn among(&self) -> f64 {
        (self.between - self.within) / self.readings
    }

    /// Within-subject standard deviation s_w.
    pub fn within_sd(&self) -> f64 {
        self.within.sqrt()
    }

    /// Smallest detectable difference of two single readings, 1.96·√2·s_w.
    pub fn smallest_detectable(&self) -> f64 {
        DETECTABLE * self.within_sd()
    }

    /// ICC(1,1), the repeatability: the share of the variance that lies among subjects.
    pub fn icc(&self) -> f64 {
        icc_of_f(self.f(), self.readings)
    }

    /// Exact interval of ICC(1,1) from the F distribution (Shrout & Fleiss 1979); near enough for unequal rows.
    pub fn icc_interval(&self, confidence: f64) -> Interval {
        let tail = (1.0 - confidence) / 2.0;
        let low = self.f() / f_critical(tail, self.between_df, self.within_df);
        let high = self.f() * f_critical(tail, self.within_df, self.between_df);
        Interval::new(icc_of_f(low, self.readings), icc_of_f(high, self.readings))
    }

    /// Spearman–Brown: ICC(1,k), the repeatability of the mean of `k` readings.
    pub fn icc_of_mean(&self, k: f64) -> f64 {
        let single = self.icc();
        k * single / (1.0 + (k - 1.0) * single)
    }
}

fn icc_of_f(f: f64, readings: f64) -> f64 {
    (f - 1.0) / (f + readings - 1.0)
}

/// Two-way table without repeats: every subject read once in every session (or by every judge, or in every photo).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoWay {
    /// Mean square between subjects (BMS).
    pub subjects: f64,
    /// Mean square between sessions (JMS).
    pub sessions: f64,
    /// Residual mean square (EMS).
    pub residual: f64,
    /// Number of subjects.
    pub n: f64,
    /// Number of sessions.
    pub k: f64,
}

/// Splits a full table, one row a subject. `None` below two rows or columns, or when rows differ in length.
pub fn two_way(rows: &[Vec<f64>]) -> Option<TwoWay> {
    let (n, k) = (rows.len(), rows.first()?.len());
    if n < 2 || k < 2 || rows.iter().any(|r| r.len() != k) {
        return None;
    }
    let (nf, kf) = (n as f64, k as f64);
    let grand = rows.iter().flatten().sum::<f64>() / (nf * kf);
    let row: Vec<f64> = rows.iter().map(|r| r.iter().sum::<f64>() / kf).collect();
    let column: Vec<f64> = (0..k).map(|j| rows.iter().map(|r| r[j]).sum::<f64>() / nf).collect();
    let spread = |means: &[f64]| means.iter().map(|m| (m - grand).powi(2)).sum::<f64>();
    let left = |i: usize, j: usize| (rows[i][j] - row[i] - column[j] + grand).powi(2);
    let residual: f64 = (0..n).flat_map(|i| (0..k).map(move |j| (i, j))).map(|(i, j)| left(i, j)).sum();
    Some(TwoWay {
        subjects: kf * spread(&row) / (nf - 1.0),
        sessions: nf * spread(&column) / (kf - 1.0),
        residual: residual / ((nf - 1.0) * (kf - 1.0)),
        n: nf,
        k: kf,
    })
}

impl TwoWay {
    /// ICC(2,1): sessions are a sample, absolute agreement of single readings (Shrout & Fleiss 1979).
    pub fn icc_agreement(&self) -> f64 {
        let extra = self.k * (self.sessions - self.residual) / self.n;
        (self.subjects - self.residual) / (self.subjects + (self.k - 1.0) * self.residual + extra)
    }

    /// ICC(3,1): differences between sessions left out, consistency of single readings.
    pub fn icc_consistency(&self) -> f64 {
        (self.subjects - self.residual) / (self.subjects + (self.k - 1.0) * self.residual)
    }

    /// ICC(2,k): agreement of the means over all sessions.
    pub fn icc_agreement_of_means(&self) -> f64 {
        (self.subjects - self.residual) / (self.subjects + (self.sessions - self.residual) / self.n)
    }

    /// ICC(3,k): consistency of the means over all sessions.
    pub fn icc_consistency_of_means(&self) -> f64 {
        (self.subjects - self.residual) / self.subjects
    }

    /// Degrees of freedom of the residual.
    pub fn residual_df(&self) -> f64 {
        (self.n - 1.0) * (self.k - 1.0)
    }
}

/// Bland & Altman (1986): agreement of two methods on the same subjects.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Agreement {
    /// Mean difference, first less second.
    pub mean: f64,
    /// Standard deviation of the differences.
    pub sd: f64,
    /// Number of subjects.
    pub n: f64,
}

/// Differences of paired readings. `None` below two pairs.
///
/// # Panics
/// When the slices differ in length.
pub fn bland_altman(first: &[f64], second: &[f64]) -> Option<Agreement> {
    let mean = super::student::paired(first, second)?;
    let n = first.len() as f64;
    Some(Agreement { mean: mean.value, sd: mean.se * n.sqrt(), n })
}

impl Agreement {
    /// Interval of the mean difference.
    pub fn mean_interval(&self, confidence: f64) -> Interval {
        Interval::around(self.mean, t_critical(confidence, self.n - 1.0) * self.sd / self.n.sqrt())
    }

    /// Limits of agreement: mean ± `factor` standard deviations (1.96; the 1986 paper rounds to 2).
    pub fn limits(&self, factor: f64) -> Interval {
        Interval::around(self.mean, factor * self.sd)
    }

    /// Half-width of the interval of either limit, whose standard error is √(3 s²/n).
    pub fn limit_half_width(&self, confidence: f64) -> f64 {
        t_critical(confidence, self.n - 1.0) * (3.0 / self.n).sqrt() * self.sd
    }
}
