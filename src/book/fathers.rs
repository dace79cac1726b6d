//! Which males can have fathered a dam's brood, by their days together and the days of the drop.

use std::collections::BTreeSet;

use jiff::ToSpan;
use jiff::civil::Date;

use super::broods::{Brood, EarlierSire};
use super::crosses::Stay;
use super::mates::Mate;
use super::possible_dams::PossibleDam;
use super::stays::overlap;
use crate::command_line::to_type;
use crate::units::joined;

/// Shortest time from mating to drop in days: 21 to 30 days at 24 to 27 °C, common practice, no source.
const SHORTEST_GESTATION_DAYS: i64 = 21;

/// From the first to the last day on which the mating behind a drop is likely to lie: the same 21 to 30 days.
const DAYS_OF_MATING: i64 = 30 - SHORTEST_GESTATION_DAYS;

/// The last days on which a mating can have led to a brood.
#[derive(Debug, Clone, Copy)]
struct LastMating {
    /// If it was dropped on the first possible day: who was with the dam by then was in time at all events.
    surely: Date,
    /// If it was dropped on the last: who came to her later was too late.
    possibly: Date,
}

impl LastMating {
    /// `None` where the day of the drop is not known.
    fn of(brood: &Brood) -> Option<Self> {
        let before = |drop: Date| drop.saturating_sub(SHORTEST_GESTATION_DAYS.days());
        let (first, last) = (brood.dropped_from.or(brood.dropped_to)?, brood.dropped_to.or(brood.dropped_from)?);
        Some(Self { surely: before(first), possibly: before(last) })
    }

    /// Who was with a dam at her last mating, whichever day of the drop was the right one: each male once.
    fn males(self, mates: &[Mate]) -> Vec<Option<String>> {
        let came_between = mates.iter().filter_map(came).filter(|day| self.surely < *day && *day <= self.possibly);
        let days = came_between.chain([self.surely, self.possibly]);
        names(days.flat_map(|day| with_her(mates, day)))
    }
}

/// The males of these mates, each once.
fn names<'a>(mates: impl Iterator<Item = &'a Mate>) -> Vec<Option<String>> {
    mates.map(|mate| mate.sire.clone()).collect::<BTreeSet<_>>().into_iter().collect()
}

/// The first day of a male with a dam; of whom only the last is known, that.
fn came(mate: &Mate) -> Option<Date> {
    mate.together.day_in.or(mate.together.day_out)
}

/// The males that were with a dam at her last mating up to a day: the last of them, and whoever was there beside him in the days in
/// which the mating is likely to lie. One whose place he took was not.
fn with_her(mates: &[Mate], day: Date) -> Vec<&Mate> {
    let until = |mate: &Mate| mate.together.day_out.map_or(day, |out| out.min(day));
    let in_time: Vec<&Mate> = mates.iter().filter(|mate| came(mate).is_none_or(|first| first <= day)).collect();
    let Some(last) = in_time.iter().copied().max_by_key(|mate| (until(mate), came(mate))) else { return in_time };
    let likely_from = until(last).saturating_sub(DAYS_OF_MATING.days());
    let as_late = |mate: &Mate| (until(mate), came(mate)) == (until(last), came(last));
    let beside =
        |mate: &Mate| mate.together.day_out.is_none_or(|out| Some(out) > came(last)) && until(mate) >= likely_from;
    in_time.into_iter().filter(|mate| as_late(mate) || beside(mate)).collect()
}

/// The males by whom a dam can have had a brood.
pub(super) struct Fathers {
    /// Who was with her when it was begotten, a male that is not recorded as `None`: one, or several where the days leave that open.
    pub(super) sires: Vec<Option<String>>,
    /// Others whose stored sperm may have been at work.
    pub(super) before: Vec<Mate>,
    /// Whether no male of her cross was in time, so that all of it is out of stored sperm.
    pub(super) from_store: bool,
    /// What a reader should know.
    pub(super) note: Option<String>,
}

/// The males by whom a dam can have had a brood: of her cross the last before it was begotten, with those before him; where none of
/// them was in time, of other crosses. Or why that cannot be told.
pub(super) fn of_dam(possible: &PossibleDam, brood: &Brood) -> Result<Fathers, String> {
    let mut before = elsewhere(possible, brood);
    if possible.sires.is_empty() {
        return Ok(Fathers { sires: vec![None], before, from_store: false, note: None });
    }
    if brood.dams.iter().all(|dam| dam.with.is_empty()) {
        return Err(format!("by their days its dam was never with {}", sires_of_cross(possible)));
    }
    let met = met(possible)?;
    let Some(last) = LastMating::of(brood) else {
        return match met.as_slice() {
            [] => Ok(instead(possible, brood, &met, before)),
            [only] => {
                before.retain(|mate| mate.sire != only.sire);
                Ok(Fathers { sires: vec![only.sire.clone()], before, from_store: false, note: None })
            }
            _ => Err("its cross had several sires and the day of the drop is not known".to_owned()),
        };
    };
    let sires = last.males(&met);
    if sires.is_empty() {
        return Ok(instead(possible, brood, &met, before));
    }
    let dropped = brood.dropped_from.or(brood.dropped_to);
    let stored = |mate: &Mate| dropped.is_none_or(|day| mate.stored_until(day));
    let in_time = |mate: &Mate| came(mate).is_none_or(|day| day <= last.possibly);
    let earlier: Vec<Mate> =
        met.into_iter().filter(|mate| !sires.contains(&mate.sire) && in_time(mate) && stored(mate)).collect();
    before.retain(|mate| !sires.contains(&mate.sire));
    before.extend(earlier);
    let note = (sires.len() > 1).then(|| {
        format!(
            "brood {}: {} was with {} when it can have been begotten, so each counts as its possible sire; where you know more, \
             narrow the days with `broodhue brood set` and `broodhue cross set`",
            brood.label,
            possible.dam,
            joined(&sires.iter().flatten().collect::<Vec<_>>(), "and")
        )
    });
    Ok(Fathers { sires, before, from_store: false, note })
}

fn sires_of_cross(possible: &PossibleDam) -> String {
    joined(&possible.sires.iter().map(|(name, _)| name.as_str()).collect::<Vec<_>>(), "or")
}

/// The sires of her cross that a dam met, with their days together; of several the days must be known.
fn met(possible: &PossibleDam) -> Result<Vec<Mate>, String> {
    let days =
        |(name, stay): &(String, Stay)| Some((stay.day_in, mate(possible, name, overlap(possible.stay, *stay)?)));
    let met: Vec<(Option<Date>, Mate)> = possible.sires.iter().filter_map(days).collect();
    if met.len() > 1 && met.iter().any(|(came, _)| came.is_none()) {
        return Err("its cross had several sires and not all of their days are known".to_owned());
    }
    Ok(met.into_iter().map(|(_, mate)| mate).collect())
}

/// A sire of a dam's cross as her mate.
pub(super) fn mate(possible: &PossibleDam, sire: &str, together: Stay) -> Mate {
    Mate { sire: Some(sire.to_owned()), cross: possible.cross.clone(), together, descent: Vec::new() }
}

/// Who comes into question where no sire of her cross was with a dam in time: the male named for his stored sperm, else the last that
/// she was with in another cross, else one that is not recorded. A virgin had none of them: then a day is wrong, and her sire is her sire.
fn instead(possible: &PossibleDam, brood: &Brood, met: &[Mate], mut others: Vec<Mate>) -> Fathers {
    let unmet = unmet(possible, brood, met);
    let latest = latest_mating(possible, brood);
    let wrong = virgin_too_late(possible, brood).filter(|_| !met.is_empty());
    let (sires, what) = match (wrong, &brood.earlier_sire) {
        (Some(day), _) => {
            let first = met.iter().filter_map(came).min();
            (
                names(with_her(met, first.unwrap_or(day)).into_iter()),
                format!("she was a virgin until {day}: check the days"),
            )
        }
        (_, Some(EarlierSire::Fish(name))) => (vec![Some(name.clone())], format!("it counts as all of {name}")),
        (_, Some(EarlierSire::Unknown)) => (vec![None], "it counts as all of a male that is not known".to_owned()),
        (_, None) => {
            let last = latest.map_or_else(|| others.iter().collect(), |day| with_her(&others, day));
            let males: BTreeSet<String> = last.iter().map(|mate| mate.described()).collect();
            let males: Vec<String> = males.into_iter().collect();
            match males.as_slice() {
                [] => {
                    let name = format!("broodhue brood set {} --earlier-sire FISH", to_type(&brood.label));
                    (
                        vec![None],
                        format!(
                            "it counts as of a male that is not recorded: check the days, or name him with `{name}`"
                        ),
                    )
                }
                males => (
                    names(last.into_iter()),
                    format!("it counts as of {}, whom she was with before: check the days", joined(males, "or")),
                ),
            }
        }
    };
    others.retain(|mate| !sires.contains(&mate.sire));
    // The pair had been together before, in another cross: nothing is odd.
    let again = wrong.is_none() && sires.iter().all(|sire| met.iter().any(|mate| mate.sire == *sire));
    let note = (!again).then(|| format!("brood {}: {unmet}, and {what}", brood.label));
    Fathers { sires, before: others, from_store: wrong.is_none(), note }
}

/// Why no sire of her cross can have fathered a dam's brood.
fn unmet(possible: &PossibleDam, brood: &Brood, met: &[Mate]) -> String {
    let first = met.iter().filter_map(|mate| Some((came(mate)?, mate.sire.as_deref()?))).min();
    match (first, brood.dropped_to.or(brood.dropped_from)) {
        (Some((day, sire)), Some(dropped)) => format!(
            "dropped {dropped}, but {} met {sire} on {day} and young are carried for {SHORTEST_GESTATION_DAYS} days at least",
            possible.dam
        ),
        _ => format!("by their days {} was never with {}", possible.dam, sires_of_cross(possible)),
    }
}

/// Until when a dam was a virgin, where whoever she was with afterwards came too late to have fathered the brood.
pub(super) fn virgin_too_late(possible: &PossibleDam, brood: &Brood) -> Option<Date> {
    possible.virgin_on.filter(|virgin| LastMating::of(brood).is_some_and(|last| *virgin > last.possibly))
}

/// The last day on which a mating can have led to the brood. Without a day of the drop the dam's days in the cross stand for it.
pub(super) fn latest_mating(possible: &PossibleDam, brood: &Brood) -> Option<Date> {
    // On her last day there she may have come into the next cross.
    let there = || possible.stay.day_out.map(|last| last.saturating_sub(1.day())).max(possible.stay.day_in);
    LastMating::of(brood).map(|last| last.possibly).or_else(there)
}

/// The males whom a dam was with in other crosses, long enough before the drop and not too long; none that descends from the
/// brood. Without a day of the drop her days in the cross stand for it.
pub(super) fn elsewhere(possible: &PossibleDam, brood: &Brood) -> Vec<Mate> {
    let first = brood.dropped_from.or(brood.dropped_to).or(possible.stay.day_in);
    let latest = latest_mating(possible, brood);
    let in_time = |mate: &&Mate| {
        came(mate).zip(latest).is_none_or(|(day, latest)| day <= latest)
            && first.is_some_and(|day| mate.stored_until(day))
    };
    let dated = possible.elsewhere.iter().filter(|mate| !mate.undated());
    dated.filter(in_time).filter(|mate| !mate.descends_from(brood)).cloned().collect()
}
