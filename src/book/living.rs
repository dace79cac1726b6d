//! Fish that may be paired next, each with what stands in its way.

use jiff::civil::Date;

use super::Read;
use super::crosses::{self, Cross, Dam, Stay};
use super::fish::{self, Fish};
use crate::error::Result;
use crate::inherit::Evidence;
use crate::plan::Candidate;
use crate::units::Sex;

/// Stored sperm has fathered young about a year on in the laboratory (López-Sepulcre et al. 2013).
const STORED_DAYS: i32 = 365;

/// The fish of the evidence that can still be bred from, on the day `today`.
///
/// # Errors
/// The book cannot be read.
pub fn living(book: &Read<'_>, evidence: &Evidence, today: Date) -> Result<Vec<Candidate>> {
    let crosses = crosses::list(book)?;
    let mut out = vec![];
    for one in fish::list(book)?.iter().filter(|f| f.available()) {
        let Some(fish) = evidence.breeders.iter().position(|b| b.fish == one.name) else { continue };
        let female = evidence.breeders[fish].sex == Sex::Female;
        let warnings = if female { dam_warning(one, &crosses, today).into_iter().collect() } else { vec![] };
        out.push(Candidate { fish, warnings });
    }
    Ok(out)
}

/// Whether some other male's sperm may still be at work.
fn dam_warning(fish: &Fish, crosses: &[Cross], today: Date) -> Option<String> {
    let name = &fish.name;
    let own = |dam: &Dam| matches!(dam, Dam::Fish(dam) if dam == name);
    let stays: Vec<(&Cross, Stay)> = crosses
        .iter()
        .flat_map(|c| c.dams.iter().filter(|(dam, _)| own(dam)).map(move |(_, stay)| (c, *stay)))
        .collect();
    let since = fish.isolated_since;
    // Isolated, and then with a male again: the earlier day says nothing any more.
    let again = stays.iter().find(|(_, stay)| since.is_some_and(|since| was_with_a_male_after(*stay, since)));
    if let (Some(since), None) = (since, again) {
        let days = (today - since).get_days();
        let text =
            format!("{name} has been apart from males for {days} days; stored sperm can father young for about a year");
        return (days < STORED_DAYS).then_some(text);
    }
    match (again.or(stays.first()), fish.virgin_on) {
        (Some((cross, _)), _) => Some(format!(
            "{name} is not a virgin (dam of {}): isolate her, or judge the brood as of two sires",
            cross.name
        )),
        (None, None) => Some(format!("{name} is not recorded as a virgin")),
        (None, Some(_)) => None,
    }
}

/// Whether a stay begins or ends after the day on which a female was isolated; one that ended on that day led up to it.
fn was_with_a_male_after(stay: Stay, isolated: Date) -> bool {
    stay.day_in.is_some_and(|day| day >= isolated) || stay.day_out.is_some_and(|day| day > isolated)
}
