//! The first page: the broods with their photos and how far they are scored, and photos in.

use maud::{Markup, html};
use serde::Deserialize;

use super::{photos_in, shell};
use crate::book::broods::{self, Brood};
use crate::book::progress::{self, Progress};
use crate::book::{Read, sheets};
use crate::error::Result;

/// Broods on one page: more than anyone works on at a time, and laid out in a moment.
const SHOWN: usize = 500;

/// Which broods.
#[derive(Debug, Default, Deserialize)]
pub(super) struct From {
    /// Place of the first one in the order of writing down, from 0; without it the page ends with the newest.
    from: Option<usize>,
}

/// The page of the newest broods, or of those from a place on.
///
/// # Errors
/// The book cannot be read.
pub(super) fn page(book: &Read<'_>, asked: &From) -> Result<Markup> {
    let (newest, rules) = (sheets::latest(book)?, sheets::rules(book)?);
    let broods = broods::list(book)?;
    let first = asked.from.unwrap_or(usize::MAX).min(broods.len().saturating_sub(SHOWN));
    let mut lines = Vec::new();
    for brood in broods.iter().skip(first).take(SHOWN) {
        let sheet = sheets::in_play(book, (&newest, &rules), brood)?;
        lines.push((brood, progress::of_brood(book, &sheet, brood)?));
    }
    let body = html! {
        @if lines.is_empty() {
            p { "This book has no broods yet. Write one down with " code { "broodhue cross add" } " and " code { "broodhue brood add" } "." }
        } @else {
            div.scroll id="broods" tabindex="0" role="region" aria-label="All broods" {
                table.broods {
                    caption { "Fish in photos, by how far they are scored (all sittings)" }
                    thead { tr {
                        th scope="col" { "Brood" } th scope="col" { "Cross" } th scope="col" { "Dropped" }
                        @for of in HOW_FAR { th scope="col" { (of) } }
                    } }
                    tbody { @for (brood, progress) in &lines { tr {
                        th scope="row" {
                            @if progress.fish() > 0 { a href={ "/brood/" (super::escape(&brood.label)) } { bdi { (brood.label) } } }
                            @else { bdi { (brood.label) } " " span.quiet { "no photo yet" } }
                        }
                        td data-of="Cross" { bdi { (brood.cross) } }
                        td.day data-of="Dropped" { @if let Some(day) = brood.dropped_from { (day) } }
                        @for (n, of) in numbers(*progress).iter().zip(HOW_FAR) { td.number data-of=(of) { (n) } }
                    } } }
                }
            }
            (others(first, broods.len()))
            (photos_in(&lines))
        }
        (shell::screens_differ())
    };
    Ok(shell::page("All broods", &shell::nav(), Some("/photos.js"), &body))
}

/// The columns of [`numbers`].
const HOW_FAR: [&str; 4] = ["Undecided ◇", "Proposed ○", "Confirmed ■", "Set aside ▬"];

const fn numbers(progress: Progress) -> [u32; 4] {
    [progress.undecided, progress.proposed, progress.confirmed, progress.set_aside]
}

/// The way to earlier and later broods, where not all are shown.
fn others(first: usize, all: usize) -> Markup {
    html! {
        @if all > SHOWN {
            p {
                "Broods " (first + 1) " to " ((first + SHOWN).min(all)) " of " (all) ". "
                @if first > 0 { a href={ "/?from=" (first.saturating_sub(SHOWN)) } { "Earlier broods" } " " }
                @if first + SHOWN < all { a href={ "/?from=" (first + SHOWN) } { "Later broods" } }
            }
        }
    }
}

fn photos_in(broods: &[(&Brood, Progress)]) -> Markup {
    let hint = "Files may be dropped here too. The card belongs in the picture: same lamp, same water.";
    html! {
        section.drop data-after="/" aria-labelledby="in" {
            h2 id="in" { "Photos in" }
            (photos_in::fields(broods.iter().map(|(b, _)| b.label.as_str()), hint))
        }
    }
}
