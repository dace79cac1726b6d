//! Who fathered a brood, as far as the records tell.

use std::collections::BTreeSet;

use jiff::civil::Date;
use serde::Serialize;

use super::broods::{Brood, EarlierSire};
use super::crosses::{Dam, Stay};
use super::fathers::{self, Fathers, latest_mating, mate};
use super::mates::{Mate, STORED_DAYS};
use super::possible_dams::PossibleDam;
use crate::command_line::to_type;
use crate::units::joined;

/// A possible dam with the males by whom she may have had a brood.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Matings {
    /// Who.
    pub dam: Dam,
    /// One, or each of several that were with her; one that is not recorded is `None`.
    pub sires: Vec<Option<String>>,
    /// The earlier sire who may have fathered young of hers too: the one recorded with the brood, if she was with him or nothing says
    /// that she was not; else the last other male that she was with.
    pub stored: Option<EarlierSire>,
}

/// Who fathered a brood, as far as the records tell.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Paternity {
    /// Each possible dam with the sires she may have had it by.
    pub matings: Vec<Matings>,
    /// Whose stored sperm may have fathered some: as recorded, else the last other male that one of the dams was with in
    /// the time before the drop in which sperm is stored; another dam may hold another's.
    pub earlier: Option<EarlierSire>,
    /// Why a dam's sire cannot be told, where several of her cross come into question, or none.
    pub doubt: Option<String>,
    /// What a reader should know: whose sperm was taken into account without being recorded with the brood, or could not
    /// be; a drop too early or too late for the pair.
    pub notes: Vec<String>,
}

impl Paternity {
    /// The one sire of the brood; `None` when it is not recorded, in doubt, or differs between the possible dams.
    pub fn sire(&self) -> Option<&str> {
        let sires = self.sires();
        let one = sires.first().copied().flatten();
        one.filter(|_| sires.len() == 1 && self.doubt.is_none())
    }

    /// Why the young cannot be counted for one cross, where they cannot: which of the males beside a dam fathered them changes
    /// nothing about the cross, but dams with different males are different crosses.
    pub fn why_not_one(&self) -> Option<String> {
        if self.doubt.is_some() {
            return self.doubt.clone();
        }
        let of_each = self.matings.iter().map(|m| recorded(&m.sires)).filter(|sires| !sires.is_empty());
        let differing: BTreeSet<Vec<&str>> = of_each.collect();
        (differing.len() > 1).then(|| {
            let names: BTreeSet<&str> = differing.into_iter().flatten().collect();
            let names: Vec<&str> = names.into_iter().collect();
            format!("its possible dams were with different sires: {}", names.join(", "))
        })
    }

    /// The sire and the earlier sire for a table of counts, which knows no days: a sire whose sperm was stored, so that all of it is his,
    /// stands as the sire he is; one who is not recorded as `?`, since the cross's own would be taken for him.
    pub(super) fn in_table(&self, brood: &Brood) -> (Option<&str>, Option<EarlierSire>) {
        let crosses = || brood.dams.iter().flat_map(|dam| dam.sires.iter().map(|(name, _)| name.as_str()));
        match self.sire() {
            None if self.doubt.is_none() && crosses().next().is_some() && !self.any_of(crosses()) => {
                (None, Some(EarlierSire::Unknown))
            }
            sire => (sire, self.earlier.clone()),
        }
    }

    /// What [`Self::in_table`] cannot say: of the males who may each have fathered the brood a table names none, and of those whose sperm
    /// its dams may hold the last.
    pub(super) fn lost_in_table(&self, brood: &Brood) -> Option<String> {
        let names: Vec<&str> = self.sires().into_iter().flatten().collect();
        let earlier: BTreeSet<&str> = self.matings.iter().flat_map(|m| &m.stored).map(EarlierSire::name).collect();
        let of_dams = || {
            let names: Vec<&str> = earlier.iter().copied().collect();
            format!(
                "brood {}: its dams may hold sperm of {}, and a table names one earlier sire, so it names the last of them alone: where it \
                 is read in, write the dams' earlier crosses down with their days",
                brood.label,
                joined(&names, "and")
            )
        };
        if names.len() < 2 {
            return (self.doubt.is_none() && earlier.len() > 1).then(of_dams);
        }
        self.doubt.is_none().then(|| {
            format!(
                "brood {}: {} may each have fathered it, and a table names one sire at most, so it names none: where it is read \
                 in, write them down with their days (`broodhue cross add {} --more`)",
                brood.label,
                joined(&names, "and"),
                to_type(&brood.cross)
            )
        })
    }

    /// Whether one of these may have fathered the brood.
    fn any_of<'a>(&self, mut males: impl Iterator<Item = &'a str>) -> bool {
        let sires = self.sires();
        males.any(|male| sires.contains(&Some(male)))
    }

    /// What a person should know of the fathers of this brood: the doubt that leaves its counts out, else the notes.
    pub fn remarks(&self, brood: &Brood) -> Vec<String> {
        let left_out = |doubt: &String| {
            format!("brood {}: its counts are left out: {doubt}; mend the days with `broodhue cross set`", brood.label)
        };
        self.doubt.as_ref().map_or_else(|| self.notes.clone(), |doubt| vec![left_out(doubt)])
    }

    /// Every sire that comes into question, one that is not recorded as `None`.
    fn sires(&self) -> BTreeSet<Option<&str>> {
        self.matings.iter().flat_map(|m| &m.sires).map(Option::as_deref).collect()
    }
}

/// The males of these whom the book knows.
fn recorded(sires: &[Option<String>]) -> Vec<&str> {
    sires.iter().flatten().map(String::as_str).collect()
}

/// Who fathered a brood: for each possible dam the sire of her cross who was with her last before it can have been begotten, or each of
/// several, with the one before as the earlier sire; in doubt where the records leave it open. A male she was with in another cross is the
/// earlier sire as long as his sperm can have been at work, and the sire where none of her cross was in time.
pub fn of_brood(brood: &Brood) -> Paternity {
    let mut found = Paternity::default();
    let (mut others, mut notes) = (Vec::new(), Vec::new());
    let mut all_his = false;
    for possible in &brood.dams {
        let Fathers { sires, before, from_store, note } = fathers::of_dam(possible, brood).unwrap_or_else(|why| {
            found.doubt = Some(why);
            Fathers { sires: vec![None], before: fathers::elsewhere(possible, brood), from_store: false, note: None }
        });
        // Of the male named for it, all is his already where she was with no other in time.
        let named = brood.earlier_sire.as_ref().filter(|_| !from_store);
        let stored = named.filter(|earlier| may_hold(possible, &sires, earlier)).cloned();
        all_his |= from_store;
        let latest = latest_mating(possible, brood);
        others.extend(before.into_iter().map(|mate| Other { dam: found.matings.len(), latest, mate }));
        notes.extend(note);
        found.matings.push(Matings { dam: possible.dam.clone(), sires, stored });
    }
    match &brood.earlier_sire {
        None => {
            let note = found.take_last(others);
            notes.extend(note.map(|note| format!("brood {}: {note}", brood.label)));
            notes.extend(brood.dams.iter().filter_map(|possible| undated(possible, brood)));
        }
        Some(earlier) if brood.dams.is_empty() || found.matings.iter().any(|m| m.stored.is_some()) => {
            found.earlier = Some(earlier.clone());
        }
        Some(_) if all_his => {}
        Some(earlier) => notes.push(virgins_all(brood, earlier)),
    }
    found.notes = if found.doubt.is_none() { notes } else { Vec::new() };
    found.notes.extend(too_late(brood));
    found
}

/// Whether some of the young that a dam has by these sires may be of the earlier sire who is named with the brood: a virgin was with
/// him only where that is recorded.
fn may_hold(possible: &PossibleDam, sires: &[Option<String>], earlier: &EarlierSire) -> bool {
    let is_he = |sire: Option<&String>| match earlier {
        EarlierSire::Fish(name) => sire == Some(name),
        EarlierSire::Unknown => !sires.iter().any(|own| own.as_ref() == sire),
    };
    let mut met =
        possible.elsewhere.iter().map(|mate| mate.sire.as_ref()).chain(possible.with.iter().map(|(s, _)| Some(s)));
    possible.virgin_on.is_none() || met.any(is_he)
}

/// Says that the male named for his stored sperm cannot be at work, because each of its possible dams was a virgin.
fn virgins_all(brood: &Brood, earlier: &EarlierSire) -> String {
    let until = |dam: &PossibleDam| Some(format!("{} was a virgin until {}", dam.dam, dam.virgin_on?));
    let virgins: Vec<String> = brood.dams.iter().filter_map(until).collect();
    format!(
        "brood {}: its earlier sire {} is not counted in: {}, and nothing says that he was with her since: check the days, or take him \
         out with `broodhue brood set {} --earlier-sire none`",
        brood.label,
        earlier.name(),
        virgins.join(" and "),
        to_type(&brood.label)
    )
}

/// Another male a dam was with in the time in which his sperm can have been at work.
struct Other {
    /// Her place among the brood's possible dams.
    dam: usize,
    /// The last day on which a mating can have led to the brood.
    latest: Option<Date>,
    mate: Mate,
}

impl Other {
    /// Orders males by who was with his dam last: by the last day of it that can have led to the brood, then by who came last.
    fn last_together(&self) -> (Option<Date>, Option<Date>, Option<&String>) {
        let Stay { day_in, day_out } = self.mate.together;
        let last = match (day_out, self.latest) {
            (Some(out), Some(latest)) => Some(out.min(latest)),
            (out, latest) => latest.or(out),
        };
        (last, day_in, self.mate.sire.as_ref())
    }
}

impl Paternity {
    /// Takes the last other male of each dam as the earlier sire of hers, and says so; more than one of a dam the analysis does not hold.
    fn take_last(&mut self, mut others: Vec<Other>) -> Option<String> {
        others.sort_by(|a, b| a.last_together().cmp(&b.last_together()));
        let earlier = |other: &Other| other.mate.sire.clone().map_or(EarlierSire::Unknown, EarlierSire::Fish);
        // A later one takes the place of an earlier one.
        others.iter().for_each(|other| self.matings[other.dam].stored = Some(earlier(other)));
        self.earlier = Some(earlier(others.last()?));
        let (own, further): (Vec<&Other>, Vec<&Other>) =
            others.iter().rev().partition(|other| self.matings[other.dam].stored == Some(earlier(other)));
        let mut with: Vec<(Option<&String>, String)> = Vec::new();
        for other in own {
            let (sire, dam) = (other.mate.sire.as_ref(), &self.matings[other.dam].dam);
            if with.iter().all(|(known, _)| *known != sire) {
                with.push((sire, format!("{dam} was also with {}", other.mate.described())));
            }
        }
        let several = with.len() > 1 || self.matings.iter().any(|m| m.sires.len() > 1);
        let with: Vec<String> = with.into_iter().map(|(_, said)| said).collect();
        let mut note = format!(
            "it counts as of {} sires: {}, and stored sperm can father young for about a year",
            if several { "several" } else { "two" },
            with.join(", ")
        );
        let more: BTreeSet<String> = further.iter().map(|other| other.mate.described()).collect();
        if !more.is_empty() {
            let names: Vec<String> = more.into_iter().collect();
            note += &format!(
                "; {} may have fathered some too and cannot be counted in: --earlier-sire ? stands for any male",
                joined(&names, "and")
            );
        }
        Some(note)
    }
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
        joined(&names, "and")
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
