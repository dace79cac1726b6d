//! Photos: kept once by their content hash, each a tray photo of a brood's sitting or a portrait of a named fish.

use std::fs;
use std::path::{Path, PathBuf};

use jiff::civil::Date;
use rusqlite::{OptionalExtension, Row, params};
use serde::Serialize;

use super::broods::Brood;
use super::decisions::{self, By};
use super::log::{Field, Target, record};
use super::originals::Wrong;
use super::regions::PHOTO_STANDS;
use super::values::read_day;
use super::{Read, Write, broods, files, fish};
use crate::command_line::to_type;
use crate::error::{Error, Result};
use crate::photo::identity;
use crate::units::View;

/// What a photo shows.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Subject {
    /// A brood, on the day of a sitting.
    Sitting {
        /// The brood.
        brood: String,
        /// The day.
        day: Date,
    },
    /// A named fish.
    Portrait(String),
}

impl std::fmt::Display for Subject {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Sitting { brood, day } => write!(f, "brood {brood} on {day}"),
            Self::Portrait(fish) => write!(f, "fish {fish}"),
        }
    }
}

/// A photo to be kept.
#[derive(Debug, Clone)]
pub struct NewPhoto<'a> {
    /// The file's name as a person knows it.
    pub name: &'a str,
    /// SHA-256 of the bytes in lower-case hex.
    pub hash: &'a str,
    /// The file, byte for byte.
    pub bytes: &'a [u8],
    /// Width of the upright picture in pixels.
    pub width: u32,
    /// Height of the upright picture in pixels.
    pub height: u32,
    /// Capture time by the camera's clock.
    pub taken: Option<String>,
    /// From where the camera saw the fish.
    pub view: View,
    /// A small calibrated JPEG without any EXIF.
    pub preview: Option<&'a [u8]>,
    /// What it shows.
    pub subject: &'a Subject,
}

/// A photo as the book has it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Photo {
    #[serde(skip)]
    pub(super) id: i64,
    /// Its name.
    pub name: String,
    /// Its identity.
    pub hash: String,
    /// Width in pixels.
    pub width: u32,
    /// Height in pixels.
    pub height: u32,
    /// Capture time by the camera's clock.
    pub taken: Option<String>,
    /// From where.
    pub view: View,
    /// What it shows.
    pub subject: Subject,
    /// The original file.
    #[serde(skip)]
    pub original: PathBuf,
    /// The preview.
    #[serde(skip)]
    pub preview: Option<PathBuf>,
    /// Why it is set aside, if it is.
    pub set_aside: Option<String>,
}

/// Keeps a photo; of one that is there already only view and preview are brought up to date, and a lost or changed original
/// is put back. Says whether it is new.
///
/// # Errors
/// An unknown brood or fish; a photo that already shows something else; a full disk.
pub fn keep(book: &Write<'_>, new: &NewPhoto<'_>, at: jiff::Timestamp) -> Result<bool> {
    if let Some(old) = find(book, new.hash)? {
        if old.subject == *new.subject {
            refresh(book, &old, new)?;
            return Ok(false);
        }
        return Err(Error::failed(
            new.name,
            format!("this photo is in the book already as {} of {}", old.name, old.subject),
            "to say that it shows this instead, name it once more with --instead; what was confirmed of its fish goes along",
        ));
    }
    let (sitting, fish) = rows_of(book, new.subject)?;
    let original = files::original(new.hash, new.name);
    files::write(book.dir, &original, new.bytes)?;
    let preview = new.preview.map(|_| files::preview(new.hash));
    if let (Some(path), Some(bytes)) = (&preview, new.preview) {
        files::write(book.dir, path, bytes)?;
    }
    book.conn.execute(
        "INSERT INTO photo (hash, name, bytes, width, height, taken, view, sitting_id, fish_id, original, preview, kept_at)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12)",
        params![
            new.hash,
            new.name,
            i64::try_from(new.bytes.len()).unwrap_or(i64::MAX),
            new.width,
            new.height,
            new.taken,
            view_word(new.view),
            sitting,
            fish,
            original,
            preview,
            at.to_string()
        ],
    )?;
    Ok(true)
}

/// Says that a photo of the book shows something else than was said: another brood, another day, another fish. Its fish and what was
/// confirmed of them go along.
///
/// # Errors
/// An unknown brood or fish; a sitting before the brood was dropped.
pub fn shows_instead(book: &Write<'_>, old: &Photo, subject: &Subject, by: &By) -> Result<()> {
    let (sitting, fish) = rows_of(book, subject)?;
    decisions::open(book, by, "record", Some(&format!("{}: {subject} (was {})", old.name, old.subject)))?;
    book.conn
        .execute("UPDATE photo SET sitting_id = ?2, fish_id = ?3 WHERE id = ?1", params![old.id, sitting, fish])?;
    Ok(())
}

/// The rows of the sitting, which is opened where there is none, or of the fish.
fn rows_of(book: &Write<'_>, subject: &Subject) -> Result<(Option<i64>, Option<i64>)> {
    Ok(match subject {
        Subject::Sitting { brood, day } => (Some(sitting_id(book, brood, *day)?), None),
        Subject::Portrait(name) => (None, Some(fish::known_id(book, name)?)),
    })
}

fn refresh(book: &Write<'_>, old: &Photo, new: &NewPhoto<'_>) -> Result<()> {
    if !fs::read(&old.original).is_ok_and(|kept| kept == new.bytes) {
        files::write(book.dir, &files::original(&old.hash, &old.name), new.bytes)?;
    }
    let preview = new.preview.map(|_| files::preview(new.hash));
    if let (Some(path), Some(bytes)) = (&preview, new.preview) {
        files::write(book.dir, path, bytes)?;
    }
    book.conn.execute(
        "UPDATE photo SET view = ?2, preview = coalesce(?3, preview) WHERE id = ?1",
        params![old.id, view_word(new.view), preview],
    )?;
    Ok(())
}

/// The photo with this hash, if it is in the book.
///
/// # Errors
/// The book cannot be read.
pub fn find(book: &Read<'_>, hash: &str) -> Result<Option<Photo>> {
    let found =
        book.conn.query_row(&format!("{SELECT} WHERE p.hash = ?1"), [hash], |row| read(book, row)).optional()?;
    Ok(found)
}

/// The photos that a person may mean: those of this name, or whose hash begins with these digits.
///
/// # Errors
/// The book cannot be read.
pub fn fitting(book: &Read<'_>, name: &str) -> Result<Vec<Photo>> {
    let prefix = name.len() >= 6 && name.chars().all(|c| c.is_ascii_hexdigit());
    let mut statement = book.conn.prepare_cached(&format!(
        "{SELECT} WHERE p.name = ?1 OR (?2 AND substr(p.hash, 1, length(?1)) = lower(?1)) ORDER BY p.id"
    ))?;
    let rows = statement.query_map(params![name, prefix], |row| read(book, row))?;
    Ok(rows.collect::<rusqlite::Result<_>>()?)
}

/// The photo that a person means: by its name, by the first digits of its hash, or by the path of its file.
///
/// # Errors
/// No such photo; several that fit.
pub fn named(book: &Read<'_>, name: &str) -> Result<Photo> {
    let mut fitting = fitting(book, name)?;
    let last = fitting.pop();
    match last {
        Some(photo) if fitting.is_empty() => Ok(photo),
        Some(last) => {
            fitting.push(last);
            let each: Vec<String> = fitting.iter().map(|p| format!("{} ({})", &p.hash[..12], p.subject)).collect();
            let said = format!("{} photos have this name: {}", each.len(), each.join(", "));
            Err(Error::failed(name, said, "name one by the first digits of its hash"))
        }
        None => by_path(book, name)?.ok_or_else(|| {
            Error::failed(name, "no such photo is in the book", "score it first: broodhue score PHOTO --brood B")
        }),
    }
}

/// The photo whose file lies at a path; where none lies there, as on another machine, the one of the name that the path ends with.
fn by_path(book: &Read<'_>, typed: &str) -> Result<Option<Photo>> {
    let path = Path::new(typed);
    if path.is_file() {
        let bytes = fs::read(path).map_err(|e| Error::failed(typed, e, "check whether you may read the file"))?;
        return find(book, &identity(&bytes));
    }
    let last = path.file_name().and_then(|last| last.to_str()).filter(|last| *last != typed);
    last.map(|last| named(book, last)).transpose()
}

/// What is said of a photo of whose original something is wrong, and how it is put back.
pub fn spoilt(photo: &Photo, wrong: &Wrong) -> Error {
    Error::failed(
        format!("{} ({})", photo.name, photo.subject),
        format!("its original {wrong}"),
        format!(
            "put the file back, as it came from the camera: broodhue score {} --again",
            to_type(format!("FOLDER/{}", photo.name))
        ),
    )
}

/// Every photo in the order of keeping.
///
/// # Errors
/// The book cannot be read.
pub fn list(book: &Read<'_>) -> Result<Vec<Photo>> {
    let mut statement = book.conn.prepare_cached(&format!("{SELECT} ORDER BY p.id"))?;
    let rows = statement.query_map([], |row| read(book, row))?;
    Ok(rows.collect::<rusqlite::Result<_>>()?)
}

/// Every photo of a brood's sittings, in the order of keeping.
///
/// # Errors
/// The book cannot be read.
pub fn of_brood(book: &Read<'_>, brood: &Brood) -> Result<Vec<Photo>> {
    let mut statement = book.conn.prepare_cached(&format!("{SELECT} WHERE s.brood_id = ?1 ORDER BY p.id"))?;
    let rows = statement.query_map([brood.id], |row| read(book, row))?;
    Ok(rows.collect::<rusqlite::Result<_>>()?)
}

/// Sets a photo aside with a reason, or brings it back (`None`). Says whether that changed anything.
///
/// # Errors
/// An unknown photo; an empty reason; of one brought back a brood that is set aside.
pub fn set_aside(book: &Write<'_>, name: &str, reason: Option<&str>, by: &By) -> Result<bool> {
    decisions::check_reason(name, reason)?;
    let photo = named(book, name)?;
    if let (None, Subject::Sitting { brood, .. }) = (reason, &photo.subject) {
        broods::known(book, brood)?;
    }
    let what = if reason.is_some() { "set-aside" } else { "bring-back" };
    let decision = decisions::open(book, by, what, reason)?;
    record(book, decision, &by.name, Target::Photo(photo.id), Field::Aside, reason)
}

fn sitting_id(book: &Write<'_>, brood: &str, day: Date) -> Result<i64> {
    let brood = broods::known(book, brood)?;
    after_drop(&brood, day, "check the day of the sitting and the day of the drop")?;
    book.conn
        .execute("INSERT OR IGNORE INTO sitting (brood_id, day) VALUES (?1, ?2)", params![brood.id, day.to_string()])?;
    let id = book.conn.query_row(
        "SELECT id FROM sitting WHERE brood_id = ?1 AND day = ?2",
        params![brood.id, day.to_string()],
        |row| row.get(0),
    )?;
    Ok(id)
}

/// Refuses a sitting before the first day on which its brood can have been dropped.
fn after_drop(brood: &Brood, day: Date, hint: &str) -> Result<()> {
    brood.dropped_from.filter(|first| day < *first).map_or(Ok(()), |first| {
        let said = format!("the sitting is dated {day}, before the brood was dropped ({first})");
        Err(Error::failed(format!("brood {}", brood.name), said, hint))
    })
}

/// Checks that no sitting of a brood lies before its drop; photos that are set aside are none.
pub(super) fn check_sittings(book: &Read<'_>, brood: &Brood) -> Result<()> {
    let first = format!(
        "SELECT min(s.day) AS day FROM sitting s JOIN photo p ON p.sitting_id = s.id WHERE s.brood_id = ?1 AND {PHOTO_STANDS}"
    );
    let day = book.conn.prepare_cached(&first)?.query_row([brood.id], |row| read_day(row, "day"))?;
    let hint = "check both days; `broodhue score PHOTO --brood B --sitting DAY` puts its photos under another";
    day.map_or(Ok(()), |day| after_drop(brood, day, hint))
}

pub(super) const fn view_word(view: View) -> &'static str {
    match view {
        View::Above => "above",
        View::Side => "side",
    }
}

/// The label is asked for row by row: joined to the view, every brood's label would be worked out for every photo.
const SELECT: &str = "SELECT p.*, (SELECT label FROM brood_label b WHERE b.id = s.brood_id) AS brood_name,
    s.day AS sitting_day, f.name AS fish_name,
    (SELECT value FROM current_photo a WHERE a.photo_id = p.id AND a.field = 'aside') AS aside
    FROM photo p LEFT JOIN sitting s ON s.id = p.sitting_id LEFT JOIN fish f ON f.id = p.fish_id";

fn read(book: &Read<'_>, row: &Row<'_>) -> rusqlite::Result<Photo> {
    let portrait: Option<String> = row.get("fish_name")?;
    let day = read_day(row, "sitting_day")?;
    let subject = match (portrait, day) {
        (Some(fish), _) => Subject::Portrait(fish),
        (None, day) => Subject::Sitting { brood: row.get("brood_name")?, day: day.unwrap_or_default() },
    };
    let view: String = row.get("view")?;
    let original: String = row.get("original")?;
    let preview: Option<String> = row.get("preview")?;
    Ok(Photo {
        id: row.get("id")?,
        name: row.get("name")?,
        hash: row.get("hash")?,
        width: row.get("width")?,
        height: row.get("height")?,
        taken: row.get("taken")?,
        view: if view == "side" { View::Side } else { View::Above },
        subject,
        original: book.dir.join(original),
        preview: preview.map(|p| book.dir.join(p)),
        set_aside: row.get("aside")?,
    })
}
