//! A failure of the library as an answer of the page: the same sentence and hint as on the command line.

use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use crate::error::{Error, ErrorKind};

/// What a handler fails with.
#[derive(Debug)]
pub(super) struct Fault(pub(super) Error);

impl From<Error> for Fault {
    fn from(error: Error) -> Self {
        Self(error)
    }
}

impl IntoResponse for Fault {
    fn into_response(self) -> Response {
        let status = match self.0.kind {
            ErrorKind::Usage => StatusCode::BAD_REQUEST,
            ErrorKind::Failed | ErrorKind::TooDear => StatusCode::CONFLICT,
        };
        (status, self.0.to_string()).into_response()
    }
}
