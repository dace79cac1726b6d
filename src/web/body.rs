//! The body of a request, within limits of size and time.

use std::future::poll_fn;
use std::pin::Pin;
use std::time::Duration;

use axum::body::{Body, HttpBody};
use axum::extract::{Request, State};
use axum::http::StatusCode;
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use tokio::time::timeout;

use super::patience::Patience;

/// The largest request that is no photo: a decision is far below this.
const SMALL: usize = 64 * 1024;

/// Why a body was not taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Cut {
    /// Of more bytes than this.
    TooLarge(usize),
    /// It did not come in time.
    TooSlow,
    /// The connection broke.
    Broken,
}

impl IntoResponse for Cut {
    fn into_response(self) -> Response {
        match self {
            Self::TooLarge(most) => {
                let size = if most >= 1 << 20 { format!("{} MB", most >> 20) } else { format!("{} kB", most >> 10) };
                (StatusCode::PAYLOAD_TOO_LARGE, format!("larger than {size}; nothing was kept")).into_response()
            }
            Self::TooSlow => {
                (StatusCode::REQUEST_TIMEOUT, "did not come in time; nothing was kept, try again").into_response()
            }
            Self::Broken => (StatusCode::BAD_REQUEST, "cut off on the way; nothing was kept").into_response(),
        }
    }
}

/// Hands a body's pieces to `take` until it ends: `pause` is the longest wait for one of them, `whole` for all.
async fn pieces(
    body: Body,
    pause: Duration,
    whole: Duration,
    mut take: impl FnMut(&[u8]) -> Result<(), Cut>,
) -> Result<(), Cut> {
    let mut body = body;
    let all = async {
        loop {
            let next = poll_fn(|cx| Pin::new(&mut body).poll_frame(cx));
            match timeout(pause, next).await.map_err(|_| Cut::TooSlow)? {
                None => return Ok(()),
                Some(Err(_)) => return Err(Cut::Broken),
                Some(Ok(frame)) => frame.data_ref().map_or(Ok(()), |piece| take(piece))?,
            }
        }
    };
    timeout(whole, all).await.unwrap_or(Err(Cut::TooSlow))
}

/// The whole body, of at most so many bytes.
pub(super) async fn whole(body: Body, most: usize, pause: Duration, limit: Duration) -> Result<Vec<u8>, Cut> {
    let mut bytes = Vec::new();
    let take = |piece: &[u8]| {
        if bytes.len() + piece.len() > most {
            return Err(Cut::TooLarge(most));
        }
        bytes.extend_from_slice(piece);
        Ok(())
    };
    pieces(body, pause, limit, take).await.map(|()| bytes)
}

/// Reads a body to its end and forgets it, so that an answer reaches a client that is still sending.
pub(super) async fn forget(body: Body, most: usize, patience: Patience) {
    let mut left = most;
    let take = |piece: &[u8]| {
        left = left.checked_sub(piece.len()).ok_or(Cut::TooLarge(most))?;
        Ok(())
    };
    let _whatever = pieces(body, patience.pause, patience.body, take).await;
}

/// The middleware around all that is no photo: the body is there before the work begins.
pub(super) async fn in_time(State(patience): State<Patience>, request: Request, next: Next) -> Response {
    let (head, body) = request.into_parts();
    match whole(body, SMALL, patience.pause, patience.body).await {
        Ok(bytes) => next.run(Request::from_parts(head, Body::from(bytes))).await,
        Err(cut) => cut.into_response(),
    }
}
