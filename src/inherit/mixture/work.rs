//! What a brood's integrals take, the cheaper of two ways to each, and the limit beyond which a mode is not judged by it.

use super::super::{expansion, shares};
use super::{DamLaws, Mixture};
use crate::command_line::to_type;
use crate::error::{Error, Result};
use crate::units::counted;

/// How often judging a mode works through all broods at most: for likelihoods at both error rates and the genotypes, the best genotypes with
/// breeders as scored and not, the number of fish that must be mis-scored, and which modes are alike.
pub(in crate::inherit) const PASSES: f64 = 12.0;

/// What is read off for a fish without counted young is worked out once.
pub(in crate::inherit) const ONCE: f64 = 1.0;

/// Most steps that the integrals of all broods together may need where a mode is judged. About a minute of one core, at the 0.1 µs a step that
/// `docs/performance.md` gives.
const WORK_LIMIT: f64 = 6e8;

/// Degree of the polynomial that a scaled integrand is taken for at least: it brings 24 nodes; 16 are off by 1e-6.
const SCALED_DEGREE: usize = 46;

/// How a brood's integral is worked out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Route {
    /// Over the dams' shares in closed form or along the mixed share alone.
    Closed,
    /// Over every share by itself.
    Quadrature,
}

impl Mixture<'_> {
    /// The steps that the integrals over all these kinds take so many times over; refuses a brood for which they are too many after those
    /// that others take.
    ///
    /// # Errors
    /// States the estimate and the limit.
    pub(in crate::inherit) fn check_cost<'k>(
        &self,
        brood: &str,
        kinds: impl Iterator<Item = &'k Vec<DamLaws>>,
        (times, others): (f64, f64),
    ) -> Result<f64> {
        let work = times * kinds.map(|laws| self.work(laws)).sum::<f64>();
        if others + work <= WORK_LIMIT {
            return Ok(work);
        }
        let of = counted(self.dams, "possible dam", "possible dams");
        let after = if others > 0.0 { format!(" after {others:.0e} for others") } else { String::new() };
        let message = format!("its {of} would take about {work:.0e} steps{after}, the limit is {WORK_LIMIT:.0e}");
        Err(Error::too_dear(format!("brood {brood}"), message, fewer_dams(brood)))
    }

    /// Steps that the factor takes for dams of these laws.
    fn work(&self, laws: &[DamLaws]) -> f64 {
        self.route(laws).1 + self.alone.as_ref().map_or(0.0, |alone| alone.work(laws))
    }

    /// The cheaper way to the integral for dams of these laws, and its steps.
    pub(super) fn route(&self, laws: &[DamLaws]) -> (Route, f64) {
        let grid = shares::node_count(self.quadrature_degree(laws)) as f64;
        let axes = self.groups(laws).len() - 1 + usize::from(self.has_earlier());
        let quadrature = grid.powf(axes as f64);
        let closed = self.closed_work();
        if closed < quadrature && !self.is_scaled(laws) {
            (Route::Closed, closed)
        } else {
            (Route::Quadrature, quadrature)
        }
    }

    pub(super) fn closed_work(&self) -> f64 {
        let earlier = if self.has_earlier() { shares::node_count(self.degree) as f64 } else { 1.0 };
        let knots = (self.dams + self.kids.len()) as f64;
        let one = if self.two_classes {
            knots * self.mixed_grid() as f64
        } else {
            self.dams as f64 * expansion::size(self.exponents.iter().flatten().map(|n| f64::from(*n)))
        };
        earlier * one * (self.dams as f64).powf(self.kids.len() as f64)
    }

    /// Nodes for each stretch of the mixed share of [`spline::ln_expectation`].
    pub(super) fn mixed_grid(&self) -> usize {
        shares::node_count(self.degree + self.dams)
    }

    pub(super) fn quadrature_degree(&self, laws: &[DamLaws]) -> usize {
        if self.is_scaled(laws) { self.degree.max(SCALED_DEGREE) } else { self.degree }
    }
}

/// What makes a brood of many possible parents cheaper.
pub(in crate::inherit) fn fewer_dams(brood: &str) -> String {
    format!("name the dams that it may be of: broodhue brood set {} --dam NAME", to_type(brood))
}

#[cfg(test)]
mod tests {
    use super::super::super::evidence::Counts;
    use super::super::super::seen::SeenLaws;
    use super::*;

    #[test]
    fn the_broods_of_a_mode_share_its_time_and_are_called_what_commands_take() {
        let all = vec![[Some([0.5, 0.0, 0.5]); 3]];
        let seen = SeenLaws { young: all.clone(), breeders: all.clone(), certain: all };
        let counts = Counts { unsexed: [2, 0, 1], ..Counts::default() };
        let mixture = Mixture::new(&seen, (2, vec![0, 1]), &counts, &[]);
        let kinds = [vec![(0, Some(0)); 2]];
        let after = |others: f64| mixture.check_cost("K/1", kinds.iter(), (PASSES, others));
        assert!(after(0.0).unwrap() < WORK_LIMIT);
        let why = after(WORK_LIMIT).unwrap_err().to_string();
        assert!(why.contains("after 6e8 for others, the limit is 6e8"), "{why}");
        assert!(why.ends_with("broodhue brood set K/1 --dam NAME"), "{why}");
    }
}
