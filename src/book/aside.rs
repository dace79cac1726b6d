//! Broods and crosses that were written down by mistake: set aside with a reason, counted nowhere, and brought back. Nothing that
//! stands may depend on one that is set aside.

use rusqlite::OptionalExtension;

use super::broods::{self, Brood};
use super::crosses::Dam;
use super::decisions::{self, By, DecisionId};
use super::regions::PHOTO_STANDS;
use super::{Read, Write, consistent, crosses, settings};
use crate::command_line::to_type;
use crate::error::{Error, Result};

/// What can be set aside so.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Brood,
    Cross,
}

impl Kind {
    const fn word(self) -> &'static str {
        match self {
            Self::Brood => "brood",
            Self::Cross => "cross",
        }
    }

    /// The name of the setting that holds why the one in row `id` is set aside; empty where it was brought back.
    fn setting(self, id: &str) -> String {
        format!("set aside {} {id}", self.word())
    }

    /// An SQL expression: why the one whose row is `id` is set aside, NULL where it is not.
    pub(super) fn why(self, id: &str) -> String {
        format!("(SELECT nullif(value, '') FROM setting WHERE name = '{}' || {id})", self.setting(""))
    }

    /// What is said to who names one that is set aside.
    pub(super) fn refusal(self, name: &str, why: &str) -> Error {
        Error::failed(format!("{} {name}", self.word()), format!("is set aside: {why}"), self.bring_back(name))
    }

    fn bring_back(self, name: &str) -> String {
        format!("broodhue {} set-aside {} --bring-back", self.word(), to_type(name))
    }

    /// Why the one of this name is set aside, if it is.
    fn now(self, book: &Read<'_>, name: &str) -> Result<Option<String>> {
        Ok(match self {
            Self::Brood => broods::among_all(book, name)?.set_aside,
            Self::Cross => crosses::among_all(book, name)?.1,
        })
    }
}

/// The command that brings back what a line of the log set aside; `None` where the line says something else, or what it says holds no more.
pub(super) fn way_back(book: &Read<'_>, line: &str) -> Option<String> {
    [Kind::Brood, Kind::Cross].into_iter().find_map(|kind| {
        let set_aside = |(name, reason): &(&str, &str)| matches!(kind.now(book, name), Ok(Some(now)) if now == *reason);
        let (name, _) = readings(kind, line).find(set_aside)?;
        Some(kind.bring_back(name))
    })
}

/// Between the name and the reason in the log.
const SET_ASIDE: &str = ": set aside: ";

/// The line of the log that says that one of this name was set aside, and why.
fn line(kind: Kind, name: &str, reason: &str) -> String {
    format!("{} {name}{SET_ASIDE}{reason}", kind.word())
}

/// The names and reasons that such a line may say: one, unless name or reason hold what stands between them.
fn readings(kind: Kind, line: &str) -> impl Iterator<Item = (&str, &str)> {
    let said = line.strip_prefix(kind.word()).and_then(|rest| rest.strip_prefix(' ')).unwrap_or_default();
    // Where one stands in another's end both are looked at.
    said.char_indices().filter_map(|(at, _)| Some((&said[..at], said[at..].strip_prefix(SET_ASIDE)?)))
}

/// Sets a brood aside with a reason, or brings it back (`None`). Says whether that changed anything.
///
/// # Errors
/// An unknown brood; an empty reason; photos that show it or fish that came from it; of one brought back a cross that is set aside, or
/// days that other records forbid by now.
pub fn brood(book: &Write<'_>, name: &str, reason: Option<&str>, by: &By) -> Result<bool> {
    let brood = broods::among_all(book, name)?;
    if reason.is_some() {
        needed_by_photo(book, &brood)?;
        let of_fish = "SELECT name FROM fish WHERE brood_id = ?1 ORDER BY id LIMIT 1";
        needed_by_fish(book, (Kind::Brood, &brood.label, brood.id), of_fish)?;
    } else {
        crosses::known_id(book, &brood.cross)?;
    }
    let changed = put(book, (Kind::Brood, &brood.label, brood.id), (brood.set_aside.as_deref(), reason), by)?;
    consistent::cross(book, &brood.cross, &[])?;
    Ok(changed)
}

/// Sets a cross aside with a reason, or brings it back (`None`). Says whether that changed anything.
///
/// # Errors
/// An unknown cross; an empty reason; broods that are not set aside, fish or dams that came from it; of one brought back parents or days
/// that other records forbid by now.
pub fn cross(book: &Write<'_>, name: &str, reason: Option<&str>, by: &By) -> Result<bool> {
    let (id, old) = crosses::among_all(book, name)?;
    if reason.is_some() {
        if let Some(brood) = broods::list(book)?.iter().find(|b| b.cross_id == id) {
            let hint = format!("broodhue brood set {0} --cross CROSS, or brood set-aside {0}", to_type(&brood.label));
            return Err(depends(Kind::Cross, name, &format!("brood {} is counted under it", brood.label), &hint));
        }
        let of_fish = "SELECT name FROM fish WHERE cross_id = ?1 ORDER BY id LIMIT 1";
        needed_by_fish(book, (Kind::Cross, name, id), of_fish)?;
        needed_as_parent(book, (name, id))?;
    }
    let changed = put(book, (Kind::Cross, name, id), (old.as_deref(), reason), by)?;
    if reason.is_none() {
        consistent::cross(book, name, &[])?;
    }
    Ok(changed)
}

fn put(
    book: &Write<'_>,
    (kind, name, id): (Kind, &str, i64),
    (old, reason): (Option<&str>, Option<&str>),
    by: &By,
) -> Result<bool> {
    decisions::check_reason(name, reason)?;
    if old == reason {
        return Ok(false);
    }
    settings::set(book, &kind.setting(&id.to_string()), reason.unwrap_or_default())?;
    let said = reason.map_or_else(|| format!("{} {name}: back again", kind.word()), |why| line(kind, name, why));
    decisions::open(book, by, "record", Some(&said))?;
    Ok(true)
}

fn depends(kind: Kind, name: &str, said: &str, hint: &str) -> Error {
    Error::failed(format!("{} {name}", kind.word()), format!("cannot be set aside: {said}"), hint)
}

fn needed_by_photo(book: &Read<'_>, brood: &Brood) -> Result<()> {
    let sql = format!(
        "SELECT p.name FROM photo p JOIN sitting s ON s.id = p.sitting_id WHERE s.brood_id = ?1 AND {PHOTO_STANDS}
         ORDER BY p.id LIMIT 1"
    );
    let found: Option<String> = book.conn.query_row(&sql, [brood.id], |row| row.get(0)).optional()?;
    let Some(photo) = found else { return Ok(()) };
    let typed = to_type(&photo);
    let hint = format!("broodhue score {typed} --instead --brood B, or confirm --photo {typed} --set-aside WHY");
    Err(depends(Kind::Brood, &brood.label, &format!("photo {photo} shows it"), &hint))
}

fn needed_by_fish(book: &Read<'_>, (kind, name, id): (Kind, &str, i64), sql: &str) -> Result<()> {
    let found: Option<String> = book.conn.query_row(sql, [id], |row| row.get(0)).optional()?;
    let Some(fish) = found else { return Ok(()) };
    let hint = format!("broodhue fish set {} --{} NAME, or none", to_type(&fish), kind.word());
    Err(depends(kind, name, &format!("fish {fish} came from it"), &hint))
}

/// Refuses entries of a decision after which a photo stands though its brood is set aside.
///
/// # Errors
/// There is such a photo.
pub(super) fn refuse_photos(book: &Read<'_>, decision: DecisionId) -> Result<()> {
    let sql = format!(
        "{} AND p.id IN (SELECT photo_id FROM change WHERE decision_id = ?1) ORDER BY p.id LIMIT 1",
        photos_left()
    );
    let left = book.conn.query_row(&sql, [decision.0], |row| Ok((row.get(1)?, row.get(2)?)));
    let left: Option<(String, String)> = left.optional()?;
    left.map_or(Ok(()), |(brood, why)| Err(Kind::Brood.refusal(&brood, &why)))
}

/// A query of the photos that stand though their brood is set aside: name, brood and why that is set aside.
fn photos_left() -> String {
    format!(
        "SELECT p.name, (SELECT label FROM brood_label l WHERE l.id = s.brood_id), {why} AS why
         FROM photo p JOIN sitting s ON s.id = p.sitting_id WHERE {why} IS NOT NULL AND {PHOTO_STANDS}",
        why = Kind::Brood.why("s.brood_id")
    )
}

/// What stands though it depends on a brood or a cross that is set aside, so that it is counted nowhere; each in words.
///
/// # Errors
/// The book cannot be read.
pub(super) fn faults(book: &Read<'_>) -> Result<Vec<String>> {
    let (brood, cross) = (Kind::Brood, Kind::Cross);
    let all = [
        ("photo", brood, photos_left()),
        (
            "fish",
            brood,
            format!(
                "SELECT f.name, l.label, {why} FROM fish f JOIN brood_label l ON l.id = f.brood_id WHERE {why} IS NOT NULL",
                why = brood.why("f.brood_id")
            ),
        ),
        (
            "fish",
            cross,
            format!(
                "SELECT f.name, c.name, {why} FROM fish f JOIN crosses c ON c.id = f.cross_id WHERE {why} IS NOT NULL",
                why = cross.why("f.cross_id")
            ),
        ),
        (
            "brood",
            cross,
            format!(
                "SELECT l.label, c.name, {why} FROM brood b JOIN brood_label l ON l.id = b.id
                 JOIN crosses c ON c.id = b.cross_id WHERE {why} IS NOT NULL AND {} IS NULL",
                brood.why("b.id"),
                why = cross.why("b.cross_id")
            ),
        ),
    ];
    let mut faults = Vec::new();
    for (what, kind, sql) in all {
        let mut statement = book.conn.prepare(&sql)?;
        let rows = statement.query_map([], |row| {
            let (name, of, why): (String, String, String) = (row.get(0)?, row.get(1)?, row.get(2)?);
            let kind = kind.word();
            Ok(format!(
                "{what} {name}: stands, but its {kind} {of} is set aside: {why}; bring that back, or put the {what} elsewhere or aside"
            ))
        })?;
        faults.extend(rows.collect::<rusqlite::Result<Vec<_>>>()?);
    }
    Ok(faults)
}

/// Refuses a cross out of which an unnamed dam of another came, or one of whose dams a brood of another names.
fn needed_as_parent(book: &Read<'_>, (name, id): (&str, i64)) -> Result<()> {
    let mut statement = book.conn.prepare_cached(
        "SELECT c.name FROM cross_dam d JOIN crosses c ON c.id = d.cross_id WHERE d.sister_of = ?1 ORDER BY d.id",
    )?;
    let crosses = statement.query_map([id], |row| row.get::<_, String>(0))?.collect::<rusqlite::Result<Vec<_>>>()?;
    let stands = |other: &&String| crosses::known_id(book, other).is_ok();
    if let Some(other) = crosses.iter().find(stands) {
        let replaced = to_type(format!("{}=NAME", Dam::SisterOf(name.to_owned())));
        let hint = format!("broodhue cross set {} --replace {replaced}", to_type(other));
        return Err(depends(Kind::Cross, name, &format!("a dam of cross {other} came from it"), &hint));
    }
    let by_dam = |brood: &&Brood| brood.dams.iter().any(|d| d.cross == name);
    if let Some(brood) = broods::list(book)?.iter().find(by_dam) {
        let hint = format!("broodhue brood set {} --dam NAME, or none", to_type(&brood.label));
        return Err(depends(Kind::Cross, name, &format!("brood {} may be of one of its dams", brood.label), &hint));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        /// What was written is read again, whatever names and reasons hold; of a plain name nothing else is.
        #[test]
        fn a_line_of_the_log_is_read_as_it_was_written(name in "(: set aside(: )?|[ a-zé/:0-9]){1,9}", reason in "(: set aside: |.){1,9}") {
            for kind in [Kind::Brood, Kind::Cross] {
                let said = line(kind, &name, &reason);
                let read: Vec<(&str, &str)> = readings(kind, &said).collect();
                prop_assert!(read.contains(&(name.as_str(), reason.as_str())), "{said}");
                let other = if kind == Kind::Brood { Kind::Cross } else { Kind::Brood };
                prop_assert_eq!(readings(other, &said).count(), 0);
            }
        }
    }
}
