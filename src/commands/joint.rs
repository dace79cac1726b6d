//! Two axes together, as part of `inherit`: independence and linkage.

use serde_json::{Value, json};

use super::table::aligned;
use crate::book::scoring::JointCounts;
use crate::inherit::linkage::{Linkage, independence, linkage};
use crate::inherit::{JudgedAxis, cross_kind, p_text};
use crate::units::LEAST_P;

/// Which fish joint counts are of, said with them.
pub(super) const BASIS: &str =
    "Only fish confirmed on both axes count here: counts by hand do not say which fish had both classes.";

/// One cross with what its counts say of linkage, or why they say nothing.
pub(super) struct JointCross {
    counts: JointCounts,
    linkage: Result<Linkage, String>,
}

/// Joins the counts with what their cross is by the best genotypes of each axis.
pub(super) fn join(counts: Vec<JointCounts>, axes: [&JudgedAxis<'_>; 2]) -> Vec<JointCross> {
    let one = |counts: JointCounts| {
        let kind = cross_kind(&counts.cross, axes);
        let linkage = kind.and_then(|k| linkage(counts.counts, k).ok_or_else(|| "no fish counts".to_owned()));
        JointCross { counts, linkage }
    };
    counts.into_iter().map(one).collect()
}

impl JointCross {
    /// As JSON.
    pub(super) fn json(&self) -> Value {
        let c = self.counts.counts;
        let estimates = self.linkage.iter().flat_map(|l| &l.estimates).map(|(phase, r)| {
            json!({"phase": phase, "recombination": r.rate, "standard_error": r.standard_error.is_finite().then_some(r.standard_error), "lod": r.lod})
        });
        json!({
            "cross": self.counts.cross,
            "counts": {"neither": c[0], "second": c[1], "first": c[2], "both": c[3]},
            "independence_p": independence(c).map(|f| f.p.max(LEAST_P)),
            "kind": self.linkage.as_ref().ok().map(|l| l.kind.words()),
            "linkage": estimates.collect::<Vec<_>>(),
            "why_no_linkage": self.linkage.as_ref().err(),
        })
    }

    fn row(&self) -> Vec<String> {
        let c = self.counts.counts;
        let estimates = self.linkage.iter().flat_map(|l| &l.estimates);
        let words: Vec<String> =
            estimates.map(|(phase, r)| format!("{:.3} {phase} (LOD {:.2})", r.rate, r.lod)).collect();
        let p = independence(c).map_or("–".to_owned(), |f| p_text(f.p));
        let kind = self.linkage.as_ref().map_or("–", |l| l.kind.words());
        let cells = c.iter().map(u32::to_string).chain([p, kind.to_owned(), words.join(", ")]);
        [self.counts.cross.clone()].into_iter().chain(cells).collect()
    }
}

/// The table of all crosses, and below it those that say nothing of linkage.
pub(super) fn table(crosses: &[JointCross]) -> String {
    if crosses.is_empty() {
        return "No fish is so far.\n".to_owned();
    }
    let head = ["cross", "neither", "second", "first", "both", "p of independence", "kind", "recombination"];
    let silent = crosses.iter().filter_map(|c| Some((&c.counts.cross, c.linkage.as_ref().err()?)));
    let silent = silent.map(|(cross, why)| format!("{cross}: nothing can be said about linkage: {why}\n"));
    aligned(&head, crosses.iter().map(JointCross::row).collect(), &[1, 2, 3, 4, 5]) + &silent.collect::<String>()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cross_that_says_nothing_of_linkage_says_why() {
        let counts = JointCounts { cross: "K2".into(), counts: [10, 11, 9, 10] };
        let silent = JointCross { counts, linkage: Err("no parent is".into()) };
        assert!(silent.json()["kind"].is_null() && silent.json()["why_no_linkage"] == "no parent is");
        let text = table(&[silent]);
        assert!(text.ends_with("K2: nothing can be said about linkage: no parent is\n"), "{text}");
    }
}
