//! Photos of one brood that may be one picture: saved again, turned or sent on, it has another hash, and its fish would count twice, or
//! make a later sitting that takes the place of their own.

use super::photos::{self, Photo, Subject};
use super::{Read, broods, measurements};
use crate::command_line::to_type;
use crate::error::Result;
use crate::geometry::{Homography, Point, Quad};

/// Farthest that one fish lies from itself in two files of one picture, in edges of the card (tuned on the sample images saved at 70 to
/// 92 %, turned, and made smaller: 0.14 at most, nearly all below 0.06).
const SAME_PLACE: f64 = 0.1;

/// Fewest fish whose places say anything: two may lie alike by chance.
const FEWEST_FISH: usize = 3;

/// Where the card's corners lie in its own plane.
const CARD: Quad =
    [Point { x: 0.0, y: 0.0 }, Point { x: 1.0, y: 0.0 }, Point { x: 1.0, y: 1.0 }, Point { x: 0.0, y: 1.0 }];

/// The photo of the same brood, neither set aside nor later in the book, that a photo may be a copy of: taken in the same second, or
/// with its fish in the same places beside the card. In words, with what to do.
///
/// # Errors
/// The book cannot be read.
pub fn caution(book: &Read<'_>, photo: &Photo) -> Result<Option<String>> {
    let Subject::Sitting { brood, day } = &photo.subject else { return Ok(None) };
    let places = places(book, photo)?;
    let brood = broods::known(book, brood)?;
    let others = photos::of_brood(book, &brood)?
        .into_iter()
        .filter(|other| other.view == photo.view && other.id < photo.id && other.set_aside.is_none());
    for other in others {
        let why = if photo.taken.is_some() && photo.taken == other.taken {
            "was taken in the same second"
        } else if lie_alike(&places, &self::places(book, &other)?) {
            "has its fish in the same places"
        } else {
            continue;
        };
        let name = if photos::fitting(book, &photo.name)?.len() > 1 { &photo.hash[..12] } else { photo.name.as_str() };
        let harm = match &other.subject {
            Subject::Sitting { day: of, .. } if other.subject != photo.subject => {
                format!("one of the sittings of {of} and {day} takes the place of the other in the counts")
            }
            _ => "its fish count twice".to_owned(),
        };
        return Ok(Some(format!(
            "{} looks like the photo {}, which {why}; if it is the same picture {harm}: set one aside with \
             `broodhue confirm --photo {} --set-aside {}`",
            photo.name,
            other.name,
            to_type(name),
            to_type(format!("same as {}", other.name))
        )));
    }
    Ok(None)
}

/// Where a photo's fish lie in the plane of its card; nothing where no card was found.
fn places(book: &Read<'_>, photo: &Photo) -> Result<Vec<Point>> {
    let card = measurements::card_of(book, &photo.hash)?;
    let Some(to_card) = card.and_then(|corners| Homography::from_quads(&corners, &CARD)) else { return Ok(Vec::new()) };
    let mut statement =
        book.conn.prepare_cached("SELECT centre_x, centre_y FROM region WHERE photo_id = ?1 AND stands = 1")?;
    let centres = statement.query_map([photo.id], |row| Ok(to_card.apply(Point::new(row.get(0)?, row.get(1)?))))?;
    Ok(centres.collect::<rusqlite::Result<_>>()?)
}

/// Whether three of four fish lie in the same place (of the sample images 93 % at least in one picture, 17 % at most in two).
fn lie_alike(one: &[Point], other: &[Point]) -> bool {
    let all = one.len().max(other.len());
    let met = |p: &&Point| other.iter().any(|q| p.distance(*q) <= SAME_PLACE);
    let same = one.iter().filter(met).count();
    one.len().min(other.len()) >= FEWEST_FISH && 4 * same >= 3 * all
}
