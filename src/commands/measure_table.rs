//! A measured photo as a person reads it.

use super::desk::word;
use super::table::aligned;
use crate::features::{PartColour, Shares};
use crate::pipeline::{FishReport, PhotoReport};
use crate::sheet::UNDECIDED;
use crate::units::percent;

/// Heading, one row a fish, warnings.
pub(super) fn table(report: &PhotoReport) -> String {
    let mut text = format!("{}: {}, {} fish\n", report.photo, card(report), report.fish.len());
    for reason in &report.card.reasons {
        text += &format!("  colours: {reason}\n");
    }
    if !report.fish.is_empty() {
        text += &fish(report);
    }
    for warning in &report.warnings {
        text += &format!("  note: {warning}\n");
    }
    text
}

fn card(report: &PhotoReport) -> String {
    let card = &report.card;
    let verdict = word(card.verdict);
    match (&card.fit, card.found) {
        (Some(fit), _) => format!("colours {verdict} (off by {:.1} CIEDE2000 on patches left out)", fit.loo_mean_de00),
        (None, true) => format!("colours {verdict} (a card whose colours are not known)"),
        (None, false) => format!("colours {verdict} (no card)"),
    }
}

fn fish(report: &PhotoReport) -> String {
    let axes: Vec<&str> =
        report.fish.first().map(|f| f.proposals.iter().map(|p| p.axis.as_str()).collect()).unwrap_or_default();
    let numbers = ["fish", "mm", "L*", "±", "C", "h", "red body", "red fins", "yellow", "net"];
    let head: Vec<&str> = numbers.iter().copied().chain(axes).chain(["flags"]).collect();
    let rows = report.fish.iter().map(row).collect();
    aligned(&head, rows, &(0..numbers.len()).collect::<Vec<_>>())
}

fn row(f: &FishReport) -> Vec<String> {
    let number = |v: Option<f64>, digits: usize| v.map_or_else(|| "–".to_owned(), |v| format!("{v:.digits$}"));
    let share = |s: Option<f64>| s.map_or_else(|| "–".to_owned(), percent);
    let trunk = |get: fn(&PartColour) -> f64| f.features.trunk.as_ref().map(get);
    let Shares { fish: yellow, .. } = f.features.yellow_share;
    let mut cells = vec![
        f.n.to_string(),
        number(f.length_mm, 1),
        number(trunk(|c| c.lightness), 1),
        number(trunk(|c| c.lightness_se), 1),
        number(trunk(|c| c.chroma), 1),
        number(trunk(|c| c.hue), 0),
        share(f.features.red_share.trunk),
        share(f.features.red_share.finnage),
        share(yellow),
        share(f.features.net),
    ];
    cells.extend(
        f.proposals.iter().map(|p| {
            if p.class == UNDECIDED { UNDECIDED.to_owned() } else { format!("{} {:.2}", p.class, p.confidence) }
        }),
    );
    cells.push(f.flags.iter().map(|flag| flag.name()).collect::<Vec<_>>().join(", "));
    cells
}
