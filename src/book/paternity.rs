//! Who fathered a brood, as far as the records tell.

use std::collections::BTreeSet;

use jiff::ToSpan;
use jiff::civil::Date;
use serde::Serialize;

use super::broods::{Brood, EarlierSire};
use super::crosses::{Dam, Stay};
use super::mates::{Mate, STORED_DAYS};
use super::possible_dams::{PossibleDam, overlap};

/// Shortest time from mating to drop in days: 21 to 30 days at 24 to 27 °C, common practice, no source.
pub const SHORTEST_GESTATION_DAYS: i64 = 21;

/// Who fathered a brood, as far as the records tell.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Paternity {
    /// Each possible dam with the sire she was with in her cross; a sire that is not recorded is `None`.
    pub matings: Vec<(Dam, Option<String>)>,
    /// Whose stored sperm may have fathered some: as recorded, else the last other male that one of the dams was with in
    /// the time before the drop in which sperm is stored.
    pub earlier: Option<EarlierSire>,
    /// Why a dam's sire cannot be told, where several of her cross come into question.
    pub doubt: Option<String>,
    /// What a reader should know: whose sperm was taken into account without being recorded with the brood, or could not
    /// be; a drop too late for the pair.
    pub notes: Vec<String>,
}

impl Paternity {
    /// The one sire of the brood; `None` when it is not recorded, in doubt, or differs between the possible dams.
    pub fn sire(&self) -> Option<&str> {
        let (_, first) = self.matings.first()?;
        let one = self.doubt.is_none() && self.matings.iter().all(|(_, sire)| sire == first);
        first.as_deref().filter(|_| one)
    }

    /// Why the young cannot be counted for one cross, where they cannot.
    pub fn why_not_one(&self) -> Option<String> {
        if self.doubt.is_some() {
            return self.doubt.clone();
        }
        let sires: BTreeSet<&str> = self.matings.iter().filter_map(|(_, sire)| sire.as_deref()).collect();
        let names: Vec<&str> = sires.into_iter().collect();
        (names.len() > 1).then(|| format!("its possible dams were with different sires: {}", names.join(", ")))
    }
}

/// Who fathered a brood: for each possible dam the one sire of her cross, or of several that she met the last one that was with
/// her long enough before the drop, with the one before him as the earlier sire; in doubt where the records leave it open. A
/// male she was with in another cross is the earlier sire as long as his sperm can have been at work.
pub fn of_brood(brood: &Brood) -> Paternity {
    let mut found = Paternity { earlier: brood.earlier_sire.clone(), ..Paternity::default() };
    let mut others = Vec::new();
    for possible in &brood.dams {
        let sire = match succession(possible, brood) {
            Ok((sire, before)) => {
                others.extend(before);
                sire
            }
            Err(why) => {
                found.doubt = Some(why.to_owned());
                None
            }
        };
        others.extend(elsewhere(possible, brood, sire.as_deref()));
        found.matings.push((possible.dam.clone(), sire));
    }
    if brood.earlier_sire.is_none() {
        let note = found.take_last(others);
        let undated = brood.dams.iter().filter_map(|possible| undated(possible, brood));
        let notes = note.map(|note| format!("brood {}: {note}", brood.label)).into_iter().chain(undated);
        found.notes = notes.filter(|_| found.doubt.is_none()).collect();
    }
    found.notes.extend(too_late(brood));
    found
}

/// Another male a dam was with in the time in which his sperm can have been at work.
struct Other {
    dam: Dam,
    mate: Mate,
}

impl Paternity {
    /// Takes the last of the other males as the earlier sire, and says so; more than one the analysis does not hold.
    fn take_last(&mut self, mut others: Vec<Other>) -> Option<String> {
        others.sort_by_key(|o| (o.mate.together.day_in, o.mate.together.day_out));
        let Other { dam, mate: last } = others.pop()?;
        self.earlier = Some(last.sire.clone().map_or(EarlierSire::Unknown, EarlierSire::Fish));
        let mut note = format!(
            "it counts as of two sires: {dam} was also with {}, and stored sperm can father young for about a year",
            last.described()
        );
        let more: BTreeSet<String> =
            others.iter().filter(|o| o.mate.sire != last.sire).map(|o| o.mate.described()).collect();
        if !more.is_empty() {
            let names: Vec<String> = more.into_iter().collect();
            note += &format!(
                "; {} may have fathered some too and cannot be counted in: --earlier-sire ? stands for any male",
                names.join(" and ")
            );
        }
        Some(note)
    }
}

/// The sire of a dam at the time of a brood, and the one before him where he can have fathered some; or why that cannot be
/// told.
fn succession(possible: &PossibleDam, brood: &Brood) -> Result<(Option<String>, Option<Other>), &'static str> {
    if let [] | [_] = possible.sires.as_slice() {
        return Ok((possible.sires.first().map(|(name, _)| name.clone()), None));
    }
    // Each sire she met: the day he came, and their days together.
    let days =
        |(name, stay): &(String, Stay)| Some((stay.day_in, mate(possible, name, overlap(possible.stay, *stay)?)));
    let met: Vec<(Option<Date>, Mate)> = possible.sires.iter().filter_map(days).collect();
    match met.as_slice() {
        [] => return Err("its cross had several sires, and by their days its dam was with none of them"),
        [(_, only)] => return Ok((only.sire.clone(), None)),
        _ => {}
    }
    let dropped = brood.dropped_from.ok_or("its cross had several sires and the day of the drop is not known")?;
    let mut dated: Vec<(Date, Date, Mate)> =
        met.iter().filter_map(|(came, mate)| Some(((*came)?, mate.together.day_in?, mate.clone()))).collect();
    if dated.len() < met.len() {
        return Err("its cross had several sires and not all of their days are known");
    }
    dated.sort_by_key(|(came, ..)| *came);
    let latest_mating = dropped.saturating_sub(SHORTEST_GESTATION_DAYS.days());
    let mut able: Vec<Mate> =
        dated.into_iter().filter(|(_, together, _)| *together <= latest_mating).map(|(.., mate)| mate).collect();
    let last = able.pop().ok_or("no sire of its cross was with its dam long enough before the drop")?;
    able.retain(|mate| mate.stored_until(dropped));
    let before = able.pop().map(|mate| Other { dam: possible.dam.clone(), mate });
    if able.is_empty() { Ok((last.sire, before)) } else { Err("more than two sires of its cross can have fathered it") }
}

fn mate(possible: &PossibleDam, sire: &str, together: Stay) -> Mate {
    Mate { sire: Some(sire.to_owned()), cross: possible.cross.clone(), together, descent: Vec::new() }
}

/// The last day on which a mating can have led to the brood. Without a day of the drop the dam's days in the cross stand for it.
fn latest_mating(possible: &PossibleDam, brood: &Brood) -> Option<Date> {
    let dropped = brood.dropped_to.or(brood.dropped_from);
    let latest = dropped.map(|d| d.saturating_sub(SHORTEST_GESTATION_DAYS.days()));
    latest.or(possible.stay.day_out).or(possible.stay.day_in)
}

/// The males whom a dam was with in other crosses, long enough before the drop and not too long; none that descends from the
/// brood. Without a day of the drop her days in the cross stand for it.
fn elsewhere(possible: &PossibleDam, brood: &Brood, sire: Option<&str>) -> Vec<Other> {
    let first = brood.dropped_from.or(brood.dropped_to).or(possible.stay.day_in);
    let latest = latest_mating(possible, brood);
    let in_time = |mate: &&Mate| {
        let known = mate.together.day_in.or(mate.together.day_out);
        known.zip(latest).is_none_or(|(day, latest)| day <= latest) && first.is_some_and(|day| mate.stored_until(day))
    };
    let other = |mate: &&Mate| !mate.undated() && (mate.sire.is_none() || mate.sire.as_deref() != sire);
    let males = possible.elsewhere.iter().filter(other).filter(in_time).filter(|mate| !mate.descends_from(brood));
    males.map(|mate| Other { dam: possible.dam.clone(), mate: mate.clone() }).collect()
}

/// Says that a dam was with other males on days that nobody wrote down, so that they cannot be taken into account: on none at all,
/// or on days that ended too late for this brood and may have begun in time.
fn undated(possible: &PossibleDam, brood: &Brood) -> Option<String> {
    let latest = latest_mating(possible, brood);
    let open = |mate: &Mate| {
        let ended_late = || mate.together.day_out.zip(latest).is_some_and(|(last, latest)| last > latest);
        mate.undated() || (mate.together.day_in.is_none() && ended_late())
    };
    let other = |mate: &&Mate| mate.sire.as_ref().is_none_or(|sire| possible.sires.iter().all(|(s, _)| s != sire));
    if !possible.elsewhere.iter().filter(other).any(|mate| open(mate) && !mate.descends_from(brood)) {
        return None;
    }
    // The same words whichever of her broods is spoken of, so that they are said once.
    let here = possible.with.iter().map(|(sire, together)| mate(possible, sire, *together).described());
    let males: BTreeSet<String> = possible.elsewhere.iter().map(Mate::described).chain(here).collect();
    let names: Vec<String> = males.into_iter().collect();
    Some(format!(
        "{} was with {}, on days that are not all recorded, so her broods count as of one sire: note the days with \
         `broodhue cross set`, or say --earlier-sire where stored sperm may be at work",
        possible.dam,
        names.join(" and ")
    ))
}

/// Says that a brood came so long after its parents parted that no stored sperm is known to last.
fn too_late(brood: &Brood) -> Option<String> {
    let dropped = brood.dropped_from?;
    let parted = |dam: &PossibleDam| {
        dam.with.iter().map(|(_, stay)| stay.day_out).collect::<Option<Vec<Date>>>()?.into_iter().max()
    };
    let last = brood.dams.iter().map(parted).collect::<Option<Vec<Date>>>()?.into_iter().max()?;
    let days = (dropped - last).get_days();
    (days > STORED_DAYS).then(|| {
        format!(
            "brood {}: dropped {dropped}, {days} days after its parents parted ({last}), and stored sperm is known to father young \
             for about a year: check both days",
            brood.label
        )
    })
}
