//! Fish that may be paired next, each with what stands in its way.

use jiff::civil::Date;

use super::Read;
use super::broods::{self, Brood};
use super::crosses::{self, Cross, Dam, Stay};
use super::fish::{self, Fish};
use crate::error::Result;
use crate::inherit::Evidence;
use crate::plan::Candidate;
use crate::units::{Sex, counted};

/// Stored sperm has fathered young about a year on in the laboratory (López-Sepulcre et al. 2013).
const STORED_DAYS: i32 = 365;

/// The fish of the evidence that can still be bred from, on the day `today`.
///
/// # Errors
/// The book cannot be read.
pub fn living(book: &Read<'_>, evidence: &Evidence, today: Date) -> Result<Vec<Candidate>> {
    let crosses = crosses::list(book)?;
    let broods = broods::list(book)?;
    let mut out = vec![];
    for one in fish::list(book)?.iter().filter(|f| f.available()) {
        let Some(fish) = evidence.breeders.iter().position(|b| b.fish == one.name) else { continue };
        let female = evidence.breeders[fish].sex == Sex::Female;
        let born = born(one, &broods);
        if born.is_some_and(|day| day > today) {
            continue;
        }
        let stored = if female { dam_warning(one, &crosses, today).or_else(|| stale_virgin(one, today)) } else { None };
        let warnings = stored.into_iter().chain(too_young(one, born, today)).collect();
        out.push(Candidate { fish, warnings });
    }
    Ok(out)
}

/// The first day on which a fish can have been born: its own, else that of its brood's drop.
fn born(fish: &Fish, broods: &[Brood]) -> Option<Date> {
    fish.born.or_else(|| broods::of_fish(broods, fish).and_then(|brood| brood.dropped_from.or(brood.dropped_to)))
}

/// Age in days below which a fish is called too young to be bred from: 90, common practice, no source; sexes and species
/// vary, and many breeders wait longer for females.
const TOO_YOUNG_DAYS: i32 = 90;

/// Whether a fish is too young, by the first day on which it can have been born.
fn too_young(fish: &Fish, born: Option<Date>, today: Date) -> Option<String> {
    let days = (today - born?).get_days();
    (days < TOO_YOUNG_DAYS).then(|| {
        format!(
            "{} is too young: {}, and most are bred from at about {TOO_YOUNG_DAYS} at the earliest",
            fish.name,
            counted(usize::try_from(days).unwrap_or(0), "day", "days")
        )
    })
}

/// For how many days a female known as a virgin is taken for one (starting value): she is known never to have been with a
/// male until that day, and afterwards nothing is said.
const VIRGIN_HOLDS_DAYS: i32 = 7;

/// Whether the day until which a female is known as a virgin is long past, and no isolation is recorded since.
fn stale_virgin(fish: &Fish, today: Date) -> Option<String> {
    let until = fish.virgin_on.filter(|_| fish.isolated_since.is_none())?;
    let days = (today - until).get_days();
    (days > VIRGIN_HOLDS_DAYS).then(|| {
        format!(
            "{} is known as a virgin only until {until}, {days} days ago: note it anew if she still is, or since when she is apart",
            fish.name
        )
    })
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
