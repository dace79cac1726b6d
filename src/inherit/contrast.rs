//! How the target class differs from the others in a measured feature, with the brood as the unit.

use serde::Serialize;

use crate::stats::student::{Estimate, mean, variance, welch};

/// Confidence of every interval here.
pub const CONFIDENCE: f64 = 0.95;

/// One feature's values in one brood (one sitting of it): fish of the target class and the others.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct BroodValues {
    /// The brood.
    pub brood: String,
    /// Values of target fish.
    pub target: Vec<f64>,
    /// Values of their sibs.
    pub other: Vec<f64>,
}

/// What one step of the comparison rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Unit {
    /// Two or more broods, each with both classes.
    Brood,
    /// The sibs of the only brood with both classes: says nothing of other broods.
    Sib,
}

/// The difference between the classes.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Contrast {
    /// Broods with both classes.
    pub broods: usize,
    /// Target fish in them.
    pub target_fish: usize,
    /// Other fish in them.
    pub other_fish: usize,
    /// Mean over the broods of the others' mean.
    pub other_mean: f64,
    /// Mean over the broods of target less others.
    pub difference: f64,
    /// Lower end of the 95 % interval.
    pub low: f64,
    /// Upper end of the 95 % interval.
    pub high: f64,
    /// Brood or sib.
    pub unit: Unit,
}

/// Fewest fish of each class for the sibs of a single brood to be compared at all.
const FEWEST_SIBS: usize = 3;

/// The contrast of one feature; `None` where too few fish are measured.
pub fn contrast(broods: &[BroodValues]) -> Option<Contrast> {
    let both: Vec<&BroodValues> = broods.iter().filter(|b| !b.target.is_empty() && !b.other.is_empty()).collect();
    let others: Vec<f64> = both.iter().filter_map(|b| mean(&b.other)).collect();
    let differences: Vec<f64> = both.iter().filter_map(|b| Some(mean(&b.target)? - mean(&b.other)?)).collect();
    let (estimate, unit) = match both.as_slice() {
        [] => return None,
        [only] if only.target.len().min(only.other.len()) < FEWEST_SIBS => return None,
        [only] => (welch(&only.target, &only.other)?, Unit::Sib),
        more => {
            let n = more.len() as f64;
            let se = (variance(&differences)? / n).sqrt();
            (Estimate { value: mean(&differences)?, se, df: n - 1.0 }, Unit::Brood)
        }
    };
    let interval = estimate.interval(CONFIDENCE);
    Some(Contrast {
        broods: both.len(),
        target_fish: both.iter().map(|b| b.target.len()).sum(),
        other_fish: both.iter().map(|b| b.other.len()).sum(),
        other_mean: mean(&others)?,
        difference: estimate.value,
        low: interval.low,
        high: interval.high,
        unit,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn brood(target: &[f64], other: &[f64]) -> BroodValues {
        BroodValues { brood: "B".into(), target: target.to_vec(), other: other.to_vec() }
    }

    /// Student's sleep data through Welch's interval: R `t.test(extra ~ group, sleep)` gives -3.3655 to 0.2055.
    #[test]
    fn one_brood_is_compared_by_its_sibs() {
        let a = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0];
        let b = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4];
        let c = contrast(&[brood(&a, &b)]).unwrap();
        assert_eq!(c.unit, Unit::Sib);
        assert!((c.low + 3.365_483).abs() < 1e-5 && (c.high - 0.205_483_2).abs() < 1e-5, "{c:?}");
    }

    /// Three brood differences -1, -2, -3: mean -2, se 1/√3, t(2) 4.302653 (standard table).
    #[test]
    fn several_broods_count_once_each() {
        let broods =
            [brood(&[1.0, 1.0], &[2.0]), brood(&[1.0], &[3.0; 5]), brood(&[1.0; 9], &[4.0]), brood(&[9.0], &[])];
        let c = contrast(&broods).unwrap();
        assert_eq!((c.unit, c.broods, c.other_fish), (Unit::Brood, 3, 7));
        assert!((c.difference + 2.0).abs() < 1e-12);
        assert!((c.high - (-2.0 + 4.302_653 / 3.0_f64.sqrt())).abs() < 1e-5);
    }

    #[test]
    fn too_few_fish_are_not_compared() {
        assert_eq!(contrast(&[brood(&[1.0, 2.0], &[2.0, 3.0])]), None);
        assert_eq!(contrast(&[brood(&[], &[2.0, 3.0])]), None);
    }
}
