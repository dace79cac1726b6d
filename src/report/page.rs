//! The page itself.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::base64::base64;
use super::plot::Plot;
use super::shares::label;
use super::story::{Inheritance, NextCross, Story, TrendStory};
use super::{chart, lightness, pedigree, shares};
use crate::cautions;
use crate::counts::Counts;
use crate::units::{percent, percent_range, share_percent};

const STYLE: &str = include_str!("page.css");

/// What holds for every breeder: common practice among keepers, said as such where it is no more.
const CAUTIONS: [&str; 6] = [
    cautions::TRAY,
    cautions::ELECTRICITY,
    "Quarantine new fish before nets, trays and boxes are shared (two to four weeks is common practice).",
    "Plan where surplus fry will go before a cross is made. Never release fish; local rules on keeping and passing on \
     fish come first.",
    "Inbreeding adds up: watch for deformed, weak or small young, and for dark overgrowth in hybrid stocks.",
    cautions::VET,
];

/// How every kind of number was made, and what its error rests on.
const METHODS: [(&str, &str); 6] = [
    (
        "Counts",
        "Confirmed fish only; exact (Clopper–Pearson) 95 % intervals; “with the open ones” bounds the share if none, or all, \
         of the fish not yet scored were of the class.",
    ),
    (
        "Inheritance",
        "Exact likelihood of each mode over the whole pedigree of crosses, with the scoring error in it; weights are over \
         the modes listed, each as likely as the other beforehand. Nothing is proven by it.",
    ),
    (
        "The next cross",
        "Bits are the expected information of 12 scored and sexed fry about the mode; odds are averaged over the modes by \
         their weights and over what the parents may carry.",
    ),
    ("Inbreeding", "From the recorded pedigree; founders count as unrelated."),
    (
        "Lightness",
        "L* of CIELAB (D50, 2° observer), the median over the trunk, read through the colour card; a brood counts as one, \
         never a single fish; intervals from the spread between generations.",
    ),
    (
        "The card",
        "Mean CIEDE2000 of its patches as the camera reads them; limits are those of an individuals chart, changes are found \
         by Pettitt’s rank test.",
    ),
];

/// The whole page as HTML.
pub fn page(story: &Story) -> String {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (story.title) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                h1 { (story.title) }
                p { "Made on " (story.made_on) " with Broodhue " (env!("CARGO_PKG_VERSION")) "." }
                (crosses(story))
                (counted(story))
                (inherited(story))
                (next(&story.next, story.next_advice.as_deref()))
                @for (trend, name) in story.trends.iter().zip(lightness::named(&story.trends)) { (over_generations(trend, &name)) }
                (controlled(story))
                (typical(story))
                (methods())
                h2 { "Cautions" }
                ul { @for caution in CAUTIONS { li { (caution) } } }
            }
        }
    }
    .into_string()
}

fn figure(plot: &Plot) -> Markup {
    html! {
        figure {
            (wide(PreEscaped(plot.svg.as_str())))
            figcaption { strong { (plot.title) } ". " (plot.caption) }
        }
    }
}

/// What may be wider than a small screen: it moves sideways there, by finger or by key, and the page stays.
fn wide(inner: impl maud::Render) -> Markup {
    html! { div.wide tabindex="0" { (inner) } }
}

fn crosses(story: &Story) -> Markup {
    html! {
        h2 { "Crosses" }
        @match pedigree::family(story) {
            Some(plot) => (figure(&plot)),
            None => p { "No cross is recorded yet." },
        }
    }
}

fn counted(story: &Story) -> Markup {
    // What was asked about comes first.
    let asked = |(counts, _): &(&Counts, String)| story.inheritance.as_ref().is_some_and(|i| i.axis == counts.axis);
    let all = story.counts.iter().zip(shares::named(&story.counts)).filter(|(counts, _)| !counts.rows.is_empty());
    let (first, rest): (Vec<_>, Vec<_>) = all.partition(asked);
    html! {
        h2 { "Counts" }
        @if first.is_empty() && rest.is_empty() { p { "Nothing is confirmed yet." } }
        @for (counts, name) in first.into_iter().chain(rest) {
            h3 { (counts.axis) }
            @if counts.includes_proposed { p.mind { "Unconfirmed proposals are counted too, because that was asked for." } }
            (count_table(counts))
            @if let Some(plot) = shares::shares(counts, &name) { (figure(&plot)) }
        }
    }
}

fn count_table(counts: &Counts) -> Markup {
    let open = counts.rows.iter().any(|r| r.open > 0);
    html! {
        (wide(html! {
            table {
                thead { tr {
                    th { "cross" } th { "brood, class" } th { "sitting" } th.n { "fish" } th.n { "share" }
                    th.n { "95 % interval" } @if open { th.n { "with the open ones" } }
                } }
                tbody {
                    @for row in &counts.rows {
                        tr {
                            td { (row.place.cross) }
                            td { (label(row)) }
                            td.day { @match row.place.sitting { Some(day) => (day.to_string()), None => "by hand" } }
                            td.n { (row.confirmed) " of " (row.of) }
                            td.n { (share_percent(row.share)) }
                            td.n { (percent_range(row.low, row.high)) }
                            @if open { td.n { @if row.open > 0 { (percent_range(row.least, row.most)) } } }
                        }
                    }
                }
            }
        }))
        @for (why, number) in counts.excluded.words() { p { "Not counted: " (number) " " (why) "." } }
        @for warning in &counts.warnings { p { "Note: " (warning) } }
    }
}

fn inherited(story: &Story) -> Markup {
    html! {
        h2 { "Inheritance" }
        @match (&story.inheritance, &story.no_verdict) {
            (Some(found), _) => (verdict(found)),
            (None, Some(why)) => p { (why) },
            (None, None) => p { "No axis and class were asked about." },
        }
    }
}

fn verdict(found: &Inheritance) -> Markup {
    html! {
        h3 { (found.question) }
        p.say { (found.verdict) }
        p { (found.read_as) }
        (wide(html! {
            table {
                thead { tr { th { "mode" } th.n { "weight" } th { "verdict" } th { "because" } } }
                tbody {
                    @for mode in &found.modes {
                        tr {
                            td { (mode.mode) }
                            td.n { (percent(mode.weight)) }
                            td { (mode.verdict) }
                            td { (mode.because) }
                        }
                    }
                }
            }
        }))
        @if !found.cautions.is_empty() { div.mind { @for caution in &found.cautions { p { (caution) } } } }
    }
}

fn next(pairs: &[NextCross], advice: Option<&str>) -> Markup {
    html! {
        h2 { "The next cross" }
        @if pairs.is_empty() { p { "No pair of living fish to weigh, or no verdict to weigh it by." } } @else {
            (wide(html! {
                table {
                    thead { tr {
                        th { "sire × dam" } th.n { "bits from 12 fry" } th.n { "odds of the target" } th.n { "fry for 95 %" }
                        th.n { "F of the young" } th { "mind" }
                    } }
                    tbody {
                        @for pair in pairs {
                            tr {
                                td { (pair.sire) " × " (pair.dam) }
                                td.n { (format!("{:.2}", pair.bits)) }
                                td.n { (percent(pair.odds)) }
                                td.n { @match pair.fry_for_95 { Some(n) => (n), None => "–" } }
                                td.n { (format!("{:.3}", pair.inbreeding)) }
                                td { (pair.warnings.join("; ")) }
                            }
                        }
                    }
                }
            }))
            @if let Some(advice) = advice { p { (advice) } }
        }
    }
}

fn over_generations(story: &TrendStory, name: &str) -> Markup {
    let trend = &story.trend;
    html! {
        h2 { (story.line) ": " (story.feature) " by generation" }
        p.say { (trend.verdict) "." }
        @if let Some(plot) = lightness::generations(story, name) { (figure(&plot)) }
        @if let Some(slopes) = &trend.slopes {
            p { "Slope: " (slopes.method) ". Theil–Sen over the same means: " (format!("{:.2}", slopes.theil_sen)) " per generation." }
        }
        @if let Some(h) = &trend.heritability {
            p { "Realised heritability: " (format!("{:.2}", h.realised)) " (no error is given: drift is not in it)." }
        }
        @for caution in &trend.cautions { p { "Note: " (caution) "." } }
    }
}

fn controlled(story: &Story) -> Markup {
    html! {
        h2 { "The set-up" }
        @match &story.control {
            None => p { "Fewer than two photos with a card: nothing to compare." },
            Some((control, points)) => {
                (figure(&chart::control(control, points)))
                @if !control.outside.is_empty() { p { "Outside the limits: " (control.outside.join(", ")) "." } }
                @for change in &control.changes { p { (change.because) } }
            }
        }
    }
}

fn typical(story: &Story) -> Markup {
    html! {
        @if !story.crops.is_empty() {
            h2 { "Typical fish" }
            div.crops {
                @for crop in &story.crops {
                    figure {
                        img alt=(crop.caption) src=(format!("data:image/jpeg;base64,{}", base64(&crop.jpeg)));
                        figcaption { (crop.caption) }
                    }
                }
            }
        }
    }
}

fn methods() -> Markup {
    html! {
        h2 { "How the numbers were made" }
        dl { @for (of, how) in METHODS { div { dt { (of) } dd { (how) } } } }
    }
}
