//! The door for a phone beside the tank: on the local network only uploading is open, behind a one-time code.

use std::net::{IpAddr, Ipv4Addr, UdpSocket};
use std::sync::Arc;
use std::time::Instant;

use axum::Router;
use axum::body::Body;
use axum::extract::State;
use axum::http::StatusCode;
use axum::middleware::map_response;
use axum::response::{Html, IntoResponse, Response};
use axum::routing::{get, post};
use maud::{Markup, html};
use serde::Deserialize;

use super::code::{Try, UploadCode};
use super::posted::Queried;
use super::state::{App, work};
use super::upload::{self, Named};
use super::{guard, photos_in, shell};
use crate::book::broods;
use crate::error::{Error, Result};

/// What the phone's requests work on.
#[derive(Debug, Clone)]
struct Door {
    app: Arc<App>,
    code: Arc<UploadCode>,
}

/// The code as it is typed or scanned.
#[derive(Debug, Deserialize)]
struct Given {
    #[serde(default)]
    code: String,
}

/// The routes that the local network sees.
pub(super) fn router(app: Arc<App>, code: Arc<UploadCode>) -> Router {
    Router::new()
        .route("/", get(page))
        .route("/photos", post(photo))
        .route("/page.css", get(shell::css))
        .route("/photos.js", get(shell::photos_js))
        .with_state(Door { app, code })
        .layer(map_response(async |mut response: Response| {
            guard::add_headers(&mut response);
            response
        }))
}

/// This machine's address on the local network. No packet is sent: connecting a datagram socket only chooses the way out
/// (192.0.2.1 is reserved for documentation, RFC 5737).
///
/// # Errors
/// This machine has no address on a local network.
pub fn own_address() -> Result<IpAddr> {
    let chosen = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).and_then(|socket| {
        socket.connect((Ipv4Addr::new(192, 0, 2, 1), 9))?;
        socket.local_addr()
    });
    let own = chosen.ok().map(|a| a.ip()).filter(|ip| !ip.is_loopback() && !ip.is_unspecified());
    let hint = "connect it to the network of the phone, or leave --lan out";
    own.ok_or_else(|| Error::failed("--lan", "this machine has no address on a local network", hint))
}

/// Why a code lets nobody in; `None` when it does.
fn refusal(door: &Door, code: &str) -> Option<Response> {
    let (status, why) = match door.code.check(code, Instant::now()) {
        Try::Right => return None,
        Try::Wrong => (StatusCode::FORBIDDEN, "This code is wrong. Read it again in the terminal."),
        Try::Dead => (
            StatusCode::GONE,
            "This code has run out, or was guessed at too often. Start broodhue confirm --lan again for a new one.",
        ),
    };
    Some((status, why).into_response())
}

async fn page(State(door): State<Door>, Queried(given): Queried<Given>) -> Response {
    if given.code.is_empty() {
        return Html(ask().into_string()).into_response();
    }
    if let Some(refused) = refusal(&door, &given.code) {
        return refused;
    }
    match work(&door.app, |app| broods::labels(&app.book().read())).await {
        Ok(names) => Html(photos(&names, &given.code).into_string()).into_response(),
        Err(fault) => fault.into_response(),
    }
}

async fn photo(
    State(door): State<Door>,
    Queried(given): Queried<Given>,
    named: Queried<Named>,
    body: Body,
) -> Response {
    match refusal(&door, &given.code) {
        None => upload::photo(State(door.app), named, body).await,
        Some(refused) => refused,
    }
}

fn ask() -> Markup {
    let body = html! {
        form method="get" action="/" {
            p { label for="code" { "Code from the terminal " } input id="code" name="code" required autocomplete="off" autocapitalize="characters"; }
            p { button.main { "Go on" } }
        }
    };
    shell::page("Photos in", &html! {}, None, &body)
}

fn photos(broods: &[String], code: &str) -> Markup {
    let body = html! {
        section.drop aria-labelledby="in" {
            h2 id="in" { "From this phone into the book" }
            input type="hidden" id="upload-code" value=(code);
            (photos_in::fields(broods.iter().map(String::as_str), "Card under the same lamp and water as the fish, no flash."))
        }
    };
    shell::page("Photos in", &html! {}, Some("/photos.js"), &body)
}
