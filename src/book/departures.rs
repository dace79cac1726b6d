//! Young that left a brood unscored: moved out or died. A ledger, in which taking one back is a negative number.

use std::collections::BTreeMap;

use jiff::civil::Date;
use rusqlite::params;

use super::broods::{self, Brood};
use super::decisions::{self, By};
use super::fish::Gone;
use super::values::{letter, read_day, read_sex};
use super::{Read, Write};
use crate::command_line::to_type;
use crate::counts::Why;
use crate::error::{Error, Result};
use crate::units::Sex;

/// Records that young left a brood unscored; a negative number takes some back.
///
/// # Errors
/// An unknown brood; a number of zero; more taken back than had left; more leaving than were dropped, or before the drop.
pub fn record(
    book: &Write<'_>,
    brood: &str,
    what: Gone,
    sex: Option<Sex>,
    number: i32,
    on: Date,
    by: &By,
) -> Result<()> {
    let brood = broods::known(book, brood)?;
    let so_far: i64 = book.conn.query_row(
        "SELECT coalesce(sum(number), 0) FROM departure WHERE brood_id = ?1 AND what = ?2 AND sex IS ?3",
        params![brood.id, what.word(), letter(sex)],
        |row| row.get(0),
    )?;
    after_drop(&brood, on, "check the day they left and the day of the drop")?;
    let all: i64 = book.conn.query_row(
        "SELECT coalesce(sum(number), 0) FROM departure WHERE brood_id = ?1",
        [brood.id],
        |row| row.get(0),
    )?;
    let young = i64::from(brood.young.unwrap_or(broods::MOST_YOUNG));
    if number > 0 && all + i64::from(number) > young {
        let said = format!("{} left, but no more than {young} were dropped", all + i64::from(number));
        return Err(Error::usage(
            &brood.label,
            said,
            format!(
                "check both numbers; how many were dropped is put right by: broodhue brood set {} --young N",
                to_type(&brood.label)
            ),
        ));
    }
    if number == 0 || so_far + i64::from(number) < 0 {
        let said = format!("{number} {} cannot be: {so_far} are on record", what.word());
        return Err(Error::usage(&brood.name, said, "give the number that left"));
    }
    let decision = decisions::open(book, by, what.word(), None)?;
    book.conn.execute(
        "INSERT INTO departure (decision_id, brood_id, day, what, sex, number) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
        params![decision.0, brood.id, on.to_string(), what.word(), letter(sex), number],
    )?;
    Ok(())
}

/// Refuses young that left before the first day on which their brood can have been dropped.
fn after_drop(brood: &Brood, on: Date, hint: &str) -> Result<()> {
    brood.dropped_from.filter(|dropped| on < *dropped).map_or(Ok(()), |dropped| {
        let said = format!("left on {on}, but the brood was dropped on {dropped}");
        Err(Error::usage(&brood.name, said, hint))
    })
}

/// Checks that no young left a brood before its drop; what was taken back did not leave.
pub(super) fn check(book: &Read<'_>, brood: &Brood) -> Result<()> {
    let mut left: BTreeMap<Date, i64> = BTreeMap::new();
    for one in of_brood(book, brood)? {
        *left.entry(one.day).or_default() += one.number;
    }
    let first = left.into_iter().find(|(_, number)| *number > 0);
    first.map_or(Ok(()), |(day, _)| after_drop(brood, day, "check both days"))
}

/// One entry of a brood's ledger.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Departure {
    pub(super) day: Date,
    pub(super) why: Why,
    pub(super) sex: Option<Sex>,
    /// Below zero where some were taken back.
    pub(super) number: i64,
}

/// The ledger of a brood, in the order of writing down.
pub(super) fn of_brood(book: &Read<'_>, brood: &Brood) -> Result<Vec<Departure>> {
    let mut statement =
        book.conn.prepare_cached("SELECT day, what, sex, number FROM departure WHERE brood_id = ?1 ORDER BY id")?;
    let mut rows = statement.query([brood.id])?;
    let mut all = Vec::new();
    while let Some(row) = rows.next()? {
        let Some(day) = read_day(row, "day")? else { continue };
        let why = if row.get_ref("what")?.as_str()? == "moved" { Why::Moved } else { Why::Died };
        all.push(Departure { day, why, sex: read_sex(row, "sex")?, number: row.get("number")? });
    }
    Ok(all)
}
