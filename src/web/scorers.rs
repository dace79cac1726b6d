//! Two scorers: how well they agree on each axis, beyond chance, and where they do not.

use maud::{Markup, html};

use super::shell;
use crate::book::photos::{self, Subject};
use crate::book::regions;
use crate::book::scores::{self, TwoScores};
use crate::book::{Read, opinions, sheets};
use crate::error::Result;
use crate::stats::kappa::{Kappa, Weights, kappa};

/// The page: one table an axis for each second scorer.
///
/// # Errors
/// The book cannot be read.
pub(super) fn page(book: &Read<'_>) -> Result<Markup> {
    let sheet = sheets::rules(book)?;
    let mut parts = Vec::new();
    for second in opinions::scorers(book)? {
        for axis in &sheet.axes {
            let both = scores::two_scores(book, &axis.name, &second)?;
            if !both.is_empty() {
                let classes: Vec<&str> = axis.classes.iter().map(|c| c.name.as_str()).collect();
                parts.push(agreement(book, &second, &axis.name, &classes, &both)?);
            }
        }
    }
    let body = html! {
        p { "A second scorer who does not see the first one’s classes shows how far the classes depend on the eye. "
            "Open a brood and choose “Score blind as a second scorer”." }
        @if parts.is_empty() { p { "Nobody has scored a fish a second time yet." } }
        @for part in parts { (part) }
    };
    Ok(shell::page("Two scorers", &shell::nav(), None, &body))
}

fn agreement(book: &Read<'_>, second: &str, axis: &str, classes: &[&str], both: &[TwoScores]) -> Result<Markup> {
    let place = |class: &str| classes.iter().position(|c| *c == class);
    let mut table = vec![vec![0_u64; classes.len()]; classes.len()];
    for pair in both {
        if let (Some(i), Some(j)) = (place(pair.first.class()), place(pair.second.class())) {
            table[i][j] += 1;
        }
    }
    let differ: Vec<_> = both.iter().filter(|p| p.first.class() != p.second.class()).collect();
    let kappa = kappa(&table, Weights::Unweighted);
    let mut rows = Vec::new();
    for pair in &differ {
        let fish = regions::get(book, pair.region)?;
        let photo = photos::find(book, &fish.photo)?;
        let place = photo.as_ref().map(|p| (p.name.clone(), p.subject.to_string()));
        let link = photo.and_then(|p| match p.subject {
            Subject::Sitting { brood, .. } => {
                Some(format!("/brood/{}?photo={}#fish-{}", super::escape(&brood), p.hash, fish.id.number()))
            }
            Subject::Portrait(_) => None,
        });
        rows.push((fish.n, link, place.unwrap_or_default(), pair));
    }
    Ok(html! {
        section {
            h2 { (axis) ", second scorer " bdi { (second) } }
            p {
                (both.len() - differ.len()) " of " (both.len()) " fish in the same class. "
                @match kappa {
                    Some(k) => { "Cohen’s kappa " (format!("{:.2}", k.kappa)) " (" (interval(&k))
                        "): 1 is full agreement, 0 what chance alone would give." }
                    None => "Cohen’s kappa needs fish that either scorer sorted into two classes or more.",
                }
            }
            @if !rows.is_empty() {
                table {
                    caption { "Where they differ" }
                    thead { tr { th scope="col" { "Fish" } th scope="col" { "Photo" } th scope="col" { "First" } th scope="col" { "Second" } } }
                    tbody { @for (n, link, (photo, of), pair) in &rows { tr {
                        td.number { @if let Some(link) = link { a href=(link) { (n) } } @else { (n) } }
                        td { bdi { (photo) } ", " bdi { (of) } }
                        td { (pair.first.class()) " (" bdi { (pair.first.by()) } ")" } td { (pair.second.class()) }
                    } } }
                }
            }
        }
    })
}

fn interval(kappa: &Kappa) -> String {
    kappa.interval(0.95).map_or_else(
        || "these fish are too much alike to give it an interval".to_owned(),
        |i| format!("95 % interval {:.2} to {:.2}", i.low, i.high),
    )
}
