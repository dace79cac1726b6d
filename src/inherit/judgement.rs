//! How the evidence is to be read, and what judging it comes to, as plain values.

use serde::Serialize;

use super::error_law::ScoringError;
use super::fit::CrossFit;
use super::judge::{MISFIT_P, own_fit};
use super::model::{BestGenotypes, Posterior};
use super::words::Reason;
use crate::error::{Error, Result, Warning};

/// Share of fish scored as another class where nothing better is known; invented.
pub const DEFAULT_ERROR: f64 = 0.01;

/// Recombination of a partially sex-linked locus where nothing better is known (Khoo et al. 1999
/// report 1.9 to 5.1 map units for guppy colour genes).
pub const DEFAULT_RECOMBINATION: f64 = 0.03;

/// How the wording rule calls a mode.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Not much worse than the best of the modes listed.
    Allowed,
    /// Ten to a thousand times less likely than the best, or worse without a cross that fails by itself.
    Disfavoured,
    /// A thousand times less likely, and a cross fails by itself.
    RuledOut,
    /// The crosses made cannot speak for or against it.
    NoBearing,
}

/// How the evidence is to be read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct JudgeOptions {
    /// Scoring error of young and breeders, 0..=0.5.
    pub error_rate: f64,
    /// The largest error rate that is thought possible; nothing is ruled out that this rate would save.
    pub largest_error: f64,
    /// Scoring error of founders' own class; `None` for the same.
    pub founder_error: Option<f64>,
}

impl JudgeOptions {
    /// One error rate for everything.
    pub fn new(error_rate: f64) -> Self {
        Self { error_rate, largest_error: error_rate, founder_error: None }
    }

    /// The scoring error these options mean.
    pub fn scoring(&self, classes: usize) -> ScoringError {
        self.at(self.error_rate, classes)
    }

    pub(super) fn at(&self, rate: f64, classes: usize) -> ScoringError {
        ScoringError { founders: self.founder_error.unwrap_or(rate), ..ScoringError::even(rate, classes) }
    }

    /// Rejects rates outside 0..=0.5, and a largest rate below the one used.
    ///
    /// # Errors
    /// Names the option, its value and the limits.
    pub fn check(&self) -> Result<()> {
        let rates = [
            ("--error-rate", self.error_rate),
            ("--largest-error", self.largest_error),
            ("--founder-error", self.founder_error.unwrap_or(0.0)),
        ];
        if let Some((name, rate)) = rates.into_iter().find(|(_, rate)| !(0.0..=0.5).contains(rate)) {
            return Err(Error::usage(name, format!("{rate} is not in 0 to 0.5"), "1 in 100 is 0.01"));
        }
        if self.largest_error < self.error_rate {
            let said = format!("{} is below the error rate of {}", self.largest_error, self.error_rate);
            let hint = "the largest rate thought possible is at least the one used: leave it out, or give a smaller --error-rate";
            return Err(Error::usage("--largest-error", said, hint));
        }
        Ok(())
    }
}

/// One mode, judged.
#[derive(Debug, Clone, PartialEq)]
pub struct ModeJudgement {
    /// Its name.
    pub mode: String,
    /// Natural logarithm; `-inf` when impossible.
    pub ln_likelihood: f64,
    /// Against the best of the modes listed; `-inf` when impossible.
    pub log10_bayes_factor: f64,
    /// Posterior weight over the modes listed, equal prior.
    pub weight: f64,
    /// Weight of the mode together with those it cannot be told apart from.
    pub group_weight: f64,
    /// After the wording rule.
    pub verdict: Verdict,
    /// Modes that predict the same in every cross made.
    pub same_as: Vec<String>,
    /// Genotype probabilities of the breeders.
    pub posterior: Posterior,
    /// The likeliest genotypes of all breeders together, which the fit is taken at; `None` where nothing fits.
    pub best: Option<BestGenotypes>,
    /// Fit to each cross.
    pub crosses: Vec<CrossFit>,
    /// Founders whose own class the mode never shows, with sex and class in words.
    pub never_shown: Vec<String>,
    /// Breeders whose own class the mode, given the counts, takes as mis-scored or may well; in the same words.
    pub mis_scored: Vec<String>,
    /// Whether the fit is taken at genotypes that show what every founder was scored as.
    pub founders_as_scored: bool,
    /// Why it is judged so.
    pub reason: Reason,
    /// The same in one sentence.
    pub because: String,
}

impl ModeJudgement {
    /// Whether it explains the counts with every founder's own class taken as scored.
    pub fn fits(&self) -> bool {
        self.never_shown.is_empty() && self.founders_as_scored && own_fit(&self.crosses) >= MISFIT_P
    }

    /// The genotype of each breeder that the fit is taken at, by its place; none where nothing fits.
    pub fn expected_at(&self) -> impl Iterator<Item = (usize, &str)> {
        let names = self.best.iter().flat_map(|best| best.names.iter().enumerate());
        names.filter_map(|(fish, name)| Some((fish, name.as_deref()?)))
    }

    /// Those of [`ModeJudgement::expected_at`] whose own class their genotype there does not show.
    pub fn expected_mis_scored(&self) -> impl Iterator<Item = (usize, &str)> {
        let mis_scored = |fish: usize| self.best.as_ref().is_some_and(|best| best.mis_scored.contains(&fish));
        self.expected_at().filter(move |(fish, _)| mis_scored(*fish))
    }

    /// Those of [`ModeJudgement::expected_at`] whom the counts, where a breeder may be mis-scored, make more probably another genotype.
    pub fn expected_otherwise(&self) -> impl Iterator<Item = (usize, &str)> {
        let likelier = |(fish, name): &(usize, &str)| {
            self.posterior.genotypes[*fish].iter().any(|g| g.genotype != *name && g.probability > 0.5)
        };
        self.expected_at().filter(likelier)
    }
}

/// All modes, judged together.
#[derive(Debug, Clone, PartialEq)]
pub struct Judgement {
    /// The axis.
    pub axis: String,
    /// The target class.
    pub target: String,
    /// The middle class, where three are told apart.
    pub middle: Option<String>,
    /// Names of the fish, in the order of each mode's posterior.
    pub fish: Vec<String>,
    /// Scoring error used.
    pub error_rate: f64,
    /// One entry a mode that could be weighed, in the order listed.
    pub modes: Vec<ModeJudgement>,
    /// Modes listed that would have taken too long, and broods left uncounted because every mode would have; each with the estimate.
    pub left_out: Vec<Warning>,
    /// No mode listed fits the counts by itself.
    pub refused: bool,
    /// One paragraph.
    pub verdict: String,
    /// What else could have made such counts.
    pub cautions: Vec<Warning>,
}

impl Judgement {
    /// The mode to show first: of the group with most weight, the likeliest; where some allowed mode explains the counts
    /// with the breeders as scored, of such modes only.
    ///
    /// A mode may weigh most only because it takes a parent as mis-scored, which costs it little: parents' classes are
    /// conditioned on. Two that show the target and have no young of it are the textbook sign of two loci, and no mode of
    /// one locus may lead then. Not simply the likeliest of all: where several modes cannot be told apart each holds only a share of what they
    /// hold together.
    pub fn lead(&self) -> &ModeJudgement {
        lead(&self.modes)
    }

    /// The same with word of a mode that would have taken too long.
    pub(super) fn without_mode(mut self, mode: &str, why: &Error) -> Self {
        self.left_out.push(Warning::new("mode-not-weighed", format!("{mode} is not weighed: {why}")));
        self
    }

    /// The same with word of a brood that every mode listed would have taken too long over.
    pub(super) fn without_brood(mut self, brood: &str, why: &Error) -> Self {
        self.left_out.push(Warning::new("brood-not-counted", format!("brood {brood} is not counted: {why}")));
        self.verdict += &format!(" Brood {brood} is not counted, because it would take too long.");
        self
    }
}

/// The first of the heaviest group, of those that fit where an allowed one does; judging takes at least one mode.
pub(super) fn lead(modes: &[ModeJudgement]) -> &ModeJudgement {
    let fitting: Vec<&ModeJudgement> = modes.iter().filter(|m| m.verdict == Verdict::Allowed && m.fits()).collect();
    heaviest(fitting.into_iter()).unwrap_or_else(|| heaviest(modes.iter()).unwrap_or(&modes[0]))
}

/// The first of the heaviest group.
pub(super) fn heaviest<'a>(mut modes: impl Iterator<Item = &'a ModeJudgement>) -> Option<&'a ModeJudgement> {
    let heavier = |a: &ModeJudgement, b: &ModeJudgement| {
        // Rounding must not decide between modes that predict the same.
        let gap = (b.group_weight - a.group_weight, b.ln_likelihood - a.ln_likelihood);
        gap.0 > 1e-9 || (gap.0 > -1e-9 && gap.1 > 1e-9)
    };
    let first = modes.next()?;
    Some(modes.fold(first, |best, m| if heavier(best, m) { m } else { best }))
}
