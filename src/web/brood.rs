//! The brood view: the tray with every fish outlined and numbered, and the notebook page beside it.

use jiff::civil::Date;
use maud::{Markup, html};

use super::desk::Desk;
use super::row::{self, Look};
use super::since::since;
use super::strip::{self, Ratio};
use super::{dialogs, numbers, pictures, shell};
use crate::book::regions::Region;
use crate::geometry::Point;

impl Desk {
    pub(super) fn look(&self) -> Look<'_> {
        Look { sheet: &self.sheet, photo: &self.on.photo, blind: self.blind.as_ref() }
    }

    /// The counts as they stand, as the strip and as a table of shares; `ask` shows expected numbers at once.
    pub(super) fn counts(&self, ask: bool) -> (Markup, Markup) {
        if self.blind.is_some() {
            return (html! { p { "Scoring blind: counts stay hidden." } }, html! {});
        }
        let ratio = self.ratio.as_deref().and_then(Ratio::parse);
        let tallied = strip::tallied(&self.fish, &self.sheet, ratio.as_ref(), ask);
        (tallied.strip(), tallied.shares())
    }

    /// What became of the open ones of the sitting before; nothing for the first sitting and for a blind scorer.
    pub(super) fn since(&self) -> Markup {
        match &self.since {
            Some((day, axes)) if self.blind.is_none() => since(*day, axes),
            _ => html! {},
        }
    }

    fn on_photo(&self) -> Vec<&Region> {
        let mut fish: Vec<&Region> = self.fish.iter().filter(|r| r.photo == self.on.photo.hash).collect();
        if self.blind.is_some() {
            return fish;
        }
        fish.sort_by(|a, b| {
            let (a, b) = (row::urgency(a, &self.sheet), row::urgency(b, &self.sheet));
            a.0.cmp(&b.0).then(a.1.cmp(&b.1)).then(a.2.total_cmp(&b.2))
        });
        fish
    }

    fn link(&self, day: Date, photo: Option<&str>, blind: bool) -> String {
        self.on.address(day, photo, &self.scorer, blind)
    }

    /// The page; `broods` are the labels of all broods, to one of which the photo may belong instead.
    pub(super) fn page(&self, broods: &[String]) -> Markup {
        let (on, blind) = (&self.on, self.blind.is_some());
        let corners = self.card.map(|quad| quad.map(|p| format!("{:.1},{:.1}", p.x, p.y)).join(" "));
        let body = html! {
            div.desk data-brood=(on.brood_in_cross()) data-label=(on.brood.label) data-sitting=(on.day) data-photo=(on.photo.hash)
                data-at=(self.link(on.day, Some(&on.photo.hash), blind))
                data-blind=(if blind { "yes" } else { "no" }) data-latest=(self.latest) data-card=[corners] {
                (self.tray())
                section aria-label="Fish" {
                    (self.head(broods))
                    div id="since" { (self.since()) }
                    ol.notebook { @for region in self.on_photo() { (row::row(region, self.look())) } }
                    (shell::screens_differ())
                }
            }
            (self.foot())
            (dialogs::all())
        };
        shell::page(&format!("Brood {}", on.brood.label), &shell::nav(), Some("/page.js"), &body)
    }

    fn head(&self, broods: &[String]) -> Markup {
        html! {
            p {
                label for="by" { "Scored by " } input id="by" name="by" value=(self.scorer) autocomplete="name" required;
                " "
                @if self.blind.is_some() {
                    strong { "second scorer, blind" } " "
                    a href=(self.link(self.on.day, Some(&self.on.photo.hash), false)) { "Leave blind scoring" }
                } @else {
                    a href=(self.link(self.on.day, Some(&self.on.photo.hash), true)) { "Score blind as a second scorer" }
                }
            }
            p {
                "Sitting: "
                @for day in &self.on.days {
                    @if *day == self.on.day { strong.day aria-current="date" { (day) } " " }
                    @else { a.day href=(self.link(*day, None, self.blind.is_some())) { (day) } " " }
                }
            }
            @if self.on.photos.len() > 1 {
                p { "Photos of this sitting: "
                    @for (i, photo) in self.on.photos.iter().enumerate() {
                        @if photo.hash == self.on.photo.hash { strong aria-current="page" { (i + 1) " " bdi { (photo.name) } } " " }
                        @else { a href=(self.link(self.on.day, Some(&photo.hash), self.blind.is_some())) { (i + 1) " " bdi { (photo.name) } } " " }
                    }
                }
            }
            @if self.blind.is_none() { (self.elsewhere(broods)) }
            div.row-tools {
                @if self.blind.is_none() {
                    label for="at-least" { "Accept all that are at least " }
                    input id="at-least" type="number" min="50" max="100" value="90";
                    span { "% sure" }
                    button data-do="accept-all" { kbd { "a" } "Accept these" }
                }
                button data-do="undo" { kbd { "u" } "Undo" }
                button data-do="help" { kbd { "?" } "Help" }
            }
        }
    }

    /// The way out for a photo that was kept with a wrong brood or day.
    fn elsewhere(&self, broods: &[String]) -> Markup {
        html! {
            details {
                summary { "Wrong brood or day?" }
                p.fields {
                    span {
                        label for="to-brood" { "This photo shows brood " }
                        select id="to-brood" {
                            @for label in broods { option value=(label) selected[*label == self.on.brood.label] { (label) } }
                        }
                    }
                    " "
                    span { label for="to-day" { "on " } input id="to-day" type="date" value=(self.on.day); }
                    " " button data-do="elsewhere" { "Put it there" }
                }
                p.quiet { "What was confirmed of its fish goes along." }
            }
        }
    }

    /// Type size of the numbers, in pixels of the photo: some eleven pixels of a phone's screen (starting value).
    fn number_size(&self) -> f64 {
        f64::from(self.on.photo.width.max(self.on.photo.height)) / 34.0
    }

    /// All numbers above all outlines, so that none is hidden.
    fn numbers(&self, fish: &[&Region]) -> Markup {
        let (photo, size) = (&self.on.photo, self.number_size());
        let numbered: Vec<(&[Point], u32)> = fish.iter().map(|r| (&r.outline[..], r.n)).collect();
        let places = numbers::places(&numbered, size, (f64::from(photo.width), f64::from(photo.height)));
        html! {
            g.numbers font-size=(format!("{size:.1}")) {
                @for (region, p) in fish.iter().zip(places) {
                    text x=(format!("{:.1}", p.x)) y=(format!("{:.1}", p.y)) { (region.n) }
                }
            }
        }
    }

    fn tray(&self) -> Markup {
        let photo = &self.on.photo;
        let (w, h) = (photo.width, photo.height);
        let fish = self.on_photo();
        html! {
            section.tray aria-label="Tray photo" {
                svg viewBox={ "0 0 " (w) " " (h) } role="group" aria-label={ "Photo " (photo.name) " with " (fish.len()) " fish outlined and numbered" } {
                    image href=(pictures::address(photo)) width=(w) height=(h) {}
                    g { @for region in &fish {
                        g id={ "mark-" (region.id.number()) } class=(row::word(row::shown(region, self.look())))
                            data-region=(region.id.number()) data-number=[(!region.from_earlier).then_some(region.n)] {
                            polygon.under points=(row::points(region)) {}
                            polygon points=(row::points(region)) {}
                        }
                    } }
                    (self.numbers(&fish))
                }
                div.tools role="group" aria-label="What to do in the photo" {
                    button data-do="nearer" { kbd { "+" } "Nearer" }
                    button data-do="farther" { kbd { "-" } "Farther" }
                    button data-do="whole" { kbd { "0" } "Whole tray" }
                    @if self.blind.is_none() {
                        button data-do="add" { "Add a fish" }
                        button data-do="card" { "Card’s corners" }
                    }
                    button data-do="done" hidden { "Measure with these corners" }
                    button data-do="give-up" hidden { kbd { "Esc" } "Leave it" }
                }
            }
        }
    }

    fn foot(&self) -> Markup {
        let (strip, shares) = self.counts(false);
        html! {
            section.strip aria-label="Counts of this sitting" {
                p.saved id="saved" role="status" aria-live="polite" { "Nothing waits to be saved." }
                div id="strip-counts" { (strip) }
                @if self.blind.is_none() { (self.more(&shares)) }
            }
        }
    }

    fn more(&self, shares: &Markup) -> Markup {
        html! {
            details {
                summary { "Shares; expected ratio; moved and died" }
                div.scroll id="shares" tabindex="0" role="region" aria-label="Shares" { (shares) }
                p {
                    label for="ratio" { "Ratio, such as “red-body: full 3, absent 1” " }
                    input id="ratio" value=(self.ratio.as_deref().unwrap_or_default());
                    " " button data-do="ratio" { "Keep" }
                    " " button data-do="expected" { "Show expected numbers now" }
                }
                p.quiet { "Expected numbers are kept back until all fish are scored: whoever knows what is missing tends to see it." }
                p {
                    label for="moved" { "Moved out unscored " } input id="moved" type="number" min="0" value="0";
                    label for="died" { " Died unscored " } input id="died" type="number" min="0" value="0";
                    label for="left-sex" { " Sex " }
                    select id="left-sex" { option value="" { "not known" } option value="m" { "male" } option value="f" { "female" } }
                    label for="left-on" { " On " } input id="left-on" type="date" value=(self.on.day);
                    " " button data-do="left" { "Write down" }
                }
            }
        }
    }
}
