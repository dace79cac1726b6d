//! Two sittings of one brood: what those that were open at the first have become by the second, as counts. Single fry are
//! not told apart from one sitting to the next.

use std::collections::BTreeMap;

use jiff::civil::Date;
use rusqlite::params;
use serde::Serialize;

use super::Read;
use super::broods::Brood;
use super::seen::of_photo;
use super::stock;
use super::tallies::{self, Case, Tally};
use crate::counts::Why;
use crate::error::Result;
use crate::sheet::Sheet;
use crate::units::View;

/// One axis of a brood at two sittings.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Since {
    /// The axis.
    pub axis: String,
    /// Every class that was given at either sitting, in the order of the sheet.
    pub classes: Vec<ClassSince>,
    /// Fish in no class at the first sitting and still there after it, by reason: too young, undecided, …
    pub open_then: BTreeMap<Why, u32>,
    /// Fish in no class at the second.
    pub open_now: BTreeMap<Why, u32>,
    /// Of those without a class that left between the two, moved out; below zero where more were taken back than written down.
    pub moved: i64,
    /// Died, likewise.
    pub died: i64,
}

/// One class at two sittings.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct ClassSince {
    /// The class.
    pub class: String,
    /// Fish of this class at the first sitting.
    pub then: u32,
    /// Of those, moved or died before the second.
    pub left: u32,
    /// Fish of this class at the second.
    pub now: u32,
}

impl ClassSince {
    /// How many of the open ones this class took up; below zero where fewer came back than were there.
    pub fn became(&self) -> i64 {
        i64::from(self.now) + i64::from(self.left) - i64::from(self.then)
    }
}

impl Since {
    /// Fish of the first sitting that are not accounted for at the second; below zero where more were seen.
    pub fn missing(&self) -> i64 {
        let sum = |open: &BTreeMap<Why, u32>| i64::from(open.values().sum::<u32>());
        let became: i64 = self.classes.iter().map(ClassSince::became).sum();
        sum(&self.open_then) - sum(&self.open_now) - (self.moved + self.died) - became
    }
}

/// The day of a brood's latest sitting whose photos show fish, from above or, where there is none, from the side.
///
/// # Errors
/// The book cannot be read.
pub fn latest(book: &Read<'_>, brood: &Brood) -> Result<Option<Date>> {
    let day = |view| Ok(stock::sat(book, brood, view)?.0.iter().map(|photo| photo.day).max());
    let above = day(View::Above)?;
    if above.is_some() { Ok(above) } else { day(View::Side) }
}

/// What became of a brood between the sittings of two days, for each axis of the sheet. Photos from another view and
/// fish that were set aside are left out.
///
/// # Errors
/// The book cannot be read.
pub fn since(book: &Read<'_>, sheet: &Sheet, brood: &Brood, days: (Date, Date), view: View) -> Result<Vec<Since>> {
    let (photos, _) = stock::sat(book, brood, view)?;
    let (moved, died) = left_unscored(book, brood, days)?;
    let mut all = Vec::new();
    for axis in &sheet.axes {
        let mut one = Since { axis: axis.name.clone(), moved, died, ..Since::default() };
        let mut classes: BTreeMap<String, ClassSince> = BTreeMap::new();
        for photo in photos.iter().filter(|p| p.day == days.0 || p.day == days.1) {
            for fish in of_photo(book, photo.photo, &axis.name)? {
                let case = Case { sheet, axis: &axis.name, brood, day: photo.day, kind: &fish.kind };
                add(&case, (fish.regions, fish.number), photo.day == days.0, &mut one, &mut classes);
            }
        }
        let in_order = axis.classes.iter().map(|c| c.name.clone());
        one.classes =
            in_order.filter_map(|name| classes.remove(&name).map(|c| ClassSince { class: name, ..c })).collect();
        all.push(one);
    }
    Ok(all)
}

/// Adds fish of one kind to what was there at the first sitting, or at the second.
fn add(case: &Case<'_>, fish: (u32, u32), first: bool, one: &mut Since, classes: &mut BTreeMap<String, ClassSince>) {
    let mut tally = Tally::default();
    tallies::sort_in(&mut tally, case, fish);
    let left = case.kind.gone.is_some();
    for scored in &tally.scored {
        let class = classes.entry(scored.score.class().to_owned()).or_default();
        if first {
            class.then += scored.number;
            class.left += if left { scored.number } else { 0 };
        } else {
            class.now += scored.number;
        }
    }
    // One that left open after the first sitting is accounted for.
    let open = if first { &mut one.open_then } else { &mut one.open_now };
    for still in tally.open.iter().filter(|o| o.why != Why::SetAside && !(first && left)) {
        *open.entry(still.why).or_default() += still.number;
    }
}

/// Young that left unscored after the first day, up to the second.
fn left_unscored(book: &Read<'_>, brood: &Brood, (then, now): (Date, Date)) -> Result<(i64, i64)> {
    let mut statement = book.conn.prepare_cached(
        "SELECT coalesce(sum(number) FILTER (WHERE what = 'moved'), 0), coalesce(sum(number) FILTER (WHERE what = 'died'), 0)
         FROM departure WHERE brood_id = ?1 AND day > ?2 AND day <= ?3",
    )?;
    let numbers = statement
        .query_row(params![brood.id, then.to_string(), now.to_string()], |row| Ok((row.get(0)?, row.get(1)?)))?;
    Ok(numbers)
}
