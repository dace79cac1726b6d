//! Side by side: two fish at one scale on one grey, their numbers, and what may be said about the difference.

use std::sync::Arc;

use axum::extract::{Path, State};
use axum::http::header;
use axum::response::{Html, IntoResponse, Response};
use maud::{Markup, html};
use serde::Deserialize;

use super::fault::Fault;
use super::posted::Queried;
use super::state::{App, work};
use super::{mend, shell};
use crate::book::lightness::{self, Album};
use crate::book::regions::{self, Region, RegionId};
use crate::book::{Read, photos};
use crate::error::Result;
use crate::lightness::{Comparison, Part, Permitted, compare};
use crate::pipeline::preview;

/// Longer side of a crop in pixels: half a wide screen.
const CROP_PX: u32 = 900;

/// How much larger than the fish its square is (starting value).
const MARGIN: f64 = 1.15;

/// Which two fish.
#[derive(Debug, Clone, Copy, Deserialize)]
pub(super) struct Pair {
    a: i64,
    b: i64,
    /// Compare although floor or view differ.
    #[serde(default)]
    anyway: bool,
}

/// The page of two fish.
pub(super) async fn page(
    State(app): State<Arc<App>>,
    Queried(pair): Queried<Pair>,
) -> std::result::Result<Html<String>, Fault> {
    work(&app, move |app| Ok(Html(draw(&app.book().read(), pair)?.into_string()))).await
}

fn draw(book: &Read<'_>, pair: Pair) -> Result<Markup> {
    let fish = [pair.a, pair.b].map(|id| regions::get(book, RegionId::from_number(id)));
    let [a, b] = fish;
    let (a, b) = (a?, b?);
    let names = [named(book, &a)?, named(book, &b)?];
    let outcome = judge(book, [&a, &b], pair.anyway);
    let size = Size::of(&a, &b);
    let sides = [(pair.a, &a, &names[0]), (pair.b, &b, &names[1])];
    let body = html! {
        div.pair {
            @for ((id, region, name), letter) in sides.iter().zip(["A", "B"]) {
                section {
                    h2 { (letter) ": " bdi { (name) } }
                    div.crop { img src={ "/crop/" (id) "?mm=" (size.mm) "&px=" (size.px) } alt={ "Fish " (letter) }; }
                    (numbers(region))
                }
            }
        }
        @if size == Size::default() {
            p.warn { "The two are not at one scale: without the card’s size nobody knows how large a fish of another photo is." }
        }
        @match &outcome {
            Ok(said) => (verdict(said)),
            Err(why) => {
                p.warn { bdi { (why.to_string()) } }
                @if !pair.anyway { p { a href={ "/compare?a=" (pair.a) "&b=" (pair.b) "&anyway=true" } { "Compare anyway, across floor colour or view" } } }
            }
        }
        (shell::screens_differ())
    };
    Ok(shell::page("Side by side", &shell::nav(), None, &body))
}

/// How large a crop is: a square of `mm` millimetres, else of `px` pixels, else as large as the fish needs.
#[derive(Debug, Clone, Copy, Default, PartialEq, Deserialize)]
#[serde(default)]
pub(super) struct Size {
    mm: f64,
    px: f64,
}

impl Size {
    /// The one size at which both fish fit: in millimetres where both photos have a scale, in pixels within one photo.
    fn of(a: &Region, b: &Region) -> Self {
        match (a.length_mm, b.length_mm) {
            (Some(a), Some(b)) => Self { mm: a.max(b) * MARGIN, px: 0.0 },
            _ if a.photo == b.photo => Self { mm: 0.0, px: own_side(a).max(own_side(b)) },
            _ => Self::default(),
        }
    }
}

/// Side of the square that a fish needs, in pixels.
fn own_side(region: &Region) -> f64 {
    let b = region.bounds;
    (b.x1 - b.x0).max(b.y1 - b.y0) * MARGIN
}

fn named(book: &Read<'_>, region: &Region) -> Result<String> {
    let photo = photos::find(book, &region.photo)?
        .map_or_else(|| region.photo.clone(), |p| format!("{}, {}", p.name, p.subject));
    Ok(format!("fish {} of {photo}", region.n))
}

/// Speaks of A and B: their full names stand above the pictures.
fn judge(book: &Read<'_>, fish: [&Region; 2], anyway: bool) -> Result<Comparison> {
    let names = ["A", "B"];
    let mut album = Album::default();
    let mut read = |i: usize| -> Result<Vec<_>> {
        let one = lightness::of_region(book, &mut album, fish[i], names[i].to_owned(), None, Part::Trunk)?;
        Ok(one.into_iter().collect())
    };
    let (a, b) = (read(0)?, read(1)?);
    let permitted = Permitted { across_floors: anyway, across_views: anyway };
    let setup = lightness::shared_set_up(book, a.iter().chain(&b))?;
    compare(names, &a, &b, setup.as_ref(), permitted)
}

fn numbers(region: &Region) -> Markup {
    let f = &region.features;
    html! {
        table { tbody {
            @for (part, colour) in [("trunk", &f.trunk), ("ground", &f.ground), ("finnage", &f.finnage)] {
                tr { th scope="row" { (part) }
                    @match colour {
                        Some(c) => td { "L* " (format!("{:.1} ± {:.1}", c.lightness, 1.96 * c.lightness_se)) ", a* " (format!("{:.1}", c.a)) ", b* " (format!("{:.1}", c.b)) ", chroma " (format!("{:.1}", c.chroma)) },
                        None => td { "cannot be seen" },
                    }
                }
            }
            tr { th scope="row" { "length" } td { @match region.length_mm { Some(mm) => (format!("{mm:.1} mm")), None => "unknown without the card’s size" } } }
        } }
    }
}

fn verdict(said: &Comparison) -> Markup {
    let line = |name: &str, d: &crate::stats::student::Ranged| {
        format!("{name} {:+.1} ({:+.1} to {:+.1})", d.value, d.low, d.high)
    };
    html! {
        section aria-label="Verdict" {
            p { strong { (said.because) } }
            p { "A less B, with 95 % intervals: " (line("L*", &said.lightness)) "; " (line("b*", &said.yellow)) "; " (line("chroma", &said.chroma))
                "; CIEDE2000 " (format!("{:.1}", said.de00.value)) "." }
            p.quiet { "Smallest difference this set-up can tell: " (format!("{:.1}", said.smallest_detectable)) " L*. Unit: " (said.unit) "." }
            @for caution in &said.cautions { p.quiet { (caution) } }
        }
    }
}

/// A calibrated crop of one fish at full resolution.
pub(super) async fn crop(
    State(app): State<Arc<App>>,
    Path(id): Path<i64>,
    Queried(size): Queried<Size>,
) -> std::result::Result<Response, Fault> {
    let bytes = work(&app, move |app| {
        let region = regions::get(&app.book().read(), RegionId::from_number(id))?;
        mend::with_colours(app, &region.photo, |colours| {
            let scaled = colours.mm_per_px(region.centre).filter(|_| size.mm > 0.0).map(|mm| size.mm / mm);
            let side = scaled.or((size.px > 0.0).then_some(size.px)).unwrap_or_else(|| own_side(&region));
            preview::jpeg(&preview::alone(colours, &region.outline, side, CROP_PX))
        })
    })
    .await?;
    Ok(([(header::CONTENT_TYPE, "image/jpeg")], bytes).into_response())
}
