//! Two axes together, as part of `inherit`: independence and linkage.

use serde_json::{Value, json};

use super::table::aligned;
use crate::book::scoring::JointCounts;
use crate::inherit::linkage::{independence, linkage};
use crate::inherit::{ModeJudgement, p_text};

/// Which fish joint counts are of, said with them.
pub(super) const BASIS: &str =
    "Only fish confirmed on both axes count here: counts by hand do not say which fish had both classes.";

/// One cross with both axes' expected shares of the target, where the best modes tell them.
pub(super) struct JointCross {
    counts: JointCounts,
    shares: Option<[f64; 2]>,
}

/// Joins the counts with what the best mode of each axis expects of the same cross.
pub(super) fn join(counts: Vec<JointCounts>, best: [&ModeJudgement; 2]) -> Vec<JointCross> {
    let share = |mode: &ModeJudgement, cross: &str| {
        let mut of_cross = mode.crosses.iter().filter(|c| c.cross == cross);
        let share = |c: &crate::inherit::CrossFit| c.expected[2] / c.expected.iter().sum::<f64>();
        let first = share(of_cross.next()?);
        of_cross.all(|c| (share(c) - first).abs() < 1e-9).then_some(first)
    };
    let one = |counts: JointCounts| {
        let shares = share(best[0], &counts.cross).zip(share(best[1], &counts.cross)).map(|(a, b)| [a, b]);
        JointCross { counts, shares }
    };
    counts.into_iter().map(one).collect()
}

impl JointCross {
    /// As JSON.
    pub(super) fn json(&self) -> Value {
        let c = self.counts.counts;
        let linkage = self.shares.and_then(|s| linkage(c, s));
        let estimates = linkage.iter().flat_map(|l| &l.estimates).map(|(phase, r)| {
            json!({"phase": phase, "recombination": r.rate, "standard_error": r.standard_error.is_finite().then_some(r.standard_error), "lod": r.lod})
        });
        json!({
            "cross": self.counts.cross,
            "counts": {"neither": c[0], "second": c[1], "first": c[2], "both": c[3]},
            "independence_p": independence(c).map(|f| f.p),
            "kind": linkage.as_ref().map(|l| l.kind),
            "linkage": estimates.collect::<Vec<_>>(),
        })
    }

    fn row(&self) -> Vec<String> {
        let c = self.counts.counts;
        let linkage = self.shares.and_then(|s| linkage(c, s));
        let estimates = linkage.iter().flat_map(|l| &l.estimates);
        let words: Vec<String> =
            estimates.map(|(phase, r)| format!("{:.3} {phase} (LOD {:.2})", r.rate, r.lod)).collect();
        let p = independence(c).map_or("–".to_owned(), |f| p_text(f.p));
        let cells = c.iter().map(u32::to_string).chain([p, words.join(", ")]);
        [self.counts.cross.clone()].into_iter().chain(cells).collect()
    }
}

/// The table of all crosses.
pub(super) fn table(crosses: &[JointCross]) -> String {
    if crosses.is_empty() {
        return "No fish is so far.\n".to_owned();
    }
    let head = ["cross", "neither", "second", "first", "both", "p of independence", "recombination"];
    aligned(&head, crosses.iter().map(JointCross::row).collect(), &[1, 2, 3, 4, 5])
}
