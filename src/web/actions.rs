//! What a person decides about one fish: each request is one transaction of the book, and the answer says what now stands.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use serde::Deserialize;

use super::answer::{Answered, Of, Place, keep};
use super::posted::Posted;
use super::state::{App, work};
use crate::book::fish::Gone;
use crate::book::regions::{self, RegionId};
use crate::book::scores::{self, Said};
use crate::book::{By, Write};
use crate::error::Result;
use crate::units::Sex;

/// Runs one decision about one fish and answers with its row.
async fn decide<T: Send + 'static>(
    app: Arc<App>,
    place: Place,
    region: i64,
    decision: impl FnOnce(&Write<'_>, &By, RegionId) -> Result<T> + Send + 'static,
    said: impl FnOnce(u32) -> String + Send + 'static,
) -> Answered {
    work(&app, move |app| {
        let by = app.by(&place.by)?;
        let id = RegionId::from_number(region);
        keep(app, &place, &[region], |book| {
            let fish = regions::get(book, id)?;
            decision(book, &by, id)?;
            Ok(said(fish.n))
        })
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
pub(super) async fn class(State(app): State<Arc<App>>, Posted(asked): Posted<Of<Class>>) -> Answered {
    let Of { place, what: Class { region, axis, class } } = asked;
    let blind = place.blind;
    let words = format!("{axis} {class}");
    let decision = move |book: &Write<'_>, by: &By, id| {
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
pub(super) async fn accept(State(app): State<Arc<App>>, Posted(asked): Posted<Of<OneFish>>) -> Answered {
    asked.place.first_scorer_only()?;
    let region = asked.what.region;
    let decision = move |book: &Write<'_>, by: &By, id| {
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
pub(super) async fn sex(State(app): State<Arc<App>>, Posted(asked): Posted<Of<SexOf>>) -> Answered {
    asked.place.first_scorer_only()?;
    let SexOf { region, sex } = asked.what;
    let said = Said { classes: Vec::new(), sex: Some(sex) };
    let decision = move |book: &Write<'_>, by: &By, id| scores::correct(book, id, &said, None, by);
    decide(app, asked.place, region, decision, move |n| format!("fish {n} is {}", sex.letter())).await
}

#[derive(Debug, Deserialize)]
pub(super) struct Aside {
    region: i64,
    why: String,
}

/// Sets a fish aside.
pub(super) async fn aside(State(app): State<Arc<App>>, Posted(asked): Posted<Of<Aside>>) -> Answered {
    asked.place.first_scorer_only()?;
    let Aside { region, why } = asked.what;
    let decision = move |book: &Write<'_>, by: &By, id| scores::set_aside(book, id, Some(&why), by);
    decide(app, asked.place, region, decision, |n| format!("fish {n} set aside")).await
}

/// Brings a fish back.
pub(super) async fn back(State(app): State<Arc<App>>, Posted(asked): Posted<Of<OneFish>>) -> Answered {
    asked.place.first_scorer_only()?;
    let region = asked.what.region;
    let decision = |book: &Write<'_>, by: &By, id| scores::set_aside(book, id, None, by);
    decide(app, asked.place, region, decision, |n| format!("fish {n} brought back")).await
}

#[derive(Debug, Deserialize)]
pub(super) struct GoneSince {
    region: i64,
    gone: Gone,
}

/// A fish that moved out or died after this photo.
pub(super) async fn gone(State(app): State<Arc<App>>, Posted(asked): Posted<Of<GoneSince>>) -> Answered {
    asked.place.first_scorer_only()?;
    let GoneSince { region, gone } = asked.what;
    let decision = move |book: &Write<'_>, by: &By, id| scores::set_gone(book, id, gone, None, by);
    decide(app, asked.place, region, decision, move |n| format!("fish {n} {} since", gone.word())).await
}
