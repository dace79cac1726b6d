//! The crosses as a pedigree drawing: a row a generation, squares for males, circles for females.

use std::collections::BTreeMap;

use maud::{Markup, html};

use super::plot::{Plot, dot, drawing, line, square, text};
use super::story::{CrossBox, FishBox, Story};
use crate::cells::{Cell, csv};
use crate::units::{Sex, joined};

/// Drawing units between rows, and between crosses of a row.
const ROW: f64 = 150.0;
const COLUMN: f64 = 260.0;

/// How far below the parents a cross is named, and how far below that the lines to its young begin.
const NAMED: f64 = 48.0;
const BELOW: f64 = 20.0;

/// How far above the parents their names stand: two rows, so that neighbours do not run into each other.
const LABELS: [f64; 2] = [14.0, 28.0];

/// The drawing; `None` without a cross.
pub(super) fn family(story: &Story) -> Option<Plot> {
    let rows = rows(story);
    let widest = rows.iter().map(Vec::len).max()?;
    let size = (COLUMN * widest.max(2) as f64, ROW * rows.len() as f64 - 10.0);
    let mut places: BTreeMap<&str, (f64, f64)> = BTreeMap::new();
    for (i, row) in rows.iter().enumerate() {
        for (j, cross) in row.iter().enumerate() {
            places.insert(&cross.name, (COLUMN * (j as f64 + 0.5), ROW * i as f64 + 50.0));
        }
    }
    let marks = html! {
        @for cross in rows.iter().flatten() { (one_cross(story, cross, &places)) }
    };
    let title = "Crosses and their parents".to_owned();
    let description = story
        .crosses
        .iter()
        .map(|c| format!("{}: {} × {} ({})", c.name, joined(&c.sires, "or"), joined(&c.dams, "or"), c.note))
        .collect::<Vec<_>>()
        .join("; ");
    let svg = drawing("pedigree", &title, &description, size, &marks);
    let numbers: Vec<Vec<Cell>> = story
        .crosses
        .iter()
        .map(|c| [c.name.clone(), c.sires.join("+"), c.dams.join("+"), c.note.clone()].map(Cell::text).to_vec())
        .collect();
    let csv = csv(&["cross", "sires", "dams", "broods"], &numbers);
    let caption = "Squares are males, circles females; dashed lines lead from the cross a parent came from.".to_owned();
    Some(Plot { name: "pedigree".to_owned(), title, description, caption, svg, csv })
}

/// Crosses by generation: each stands below those its parents came from.
fn rows(story: &Story) -> Vec<Vec<&CrossBox>> {
    let mut depth: BTreeMap<&str, usize> = BTreeMap::new();
    // A pedigree without loops settles within as many rounds as it has crosses.
    for _ in 0..=story.crosses.len() {
        for cross in &story.crosses {
            let above = parents(story, cross).filter_map(|f| f.cross.as_deref()).filter_map(|c| depth.get(c)).max();
            let own = above.map_or(0, |d| d + 1).min(story.crosses.len());
            depth.insert(&cross.name, own);
        }
    }
    let mut rows = vec![Vec::new(); depth.values().max().map_or(0, |d| d + 1)];
    story.crosses.iter().for_each(|c| rows[depth[c.name.as_str()]].push(c));
    rows.into_iter().filter(|r| !r.is_empty()).collect()
}

fn parents<'a>(story: &'a Story, cross: &'a CrossBox) -> impl Iterator<Item = &'a FishBox> {
    story.fish.iter().filter(|f| cross.sires.contains(&f.name) || cross.dams.contains(&f.name))
}

fn one_cross(story: &Story, cross: &CrossBox, places: &BTreeMap<&str, (f64, f64)>) -> Markup {
    let (x, y) = places[cross.name.as_str()];
    let fish: Vec<&str> = cross.sires.iter().chain(&cross.dams).map(String::as_str).collect();
    let step = (COLUMN - 60.0) / fish.len().max(2) as f64;
    let at = |i: usize| x + step * (i as f64 - (fish.len() as f64 - 1.0) / 2.0);
    html! {
        (line(at(0), y, at(fish.len().saturating_sub(1)), y, ""))
        (line(x, y, x, y + NAMED - 14.0, ""))
        @for (i, name) in fish.iter().enumerate() {
            @let known = story.fish.iter().find(|f| f.name == *name);
            @if let Some((px, py)) = known.and_then(|f| f.cross.as_deref()).and_then(|c| places.get(c)) {
                (line(*px, py + NAMED + BELOW, at(i), y - LABELS[i % 2] - 12.0, "3 3"))
            }
            @let male = known.and_then(|f| f.sex).map_or(i < cross.sires.len(), |s| s == Sex::Male);
            @if male { (square(at(i), y, 8.0, false)) } @else { (dot(at(i), y, 8.0, false)) }
            (text(at(i), y - LABELS[i % 2], "middle", &words(name, known)))
        }
        (text(x, y + NAMED, "middle", &cross.name))
        (text(x, y + NAMED + 14.0, "middle", &cross.note))
    }
}

fn words(name: &str, known: Option<&FishBox>) -> String {
    match known.and_then(|f| f.class.as_ref()) {
        Some(class) => format!("{name} ({class})"),
        None => name.to_owned(),
    }
}
