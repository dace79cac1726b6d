//! The limits of an axis as numbers that can be turned: what `sheet fit` works on.

use super::{Axis, Condition, Rule};
use crate::features::Feature;

/// One limit of an axis. Conditions that name the same feature and the same number turn together, so that classes stay
/// side by side.
#[derive(Debug, Clone, PartialEq)]
pub struct Knob {
    /// The feature it bounds.
    pub feature: Feature,
    /// Where it stands, in the feature's unit.
    pub at: f64,
}

/// The limits of an axis, each once, in the order of the sheet.
pub fn knobs(axis: &Axis) -> Vec<Knob> {
    let mut found: Vec<Knob> = Vec::new();
    let mut axis = axis.clone();
    each_end(&mut axis, &mut |feature, end| {
        let knob = Knob { feature: feature.clone(), at: *end };
        if !found.contains(&knob) {
            found.push(knob);
        }
    });
    found
}

/// The axis with the limits `from[i]` set to `to[i]`.
pub(super) fn turned(axis: &Axis, from: &[Knob], to: &[f64]) -> Axis {
    let mut axis = axis.clone();
    each_end(&mut axis, &mut |feature, end| {
        let knob = Knob { feature: feature.clone(), at: *end };
        if let Some(i) = from.iter().position(|k| *k == knob) {
            *end = to[i];
        }
    });
    axis
}

fn each_end(axis: &mut Axis, see: &mut impl FnMut(&Feature, &mut f64)) {
    for class in &mut axis.classes {
        if let Rule::When(conditions) = &mut class.rule {
            conditions.iter_mut().for_each(|c| each_end_of(c, see));
        }
    }
}

fn each_end_of(condition: &mut Condition, see: &mut impl FnMut(&Feature, &mut f64)) {
    match condition {
        Condition::Limit(limit) => {
            let feature = limit.feature.clone();
            [&mut limit.above, &mut limit.below].into_iter().flatten().for_each(|end| see(&feature, end));
        }
        Condition::AtLeast { of: parts, .. } | Condition::All(parts) | Condition::FirstKnown(parts) => {
            parts.iter_mut().for_each(|c| each_end_of(c, see));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sheet::Sheet;

    #[test]
    fn shared_limits_are_one_knob_and_turn_together() {
        let sheet = Sheet::starting().unwrap();
        let axis = sheet.axis("red-body").unwrap();
        let found = knobs(axis);
        assert_eq!(found.iter().map(|k| k.at).collect::<Vec<_>>(), [0.15, 0.03]);
        let after = turned(axis, &found, &[0.2, 0.05]);
        assert_eq!(knobs(&after).iter().map(|k| k.at).collect::<Vec<_>>(), [0.2, 0.05]);
        assert_eq!(knobs(sheet.axis("body-colour").unwrap()).len(), 3 + 3 + 4 + 1);
    }
}
