//! Who fathered a brood, as far as the records tell.

use std::collections::BTreeSet;

use jiff::ToSpan;
use jiff::civil::Date;
use serde::Serialize;

use super::broods::{Brood, EarlierSire};
use super::crosses::{Dam, Stay};
use super::possible_dams::{PossibleDam, overlap};

/// Shortest time from mating to drop in days: 21 to 30 days at 24 to 27 °C, common practice, no source.
pub const SHORTEST_GESTATION_DAYS: i64 = 21;

/// Who fathered a brood, as far as the records tell.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Paternity {
    /// Each possible dam with the sire she was with in her cross; a sire that is not recorded is `None`.
    pub matings: Vec<(Dam, Option<String>)>,
    /// Whose stored sperm may have fathered some.
    pub earlier: Option<EarlierSire>,
    /// Why a dam's sire cannot be told, where several of her cross come into question.
    pub doubt: Option<String>,
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
/// her long enough before the drop, with the one before him as the earlier sire; in doubt where the records leave it open.
pub fn of_brood(brood: &Brood) -> Paternity {
    let mut found = Paternity { earlier: brood.earlier_sire.clone(), ..Paternity::default() };
    for possible in &brood.dams {
        let sire = match succession(possible, brood) {
            Ok((sire, before)) => {
                found.earlier = found.earlier.or(before.map(EarlierSire::Fish));
                sire
            }
            Err(why) => {
                found.doubt = Some(why.to_owned());
                None
            }
        };
        found.matings.push((possible.dam.clone(), sire));
    }
    found
}

/// The sire of a dam at the time of a brood, and the one before him where he can have fathered some; or why that cannot be
/// told.
fn succession(possible: &PossibleDam, brood: &Brood) -> Result<(Option<String>, Option<String>), &'static str> {
    if let [] | [_] = possible.sires.as_slice() {
        return Ok((possible.sires.first().map(|(name, _)| name.clone()), None));
    }
    // Each sire she met: who, the day he came, and the first day they were together.
    let days = |(name, stay): &(String, Stay)| {
        let together = overlap(possible.stay, *stay)?;
        Some((name.clone(), stay.day_in, together.day_in))
    };
    let met: Vec<(String, Option<Date>, Option<Date>)> = possible.sires.iter().filter_map(days).collect();
    match met.as_slice() {
        [] => return Err("its cross had several sires, and by their days its dam was with none of them"),
        [(only, ..)] => return Ok((Some(only.clone()), None)),
        _ => {}
    }
    let dropped = brood.dropped_from.ok_or("its cross had several sires and the day of the drop is not known")?;
    let mut dated: Vec<(Date, Date, &str)> =
        met.iter().filter_map(|(name, came, together)| Some(((*came)?, (*together)?, name.as_str()))).collect();
    if dated.len() < met.len() {
        return Err("its cross had several sires and not all of their days are known");
    }
    dated.sort_by_key(|(came, ..)| *came);
    let latest_mating = dropped.saturating_sub(SHORTEST_GESTATION_DAYS.days());
    let mut able: Vec<String> = dated
        .into_iter()
        .filter(|(_, together, _)| *together <= latest_mating)
        .map(|(.., name)| name.to_owned())
        .collect();
    let last = able.pop().ok_or("no sire of its cross was with its dam long enough before the drop")?;
    let before = able.pop();
    if able.is_empty() {
        Ok((Some(last), before))
    } else {
        Err("more than two sires of its cross can have fathered it")
    }
}
