//! Previews, as the page shows them.

use std::sync::Arc;

use axum::extract::{Path, State};
use axum::http::header;
use axum::response::{IntoResponse, Response};

use super::fault::Fault;
use super::state::{App, work};
use crate::book::photos::{self, Photo};
use crate::error::Error;

/// Where the preview of a photo is fetched. A browser keeps it; the moment it was made is part of the address, because
/// moving the card makes another.
pub(super) fn address(photo: &Photo) -> String {
    let made = photo.preview.as_ref().and_then(|p| p.metadata().ok()?.modified().ok());
    let millis = made.and_then(|m| m.duration_since(std::time::UNIX_EPOCH).ok()).map_or(0, |d| d.as_millis());
    format!("/picture/{}?made={millis}", photo.hash)
}

/// The calibrated preview of a photo. The client names a hash; the path comes from the book alone.
pub(super) async fn preview(
    State(app): State<Arc<App>>,
    Path(hash): Path<String>,
) -> std::result::Result<Response, Fault> {
    let bytes = work(&app, move |app| {
        let missing = || Error::failed(&hash, "no preview of this photo is in the book", "score it again");
        let path = photos::find(&app.book().read(), &hash)?.and_then(|p| p.preview).ok_or_else(missing)?;
        std::fs::read(path).map_err(|_| missing())
    })
    .await?;
    let kept = "private, max-age=31536000, immutable";
    Ok(([(header::CONTENT_TYPE, "image/jpeg"), (header::CACHE_CONTROL, kept)], bytes).into_response())
}
