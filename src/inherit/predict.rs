//! Forward: what a planned cross is expected to give, on one axis or on up to three together.

use super::evidence::Sex;
use super::outlook::{Outlook, expected};

/// Expected classes of a planned cross on one axis: other, middle, target, by sex.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Forecast {
    /// Daughters; `None` where there are none.
    pub daughters: Option<[f64; 3]>,
    /// Sons.
    pub sons: Option<[f64; 3]>,
    /// Young of either sex.
    pub young: Option<[f64; 3]>,
    /// Share of daughters.
    pub share_of_daughters: f64,
}

impl Forecast {
    /// With the middle class counted as "other".
    pub fn lumped(self) -> Self {
        let lump = |row: Option<[f64; 3]>| row.map(|[other, middle, target]| [other + middle, 0.0, target]);
        Self { daughters: lump(self.daughters), sons: lump(self.sons), young: lump(self.young), ..self }
    }
}

/// The forecast of one mode's outlook.
pub fn forecast(outlook: &Outlook) -> Forecast {
    let total: f64 = outlook.iter().map(|c| c.probability).sum();
    let daughters: f64 = outlook.iter().map(|c| c.probability * c.law.daughters).sum();
    Forecast {
        daughters: expected(outlook, Some(Sex::Female)),
        sons: expected(outlook, Some(Sex::Male)),
        young: expected(outlook, None),
        share_of_daughters: if total > 0.0 { daughters / total } else { 0.5 },
    }
}

/// The forecasts of several modes mixed by weight.
pub fn mixed(forecasts: &[(f64, Forecast)]) -> Forecast {
    let mix = |row: fn(&Forecast) -> Option<[f64; 3]>| {
        let (mut sum, mut total) = ([0.0; 3], 0.0);
        for (weight, forecast) in forecasts {
            if let Some(p) = row(forecast) {
                total += weight;
                sum.iter_mut().zip(p).for_each(|(s, p)| *s += weight * p);
            }
        }
        (total > 0.0).then(|| sum.map(|s| s / total))
    };
    let total: f64 = forecasts.iter().map(|(w, _)| w).sum();
    let daughters: f64 = forecasts.iter().map(|(w, f)| w * f.share_of_daughters).sum();
    Forecast {
        daughters: mix(|f| f.daughters),
        sons: mix(|f| f.sons),
        young: mix(|f| f.young),
        share_of_daughters: if total > 0.0 { daughters / total } else { 0.5 },
    }
}

/// One combination of classes over several axes.
#[derive(Debug, Clone, PartialEq)]
pub struct Combination {
    /// One class index (other, middle, target) an axis.
    pub classes: Vec<usize>,
    /// Share among daughters.
    pub daughters: f64,
    /// Share among sons.
    pub sons: f64,
    /// Share among all young.
    pub young: f64,
}

/// All combinations of classes over unlinked axes, those that cannot come left out. Given the young's sex the axes are
/// independent; linked loci need a mode of their own.
pub fn combinations(axes: &[Forecast]) -> Vec<Combination> {
    let mut all = vec![Combination { classes: vec![], daughters: 1.0, sons: 1.0, young: 0.0 }];
    for axis in axes {
        let (daughters, sons) = (axis.daughters.unwrap_or_default(), axis.sons.unwrap_or_default());
        all = all
            .iter()
            .flat_map(|head| {
                (0..3).map(move |class| Combination {
                    classes: [head.classes.as_slice(), &[class]].concat(),
                    daughters: head.daughters * daughters[class],
                    sons: head.sons * sons[class],
                    young: 0.0,
                })
            })
            .collect();
    }
    let share = axes.first().map_or(0.5, |a| a.share_of_daughters);
    all.into_iter()
        .map(|c| Combination { young: share * c.daughters + (1.0 - share) * c.sons, ..c })
        .filter(|c| c.young > 0.0)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn quarter() -> Forecast {
        let row = Some([0.75, 0.0, 0.25]);
        Forecast { daughters: row, sons: row, young: row, share_of_daughters: 0.5 }
    }

    /// Mendel's dihybrid, 9:3:3:1, and three loci, 27:9:9:9:3:3:3:1 (textbook).
    #[test]
    fn unlinked_axes_multiply() {
        let two: Vec<f64> = combinations(&[quarter(); 2]).iter().map(|c| 16.0 * c.young).collect();
        assert_eq!(two, [9.0, 3.0, 3.0, 1.0]);
        let mut three: Vec<f64> = combinations(&[quarter(); 3]).iter().map(|c| 64.0 * c.young).collect();
        three.sort_by(f64::total_cmp);
        assert_eq!(three, [1.0, 3.0, 3.0, 3.0, 9.0, 9.0, 9.0, 27.0]);
    }

    #[test]
    fn a_sex_linked_axis_keeps_its_sexes_apart() {
        let sons_only = Forecast {
            daughters: Some([1.0, 0.0, 0.0]),
            sons: Some([0.0, 0.0, 1.0]),
            young: Some([0.5, 0.0, 0.5]),
            share_of_daughters: 0.5,
        };
        let both = combinations(&[sons_only, quarter()]);
        let target_both = both.iter().find(|c| c.classes == [2, 2]).unwrap();
        assert!((target_both.sons - 0.25).abs() < 1e-12 && target_both.daughters.abs() < 1e-12);
    }
}
