//! Which dams may have dropped a brood, and with which sires they were.

use std::collections::BTreeMap;

use jiff::civil::Date;
use serde::Serialize;

use super::broods::Brood;
use super::crosses::{self, Dam, Stay};
use super::fathers;
use super::mates::{self, Mate};
use super::stays::{self, overlap};
use super::{Read, Write};
use crate::error::{Error, Result};

/// A dam that may have dropped a brood: of which cross, and on which days with its sires.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PossibleDam {
    #[serde(skip)]
    row: i64,
    /// Her place among the dams of her cross, from 0.
    #[serde(skip)]
    pub(super) place: usize,
    /// Who.
    pub dam: Dam,
    /// In which cross she was.
    pub cross: String,
    /// Her days there; where no last one is recorded, until she came into another cross, was isolated or left.
    pub stay: Stay,
    /// The sires of that cross whose days overlap hers, with the days they were together; a sire without a last day was there
    /// until the next one came or he left.
    pub with: Vec<(String, Stay)>,
    /// Every sire of that cross with his days, the last one taken from the next one's coming where nothing else says so.
    #[serde(skip)]
    pub(super) sires: Vec<(String, Stay)>,
    /// The males she was with in other crosses.
    #[serde(skip)]
    pub(super) elsewhere: Vec<Mate>,
    /// Until when she is known to have been a virgin.
    #[serde(skip)]
    pub(super) virgin_on: Option<Date>,
    /// The day on which she left or died.
    #[serde(skip)]
    pub(super) gone_on: Option<Date>,
}

impl PossibleDam {
    /// Whether she had left or died before the first day on which a brood can have been dropped.
    fn gone_before(&self, brood: &Brood) -> bool {
        self.gone_on.zip(brood.dropped_from.or(brood.dropped_to)).is_some_and(|(gone, first)| gone < first)
    }
}

/// The dams of crosses, each cross read once.
#[derive(Debug, Default)]
pub(super) struct DamsOfCrosses(BTreeMap<String, Vec<PossibleDam>>);

impl DamsOfCrosses {
    fn of(&mut self, book: &Read<'_>, cross: &str) -> Result<&[PossibleDam]> {
        if !self.0.contains_key(cross) {
            self.0.insert(cross.to_owned(), of_cross(book, cross)?);
        }
        Ok(&self.0[cross])
    }

    /// The dams named with a brood, else every dam of its cross; and whether they were named.
    fn chosen(&mut self, book: &Read<'_>, brood: &Brood) -> Result<(Vec<PossibleDam>, bool)> {
        let mut statement = book.conn.prepare_cached(
            "SELECT c.name, d.id FROM brood_dam p JOIN cross_dam d ON d.id = p.dam_id JOIN crosses c ON c.id = d.cross_id
             WHERE p.brood_id = ?1 ORDER BY d.id",
        )?;
        let rows = statement.query_map([brood.id], |row| Ok((row.get::<_, String>(0)?, row.get::<_, i64>(1)?)))?;
        let chosen = rows.collect::<rusqlite::Result<Vec<_>>>()?;
        let named = !chosen.is_empty();
        let mut dams = if named { Vec::new() } else { self.of(book, &brood.cross)?.to_vec() };
        for (cross, row) in chosen {
            dams.extend(self.of(book, &cross)?.iter().filter(|d| d.row == row).cloned());
        }
        Ok((dams, named))
    }

    /// Of the dams named with a brood, else of every dam of its cross, those who were there by the last day of the drop. Of dams that
    /// are not named none counts who was a virgin too late to have dropped it, or was gone before, as long as another was not.
    pub(super) fn of_brood(&mut self, book: &Read<'_>, brood: &Brood) -> Result<Vec<PossibleDam>> {
        let (mut dams, named) = self.chosen(book, brood)?;
        dams.retain(|d| d.stay.day_in.zip(brood.dropped_to).is_none_or(|(day_in, last)| day_in <= last));
        let able = |dam: &PossibleDam| fathers::virgin_too_late(dam, brood).is_none() && !dam.gone_before(brood);
        if !named && dams.iter().any(able) {
            dams.retain(able);
        }
        Ok(dams)
    }
}

/// Every dam of a cross, with the days she was with its sires.
pub(super) fn of_cross(book: &Read<'_>, cross: &str) -> Result<Vec<PossibleDam>> {
    // A brood that was set aside still is of its cross, even where that was set aside after it.
    let (id, _) = crosses::among_all(book, cross)?;
    let (all, females) = (stays::sires(book, id)?, stays::of_dams(book, Some(id))?);
    let possible = |(place, (row, dam, recorded)): (usize, (i64, Dam, Stay))| {
        let female = if let Dam::Fish(name) = &dam { females.get(name) } else { None };
        let own = female.and_then(|female| female.crosses.iter().find(|own| own.row == row));
        let stay = own.map_or(recorded, |own| own.stay);
        let sires: Vec<(String, Stay)> = all.iter().map(|sire| sire.beside(stay)).collect();
        Ok(PossibleDam {
            row,
            place,
            dam,
            cross: cross.to_owned(),
            stay,
            with: sires.iter().filter_map(|(sire, his)| Some((sire.clone(), overlap(stay, *his)?))).collect(),
            sires,
            elsewhere: female.map_or(Ok(Vec::new()), |female| mates::elsewhere(book, female, cross))?,
            virgin_on: female.and_then(|female| female.virgin_on),
            gone_on: female.and_then(|female| female.gone_on),
        })
    };
    crosses::dams(book, id)?.into_iter().enumerate().map(possible).collect()
}

/// Names the dams that may have dropped a brood, which has none yet; of unnamed sisters out of one cross each stands for another.
pub(super) fn name(book: &Write<'_>, brood: &str, (id, cross): (i64, i64), dams: &[Dam]) -> Result<()> {
    let mut taken = Vec::new();
    for dam in dams {
        let row = row(book, brood, cross, dam, &taken)?;
        book.conn.execute("INSERT INTO brood_dam (brood_id, dam_id) VALUES (?1, ?2)", [id, row])?;
        taken.push((dam, row));
    }
    Ok(())
}

/// The dam's row in the brood's own cross, else in the only other cross where she is, without those that are taken.
fn row(book: &Read<'_>, brood: &str, cross: i64, dam: &Dam, taken: &[(&Dam, i64)]) -> Result<i64> {
    let failed = |said: String, hint: &str| Err(Error::failed(format!("brood {brood}"), said, hint));
    let before = taken.iter().filter(|(other, _)| *other == dam).count();
    if before > 0 && matches!(dam, Dam::Fish(_)) {
        return failed(format!("{dam} is named twice among its dams"), "name each dam once");
    }
    let free = |cross: i64| -> Result<Vec<i64>> {
        let rows = crosses::dams(book, cross)?.into_iter().filter(|(_, d, _)| d == dam).map(|(row, _, _)| row);
        Ok(rows.filter(|row| !taken.iter().any(|(_, t)| t == row)).collect())
    };
    if let Some(row) = free(cross)?.first() {
        return Ok(*row);
    }
    let mut elsewhere = Vec::new();
    for other in crosses::list(book)? {
        elsewhere.extend(free(crosses::known_id(book, &other.name)?)?.first().copied());
    }
    match elsewhere.as_slice() {
        [row] => Ok(*row),
        [] if before > 0 => failed(
            format!("{dam} is named {} times among its dams, and the crosses have only {before}", before + 1),
            "add each of them to a cross with `broodhue cross add`",
        ),
        [] => failed(format!("{dam} is not a dam of any cross"), "add her to a cross with `broodhue cross add`"),
        _ => failed(format!("{dam} is a dam of several crosses"), "write the brood down under the cross she was in"),
    }
}

/// Of the dams that a list names those who are among others, and those who are not; two unnamed sisters are two.
pub(super) fn apart(list: &[Dam], mut others: Vec<Dam>) -> (Vec<Dam>, Vec<Dam>) {
    list.iter().cloned().partition(|dam| match others.iter().position(|other| other == dam) {
        Some(at) => {
            others.swap_remove(at);
            true
        }
        None => false,
    })
}

/// Refuses a brood that was dropped before any of its possible dams met a sire, unless an earlier male's sperm is said to have
/// been at work.
///
/// # Errors
/// Names the brood, the day of the drop and the day they met.
pub(super) fn had_met(book: &Read<'_>, brood: &Brood) -> Result<()> {
    let Some(last) = brood.dropped_to.filter(|_| brood.earlier_sire.is_none()) else { return Ok(()) };
    let (dams, _) = DamsOfCrosses::default().chosen(book, brood)?;
    // One unknown day, and it may have been before.
    let days: Option<Vec<Date>> = dams.iter().map(first_day_together).collect();
    let Some(met) = days.and_then(|days| days.into_iter().min()).filter(|met| last < *met) else { return Ok(()) };
    Err(Error::failed(
        format!("brood {}", brood.name),
        format!("dropped {last}, but its parents met {met}"),
        "check both days; where stored sperm of an earlier male was at work say so with --earlier-sire FISH, or ?",
    ))
}

/// The first day on which a dam can have been with any sire of her cross; `None` where nothing says so.
fn first_day_together(dam: &PossibleDam) -> Option<Date> {
    dam.with.iter().map(|(_, stay)| stay.day_in).min().flatten()
}
