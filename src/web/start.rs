//! The first page: every brood with its photos and how far it is scored, and photos in.

use maud::{Markup, html};

use super::row::{State, state};
use super::shell;
use crate::book::{Read, broods, regions, sheets};
use crate::error::Result;

/// The page of all broods.
///
/// # Errors
/// The book cannot be read.
pub(super) fn page(book: &Read<'_>) -> Result<Markup> {
    let sheet = sheets::latest(book)?;
    let mut lines = Vec::new();
    for brood in broods::list(book)? {
        let fish = regions::of_brood(book, &brood)?;
        let number = |wanted: State| fish.iter().filter(|r| state(r, &sheet) == wanted).count();
        let states = [State::Undecided, State::Proposed, State::Confirmed, State::Aside].map(number);
        lines.push((brood, states));
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
                    tbody { @for (brood, states) in &lines { tr {
                        th scope="row" {
                            @if states.iter().sum::<usize>() > 0 { a href={ "/brood/" (super::escape(&brood.label)) } { bdi { (brood.label) } } }
                            @else { bdi { (brood.label) } " " span.quiet { "no photo yet" } }
                        }
                        td { bdi { (brood.cross) } }
                        td { @if let Some(day) = brood.dropped_from { (day) } }
                        @for n in states { td.number { (n) } }
                    } } }
                }
            }
            (photos_in(&lines.iter().map(|(b, _)| b.label.as_str()).collect::<Vec<_>>()))
        }
        (shell::screens_differ())
    };
    Ok(shell::page("All broods", &shell::nav(), Some("/photos.js"), &body))
}

fn photos_in(broods: &[&str]) -> Markup {
    html! {
        section.drop data-after="/" aria-labelledby="in" {
            h2 id="in" { "Photos in" }
            p {
                label for="upload-brood" { "Brood " }
                select id="upload-brood" { @for b in broods { option value=(b) { (b) } } }
                " "
                label { "Photos " input type="file" accept="image/*" multiple; }
            }
            p.quiet { "Or drop them here. The card belongs in the picture: same lamp, same water." }
            div role="status" aria-live="polite" { ul id="uploads" {} }
        }
    }
}
