//! The first page: the broods with their photos and how far they are scored, and photos in.

use maud::{Markup, html};
use serde::Deserialize;

use super::shell;
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
    let sheet = sheets::latest(book)?;
    let broods = broods::list(book)?;
    let first = asked.from.unwrap_or(usize::MAX).min(broods.len().saturating_sub(SHOWN));
    let mut lines = Vec::new();
    for brood in broods.iter().skip(first).take(SHOWN) {
        lines.push((brood, progress::of_brood(book, &sheet, brood)?));
    }
    let body = html! {
        @if lines.is_empty() {
            p { "This book has no broods yet. Write one down with " code { "broodhue cross add" } " and " code { "broodhue brood add" } "." }
        } @else {
            div.scroll tabindex="0" role="region" aria-label="All broods" {
                table {
                    caption { "Fish in photos, by how far they are scored (all sittings)" }
                    thead { tr {
                        th scope="col" { "Brood" } th scope="col" { "Cross" } th scope="col" { "Dropped" }
                        th scope="col" { "Undecided ◇" } th scope="col" { "Proposed ○" } th scope="col" { "Confirmed ■" } th scope="col" { "Set aside ▬" }
                    } }
                    tbody { @for (brood, progress) in &lines { tr {
                        th scope="row" {
                            @if progress.fish() > 0 { a href={ "/brood/" (super::escape(&brood.label)) } { bdi { (brood.label) } } }
                            @else { bdi { (brood.label) } " " span.quiet { "no photo yet" } }
                        }
                        td { bdi { (brood.cross) } }
                        td { @if let Some(day) = brood.dropped_from { (day) } }
                        @for n in numbers(*progress) { td.number { (n) } }
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
    html! {
        section.drop data-after="/" aria-labelledby="in" {
            h2 id="in" { "Photos in" }
            p {
                label for="upload-brood" { "Brood " }
                select id="upload-brood" { @for (b, _) in broods { option value=(b.label) { (b.label) } } }
                " "
                label { "Photos " input type="file" accept="image/*" multiple; }
            }
            p.quiet { "Or drop them here. The card belongs in the picture: same lamp, same water." }
            div role="status" aria-live="polite" { ul id="uploads" {} }
        }
    }
}
