//! What a request of the page says of its place, and what the answer says of what now stands.

use std::collections::BTreeMap;

use axum::Json;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::desk::{Asked, Desk, OnDesk};
use super::fault::Fault;
use super::row;
use super::state::App;
use crate::book::photos::{self, Subject};
use crate::book::{Read, Write, decisions};
use crate::error::{Error, Result};

/// Where on the page a decision was made, by whom, and what the page knew.
#[derive(Debug, Clone, Deserialize)]
pub(super) struct Place {
    pub(super) brood: String,
    pub(super) sitting: Date,
    pub(super) photo: String,
    pub(super) blind: bool,
    pub(super) by: String,
    /// Whether expected numbers are shown because they were asked for.
    #[serde(default)]
    pub(super) expected: bool,
    /// Number of the latest decision that the page knew of.
    #[serde(default)]
    pub(super) latest: Option<i64>,
}

impl Place {
    /// A second scorer says classes and nothing else.
    pub(super) fn first_scorer_only(&self) -> Result<()> {
        if self.blind {
            let hint = "leave blind scoring to do this";
            return Err(Error::usage("blind scoring", "a second scorer gives classes and changes nothing else", hint));
        }
        Ok(())
    }

    /// Whether somebody decided something that the page does not know of: another tab, the terminal, a second scorer.
    ///
    /// # Errors
    /// The book cannot be read.
    fn is_behind(&self, book: &Read<'_>) -> Result<bool> {
        let latest = decisions::latest_number(book)?;
        Ok(self.latest.is_some_and(|known| known != latest))
    }
}

/// A request about one fish, or about more.
#[derive(Debug, Deserialize)]
pub(super) struct Of<T> {
    #[serde(flatten)]
    pub(super) place: Place,
    #[serde(flatten)]
    pub(super) what: T,
}

/// What now stands.
#[derive(Debug, Default, Serialize)]
pub(super) struct Answer {
    /// The line for the person.
    pub(super) saved: String,
    /// Rows that changed, by region.
    pub(super) rows: BTreeMap<i64, String>,
    /// The count strip.
    pub(super) strip: String,
    /// The same counts as shares.
    pub(super) shares: String,
    /// What became of the open ones of the sitting before.
    pub(super) since: String,
    /// Number of the latest decision in the book.
    pub(super) latest: i64,
    /// Whether the whole page should be drawn again.
    pub(super) reload: bool,
    /// Where it is drawn again; empty where it is not.
    pub(super) at: String,
}

pub(super) type Answered = std::result::Result<Json<Answer>, Fault>;

/// Keeps what a request decides as one transaction, in which `decide` says it in words, and answers with the rows that changed.
///
/// What is kept is saved, whatever comes of laying the desk again: where somebody decided in between, or another program has since
/// named, moved or set aside what the page shows, it is drawn again.
///
/// # Errors
/// As `decide`; nothing is kept then.
pub(super) fn keep(
    app: &App,
    place: &Place,
    changed: &[i64],
    decide: impl FnOnce(&Write<'_>) -> Result<String>,
) -> Result<Answer> {
    let (behind, said, latest) = app.book().write(|book| {
        let behind = place.is_behind(book)?;
        let said = decide(book)?;
        Ok((behind, said, decisions::latest_number(book)?))
    })?;
    Ok(match answer(app, place, changed, &said) {
        Ok(laid) if !behind && laid.latest == latest => laid,
        _ => draw_again(app, place, &said),
    })
}

/// Lays the desk again and draws the changed rows.
///
/// # Errors
/// The book cannot be read; the photo is no longer where the page has it.
fn answer(app: &App, place: &Place, changed: &[i64], said: &str) -> Result<Answer> {
    let Place { sitting, photo, by, blind, .. } = place.clone();
    let asked = Asked { sitting: Some(sitting), photo: Some(photo), by, blind };
    let desk = Desk::lay(&app.book().read(), &place.brood, &asked)?;
    let (strip, shares) = desk.counts(place.expected);
    let rows = desk.fish.iter().filter(|r| changed.contains(&r.id.number()));
    let rows = rows.map(|r| (r.id.number(), row::row(r, desk.look()).into_string())).collect();
    Ok(Answer {
        saved: saved(app, said),
        rows,
        strip: strip.into_string(),
        shares: shares.into_string(),
        since: desk.since().into_string(),
        latest: desk.latest,
        reload: false,
        at: String::new(),
    })
}

/// The answer to what changes more than a row: the page is drawn again.
pub(super) fn draw_again(app: &App, place: &Place, said: &str) -> Answer {
    Answer { saved: saved(app, said), reload: true, at: address_now(app, place), ..Answer::default() }
}

/// Where a page is drawn again: at its photo, also where that belongs to another brood by now, else at its brood, else at the first page.
fn address_now(app: &App, place: &Place) -> String {
    let book = app.book();
    let read = book.read();
    let of_photo = match photos::find(&read, &place.photo).ok().flatten().map(|p| p.subject) {
        Some(Subject::Sitting { brood, .. }) => Some(brood),
        _ => None,
    };
    let photo = Some(&place.photo);
    let tries = [(Some(&place.brood), photo), (of_photo.as_ref(), photo), (Some(&place.brood), None)];
    let found = tries.into_iter().find_map(|(brood, photo)| {
        let asked = Asked { photo: photo.cloned(), ..Asked::default() };
        let on = OnDesk::find(&read, brood?, &asked).ok()?;
        Some(on.address(on.day, photo.map(String::as_str), &place.by, place.blind))
    });
    found.unwrap_or_else(|| "/".to_owned())
}

/// The answer where nothing was saved: what is to be shown, or why there is nothing to do.
///
/// # Errors
/// The book cannot be read.
pub(super) fn unchanged(app: &App, place: &Place, said: String) -> Result<Answer> {
    let behind = place.is_behind(&app.book().read())?;
    let now = if behind { draw_again(app, place, "") } else { answer(app, place, &[], "")? };
    Ok(Answer { saved: said, ..now })
}

fn saved(app: &App, said: &str) -> String {
    format!("Saved: {said} ({})", app.now().strftime("%H:%M:%S UTC"))
}
