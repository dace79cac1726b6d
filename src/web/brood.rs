//! The brood view: the tray with every fish outlined and numbered, and the notebook page beside it.

use std::collections::BTreeMap;

use jiff::civil::Date;
use maud::{Markup, html};

use super::row::{self, Look};
use super::strip::{self, Ratio};
use super::{dialogs, shell};
use crate::book::photos::{self, Photo, Subject};
use crate::book::regions::{self, Region};
use crate::book::{Read, broods, opinions, settings, sheets};
use crate::error::{Error, Result};
use crate::sheet::Sheet;

/// Which part of a brood is looked at, and how.
#[derive(Debug, Clone, Default, serde::Deserialize)]
#[serde(default)]
pub(super) struct Asked {
    /// The day of the sitting; the latest when not said.
    pub(super) sitting: Option<Date>,
    /// The photo; the first of the sitting when not said.
    pub(super) photo: Option<String>,
    /// The scorer's name.
    pub(super) by: String,
    /// Whether this is a second scorer, who must not see the first one's scores.
    pub(super) blind: bool,
}

/// Everything the brood view shows.
#[derive(Debug)]
pub(super) struct Desk {
    pub(super) brood: String,
    pub(super) day: Date,
    pub(super) days: Vec<Date>,
    /// Photos of this sitting.
    pub(super) photos: Vec<Photo>,
    /// The one on the desk.
    pub(super) photo: Photo,
    /// All fish of the sitting.
    pub(super) fish: Vec<Region>,
    pub(super) sheet: Sheet,
    pub(super) scorer: String,
    pub(super) blind: Option<BTreeMap<(i64, String), String>>,
    pub(super) ratio: Option<String>,
    /// Counts of the sitting before, in words, when there is one.
    pub(super) before: Option<(Date, String)>,
}

/// Name of the setting that keeps the ratio a breeder expects of a brood.
pub(super) fn ratio_setting(brood: &str) -> String {
    format!("expected-ratio {brood}")
}

impl Desk {
    /// Lays the desk.
    ///
    /// # Errors
    /// An unknown brood, one without photos, a photo of another brood.
    pub(super) fn lay(book: &Read<'_>, brood: &str, asked: &Asked) -> Result<Self> {
        let record = broods::known(book, brood)?;
        let brood = record.name.clone();
        let of_brood: Vec<(Date, Photo)> = photos::list(book)?
            .into_iter()
            .filter(|p| p.set_aside.is_none())
            .filter_map(|p| match &p.subject {
                Subject::Sitting { brood: b, day } if *b == brood => Some((*day, p)),
                _ => None,
            })
            .collect();
        let mut days: Vec<Date> = of_brood.iter().map(|(d, _)| *d).collect();
        days.sort_unstable();
        days.dedup();
        let no_photo = || {
            let hint = "put one in on the page of all broods, or with: broodhue score PHOTO --brood BROOD";
            Error::failed(format!("brood {brood}"), "it has no photo on this day", hint)
        };
        let day = asked.sitting.or(days.last().copied()).ok_or_else(no_photo)?;
        let photos: Vec<Photo> = of_brood.into_iter().filter(|(d, _)| *d == day).map(|(_, p)| p).collect();
        let wanted = |p: &&Photo| asked.photo.as_ref().is_none_or(|hash| *hash == p.hash);
        let photo = photos.iter().find(wanted).cloned().ok_or_else(no_photo)?;
        let sheet = sheets::latest(book)?;
        let all = regions::of_brood(book, &record)?;
        let on_day = |photos: &[Photo], r: &Region| photos.iter().any(|p| p.hash == r.photo);
        let before = earlier(book, &brood, &days, day, &all, &sheet)?;
        let fish = all.into_iter().filter(|r| on_day(&photos, r)).collect();
        let scorer = match asked.by.trim() {
            "" => settings::get(book, settings::SCORER)?.unwrap_or_default(),
            name => name.to_owned(),
        };
        let blind = if asked.blind { Some(opinions::of_scorer(book, &scorer)?) } else { None };
        let ratio = settings::get(book, &ratio_setting(&brood))?;
        Ok(Self { brood, day, days, photos, photo, fish, sheet, scorer, blind, ratio, before })
    }

    pub(super) fn look(&self) -> Look<'_> {
        Look { sheet: &self.sheet, photo: &self.photo, blind: self.blind.as_ref() }
    }

    /// The strip as it stands; `ask` shows expected numbers at once.
    pub(super) fn strip(&self, ask: bool) -> Markup {
        if self.blind.is_some() {
            return html! { p { "Scoring blind: counts stay hidden." } };
        }
        let ratio = self.ratio.as_deref().and_then(Ratio::parse);
        strip::strip(&self.fish, &self.sheet, ratio.as_ref(), ask)
    }

    fn on_photo(&self) -> Vec<&Region> {
        let mut fish: Vec<&Region> = self.fish.iter().filter(|r| r.photo == self.photo.hash).collect();
        if self.blind.is_some() {
            return fish;
        }
        fish.sort_by(|a, b| {
            let (a, b) = (row::urgency(a, &self.sheet), row::urgency(b, &self.sheet));
            a.0.cmp(&b.0).then(a.1.cmp(&b.1)).then(a.2.total_cmp(&b.2))
        });
        fish
    }

    fn link(&self, day: Date, photo: Option<&str>) -> String {
        let blind = if self.blind.is_some() { "&blind=true" } else { "" };
        let photo = photo.map(|p| format!("&photo={p}")).unwrap_or_default();
        let (brood, by) = (super::escape(&self.brood), super::escape(&self.scorer));
        format!("/brood/{brood}?sitting={day}{photo}&by={by}{blind}")
    }

    /// The page.
    pub(super) fn page(&self) -> Markup {
        let body = html! {
            div.desk data-brood=(self.brood) data-sitting=(self.day) data-photo=(self.photo.hash)
                data-blind=(if self.blind.is_some() { "yes" } else { "no" }) {
                (self.tray())
                section aria-label="Fish" {
                    (self.head())
                    ol.notebook { @for region in self.on_photo() { (row::row(region, self.look())) } }
                }
            }
            (self.foot())
            (dialogs::all())
        };
        shell::page(&format!("Brood {}", self.brood), &shell::nav(), &body)
    }

    fn head(&self) -> Markup {
        html! {
            p {
                label for="by" { "Scored by " } input id="by" name="by" value=(self.scorer) autocomplete="name" required;
                " "
                @if self.blind.is_some() { strong { "second scorer, blind" } }
                @else { a href={ (self.link(self.day, Some(&self.photo.hash))) "&blind=true" } { "Score blind as a second scorer" } }
            }
            p {
                "Sitting: "
                @for day in &self.days {
                    @if *day == self.day { strong aria-current="date" { (day) } " " } @else { a href=(self.link(*day, None)) { (day) } " " }
                }
            }
            @if self.photos.len() > 1 {
                p { "Photos of this sitting: "
                    @for (i, photo) in self.photos.iter().enumerate() {
                        @if photo.hash == self.photo.hash { strong aria-current="page" { (i + 1) " " bdi { (photo.name) } } " " }
                        @else { a href=(self.link(self.day, Some(&photo.hash))) { (i + 1) " " bdi { (photo.name) } } " " }
                    }
                }
            }
            @if let Some((day, words)) = &self.before {
                p.quiet { "Last sitting, " (day) ": " (words) ". Single young are not told apart from one sitting to the next; only the counts are." }
            }
            div.row-tools {
                label for="at-least" { "Accept all that are at least " }
                input id="at-least" type="number" min="50" max="100" value="90";
                " % sure "
                button data-do="accept-all" { kbd { "a" } " Accept these" }
                button data-do="undo" { kbd { "u" } " Undo" }
                button data-do="help" { kbd { "?" } " Help" }
            }
        }
    }

    fn tray(&self) -> Markup {
        let (w, h) = (self.photo.width, self.photo.height);
        let size = f64::from(w.max(h)) / 45.0;
        html! {
            section.tray aria-label="Tray photo" {
                svg viewBox={ "0 0 " (w) " " (h) } role="group" aria-label={ "Photo " (self.photo.name) " with " (self.on_photo().len()) " fish outlined and numbered" } {
                    image href={ "/picture/" (self.photo.hash) } width=(w) height=(h) {}
                    @for region in self.on_photo() {
                        g id={ "mark-" (region.id.number()) } class=(row::shown_state(region, self.look()).word())
                            data-region=(region.id.number()) data-number=(region.n) {
                            polygon.under points=(row::points(region)) {}
                            polygon points=(row::points(region)) {}
                            text x=(format!("{:.1}", region.bounds.x1)) y=(format!("{:.1}", region.bounds.y0)) font-size=(format!("{size:.1}")) { (region.n) }
                        }
                    }
                }
                div.tools {
                    button data-do="nearer" { "Nearer" }
                    button data-do="farther" { "Farther" }
                    button data-do="whole" { "Whole tray" }
                    button data-do="add" { "Add a missed fish" }
                    button data-do="card" { "Move the card’s corners" }
                }
                (shell::screens_differ())
            }
        }
    }

    fn foot(&self) -> Markup {
        html! {
            section.strip aria-label="Counts of this sitting" {
                p.saved id="saved" role="status" aria-live="polite" { "Nothing waits to be saved." }
                div id="strip-counts" { (self.strip(false)) }
                details {
                    summary { "Expected ratio; moved and died" }
                    p {
                        label for="ratio" { "Ratio, such as “red-body: full 3, absent 1” " }
                        input id="ratio" value=(self.ratio.as_deref().unwrap_or_default());
                        button data-do="ratio" { "Keep" }
                        button data-do="expected-show" { "Show expected numbers now" }
                    }
                    p.quiet { "Expected numbers are kept back until all fish are scored: whoever knows what is missing tends to see it." }
                    p {
                        label for="moved" { "Moved out unscored " } input id="moved" type="number" min="0" value="0";
                        label for="died" { " Died unscored " } input id="died" type="number" min="0" value="0";
                        button data-do="left" { "Write down" }
                    }
                }
            }
        }
    }
}

/// What the sitting before `day` counted, and what was still open then.
fn earlier(
    book: &Read<'_>,
    brood: &str,
    days: &[Date],
    day: Date,
    all: &[Region],
    sheet: &Sheet,
) -> Result<Option<(Date, String)>> {
    let Some(last) = days.iter().copied().rfind(|d| *d < day) else { return Ok(None) };
    let of_last = |p: &Photo| matches!(&p.subject, Subject::Sitting { brood: b, day: d } if b == brood && *d == last);
    let photos: Vec<Photo> = photos::list(book)?.into_iter().filter(of_last).collect();
    let fish: Vec<&Region> = all.iter().filter(|r| photos.iter().any(|p| p.hash == r.photo)).collect();
    let words = sheet.axes.iter().map(|axis| {
        let mut numbers: BTreeMap<&str, usize> = BTreeMap::new();
        for r in &fish {
            *numbers.entry(r.classes.get(&axis.name).map_or("open", |c| c.class())).or_default() += 1;
        }
        let each: Vec<String> = numbers.iter().map(|(class, n)| format!("{n} {class}")).collect();
        format!("{} {}", axis.name, each.join(", "))
    });
    Ok(Some((last, words.collect::<Vec<_>>().join("; "))))
}
