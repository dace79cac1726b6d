//! Exact tests, intervals, goodness of fit, small-sample comparisons, regression and variance components.
//!
//! Everything works on plain numbers. Upper tails are computed as upper tails, never as one minus the rest, so that
//! small p-values keep their digits. Where "as extreme" can be read in several ways the ordering is an argument.

pub mod binomial;
pub mod cholesky;
pub mod factorial;
pub mod goodness;
pub mod interval;
pub mod kappa;
pub mod minimise;
pub mod mixed;
pub mod multinomial;
pub mod random;
pub mod ranks;
pub mod repeatability;
pub mod selection;
pub mod slope;
pub mod student;

pub use interval::Interval;
