//! A later sitting takes the place of an earlier one in the counts: what a reader has to know while little of it is confirmed.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::broods::Brood;
use super::tallies::{self, Case, Tally};
use crate::counts::Why;

/// Fish that counted at an earlier sitting and count no more, by its day; those that left after it still count, and are none of them.
#[derive(Debug, Default)]
pub(super) struct Replaced(BTreeMap<Date, u32>);

impl Replaced {
    /// Adds fish of one kind of an earlier sitting, so many outlines and so many fish.
    pub(super) fn add(&mut self, case: &Case<'_>, fish: (u32, u32)) {
        let mut then = Tally::default();
        tallies::sort_in(&mut then, case, fish);
        let number: u32 = then.scored.iter().map(|s| s.number).sum();
        if number > 0 {
            *self.0.entry(case.day).or_default() += number;
        }
    }

    /// Says in the tally of a brood that none of the latest sitting counts yet, or fewer than wait to be confirmed.
    pub(super) fn say(&self, tally: &mut Tally, latest: Option<Date>, brood: &Brood, axis: &str) {
        let Some((latest, (before, then))) = latest.zip(self.0.last_key_value()) else { return };
        // A count by hand, of no sitting, speaks for the latest.
        let counting = tally.scored.iter().filter(|s| s.place.sitting.is_none_or(|day| day == latest));
        let now: u32 = counting.map(|s| s.number).sum();
        let waiting = tally.open.iter().filter(|o| o.why == Why::Unconfirmed && o.place.sitting == Some(latest));
        let few = now < *then && now < waiting.map(|o| o.number).sum();
        let counts = match now {
            0 => "none of its fish counts".to_owned(),
            1 if few => "only 1 of its fish counts".to_owned(),
            _ if few => format!("only {now} of its fish count"),
            _ => return,
        };
        if now == 0 {
            tally.place_taken = Some((latest, *before));
        }
        tally.warnings.push(format!(
            "brood {}: the sitting of {latest} takes the place of {before}, but {counts} on {axis} yet; {then} counted then",
            brood.label
        ));
    }
}
