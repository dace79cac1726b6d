//! Fish that may be paired next, each with what stands in its way.

use std::collections::BTreeSet;

use jiff::civil::Date;

use super::Read;
use super::broods::{self, Brood};
use super::fish::{self, Fish};
use super::mates::{self, Mate, STORED_DAYS};
use crate::error::Result;
use crate::inherit::Evidence;
use crate::plan::Candidate;
use crate::units::{Sex, counted};

/// The fish of the evidence that can still be bred from, on the day `today`.
///
/// # Errors
/// The book cannot be read.
pub fn living(book: &Read<'_>, evidence: &Evidence, today: Date) -> Result<Vec<Candidate>> {
    let broods = broods::list(book)?;
    let mates = mates::of_dams(book)?;
    let place = |name: &str| evidence.breeders.iter().position(|b| b.fish == name);
    let mut out = vec![];
    for one in fish::list(book)?.iter().filter(|f| f.available()) {
        let Some(fish) = place(&one.name) else { continue };
        let own = mates.get(&one.name).map_or(&[][..], Vec::as_slice);
        let female = evidence.breeders[fish].sex == Sex::Female;
        let born = born(one, &broods);
        if born.is_some_and(|day| day > today) {
            continue;
        }
        let stored = if female { dam_warning(one, own, today).or_else(|| stale_virgin(one, today)) } else { None };
        let warnings = too_young(one, born, today).into_iter().collect();
        out.push(Candidate { fish, warnings, stored, only_mate: only_mate(own, today).and_then(place) });
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

/// The male who alone was with a female in the time in which sperm is stored.
fn only_mate(mates: &[Mate], today: Date) -> Option<&str> {
    let mut recent = mates.iter().filter(|m| m.undated() || m.stored_until(today)).map(|m| m.sire.as_deref());
    let first = recent.next()??;
    recent.all(|sire| sire == Some(first)).then_some(first)
}

/// Whether some other male's sperm may still be at work.
fn dam_warning(fish: &Fish, mates: &[Mate], today: Date) -> Option<String> {
    let name = &fish.name;
    let since = fish.isolated_since;
    // Isolated, and then with a male again: the earlier day says nothing any more.
    let again = |since| mates.iter().any(|m| was_with_him_after(m, since));
    if let Some(since) = since.filter(|since| !again(*since)) {
        let days = (today - since).get_days();
        let text =
            format!("{name} has been apart from males for {days} days; stored sperm can father young for about a year");
        return (days < STORED_DAYS).then_some(text);
    }
    let crosses: BTreeSet<&str> = mates.iter().map(|m| m.cross.as_str()).collect();
    if !crosses.is_empty() {
        let crosses: Vec<&str> = crosses.into_iter().collect();
        return Some(format!(
            "{name} is not a virgin (dam of {}): isolate her, or judge the brood as of two sires",
            crosses.join(", ")
        ));
    }
    fish.virgin_on.is_none().then(|| format!("{name} is not recorded as a virgin"))
}

/// Whether their days begin or end after the day on which a female was isolated; those that ended on that day led up to it.
fn was_with_him_after(mate: &Mate, isolated: Date) -> bool {
    mate.together.day_in.is_some_and(|day| day >= isolated) || mate.together.day_out.is_some_and(|day| day > isolated)
}
