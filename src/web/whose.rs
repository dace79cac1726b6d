//! Which brood and day a photo shows: put right where it was kept with a wrong one, and what a reader of the counts has to know of it.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use jiff::civil::Date;
use serde::Deserialize;

use super::answer::{Answered, Of, draw_again};
use super::mend;
use super::posted::Posted;
use super::state::{App, work};
use crate::book::photos::{Photo, Subject};
use crate::book::{Read, broods, sheets, tallies, twins};
use crate::error::{Error, Result};

#[derive(Debug, Deserialize)]
pub(super) struct Instead {
    to_brood: String,
    to_day: Date,
}

/// The photo shows another brood, or another day, than was said; what was confirmed of its fish goes along.
pub(super) async fn shows(State(app): State<Arc<App>>, Posted(asked): Posted<Of<Instead>>) -> Answered {
    let Of { place, what: Instead { to_brood, to_day } } = asked;
    place.first_scorer_only()?;
    work(&app, move |app| {
        let by = app.by(&place.by)?;
        let photo = app.photo(&place.photo)?;
        let brood = broods::known(&app.book().read(), &to_brood)?.label;
        let subject = Subject::Sitting { brood, day: to_day };
        if photo.subject == subject {
            let said = format!("it is with {subject} already");
            return Err(Error::usage(&photo.name, said, "choose the brood or the day that it shows instead"));
        }
        mend::shows(app, &photo.hash, subject.clone(), &by)?;
        // The photo is where it belongs by now; that a caution cannot be worked out makes it no failure.
        let cautions = app.photo(&photo.hash).and_then(|moved| cautions(&app.book().read(), &moved, app.today()));
        let cautions = cautions.unwrap_or_default();
        let said: Vec<String> = [format!("{} shows {subject}", photo.name)].into_iter().chain(cautions).collect();
        Ok(draw_again(app, &place, &said.join(". ")))
    })
    .await
    .map(Json)
}

/// The caution that a day is still to come, which may be a slip of the pen.
pub(super) fn still_to_come(day: Date, today: Date) -> Option<String> {
    (day > today).then(|| format!("Caution: {day} is still to come"))
}

/// What is said of a photo that has just come to a sitting: that its day is still to come, that it looks like another one, that the
/// sitting takes the place of a confirmed one in the counts.
///
/// # Errors
/// The book cannot be read.
pub(super) fn cautions(book: &Read<'_>, photo: &Photo, today: Date) -> Result<Vec<String>> {
    let Subject::Sitting { brood, day } = &photo.subject else { return Ok(Vec::new()) };
    let mut all = Vec::new();
    all.extend(still_to_come(*day, today));
    all.extend(twins::caution(book, photo)?.map(|said| format!("Caution: {said}")));
    let brood = broods::known(book, brood)?;
    let taken = tallies::place_taken(book, &sheets::rules(book)?, &brood, photo.view)?;
    if let Some((later, before)) = taken.filter(|(later, _)| later == day) {
        all.push(format!(
            "Caution: in the counts of brood {} this sitting of {later} takes the place of {before}, which is confirmed, and none of its \
             fish is confirmed yet. If brood or day are wrong, put them right on the photo’s own page",
            brood.label
        ));
    }
    Ok(all)
}
