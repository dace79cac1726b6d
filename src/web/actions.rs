//! What a person decides on the page: each request is one transaction of the book, and the answer says what now stands.

use std::collections::BTreeMap;
use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use jiff::civil::Date;
use maud::Markup;
use serde::{Deserialize, Serialize};

use super::brood::{Asked, Desk, ratio_setting};
use super::fault::Fault;
use super::state::{App, work};
use super::strip::Ratio;
use super::{mend, row};
use crate::book::fish::Gone;
use crate::book::regions::{self, RegionId};
use crate::book::scores::{self, Said};
use crate::book::{Write, broods, corrections, decisions, settings};
use crate::error::{Error, Result};
use crate::units::Sex;

/// Where on the page a decision was made, and by whom.
#[derive(Debug, Clone, Deserialize)]
pub(super) struct Place {
    pub(super) brood: String,
    pub(super) sitting: Date,
    pub(super) photo: String,
    pub(super) blind: bool,
    pub(super) by: String,
}

impl Place {
    fn asked(&self) -> Asked {
        Asked { sitting: Some(self.sitting), photo: Some(self.photo.clone()), by: self.by.clone(), blind: self.blind }
    }

    /// A second scorer says classes and nothing else.
    pub(super) fn first_scorer_only(&self) -> Result<()> {
        if self.blind {
            let hint = "leave blind scoring to do this";
            return Err(Error::usage("blind scoring", "a second scorer gives classes and changes nothing else", hint));
        }
        Ok(())
    }
}

/// A request about one fish.
#[derive(Debug, Deserialize)]
pub(super) struct Of<T> {
    #[serde(flatten)]
    pub(super) place: Place,
    #[serde(flatten)]
    pub(super) what: T,
}

/// What now stands.
#[derive(Debug, Default, Serialize)]
pub(super) struct Answer {
    /// The line for the person.
    pub(super) saved: String,
    /// Rows that changed, by region.
    pub(super) rows: BTreeMap<i64, String>,
    /// The count strip.
    pub(super) strip: String,
    /// Whether the whole page should be drawn again.
    pub(super) reload: bool,
}

pub(super) type Answered = std::result::Result<Json<Answer>, Fault>;

/// Lays the desk again and draws the changed rows.
pub(super) fn answer(app: &App, place: &Place, changed: &[i64], said: &str) -> Result<Answer> {
    let book = app.book();
    let desk = Desk::lay(&book.read(), &place.brood, &place.asked())?;
    let rows = desk.fish.iter().filter(|r| changed.contains(&r.id.number()));
    let rows = rows.map(|r| (r.id.number(), row::row(r, desk.look()).into_string())).collect();
    Ok(Answer { saved: saved(app, said), rows, strip: desk.strip(false).into_string(), reload: false })
}

fn saved(app: &App, said: &str) -> String {
    format!("Saved: {said} ({})", app.now().strftime("%H:%M:%S UTC"))
}

/// Runs one decision about one fish and answers with its row.
async fn decide<T: Send + 'static>(
    app: Arc<App>,
    place: Place,
    region: i64,
    decision: impl FnOnce(&Write<'_>, &decisions::By, RegionId) -> Result<T> + Send + 'static,
    said: impl FnOnce(u32) -> String + Send + 'static,
) -> Answered {
    work(&app, move |app| {
        let by = app.by(&place.by)?;
        let id = RegionId::from_number(region);
        let n = app.book().write(|book| {
            let fish = regions::get(book, id)?;
            decision(book, &by, id)?;
            Ok(fish.n)
        })?;
        answer(app, &place, &[region], &said(n))
    })
    .await
    .map(Json)
}

#[derive(Debug, Deserialize)]
pub(super) struct Class {
    region: i64,
    axis: String,
    class: String,
}

/// A class for one axis of one fish.
pub(super) async fn class(State(app): State<Arc<App>>, Json(asked): Json<Of<Class>>) -> Answered {
    let Of { place, what: Class { region, axis, class } } = asked;
    let blind = place.blind;
    let words = format!("{axis} {class}");
    let decision = move |book: &Write<'_>, by: &decisions::By, id| {
        if blind {
            scores::opinion(book, id, &axis, &class, by)
        } else {
            scores::correct(book, id, &Said { classes: vec![(axis, class)], sex: None }, None, by)
        }
    };
    decide(app, place, region, decision, move |n| format!("fish {n}, {words}")).await
}

#[derive(Debug, Deserialize)]
pub(super) struct OneFish {
    region: i64,
}

/// All open proposals of one fish.
pub(super) async fn accept(State(app): State<Arc<App>>, Json(asked): Json<Of<OneFish>>) -> Answered {
    asked.place.first_scorer_only()?;
    let region = asked.what.region;
    let decision = move |book: &Write<'_>, by: &decisions::By, id| {
        let open = scores::acceptable(&[regions::get(book, id)?], 0.0);
        scores::accept(book, &open, None, by)
    };
    decide(app, asked.place, region, decision, |n| format!("fish {n} accepted")).await
}

#[derive(Debug, Deserialize)]
pub(super) struct SexOf {
    region: i64,
    sex: Sex,
}

/// A fish's sex.
pub(super) async fn sex(State(app): State<Arc<App>>, Json(asked): Json<Of<SexOf>>) -> Answered {
    asked.place.first_scorer_only()?;
    let SexOf { region, sex } = asked.what;
    let said = Said { classes: Vec::new(), sex: Some(sex) };
    let decision = move |book: &Write<'_>, by: &decisions::By, id| scores::correct(book, id, &said, None, by);
    decide(app, asked.place, region, decision, move |n| format!("fish {n} is {}", sex.letter())).await
}

#[derive(Debug, Deserialize)]
pub(super) struct Aside {
    region: i64,
    why: String,
}

/// Sets a fish aside.
pub(super) async fn aside(State(app): State<Arc<App>>, Json(asked): Json<Of<Aside>>) -> Answered {
    asked.place.first_scorer_only()?;
    let Aside { region, why } = asked.what;
    let decision = move |book: &Write<'_>, by: &decisions::By, id| scores::set_aside(book, id, Some(&why), by);
    decide(app, asked.place, region, decision, |n| format!("fish {n} set aside")).await
}

/// Brings a fish back.
pub(super) async fn back(State(app): State<Arc<App>>, Json(asked): Json<Of<OneFish>>) -> Answered {
    asked.place.first_scorer_only()?;
    let region = asked.what.region;
    let decision = |book: &Write<'_>, by: &decisions::By, id| scores::set_aside(book, id, None, by);
    decide(app, asked.place, region, decision, |n| format!("fish {n} brought back")).await
}

#[derive(Debug, Deserialize)]
pub(super) struct AtLeast {
    at_least: f64,
}

/// Every open proposal of the photo at or above a confidence.
pub(super) async fn accept_all(State(app): State<Arc<App>>, Json(asked): Json<Of<AtLeast>>) -> Answered {
    asked.place.first_scorer_only()?;
    work(&app, move |app| {
        let by = app.by(&asked.place.by)?;
        let photo = asked.place.photo.clone();
        let number = app.book().write(|book| {
            let fish: Vec<_> = regions::of_brood(book, &broods::known(book, &asked.place.brood)?)?
                .into_iter()
                .filter(|r| r.photo == photo)
                .collect();
            let open = scores::acceptable(&fish, asked.what.at_least);
            scores::accept(book, &open, None, &by)?;
            Ok(open.len())
        })?;
        Ok(Answer { reload: true, ..answer(app, &asked.place, &[], &format!("{number} proposals accepted"))? })
    })
    .await
    .map(Json)
}

/// Takes back this person's latest decision.
pub(super) async fn undo(State(app): State<Arc<App>>, Json(place): Json<Place>) -> Answered {
    work(&app, move |app| {
        let by = app.by(&place.by)?;
        let mended = |app: &App| corrections::of_photo(&app.book().read(), &place.photo);
        let before = mended(app)?;
        let undone = app.book().write(|book| decisions::undo(book, &by))?;
        if mended(app)? != before {
            mend::measure_again(app, &place.photo, &by, |_| None)?;
        }
        let said = undone
            .map_or_else(|| "nothing is left to undo".to_owned(), |_| "the last decision is taken back".to_owned());
        Ok(Answer { reload: true, ..answer(app, &place, &[], &said)? })
    })
    .await
    .map(Json)
}

#[derive(Debug, Deserialize)]
pub(super) struct Left {
    moved: u32,
    died: u32,
}

/// Young that left unscored.
pub(super) async fn left(State(app): State<Arc<App>>, Json(asked): Json<Of<Left>>) -> Answered {
    asked.place.first_scorer_only()?;
    work(&app, move |app| {
        let by = app.by(&asked.place.by)?;
        let Place { brood, sitting, .. } = &asked.place;
        let Left { moved, died } = asked.what;
        app.book().write(|book| {
            for (what, number) in [(Gone::Moved, moved), (Gone::Died, died)] {
                if number > 0 {
                    let number = i32::try_from(number).unwrap_or(i32::MAX);
                    broods::leave(book, brood, what, None, number, *sitting, &by)?;
                }
            }
            Ok(())
        })?;
        answer(app, &asked.place, &[], &format!("{moved} moved, {died} died"))
    })
    .await
    .map(Json)
}

#[derive(Debug, Deserialize)]
pub(super) struct Expected {
    ratio: String,
}

/// Keeps the ratio that is expected of this brood; an empty one forgets it.
pub(super) async fn ratio(State(app): State<Arc<App>>, Json(asked): Json<Of<Expected>>) -> Answered {
    work(&app, move |app| {
        let text = asked.what.ratio.trim();
        if !text.is_empty() && Ratio::parse(text).is_none() {
            let hint = "write it as red-body: full 3, absent 1";
            return Err(Error::usage("ratio", format!("{text:?} cannot be read"), hint));
        }
        app.book().write(|book| settings::set(book, &ratio_setting(&asked.place.brood), text))?;
        answer(app, &asked.place, &[], "the expected ratio")
    })
    .await
    .map(Json)
}

/// The strip with expected numbers, because it was asked for.
pub(super) async fn strip(State(app): State<Arc<App>>, Json(place): Json<Place>) -> Answered {
    work(&app, move |app| {
        let book = app.book();
        let strip: Markup = Desk::lay(&book.read(), &place.brood, &place.asked())?.strip(true);
        Ok(Answer { strip: strip.into_string(), saved: "Expected numbers shown.".into(), ..Answer::default() })
    })
    .await
    .map(Json)
}
