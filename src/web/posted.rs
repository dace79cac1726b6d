//! What a request of the page asks for, read from its body or its address; what cannot be read is said in the page's words.

use axum::Json;
use axum::extract::{FromRequest, FromRequestParts, Query, Request};
use axum::http::StatusCode;
use axum::http::request::Parts;
use serde::de::DeserializeOwned;

/// What a body asks for.
pub(super) struct Posted<T>(pub(super) T);

/// What an address asks for.
pub(super) struct Queried<T>(pub(super) T);

/// The page sends nothing of the kind, but another program, or a page of another version, may.
const NOT_UNDERSTOOD: &str = "this cannot be understood; nothing was kept. Reload the page and do it again";

impl<S: Send + Sync, T: DeserializeOwned> FromRequest<S> for Posted<T> {
    type Rejection = (StatusCode, &'static str);

    async fn from_request(request: Request, state: &S) -> Result<Self, Self::Rejection> {
        let read = Json::<T>::from_request(request, state).await;
        read.map(|Json(asked)| Self(asked)).map_err(|refused| (refused.status(), NOT_UNDERSTOOD))
    }
}

impl<S: Send + Sync, T: DeserializeOwned> FromRequestParts<S> for Queried<T> {
    type Rejection = (StatusCode, &'static str);

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, Self::Rejection> {
        let read = Query::<T>::from_request_parts(parts, state).await;
        read.map(|Query(asked)| Self(asked)).map_err(|refused| (refused.status(), NOT_UNDERSTOOD))
    }
}
