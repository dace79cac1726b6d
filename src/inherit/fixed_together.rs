//! Does a line breed true on several axes at once?
//!
//! A hidden recessive on each axis has to show. With unlinked genes the chances multiply; whatever the linkage, all show
//! at least as often as one less the sum of the chances of missing each (Bonferroni's bound).

use serde::Serialize;

use super::fixed::{Fixed, more_needed, would_have_shown};
use crate::stats::interval::upper_limit;
use crate::units::joined;

/// One cross whose young were scored on every axis.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TogetherCross {
    /// The cross.
    pub cross: String,
    /// Scored young, one number an axis.
    pub young: Vec<u32>,
    /// Probability that recessives hidden in both parents would have shown on every axis, if the genes are not linked, by the pair with
    /// the fewest young.
    pub would_have_shown: f64,
    /// The same at the least, however the genes are linked.
    pub at_least: f64,
    /// How many more young, scored on every axis, would raise `would_have_shown` to 95 %.
    pub more_for_95: u32,
    /// The same for 99 %.
    pub more_for_99: u32,
}

/// What the young say of a line on several axes at once.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Together {
    /// Crosses within the line that were scored on every axis.
    pub crosses: Vec<TogetherCross>,
    /// Each axis has scored young, and on none of them anything speaks against the line's breeding true.
    pub no_exception: bool,
    /// Share of young that may be exceptions on one axis or another: the sum of the axes' one-sided limits, each at
    /// 95 % shared out between the axes, whatever the linkage. `None` where an axis has no young.
    pub upper_share: Option<f64>,
    /// Young of one pair, scored on every axis, that show hidden recessives on all of them with 95 %, unlinked.
    pub young_for_95: u32,
    /// The same for 99 %.
    pub young_for_99: u32,
    /// One paragraph.
    pub verdict: String,
}

/// Joins what each axis says by itself; `axes` holds at least two.
pub fn together(line: &str, axes: &[Fixed]) -> Together {
    let names: Vec<&str> = axes.first().iter().flat_map(|a| &a.crosses).map(|c| c.cross.as_str()).collect();
    let crosses: Vec<TogetherCross> = names.iter().filter_map(|name| cross(name, axes)).collect();
    let none = vec![1.0; axes.len()];
    let level = 1.0 - 0.05 / axes.len() as f64;
    let limit = |a: &Fixed| (a.young > 0).then(|| upper_limit(u64::from(a.exceptions), u64::from(a.young), level));
    let mut out = Together {
        crosses,
        no_exception: axes.iter().all(Fixed::unbroken),
        upper_share: axes.iter().map(limit).sum::<Option<f64>>().map(|share| share.min(1.0)),
        young_for_95: more_needed(&none, 0.95),
        young_for_99: more_needed(&none, 0.99),
        verdict: String::new(),
    };
    out.verdict = words(line, axes, &out);
    out
}

fn cross(name: &str, axes: &[Fixed]) -> Option<TogetherCross> {
    let on_axes: Vec<_> = axes.iter().map(|a| a.crosses.iter().find(|c| c.cross == name)).collect::<Option<_>>()?;
    let missed: Vec<f64> = on_axes.iter().map(|c| 1.0 - c.would_have_shown).collect();
    Some(TogetherCross {
        cross: name.to_owned(),
        would_have_shown: would_have_shown(&missed, 0),
        at_least: (1.0 - missed.iter().sum::<f64>()).max(0.0),
        more_for_95: more_needed(&missed, 0.95),
        more_for_99: more_needed(&missed, 0.99),
        young: on_axes.iter().map(|c| c.young).collect(),
    })
}

fn words(line: &str, axes: &[Fixed], found: &Together) -> String {
    let list: Vec<String> = axes.iter().map(|a| format!("{} {}", a.axis, a.class)).collect();
    let list = joined(&list, "and");
    let needed = format!(
        "{} young of one pair, scored on every axis, would show recessives hidden in both parents on all of them with 95 %, {} \
         with 99 %, if the genes are not linked; a recessive that only one parent carries never shows in such a cross.",
        found.young_for_95, found.young_for_99
    );
    let Some(upper) = found.upper_share else {
        return format!(
            "Nothing supports yet that {line} breeds true for {list} at once: an axis has no scored young. {needed}"
        );
    };
    if !found.no_exception {
        return format!(
            "{line} is not said to breed true for {list} at once: see the axis that something speaks against."
        );
    }
    let enough: Vec<&str> = found.crosses.iter().filter(|c| c.more_for_95 == 0).map(|c| c.cross.as_str()).collect();
    let support = if enough.is_empty() {
        "no cross has young enough on every axis yet".to_owned()
    } else {
        format!("supported by {}", enough.join(", "))
    };
    format!(
        "So far {line} breeds true for {list} at once ({support}); at most {:.1} % of its young are exceptions on one axis or \
         another (one-sided 95 % limit, whatever the linkage). {needed}",
        100.0 * upper
    )
}

#[cfg(test)]
mod tests {
    use super::super::fixed::FixedCross;
    use super::*;

    fn axis(name: &str, crosses: &[(&str, u32, u32)]) -> Fixed {
        let crosses: Vec<FixedCross> = crosses
            .iter()
            .map(|(cross, young, of_class)| FixedCross {
                cross: (*cross).to_owned(),
                young: *young,
                of_class: *of_class,
                young_of_pair: *young,
                would_have_shown: 1.0 - 0.75_f64.powf(f64::from(*young)),
                more_for_95: 0,
                more_for_99: 0,
            })
            .collect();
        let young = crosses.iter().map(|c| c.young).sum();
        let exceptions = crosses.iter().map(|c| c.young - c.of_class).sum();
        Fixed {
            axis: name.to_owned(),
            class: "absent".to_owned(),
            crosses,
            young,
            exceptions,
            left_out: vec![],
            scored_otherwise: vec![],
            outcrosses: vec![],
            sex_linked: vec![],
            upper_share: None,
            young_for_95: None,
            young_for_99: None,
            verdict: String::new(),
        }
    }

    /// By hand: (1 - 0.75^12)^2 = 0.938, (1 - 0.75^13)^2 = 0.953; (1 - 0.75^18)^2 = 0.989, (1 - 0.75^19)^2 = 0.992. One axis
    /// alone: 11 and 17, as 0.75^10 = 0.056 and 0.75^16 = 0.01002.
    #[test]
    fn two_axes_need_a_few_young_more_than_one() {
        let found =
            together("L", &[axis("red-body", &[("K4", 13, 13)]), axis("yellow", &[("K4", 13, 13), ("K5", 9, 9)])]);
        assert_eq!((found.young_for_95, found.young_for_99), (13, 19));
        assert_eq!((more_needed(&[1.0], 0.95), more_needed(&[1.0], 0.99)), (11, 17));
        assert_eq!(found.crosses.len(), 1, "K5 was not scored on red-body");
        let cross = &found.crosses[0];
        assert_eq!((cross.more_for_95, cross.more_for_99), (0, 6));
        assert!((cross.would_have_shown - 0.953_050).abs() < 1e-6 && (cross.at_least - 0.952_485).abs() < 1e-6);
        // 1 - 0.025^(1/13) + 1 - 0.025^(1/22), one-sided limits of 0 of 13 and 0 of 22 at 97.5 %.
        let upper = 2.0 - 0.025_f64.powf(1.0 / 13.0) - 0.025_f64.powf(1.0 / 22.0);
        assert!((found.upper_share.unwrap() - upper).abs() < 1e-9);
        assert!(found.verdict.contains("supported by K4"), "{}", found.verdict);
    }

    #[test]
    fn one_exception_or_one_empty_axis_is_no_support() {
        let found = together("L", &[axis("red-body", &[("K4", 13, 12)]), axis("yellow", &[("K4", 13, 13)])]);
        assert!(!found.no_exception && found.verdict.contains("is not said to breed true"));
        let found = together("L", &[axis("red-body", &[]), axis("yellow", &[("K4", 13, 13)])]);
        assert!(found.upper_share.is_none() && found.verdict.contains("no scored young"));
    }
}
