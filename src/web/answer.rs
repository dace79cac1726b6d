//! What a request of the page says of its place, and what the answer says of what now stands.

use std::collections::BTreeMap;

use axum::Json;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::desk::{Asked, Desk};
use super::fault::Fault;
use super::row;
use super::state::App;
use crate::book::decisions;
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
    pub(super) fn is_behind(&self, app: &App) -> Result<bool> {
        let latest = decisions::latest_number(&app.book().read())?;
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
}

pub(super) type Answered = std::result::Result<Json<Answer>, Fault>;

/// Lays the desk again and draws the changed rows.
///
/// # Errors
/// The book cannot be read.
pub(super) fn answer(app: &App, place: &Place, changed: &[i64], said: &str) -> Result<Answer> {
    let desk = lay(app, place)?;
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
    })
}

/// The answer to what changes more than a row: the page is drawn again.
pub(super) fn draw_again(app: &App, said: &str) -> Answer {
    Answer { saved: saved(app, said), reload: true, ..Answer::default() }
}

/// The desk as it was laid for the page.
///
/// # Errors
/// The book cannot be read.
fn lay(app: &App, place: &Place) -> Result<Desk> {
    let Place { sitting, photo, by, blind, .. } = place.clone();
    Desk::lay(&app.book().read(), &place.brood, &Asked { sitting: Some(sitting), photo: Some(photo), by, blind })
}

/// The answer that changes nothing but what is shown: expected numbers, because they were asked for.
///
/// # Errors
/// The book cannot be read.
pub(super) fn shown(app: &App, place: Place) -> Result<Answer> {
    let asked = Place { expected: true, ..place };
    Ok(Answer { saved: "Expected numbers shown.".to_owned(), ..answer(app, &asked, &[], "")? })
}

fn saved(app: &App, said: &str) -> String {
    format!("Saved: {said} ({})", app.now().strftime("%H:%M:%S UTC"))
}
