//! One fish as a line of the notebook page: crop, state, sex, classes with their reasons, flags, tools.

use std::collections::BTreeMap;

use maud::{Markup, html};

use super::pictures;
use crate::book::photos::Photo;
use crate::book::progress::{self, HowFar};
use crate::book::regions::Region;
use crate::sheet::{Axis, NOT_SHOWN, Proposal, Sheet, UNDECIDED};
use crate::units::Sex;

/// The word for it on the page, and the name of its shape in the style sheet.
pub(super) const fn word(how_far: HowFar) -> &'static str {
    match how_far {
        HowFar::Undecided => "undecided",
        HowFar::Proposed => "proposed",
        HowFar::Confirmed => "confirmed",
        HowFar::SetAside => "aside",
    }
}

/// What a row is drawn from.
#[derive(Debug, Clone, Copy)]
pub(super) struct Look<'a> {
    /// The sheet in force.
    pub(super) sheet: &'a Sheet,
    /// The photo the fish is in.
    pub(super) photo: &'a Photo,
    /// When scoring blind: this scorer's own classes by fish and axis; proposals and others' scores stay hidden.
    pub(super) blind: Option<&'a BTreeMap<(i64, String), String>>,
}

/// The proposal for an axis, where there is one.
fn proposal<'a>(region: &'a Region, axis: &str) -> Option<&'a Proposal> {
    region.proposals.iter().find(|p| p.axis == axis)
}

/// How far a fish is scored.
fn how_far(region: &Region, sheet: &Sheet) -> HowFar {
    let open = sheet.axes.iter().filter(|a| !region.classes.contains_key(&a.name));
    let proposed = open.map(|axis| proposal(region, &axis.name).map(|p| p.class.as_str()));
    progress::how_far(region.set_aside.is_some(), proposed)
}

/// How far it is as a scorer may see it: a blind one learns of the own classes alone.
pub(super) fn shown(region: &Region, look: Look<'_>) -> HowFar {
    let Some(own) = look.blind else { return how_far(region, look.sheet) };
    let scored = |axis: &Axis| own.contains_key(&(region.id.number(), axis.name.clone()));
    match region.set_aside {
        Some(_) => HowFar::SetAside,
        None if look.sheet.axes.iter().all(scored) => HowFar::Confirmed,
        None => HowFar::Undecided,
    }
}

/// Sorts what needs a look first: undecided, then flagged, then the least sure; confirmed and set aside come last.
pub(super) fn urgency(region: &Region, sheet: &Sheet) -> (HowFar, bool, f64) {
    let open = region.proposals.iter().filter(|p| !region.classes.contains_key(&p.axis));
    let least = open.map(|p| p.confidence).fold(1.0, f64::min);
    (how_far(region, sheet), region.flags.is_empty(), least)
}

/// A confidence as a word and a number.
fn confidence(value: f64) -> String {
    let word = match value {
        v if v >= 0.95 => "sure",
        v if v >= 0.8 => "fairly sure",
        _ => "unsure",
    };
    format!("{word}, {:.0} %", value * 100.0)
}

/// One line of the notebook.
pub(super) fn row(region: &Region, look: Look<'_>) -> Markup {
    let id = region.id.number();
    let state = shown(region, look);
    html! {
        li id={ "fish-" (id) } data-region=(id) data-number=(region.n) data-state=(word(state)) tabindex="-1" {
            div.row-number { (region.n) }
            div.crop { (crop(region, look.photo)) }
            div.facts {
                @if look.blind.is_none() {
                    span.state.(word(state)) { (word(state)) @if let Some(why) = &region.set_aside { ": " (why) } }
                }
                @if let Some(gone) = &region.gone { " " span.flags { (gone) " since" } }
                @if !region.flags.is_empty() { p.flags { "Look twice: " (region.flags.join(", ")) } }
                @if region.number > 1 { p.flags { "Perhaps " (region.number) " fish in one outline: split it" } }
                @if look.blind.is_none() { (sex(region)) }
                @for axis in &look.sheet.axes { (axis_line(region, axis, look)) }
                @if look.blind.is_none() { (tools(region, state)) }
            }
        }
    }
}

fn sex(region: &Region) -> Markup {
    html! {
        div.choices role="group" aria-label={ "Sex of fish " (region.n) } {
            @for (sex, word) in [(Sex::Male, "male"), (Sex::Female, "female")] {
                button data-do="sex" data-sex=(sex.letter()) aria-pressed=(region.sex == Some(sex)) {
                    kbd { (sex.letter()) } (word)
                }
            }
        }
    }
}

fn axis_line(region: &Region, axis: &Axis, look: Look<'_>) -> Markup {
    let own = look.blind.map(|all| all.get(&(region.id.number(), axis.name.clone())).map(String::as_str));
    let confirmed = region.classes.get(&axis.name);
    let pressed = own.unwrap_or_else(|| confirmed.map(|c| c.class()));
    let suggested = proposal(region, &axis.name).filter(|_| own.is_none());
    let choices = axis.classes.iter().map(|c| c.name.as_str()).chain([UNDECIDED, NOT_SHOWN]);
    html! {
        div.axis data-axis=(axis.name) {
            div {
                span.axis-name { (axis.name) } " "
                @match (own, confirmed, suggested) {
                    (Some(Some(_)), ..) => span.state.confirmed { "your own score" },
                    (Some(None), ..) => span.state.undecided { "not scored by you" },
                    (None, Some(score), _) => span.state.confirmed { "confirmed " (score.class()) " by " bdi { (score.by()) } },
                    (None, None, Some(p)) if p.class == UNDECIDED => span.state.undecided { "undecided" },
                    (None, None, Some(p)) => span.state.proposed { "proposed " (p.class) span.sure { " (" (confidence(p.confidence)) ")" } },
                    (None, None, None) => span.state.undecided { "no proposal" },
                }
            }
            div.choices role="group" aria-label={ (axis.name) " of fish " (region.n) } {
                @for (i, class) in choices.enumerate() {
                    button data-do="class" data-axis=(axis.name) data-class=(class) aria-pressed=(pressed == Some(class)) {
                        kbd { (i + 1) } (class)
                    }
                }
            }
            @if let Some(p) = suggested.filter(|p| !p.because.is_empty()) {
                ul.reasons { @for reason in &p.because { li { (reason) } } }
            }
        }
    }
}

fn tools(region: &Region, state: HowFar) -> Markup {
    let n = region.n;
    html! {
        div.row-tools role="group" aria-label={ "What to do with fish " (n) } {
            @if state == HowFar::SetAside {
                button.main data-do="back" { kbd { "x" } "Bring back" }
            } @else {
                button.main data-do="accept" { "Accept" }
                button data-do="aside" { kbd { "x" } "Set aside…" }
                button data-do="compare" { kbd { "c" } "Side by side" }
                // An outline of an earlier measurement is none of today's, and its number may be another fish's by now.
                @if !region.from_earlier {
                    details {
                        summary { "Mend the outline" }
                        button data-do="split" { kbd { "s" } "Split" }
                        button data-do="merge" { kbd { "j" } "Join with…" }
                        button data-do="remove" { "Not a fish" }
                    }
                }
                details {
                    summary { "Left since" }
                    button data-do="gone" data-gone="moved" { "Moved out" }
                    button data-do="gone" data-gone="died" { "Died" }
                }
            }
        }
    }
}

/// The fish alone on the page's grey: the photo's preview, clipped by the outline.
fn crop(region: &Region, photo: &Photo) -> Markup {
    let b = region.bounds;
    let clip = format!("clip-{}", region.id.number());
    html! {
        svg viewBox={ (b.x0) " " (b.y0) " " (b.x1 - b.x0) " " (b.y1 - b.y0) } role="img" aria-label={ "Fish " (region.n) } {
            clipPath id=(clip) { polygon points=(points(region)) {} }
            image href=(pictures::address(photo)) width=(photo.width) height=(photo.height) clip-path={ "url(#" (clip) ")" } {}
        }
    }
}

/// The outline as SVG writes it, to a tenth of a pixel.
pub(super) fn points(region: &Region) -> String {
    region.outline.iter().map(|p| format!("{:.1},{:.1}", p.x, p.y)).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn confidence_is_a_word_and_a_number() {
        assert_eq!(confidence(0.97), "sure, 97 %");
        assert_eq!(confidence(0.85), "fairly sure, 85 %");
        assert_eq!(confidence(0.5), "unsure, 50 %");
    }
}
