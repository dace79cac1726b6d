//! Side by side: two fish at one scale on one grey, their numbers, and what may be said about the difference.

use std::sync::Arc;

use axum::extract::{Path, Query, State};
use axum::http::header;
use axum::response::{Html, IntoResponse, Response};
use maud::{Markup, html};
use serde::Deserialize;

use super::fault::Fault;
use super::state::{App, work};
use super::{mend, shell};
use crate::book::lightness::{self, Album};
use crate::book::regions::{self, Region, RegionId};
use crate::book::{Read, photos};
use crate::error::Result;
use crate::geometry::PixelBox;
use crate::lightness::{Comparison, Part, Permitted, compare};
use crate::pipeline::preview;

/// Longer side of a crop in pixels: half a wide screen.
const CROP_PX: u32 = 900;

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
    Query(pair): Query<Pair>,
) -> std::result::Result<Html<String>, Fault> {
    work(&app, move |app| Ok(Html(draw(&app.book().read(), pair)?.into_string()))).await
}

fn draw(book: &Read<'_>, pair: Pair) -> Result<Markup> {
    let fish = [pair.a, pair.b].map(|id| regions::get(book, RegionId::from_number(id)));
    let [a, b] = fish;
    let (a, b) = (a?, b?);
    let names = [named(book, &a)?, named(book, &b)?];
    let outcome = judge(book, &names, [&a, &b], pair.anyway);
    let sides = [(pair.a, &a, &names[0], side_of(&a, &b)), (pair.b, &b, &names[1], side_of(&a, &b))];
    let body = html! {
        div.pair {
            @for ((id, region, name, side), letter) in sides.iter().zip(["A", "B"]) {
                section {
                    h2 { (letter) ": " bdi { (name) } }
                    div.crop { img src={ "/crop/" (id) "?side=" (side) } alt={ "Fish " (letter) }; }
                    (numbers(region))
                }
            }
        }
        @match &outcome {
            Ok(said) => (verdict(said)),
            Err(why) => {
                p.warn { (why.to_string()) }
                @if !pair.anyway { p { a href={ "/compare?a=" (pair.a) "&b=" (pair.b) "&anyway=true" } { "Compare anyway, across floor colour or view" } } }
            }
        }
        (shell::screens_differ())
    };
    Ok(shell::page("Side by side", &shell::nav(), &body))
}

/// Side of the square that both crops are cut to, in millimetres where both fish have a length, else in pixels (0 says so).
fn side_of(a: &Region, b: &Region) -> f64 {
    match (a.length_mm, b.length_mm) {
        (Some(a), Some(b)) => a.max(b) * 1.15,
        _ => 0.0,
    }
}

fn named(book: &Read<'_>, region: &Region) -> Result<String> {
    let photo = photos::find(book, &region.photo)?
        .map_or_else(|| region.photo.clone(), |p| format!("{}, {}", p.name, p.subject));
    Ok(format!("fish {} of {photo}", region.n))
}

fn judge(book: &Read<'_>, names: &[String; 2], fish: [&Region; 2], anyway: bool) -> Result<Comparison> {
    let mut album = Album::default();
    let mut read = |i: usize| -> Result<Vec<_>> {
        let one = lightness::of_region(book, &mut album, fish[i], names[i].clone(), None, Part::Trunk)?;
        Ok(one.into_iter().collect())
    };
    let (a, b) = (read(0)?, read(1)?);
    let permitted = Permitted { across_floors: anyway, across_views: anyway };
    compare([&names[0], &names[1]], &a, &b, None, permitted)
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

/// How large a crop is.
#[derive(Debug, Deserialize)]
pub(super) struct Size {
    /// Side of the square in millimetres; 0: as large as the fish needs.
    side: f64,
}

/// A calibrated crop of one fish at full resolution.
pub(super) async fn crop(
    State(app): State<Arc<App>>,
    Path(id): Path<i64>,
    Query(size): Query<Size>,
) -> std::result::Result<Response, Fault> {
    let bytes = work(&app, move |app| {
        let region = regions::get(&app.book().read(), RegionId::from_number(id))?;
        mend::with_colours(app, &region.photo, |measured| {
            let mm_per_px = measured.calibrated.mm_per_px(region.centre);
            let own = (region.bounds.x1 - region.bounds.x0).max(region.bounds.y1 - region.bounds.y0) * 1.1;
            let side = mm_per_px.filter(|_| size.side > 0.0).map_or(own, |mm| size.side / mm) / 2.0;
            let middle =
                (f64::midpoint(region.bounds.x0, region.bounds.x1), f64::midpoint(region.bounds.y0, region.bounds.y1));
            let square =
                PixelBox { x0: middle.0 - side, y0: middle.1 - side, x1: middle.0 + side, y1: middle.1 + side };
            preview::jpeg(&preview::picture(&measured.calibrated, square, CROP_PX))
        })
    })
    .await?;
    Ok(([(header::CONTENT_TYPE, "image/jpeg")], bytes).into_response())
}
