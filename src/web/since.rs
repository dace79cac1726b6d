//! At a brood's next sitting: what those that were undecided or too young last time have become, as counts.

use std::collections::BTreeMap;

use jiff::civil::Date;
use maud::{Markup, html};

use crate::book::sittings::Since;
use crate::counts::Why;

/// The part of the notebook page about the sitting before, which was on `day`. It unfolds by itself once every fish of
/// this sitting is scored: before that the numbers are on their way.
pub(super) fn since(day: Date, axes: &[Since]) -> Markup {
    let on_the_way = axes.iter().any(|a| a.open_now.contains_key(&Why::Unconfirmed));
    html! {
        details open[!on_the_way] {
            summary { "Since the last sitting, " (day) }
            dl { @for axis in axes { dt { (axis.axis) } dd { (became(axis)) } } }
            p.quiet {
                @if on_the_way { "Some fish of this sitting are not scored yet, so these numbers are on their way. " }
                "Single young are not told apart, only their numbers: what a class has more than last time must have come \
                 from those that were open then. A fish that left after it was scored still counts in its class."
            }
        }
    }
}

/// What became of one axis, as a sentence.
fn became(axis: &Since) -> Markup {
    html! {
        (open(&axis.open_then)) " open then; "
        @for class in &axis.classes {
            span.whole {
                (class.class) " " strong { (signed(class.became())) } " (" (class.then) " → " (class.now)
                @if class.left > 0 { ", " (class.left) " left" } ")"
            }
            "; "
        }
        @if (axis.moved, axis.died) != (0, 0) { (axis.moved) " moved and " (axis.died) " died unscored; " }
        (open(&axis.open_now)) " open now; "
        @match axis.missing() {
            0 => "all accounted for.",
            n @ 1.. => { (n) " not accounted for: not seen, or left and not written down." },
            n => { (-n) " more than last time: not seen then." },
        }
    }
}

fn open(open: &BTreeMap<Why, u32>) -> String {
    let all: u32 = open.values().sum();
    let each: Vec<String> = open.iter().map(|(why, n)| format!("{n} {}", why.words())).collect();
    if all == 0 { "none".to_owned() } else { format!("{all} ({})", each.join(", ")) }
}

/// A number with its sign; a true minus, as it is read out.
fn signed(n: i64) -> String {
    match n {
        0 => "0".to_owned(),
        1.. => format!("+{n}"),
        _ => format!("−{}", -n),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::book::sittings::ClassSince;

    fn class(class: &str, then: u32, left: u32, now: u32) -> ClassSince {
        ClassSince { class: class.into(), then, left, now }
    }

    #[test]
    fn what_the_open_ones_became_adds_up() {
        let axis = Since {
            axis: "red-body".into(),
            classes: vec![class("full", 9, 1, 12), class("absent", 3, 0, 6)],
            open_then: [(Why::Unsettled, 6), (Why::Undecided, 3)].into(),
            open_now: [(Why::Undecided, 1)].into(),
            moved: 1,
            died: 0,
        };
        // 12 + 1 - 9 = 4 became full, 6 - 3 = 3 absent, 1 is open still, 1 moved: 9.
        assert_eq!(axis.classes.iter().map(ClassSince::became).collect::<Vec<_>>(), [4, 3]);
        assert_eq!(axis.missing(), 0);
        let page = since(jiff::civil::date(2026, 3, 7), &[axis]).into_string();
        for text in [
            "+4",
            "(9 → 12, 1 left)",
            "+3",
            "9 (6 too young, 3 undecided) open then",
            "1 moved and 0 died",
            "all accounted for",
        ] {
            assert!(page.contains(text), "{text}: {page}");
        }
    }

    #[test]
    fn fewer_than_last_time_shows_a_minus() {
        assert_eq!((signed(-2), signed(0), signed(3)), ("−2".into(), "0".into(), "+3".into()));
    }
}
