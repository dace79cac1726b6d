//! What lies on the desk: one photo of one sitting of a brood, with all that the page about it says.

use std::collections::BTreeMap;

use jiff::civil::Date;

use crate::book::broods::{self, Brood};
use crate::book::photos::{self, Photo, Subject};
use crate::book::regions::{self, Region};
use crate::book::sittings::{self, Since};
use crate::book::{Read, decisions, measurements, opinions, settings, sheets};
use crate::error::{Error, Result};
use crate::geometry::Quad;
use crate::sheet::Sheet;

/// Which part of a brood is looked at, and how.
#[derive(Debug, Clone, Default, serde::Deserialize)]
#[serde(default)]
pub(super) struct Asked {
    /// The day of the sitting; the photo's, or the latest, when not said.
    pub(super) sitting: Option<Date>,
    /// The photo; the first of the sitting when not said.
    pub(super) photo: Option<String>,
    /// The scorer's name.
    pub(super) by: String,
    /// Whether this is a second scorer, who must not see the first one's scores.
    pub(super) blind: bool,
}

/// The photo that was asked for, and its neighbours.
#[derive(Debug)]
pub(super) struct OnDesk {
    /// The brood; its label is its name on the page.
    pub(super) brood: Brood,
    pub(super) day: Date,
    /// Days of all its sittings.
    pub(super) days: Vec<Date>,
    /// Photos of this sitting.
    pub(super) photos: Vec<Photo>,
    pub(super) photo: Photo,
}

impl OnDesk {
    /// Finds it.
    ///
    /// # Errors
    /// An unknown brood, one without photos, a photo of another brood.
    pub(super) fn find(book: &Read<'_>, brood: &str, asked: &Asked) -> Result<Self> {
        let brood = broods::known(book, brood)?;
        let of_brood: Vec<(Date, Photo)> = photos::of_brood(book, &brood)?
            .into_iter()
            .filter(|p| p.set_aside.is_none())
            .filter_map(|p| match &p.subject {
                Subject::Sitting { day, .. } => Some((*day, p)),
                Subject::Portrait(_) => None,
            })
            .collect();
        let mut days: Vec<Date> = of_brood.iter().map(|(d, _)| *d).collect();
        days.sort_unstable();
        days.dedup();
        let no_photo = || {
            let hint = "put one in on the page of all broods, or with: broodhue score PHOTO --brood BROOD";
            Error::failed(format!("brood {}", brood.label), "it has no photo on this day", hint)
        };
        let wanted = |p: &Photo| asked.photo.as_ref().is_none_or(|hash| *hash == p.hash);
        let of_photo = asked.photo.as_ref().and_then(|_| of_brood.iter().find(|(_, p)| wanted(p)).map(|(d, _)| *d));
        let day = asked.sitting.or(of_photo).or(days.last().copied()).ok_or_else(no_photo)?;
        let photos: Vec<Photo> = of_brood.into_iter().filter(|(d, _)| *d == day).map(|(_, p)| p).collect();
        let photo = photos.iter().find(|p| wanted(p)).cloned().ok_or_else(no_photo)?;
        Ok(Self { brood, day, days, photos, photo })
    }

    /// What the brood is called in addresses and requests: its label may come to mean several once another cross has a brood of the
    /// name, this does not.
    pub(super) fn brood_in_cross(&self) -> String {
        format!("{}/{}", self.brood.cross, self.brood.name)
    }

    /// The address of a sitting of this brood, or of one of its photos, as a scorer sees it.
    pub(super) fn address(&self, day: Date, photo: Option<&str>, by: &str, blind: bool) -> String {
        let blind = if blind { "&blind=true" } else { "" };
        let photo = photo.map(|p| format!("&photo={p}")).unwrap_or_default();
        let (brood, by) = (super::escape(&self.brood_in_cross()), super::escape(by));
        format!("/brood/{brood}?sitting={day}{photo}&by={by}{blind}")
    }
}

/// Everything the brood view shows.
#[derive(Debug)]
pub(super) struct Desk {
    pub(super) on: OnDesk,
    /// All fish of the sitting.
    pub(super) fish: Vec<Region>,
    pub(super) sheet: Sheet,
    pub(super) scorer: String,
    /// When scoring blind: this scorer's own classes by fish and axis.
    pub(super) blind: Option<BTreeMap<(i64, String), String>>,
    /// The ratio that is expected, as it was written.
    pub(super) ratio: Option<String>,
    /// What became of those that were open at the sitting before, when there is one.
    pub(super) since: Option<(Date, Vec<Since>)>,
    /// Where the photo's card lies.
    pub(super) card: Option<Quad>,
    /// Number of the latest decision in the book.
    pub(super) latest: i64,
}

impl Desk {
    /// Lays the desk.
    ///
    /// # Errors
    /// As [`OnDesk::find`].
    pub(super) fn lay(book: &Read<'_>, brood: &str, asked: &Asked) -> Result<Self> {
        let on = OnDesk::find(book, brood, asked)?;
        let sheet = sheets::in_play(book, (&sheets::latest(book)?, &sheets::rules(book)?), &on.brood)?;
        let mut fish = Vec::new();
        for photo in &on.photos {
            fish.extend(regions::of_photo(book, photo)?);
        }
        let scorer = match asked.by.trim() {
            "" => settings::get(book, settings::SCORER)?.unwrap_or_default(),
            name => name.to_owned(),
        };
        let blind = if asked.blind { Some(opinions::of_scorer(book, &scorer)?) } else { None };
        let since = match on.days.iter().copied().rfind(|d| *d < on.day) {
            Some(last) => Some((last, sittings::since(book, &sheet, &on.brood, (last, on.day), on.photo.view)?)),
            None => None,
        };
        let ratio = settings::expected_ratio(book, &on.brood)?;
        let card = measurements::card_of(book, &on.photo.hash)?;
        let latest = decisions::latest_number(book)?;
        Ok(Self { on, fish, sheet, scorer, blind, ratio, since, card, latest })
    }
}
