//! Scoring error: what is seen, given what is there.

use super::evidence::Class;
use super::space::{ClassLaw, Space};

/// How often a fish of one class is scored as another, spread evenly over the others.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScoringError {
    /// For counted young, in 0..=0.5.
    pub young: f64,
    /// For the own class of breeders out of broods.
    pub breeders: f64,
    /// For founders' own class.
    pub founders: f64,
    /// Classes told apart: 2 (the middle class is "other") or 3.
    pub classes: usize,
}

impl ScoringError {
    /// One rate for all.
    pub fn even(rate: f64, classes: usize) -> Self {
        Self { young: rate, breeders: rate, founders: rate, classes }
    }

    /// Collapses classes first where two are told apart, then lets the error of the young act.
    pub(super) fn seen(&self, truth: [f64; 3]) -> [f64; 3] {
        let [other, middle, target] = truth;
        let (kept, e) = (1.0 - self.young, self.young);
        if self.classes == 2 {
            let other = other + middle;
            return [other * kept + target * e, 0.0, target * kept + other * e];
        }
        let total = other + middle + target;
        truth.map(|p| p * kept + (total - p) * e / 2.0)
    }

    /// Probability that a fish of class `truth` is scored as `seen`, at the given rate.
    fn scored(&self, rate: f64, truth: Class, seen: Class) -> f64 {
        let collapse = |c: Class| if self.classes == 2 && c == Class::Middle { Class::Other } else { c };
        if collapse(truth) == collapse(seen) { 1.0 - rate } else { rate / (self.classes - 1) as f64 }
    }

    /// Probability that a breeder out of a brood is scored as `seen`.
    pub(super) fn breeder_scored(&self, truth: Class, seen: Class) -> f64 {
        self.scored(self.breeders, truth, seen)
    }

    /// ln of what it costs that a breeder was scored as `seen` when its brood can only be of the classes of `laws`: nothing
    /// where one of them holds that class, else a mistake.
    pub(super) fn ln_only_by_mistake(&self, mut laws: impl Iterator<Item = [f64; 3]>, seen: Class) -> f64 {
        let right = |truth: &Class| self.scored(0.0, *truth, seen) > 0.0;
        let shows = |law: [f64; 3]| Class::ALL.iter().filter(|c| right(c)).any(|c| law[c.index()] > 0.0);
        if laws.any(shows) { 0.0 } else { (self.breeders / (self.classes - 1) as f64).ln() }
    }

    /// Probability that a founder is scored as `seen`.
    pub(super) fn founder_scored(&self, truth: Class, seen: Class) -> f64 {
        self.scored(self.founders, truth, seen)
    }

    /// A law as it is seen, row by row.
    pub fn seen_law(&self, law: &ClassLaw) -> [Option<[f64; 3]>; 3] {
        law.rows.map(|row| row.map(|p| self.seen(p)))
    }

    /// All distinct laws of a space as they are seen.
    pub(super) fn seen_laws(&self, space: &Space) -> Vec<[Option<[f64; 3]>; 3]> {
        space.laws().iter().map(|law| self.seen_law(law)).collect()
    }
}
