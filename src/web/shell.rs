//! What every page has around it: head, navigation, the line that says what is saved.

use axum::http::{HeaderValue, header};
use axum::response::{IntoResponse, Response};
use maud::{DOCTYPE, Markup, html};

/// A whole page: `title` for the tab and the heading, `nav` beside it, `body` below, and the address of its script.
pub(super) fn page(title: &str, nav: &Markup, script: Option<&str>, body: &Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) " · Broodhue" }
                link rel="stylesheet" href="/page.css";
                @if let Some(script) = script { script type="module" src=(script) {} }
            }
            body {
                a.skip href="#content" { "Skip to the content" }
                header.top { h1 { (title) } nav aria-label="Pages" { (nav) } }
                main id="content" { (body) }
            }
        }
    }
}

/// The links every page of the book shows.
pub(super) fn nav() -> Markup {
    html! {
        a href="/" { "All broods" }
        a href="/scorers" { "Two scorers" }
    }
}

/// The style sheet.
pub(super) async fn css() -> Response {
    asset("text/css; charset=utf-8", include_str!("assets/page.css"))
}

/// The brood view's script: keys and decisions.
pub(super) async fn page_js() -> Response {
    asset("text/javascript; charset=utf-8", include_str!("assets/page.js"))
}

/// The brood view's script: the photo and what is mended in it.
pub(super) async fn tray_js() -> Response {
    asset("text/javascript; charset=utf-8", include_str!("assets/tray.js"))
}

/// The script of the pages that take photos in.
pub(super) async fn photos_js() -> Response {
    asset("text/javascript; charset=utf-8", include_str!("assets/photos.js"))
}

/// A file of the page that stands in the program itself.
fn asset(kind: &'static str, text: &'static str) -> Response {
    ([(header::CONTENT_TYPE, HeaderValue::from_static(kind))], text).into_response()
}

/// Why screens cannot settle a dispute.
pub(super) fn screens_differ() -> Markup {
    html! {
        p.quiet {
            "Screens differ, and so do eyes. The grey around each fish is the same everywhere on this page; the numbers decide."
        }
    }
}
