//! How far the fish of each brood's photos are scored, as the first page shows it.

use std::collections::BTreeMap;

use super::Read;
use super::broods::Brood;
use super::regions::{self, PHOTO_STANDS, RegionId};
use crate::error::Result;
use crate::sheet::{NOT_SHOWN, Sheet, UNDECIDED};

/// How far one fish is scored; what needs a look comes first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum HowFar {
    /// An axis has neither a class nor a usable proposal.
    Undecided,
    /// Every open axis has a proposal.
    Proposed,
    /// Every axis that the fish shows has a class.
    Confirmed,
    /// Set aside.
    SetAside,
}

/// How far a fish is scored; `open` is what is proposed, if anything is, on each axis of the sheet on which it has no class.
pub fn how_far<'a>(set_aside: bool, open: impl IntoIterator<Item = Option<&'a str>>) -> HowFar {
    if set_aside {
        return HowFar::SetAside;
    }
    let mut all = HowFar::Confirmed;
    for proposed in open {
        match proposed {
            Some(NOT_SHOWN) => {}
            None | Some(UNDECIDED) => return HowFar::Undecided,
            Some(_) => all = HowFar::Proposed,
        }
    }
    all
}

/// Fish in the photos of one brood, all sittings together, by how far they are scored.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Progress {
    /// [`HowFar::Undecided`].
    pub undecided: u32,
    /// [`HowFar::Proposed`].
    pub proposed: u32,
    /// [`HowFar::Confirmed`].
    pub confirmed: u32,
    /// [`HowFar::SetAside`].
    pub set_aside: u32,
}

impl Progress {
    /// All of them.
    pub const fn fish(&self) -> u32 {
        self.undecided + self.proposed + self.confirmed + self.set_aside
    }
}

/// How far a brood is scored on the axes of a sheet; photos set aside are left out.
///
/// The log is read fish by fish in one go, oldest line first, and proposals only where something is open.
///
/// # Errors
/// The book cannot be read.
pub fn of_brood(book: &Read<'_>, sheet: &Sheet, brood: &Brood) -> Result<Progress> {
    let mut statement = book.conn.prepare_cached(&format!(
        "SELECT r.id, c.field, c.axis, c.new
         FROM sitting s JOIN photo p ON p.sitting_id = s.id JOIN region r ON r.photo_id = p.id AND r.stands = 1
         LEFT JOIN change c INDEXED BY change_by_region
             ON c.region_id = r.root_id AND c.region_id IS NOT NULL AND c.field IN ('aside', 'class', 'sex')
         WHERE s.brood_id = ?1 AND {PHOTO_STANDS} ORDER BY r.id, c.id"
    ))?;
    let mut rows = statement.query([brood.id])?;
    let mut progress = Progress::default();
    let mut fish: Option<Fish> = None;
    while let Some(row) = rows.next()? {
        let id: i64 = row.get(0)?;
        if fish.as_ref().map(|f| f.id) != Some(id) {
            let new = Fish { id, male: false, set_aside: false, has: vec![false; sheet.axes.len()] };
            if let Some(done) = fish.replace(new) {
                done.count(book, sheet, &mut progress)?;
            }
        }
        let (Some(one), Some(field)) = (fish.as_mut(), row.get_ref(1)?.as_str_or_null()?) else { continue };
        let value = row.get_ref(3)?.as_str_or_null()?;
        match field {
            "aside" => one.set_aside = value.is_some(),
            "sex" => one.male = value == Some("m"),
            _ => {
                let axis = row.get_ref(2)?.as_str()?;
                let named = sheet.axes.iter().zip(&mut one.has).filter(|(a, _)| a.name == axis);
                named.for_each(|(_, has)| *has = value.is_some());
            }
        }
    }
    if let Some(last) = fish {
        last.count(book, sheet, &mut progress)?;
    }
    Ok(progress)
}

/// What the log says of one fish.
struct Fish {
    id: i64,
    male: bool,
    set_aside: bool,
    /// Whether it has a class, for each axis of the sheet.
    has: Vec<bool>,
}

impl Fish {
    fn count(&self, book: &Read<'_>, sheet: &Sheet, into: &mut Progress) -> Result<()> {
        let settled = self.set_aside || self.has.iter().all(|h| *h);
        let proposed = if settled { BTreeMap::new() } else { self.proposed(book, sheet)? };
        let open = sheet.axes.iter().zip(&self.has).filter(|(_, has)| !**has);
        let open = open.map(|(axis, _)| proposed.get(&axis.name).map(String::as_str));
        *match how_far(self.set_aside, open) {
            HowFar::Undecided => &mut into.undecided,
            HowFar::Proposed => &mut into.proposed,
            HowFar::Confirmed => &mut into.confirmed,
            HowFar::SetAside => &mut into.set_aside,
        } += 1;
        Ok(())
    }

    /// The proposals by axis. What was not proposed for want of sex is proposed anew for a male, as the fish's own row does.
    fn proposed(&self, book: &Read<'_>, sheet: &Sheet) -> Result<BTreeMap<String, String>> {
        let mut statement = book.conn.prepare_cached("SELECT axis, class FROM proposal WHERE region_id = ?1")?;
        let rows = statement.query_map([self.id], |row| Ok((row.get(0)?, row.get(1)?)))?;
        let stored: BTreeMap<String, String> = rows.collect::<rusqlite::Result<_>>()?;
        let males_only = sheet.axes.iter().filter(|a| a.males_only);
        if self.male && males_only.into_iter().any(|a| stored.get(&a.name).is_some_and(|c| c == NOT_SHOWN)) {
            let region = regions::get(book, RegionId::from_number(self.id))?;
            return Ok(region.proposals.into_iter().map(|p| (p.axis, p.class)).collect());
        }
        Ok(stored)
    }
}
