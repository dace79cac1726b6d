//! The fish of photos as they stand today: what was measured, what is proposed, and what a person said.

use std::collections::BTreeMap;

use jiff::civil::Date;
use rusqlite::{Row, ToSql, params};
use serde::Serialize;

use super::broods::Brood;
use super::decisions::STANDS;
use super::photos::{self, Photo};
use super::values::{read_day, read_json, read_sex};
use super::{Read, measurements, sheets};
use crate::command_line::to_type;
use crate::error::{Error, Result};
use crate::features::Features;
use crate::fish::Flag;
use crate::geometry::{PixelBox, Point};
use crate::score::Confirmed;
use crate::sheet::{self, NOT_SHOWN, Proposal, Sheet, Subject};
use crate::units::{Sex, View, age_days};

/// One fish of one photo for good: never used again, and the same when the photo is measured again.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub struct RegionId(pub(super) i64);

impl RegionId {
    /// The number, as a page may send it to and fro.
    pub const fn number(self) -> i64 {
        self.0
    }

    /// From the number.
    pub const fn from_number(number: i64) -> Self {
        Self(number)
    }
}

/// One fish of one photo.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Region {
    /// Its identity.
    pub id: RegionId,
    #[serde(skip)]
    pub(super) row: i64,
    /// Hash of its photo.
    pub photo: String,
    /// Its number in the photo, by the measurement that it stands in.
    pub n: u32,
    /// Mean place of its pixels.
    pub centre: Point,
    /// The box around it.
    #[serde(rename = "box")]
    pub bounds: PixelBox,
    /// Its outline.
    pub outline: Vec<Point>,
    /// Area in pixels.
    pub area_px: f64,
    /// Snout to tail tip.
    pub length_mm: Option<f64>,
    /// Snout to end of the tail stalk.
    pub standard_length_mm: Option<f64>,
    /// How many fish it is.
    pub number: u32,
    /// Its flags.
    pub flags: Vec<String>,
    /// What was measured.
    pub features: Features,
    /// What the sheet suggests.
    pub proposals: Vec<Proposal>,
    /// What a person said, by axis.
    pub classes: BTreeMap<String, Confirmed>,
    /// Its sex, once a person has said so.
    pub sex: Option<Sex>,
    /// Why it is set aside, if it is.
    pub set_aside: Option<String>,
    /// `moved` or `died`, if it left after this photo.
    pub gone: Option<String>,
    /// Whether its outline is from an earlier measurement, because nothing in the latest is clearly the same fish.
    pub from_earlier: bool,
    /// Its age in days in this photo, at least; `None` where its birth or the day of the photo is not known.
    pub age_days: Option<u32>,
}

/// Flags that spoil a colour.
const SPOILT: [&str; 5] = ["cluster", "cut", "shaded", "blurred", "too-small"];

/// Whether flags leave a fish's colour fit to be compared.
fn unspoilt(flags: &[String]) -> bool {
    !flags.iter().any(|f| SPOILT.contains(&f.as_str()))
}

impl Region {
    /// Whether its colour can be compared: not set aside, one fish, not spoilt.
    pub fn is_comparable(&self) -> bool {
        self.set_aside.is_none() && self.number == 1 && unspoilt(&self.flags)
    }
}

/// Leaves out photos `p` that are set aside.
pub(super) const PHOTO_STANDS: &str = "NOT EXISTS (SELECT 1 FROM current_photo a
    WHERE a.photo_id = p.id AND a.field = 'aside' AND a.value IS NOT NULL)";

/// Leaves out regions `r` that are set aside.
pub(super) const OUTLINE_STANDS: &str = "NOT EXISTS (SELECT 1 FROM current_region o
    WHERE o.region_id = r.root_id AND o.field = 'aside' AND o.axis = '' AND o.value IS NOT NULL)";

/// Who said what stands in the row `s` of `current_region`, whose decision is `d`: where that took something back, the person whose
/// word holds again, not the one who took back.
pub(super) fn said_by() -> String {
    format!(
        "CASE d.what WHEN 'undo' THEN coalesce((
             SELECT d.made_by FROM change l JOIN decision d ON d.id = l.decision_id
             WHERE l.region_id = s.region_id AND l.field = s.field AND l.axis = s.axis AND l.new IS s.value AND {STANDS}
             ORDER BY l.id DESC LIMIT 1), d.made_by) ELSE d.made_by END"
    )
}

/// Leaves photos `p` of which one outline stands: a portrait that shows several fish says nothing of the one it is named after.
pub(super) const ONE_FISH: &str = "1 = (SELECT count(*) FROM region x WHERE x.photo_id = p.id AND x.stands = 1
    AND NOT EXISTS (SELECT 1 FROM current_region o
        WHERE o.region_id = x.root_id AND o.field = 'aside' AND o.axis = '' AND o.value IS NOT NULL))";

/// The fish of one photo, in the order of their numbers.
///
/// # Errors
/// The book cannot be read.
pub fn of_photo(book: &Read<'_>, photo: &Photo) -> Result<Vec<Region>> {
    select(book, "r.photo_id = ?1", &[&photo.id])
}

/// The fish of every photo of a brood, by sitting, photo and number; photos set aside are left out.
///
/// # Errors
/// The book cannot be read.
pub fn of_brood(book: &Read<'_>, brood: &Brood) -> Result<Vec<Region>> {
    select(book, &format!("s.brood_id = ?1 AND {PHOTO_STANDS}"), &[&brood.id])
}

/// The fish of a brood's latest sitting from one view; photos set aside are left out.
///
/// # Errors
/// The book cannot be read.
pub fn of_latest_sitting(book: &Read<'_>, brood: &Brood, view: View) -> Result<Vec<Region>> {
    let condition = format!("s.brood_id = ?1 AND {PHOTO_STANDS} AND p.view = ?2 AND s.day = {}", latest_day());
    select(book, &condition, &[&brood.id, &photos::view_word(view)])
}

/// The day of a brood's latest sitting from one view whose photos show fish.
fn latest_day() -> String {
    format!(
        "(SELECT max(s.day) FROM sitting s JOIN photo p ON p.sitting_id = s.id WHERE s.brood_id = ?1 AND p.view = ?2
          AND EXISTS (SELECT 1 FROM region o WHERE o.photo_id = p.id AND o.stands = 1) AND {PHOTO_STANDS})"
    )
}

/// The row of a photo, and what was measured on a fish in it.
type InPhoto = (i64, Features);

/// What was measured on the fish of a brood's latest sitting whose colour can be compared ([`Region::is_comparable`]), with the day;
/// without outlines, proposals and classes, so that a line of many years is read in moments.
///
/// # Errors
/// The book cannot be read.
pub(super) fn measured(book: &Read<'_>, brood: &Brood, view: View) -> Result<Option<(Date, Vec<InPhoto>)>> {
    let mut statement = book.conn.prepare_cached(&format!(
        "SELECT r.photo_id, r.features, r.flags, s.day FROM sitting s JOIN photo p ON p.sitting_id = s.id
         JOIN region r ON r.photo_id = p.id AND r.stands = 1
         WHERE s.brood_id = ?1 AND {PHOTO_STANDS} AND p.view = ?2 AND s.day = {} AND r.number = 1
         AND {OUTLINE_STANDS}
         ORDER BY p.id, r.n, r.id",
        latest_day()
    ))?;
    let mut rows = statement.query(params![brood.id, photos::view_word(view)])?;
    let (mut day, mut all) = (None, Vec::new());
    while let Some(row) = rows.next()? {
        day = read_day(row, "day")?;
        if unspoilt(&read_json::<Vec<String>>(row, "flags")?) {
            all.push((row.get("photo_id")?, read_json(row, "features")?));
        }
    }
    Ok(day.map(|day| (day, all)))
}

/// What a brood's photo was measured with, and over which floor.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct SeenIn {
    /// The photo's row.
    pub(super) photo: i64,
    /// The sheet, by hash.
    pub(super) sheet: String,
    /// The colour of the floor, where it is known.
    pub(super) floor: Option<String>,
}

/// The measurements that the fish of a brood's latest sitting stand in.
///
/// # Errors
/// The book cannot be read.
pub(super) fn seen_in(book: &Read<'_>, brood: &Brood, view: View) -> Result<Vec<SeenIn>> {
    let mut statement = book.conn.prepare_cached(&format!(
        "SELECT m.photo_id, m.sheet_hash, json_extract(m.report, '$.conditions.floor') FROM measurement m WHERE m.id IN
             (SELECT r.measurement_id FROM sitting s JOIN photo p ON p.sitting_id = s.id
              JOIN region r ON r.photo_id = p.id AND r.stands = 1
              WHERE s.brood_id = ?1 AND {PHOTO_STANDS} AND p.view = ?2 AND s.day = {})
         ORDER BY m.id",
        latest_day()
    ))?;
    let rows = statement.query_map(params![brood.id, photos::view_word(view)], |row| {
        Ok(SeenIn { photo: row.get(0)?, sheet: row.get(1)?, floor: row.get(2)? })
    })?;
    Ok(rows.collect::<rusqlite::Result<_>>()?)
}

/// The fish of a named fish's portraits; photos set aside are left out, and those that show several fish.
///
/// # Errors
/// The book cannot be read.
pub fn of_portraits(book: &Read<'_>, fish: &str) -> Result<Vec<Region>> {
    let condition = format!("p.fish_id = (SELECT id FROM fish WHERE name = ?1) AND {PHOTO_STANDS} AND {ONE_FISH}");
    select(book, &condition, &[&fish])
}

/// The same of the portraits from one view.
///
/// # Errors
/// The book cannot be read.
pub fn of_portraits_from(book: &Read<'_>, fish: &str, view: View) -> Result<Vec<Region>> {
    let condition =
        format!("p.fish_id = (SELECT id FROM fish WHERE name = ?1) AND {PHOTO_STANDS} AND {ONE_FISH} AND p.view = ?2");
    select(book, &condition, &[&fish, &photos::view_word(view)])
}

/// What stands against a portrait: several fish in it, so that it tells nothing of the one it is named after.
///
/// # Errors
/// The book cannot be read.
pub fn crowded(book: &Read<'_>, photo: &Photo) -> Result<Option<Error>> {
    let photos::Subject::Portrait(fish) = &photo.subject else { return Ok(None) };
    let standing = of_photo(book, photo)?.iter().filter(|r| r.set_aside.is_none()).count();
    let name = &photo.name;
    Ok((standing > 1).then(|| {
        let said = format!("shows {standing} fish, so that as a portrait it tells nothing of {fish}");
        let (photo, fish) = (to_type(name), to_type(fish));
        let hint = format!(
            "set the others aside with `broodhue confirm --photo {photo} --fish N --set-aside WHY`, or mark the one with \
             `broodhue score {photo} --fish {fish} --again --box X0,Y0,X1,Y1`; a brood's photo goes with `--brood B --instead`"
        );
        Error::failed(name, said, hint)
    }))
}

/// One fish by its identity.
///
/// # Errors
/// No such region.
pub fn get(book: &Read<'_>, id: RegionId) -> Result<Region> {
    select(book, "r.root_id = (SELECT root_id FROM region WHERE id = ?1)", &[&id.0])?
        .pop()
        .ok_or_else(|| Error::failed(format!("region {}", id.0), "no such fish is in the book", "reload the list"))
}

/// Fish `n` of a photo.
///
/// # Errors
/// No fish of this number stands in it.
pub fn numbered(book: &Read<'_>, photo: &Photo, n: u32) -> Result<Region> {
    let all = of_photo(book, photo)?;
    let count = all.len();
    // A fish kept from an earlier measurement may share its number with one of today's: today's is meant.
    all.into_iter().filter(|r| r.n == n).min_by_key(|r| r.from_earlier).ok_or_else(|| {
        let of = match &photo.subject {
            photos::Subject::Sitting { brood, .. } => format!("brood {brood}"),
            photos::Subject::Portrait(fish) => format!("fish {fish}"),
        };
        let said = format!("there is no fish {n} in this photo of {of}; it has {count}");
        Error::failed(&photo.name, said, "numbers are those of `broodhue score` and the confirm page")
    })
}

fn select(book: &Read<'_>, condition: &str, args: &[&dyn ToSql]) -> Result<Vec<Region>> {
    let sql = format!(
        "SELECT r.*, p.hash, coalesce(s.day, date(p.taken)) AS seen_on,
                coalesce(b.dropped_to, b.dropped_from, f.born) AS born, r.measurement_id < (SELECT max(m.id) FROM measurement m WHERE m.photo_id = p.id) AS earlier
         FROM region r JOIN photo p ON p.id = r.photo_id
         LEFT JOIN sitting s ON s.id = p.sitting_id LEFT JOIN brood b ON b.id = s.brood_id
         LEFT JOIN fish f ON f.id = p.fish_id
         WHERE r.stands = 1 AND {condition} ORDER BY s.day, p.id, r.n, r.id"
    );
    let mut statement = book.conn.prepare_cached(&sql)?;
    let rows = statement.query_map(args, read)?;
    let mut regions = rows.collect::<rusqlite::Result<Vec<_>>>()?;
    for region in &mut regions {
        region.proposals = measurements::proposals(book, region.row)?;
        said(book, region)?;
    }
    if regions.iter().any(hidden_for_want_of_sex) {
        let sheet = sheets::rules(book)?;
        regions.iter_mut().filter(|r| hidden_for_want_of_sex(r)).for_each(|r| show_to_sex(r, &sheet));
    }
    Ok(regions)
}

fn read(row: &Row<'_>) -> rusqlite::Result<Region> {
    Ok(Region {
        id: RegionId(row.get("root_id")?),
        row: row.get("id")?,
        photo: row.get("hash")?,
        n: row.get("n")?,
        centre: Point::new(row.get("centre_x")?, row.get("centre_y")?),
        bounds: read_json(row, "box")?,
        outline: read_json(row, "outline")?,
        area_px: row.get("area_px")?,
        length_mm: row.get("length_mm")?,
        standard_length_mm: row.get("standard_mm")?,
        number: row.get("number")?,
        flags: read_json(row, "flags")?,
        features: read_json(row, "features")?,
        proposals: Vec::new(),
        classes: BTreeMap::new(),
        sex: None,
        set_aside: None,
        gone: None,
        from_earlier: row.get("earlier")?,
        age_days: read_day(row, "born")?.zip(read_day(row, "seen_on")?).and_then(|(born, on)| age_days(born, on)),
    })
}

/// Whether something was not proposed that this fish, now that a person calls it male, may show.
fn hidden_for_want_of_sex(region: &Region) -> bool {
    region.sex == Some(Sex::Male) && region.proposals.iter().any(|p| p.class == NOT_SHOWN)
}

/// Proposes anew, from the stored features, on the axes that only males show.
fn show_to_sex(region: &mut Region, sheet: &Sheet) {
    let flags = region.flags.iter().filter_map(|f| Flag::from_name(f)).collect();
    let subject = Subject { sex: region.sex, age_days: region.age_days, flags };
    let males_only = |axis: &str| sheet.axis(axis).is_some_and(|a| a.males_only);
    for new in sheet::propose(sheet, &region.features, &subject) {
        let old = region.proposals.iter_mut().find(|p| p.axis == new.axis && p.class == NOT_SHOWN);
        if let Some(old) = old.filter(|p| males_only(&p.axis)) {
            *old = new;
        }
    }
}

/// Fills in what a person said.
fn said(book: &Read<'_>, region: &mut Region) -> Result<()> {
    let mut statement = book.conn.prepare_cached(&format!(
        "SELECT s.field, s.axis, s.value, {} AS made_by FROM current_region s JOIN decision d ON d.id = s.decision_id
         WHERE s.region_id = ?1 AND s.value IS NOT NULL",
        said_by()
    ))?;
    let mut rows = statement.query([region.id.0])?;
    while let Some(row) = rows.next()? {
        let (field, value): (String, String) = (row.get("field")?, row.get("value")?);
        match field.as_str() {
            "class" => {
                let axis: String = row.get("axis")?;
                let by: String = row.get("made_by")?;
                region.classes.insert(axis.clone(), Confirmed::said_by(&by, &axis, &value)?);
            }
            "sex" => region.sex = read_sex(row, "value")?,
            "aside" => region.set_aside = Some(value),
            _ => region.gone = Some(value),
        }
    }
    Ok(())
}
