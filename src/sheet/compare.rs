//! Two sheets on the same measured fish: what would be proposed otherwise.

use std::collections::BTreeMap;

use serde::Serialize;

use super::{Sheet, Subject, propose};
use crate::features::Features;

/// One measured fish with the name it is told by.
#[derive(Debug, Clone, PartialEq)]
pub struct Stored {
    /// Photo and number, or whatever tells it apart.
    pub name: String,
    /// What was measured.
    pub features: Features,
    /// What is known of it.
    pub subject: Subject,
}

/// What two sheets say about one axis that both have.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct AxisComparison {
    /// The axis.
    pub axis: String,
    /// Fish with the same class under both.
    pub same: usize,
    /// `from → to` and how many fish.
    pub changes: BTreeMap<String, usize>,
    /// The fish that change: name, class under the first sheet, class under the second.
    pub changed: Vec<(String, String, String)>,
}

/// Compares two sheets on fish measured once. Colour limits act when a photo is measured, so sheets whose `[limits]`
/// differ are compared on their conditions alone; [`same_limits`] says whether that is the whole story.
pub fn compare(a: &Sheet, b: &Sheet, fish: &[Stored]) -> Vec<AxisComparison> {
    let both: Vec<&str> = a.axes.iter().map(|x| x.name.as_str()).filter(|n| b.axis(n).is_some()).collect();
    let mut table: Vec<AxisComparison> =
        both.iter().map(|n| AxisComparison { axis: (*n).to_owned(), ..AxisComparison::default() }).collect();
    for one in fish {
        let (first, second) = (propose(a, &one.features, &one.subject), propose(b, &one.features, &one.subject));
        for row in &mut table {
            let of = |proposals: &[super::Proposal]| {
                proposals.iter().find(|p| p.axis == row.axis).map(|p| p.class.clone()).unwrap_or_default()
            };
            let (from, to) = (of(&first), of(&second));
            if from == to {
                row.same += 1;
            } else {
                *row.changes.entry(format!("{from} → {to}")).or_default() += 1;
                row.changed.push((one.name.clone(), from, to));
            }
        }
    }
    table
}

/// Whether both sheets call the same pixels red, black, reflective.
pub fn same_limits(a: &Sheet, b: &Sheet) -> bool {
    a.limits == b.limits
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::features::Shares;
    use crate::sheet::{STARTING, parse};

    #[test]
    fn only_what_changes_is_named() {
        let a = Sheet::starting().unwrap();
        let text = STARTING
            .replace("red_share.trunk\", above = 0.15", "red_share.trunk\", above = 0.30")
            .replace("red_share.trunk\", above = 0.03, below = 0.15", "red_share.trunk\", above = 0.03, below = 0.30");
        let b = parse("b", &text).unwrap();
        let stored = |name: &str, share: f64| Stored {
            name: name.to_owned(),
            features: Features {
                red_share: Shares { trunk: Some(share), finnage: Some(share), fish: Some(share) },
                ..Features::default()
            },
            subject: Subject::default(),
        };
        let table = compare(&a, &b, &[stored("p#1", 0.5), stored("p#2", 0.22), stored("p#3", 0.0)]);
        let red = table.iter().find(|r| r.axis == "red-body").unwrap();
        assert_eq!((red.same, red.changed.len()), (2, 1));
        assert_eq!(red.changed[0], ("p#2".to_owned(), "full".to_owned(), "reduced".to_owned()));
        assert_eq!(red.changes["full → reduced"], 1);
        assert!(table.iter().filter(|r| r.axis != "red-body").all(|r| r.changed.is_empty()));
        assert!(same_limits(&a, &b));
    }
}
