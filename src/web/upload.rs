//! Photos in: a file's bytes as the request's body, limited and decoded under the same limits as files on disk.

use std::sync::Arc;

use axum::body::Body;
use axum::extract::State;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use jiff::civil::Date;
use serde::Deserialize;
use tokio::sync::Semaphore;

use super::body;
use super::fault::Fault;
use super::posted::Queried;
use super::state::{App, work};
use super::whose;
use crate::book::photos::{self, Photo, Subject};
use crate::book::{settings, sheets};
use crate::command_line::to_type;
use crate::error::{Error, Result};
use crate::pipeline::keep::{self, Keeping, Whose};
use crate::pipeline::{Given, MeasureOptions};
use crate::sheet::UNDECIDED;

/// The largest photo taken in over the page, in bytes: four times a large phone JPEG.
const LARGEST: usize = 64 << 20;

/// Photos in memory at a time; further uploads wait their turn.
const TURNS: usize = 2;

/// Uploads that may work or wait at a time: a tray takes about a second, so the last of them waits a minute at most. The page
/// itself sends one after the other.
const ROOM: usize = 64;

/// After how many seconds one that found no room may come again.
const COME_AGAIN: &str = "5";

/// The places uploads wait and work in.
#[derive(Debug)]
pub(super) struct Uploads {
    turns: Semaphore,
    room: Semaphore,
}

impl Default for Uploads {
    fn default() -> Self {
        Self { turns: Semaphore::new(TURNS), room: Semaphore::new(ROOM) }
    }
}

/// What comes with a photo.
#[derive(Debug, Deserialize)]
pub(super) struct Named {
    name: String,
    brood: String,
    /// The day of the sitting; without it the day the photo was taken, else today.
    day: Option<Date>,
}

/// Takes one photo in, measures it and keeps it with its brood; nothing is confirmed. The answer is a line, and one for each caution;
/// with it goes the address of the sitting that the photo is kept with.
pub(super) async fn photo(State(app): State<Arc<App>>, Queried(named): Queried<Named>, body: Body) -> Response {
    let patience = app.patience();
    let Ok(_room) = app.uploads.room.try_acquire() else {
        body::forget(body, LARGEST, patience).await;
        let words = "too many photos at once; nothing was kept, send it again";
        return (StatusCode::SERVICE_UNAVAILABLE, [(header::RETRY_AFTER, COME_AGAIN)], words).into_response();
    };
    let _turn = app.uploads.turns.acquire().await;
    let bytes = match body::whole(body, LARGEST, patience.pause, patience.photo).await {
        Ok(bytes) => bytes,
        Err(cut) => return cut.into_response(),
    };
    match work(&app, move |app| take_in(app, &named, &bytes).map_err(|e| beside_name(e, &named.name))).await {
        Ok((address, words)) => ([(header::CONTENT_LOCATION, address)], words).into_response(),
        Err(fault) => Fault::into_response(fault),
    }
}

fn take_in(app: &App, named: &Named, bytes: &[u8]) -> Result<(String, String)> {
    let at = app.now();
    let (sheet, known, options) = {
        let book = app.book();
        let read = book.read();
        let pitch = settings::card_pitch_mm(&read)?;
        let options = MeasureOptions { card_pitch_mm: pitch, ..MeasureOptions::default() };
        (sheets::latest(&read)?, keep::known(&read, &Whose::Brood(&named.brood))?, options)
    };
    let name = last_part(&named.name);
    let today = app.today();
    let ready =
        keep::read_ready(name, bytes, Given { sheet: &sheet, empty: None }, &options, &known, (named.day, today))?;
    let subject = Subject::Sitting { brood: named.brood.clone(), day: ready.day };
    let with = Keeping { name, bytes, subject: &subject, sheet: &sheet, at };
    let cautions = app.book().write(|book| {
        let hash = &ready.report.hash;
        if let Some(known) = photos::find(book, hash)? {
            return Err(in_the_book(name, &known));
        }
        keep::keep(book, &ready, &with)?;
        photos::find(book, hash)?.map_or_else(|| Ok(Vec::new()), |photo| whose::cautions(book, &photo, today))
    })?;
    let open = |f: &&crate::pipeline::FishReport| f.proposals.iter().any(|p| p.class == UNDECIDED);
    let undecided = ready.report.fish.iter().filter(open).count();
    let warnings: String = ready.report.warnings.iter().map(|w| format!("; {w}")).collect();
    let found = ready.report.fish.len();
    let kept = format!("kept with {subject}: {found} fish found, {undecided} of them undecided{warnings}");
    let address = format!("/brood/{}?sitting={}", super::escape(&named.brood), ready.day);
    Ok((address, [kept].into_iter().chain(cautions).collect::<Vec<_>>().join("\n")))
}

/// A failure as it is shown behind the file's name, which it then need not begin with.
fn beside_name(error: Error, name: &str) -> Error {
    let place = if error.place == last_part(name) { String::new() } else { error.place };
    Error { place, ..error }
}

/// What is said of a photo that is in the book already, maybe under another name.
fn in_the_book(name: &str, known: &Photo) -> Error {
    let (said, hint) = match (&known.set_aside, &known.subject) {
        (Some(why), of) => (
            format!("this photo is in the book already, with {of}, and set aside: {why}"),
            format!(
                "to bring it back write in the terminal: broodhue confirm --photo {} --bring-back",
                to_type(&known.name)
            ),
        ),
        (None, of @ Subject::Sitting { .. }) => {
            let hint = "if that is wrong, put it right on its own page under “Wrong brood or day?”".to_owned();
            (format!("this photo is in the book already, with {of}"), hint)
        }
        (None, of @ Subject::Portrait(_)) => {
            (format!("this photo is in the book already, as a portrait of {of}"), String::new())
        }
    };
    Error::failed(name, said, hint)
}

/// The name without any folder: it is shown and kept, and never becomes a path.
fn last_part(name: &str) -> &str {
    let last = name.rsplit(['/', '\\']).next().unwrap_or_default();
    if last.is_empty() { "photo" } else { last }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn folders_in_a_name_are_dropped() {
        for (name, last) in
            [("a/b\\tray.jpg", "tray.jpg"), ("../../etc/passwd", "passwd"), ("dir/", "photo"), ("tray", "tray")]
        {
            assert_eq!(last_part(name), last);
        }
    }
}
