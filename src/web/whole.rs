//! What a person decides about more than one fish: agreeing to all that is sure enough, taking back, young that left
//! unscored, the ratio that is expected.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use jiff::civil::Date;
use serde::Deserialize;
use serde_json::Number;

use super::answer::{Answered, Of, Place, draw_again, keep, unchanged};
use super::posted::Posted;
use super::state::{App, work};
use super::strip::Ratio;
use super::{mend, whose};
use crate::book::decisions::{self, Within};
use crate::book::fish::Gone;
use crate::book::{broods, corrections, departures, photos, regions, scores, settings, sheets, taken_back};
use crate::error::{Error, Result};
use crate::units::{Sex, counted};

/// Least confidence that may be asked for: agreeing to all that is more wrong than right would be no agreeing.
const LEAST: f64 = 0.5;

#[derive(Debug, Deserialize)]
pub(super) struct AtLeast {
    /// 0.5 to 1.
    at_least: f64,
}

/// Every open proposal of the photo at or above a confidence.
pub(super) async fn accept_all(State(app): State<Arc<App>>, Posted(asked): Posted<Of<AtLeast>>) -> Answered {
    asked.place.first_scorer_only()?;
    work(&app, move |app| {
        let Of { place, what: AtLeast { at_least } } = asked;
        let by = app.by(&place.by)?;
        if !(LEAST..=1.0).contains(&at_least) {
            let said = format!("{} % cannot be asked for", at_least * 100.0);
            return Err(Error::usage("at least … % sure", said, "write a number from 50 to 100"));
        }
        let number = app.book().write(|book| {
            let fish = regions::of_photo(book, &photos::named(book, &place.photo)?)?;
            let open = scores::acceptable(&fish, at_least);
            scores::accept(book, &open, None, &by)?;
            Ok(open.len())
        })?;
        Ok(draw_again(app, &place, &format!("{} accepted", counted(number, "proposal", "proposals"))))
    })
    .await
    .map(Json)
}

/// Takes back this person's latest decision in this brood, and says what that was.
pub(super) async fn undo(State(app): State<Arc<App>>, Posted(place): Posted<Place>) -> Answered {
    work(&app, move |app| {
        let by = app.by(&place.by)?;
        let done = app.book().write(|book| {
            let brood = broods::known(book, &place.brood)?;
            let Some(undo) = decisions::undo_within(book, &by, Within::Brood(&brood))? else {
                return Ok(Err(format!("Nothing is left to undo for {} in brood {}.", by.name, brood.label)));
            };
            let mended = undo.undoes.map(|id| corrections::photo_of(book, id)).transpose()?;
            Ok(Ok((taken_back_words(&taken_back::lines(book, undo.id)?), mended.flatten())))
        })?;
        let (said, mended) = match done {
            Ok(done) => done,
            Err(nothing) => return unchanged(app, &place, nothing),
        };
        if let Some(photo) = mended {
            // It is taken back already. A photo that cannot be measured now is measured when its page opens, which then says why not.
            let _later = mend::catch_up(app, &photo);
        }
        Ok(draw_again(app, &place, &said))
    })
    .await
    .map(Json)
}

/// Lines shown of what was taken back; accepting a whole tray makes more than anyone reads.
const SHOWN: usize = 4;

fn taken_back_words(lines: &[String]) -> String {
    if lines.is_empty() {
        return "the last decision is taken back; what others have said since holds".to_owned();
    }
    // What the terminal is told to do next is done here at once.
    let lines: Vec<&str> = lines.iter().filter_map(|line| line.split("; `broodhue").next()).collect();
    let more = lines.len().saturating_sub(SHOWN);
    let shown = lines[..lines.len() - more].join("; ");
    let more = if more > 0 { format!("; and {more} more") } else { String::new() };
    format!("taken back, so that now {shown}{more}")
}

#[derive(Debug, Deserialize)]
pub(super) struct Left {
    moved: Number,
    died: Number,
    /// The day; the sitting's when not said.
    on: Option<Date>,
    sex: Option<Sex>,
}

/// A number of fish.
fn whole_number(number: &Number) -> Result<i32> {
    let whole = number.as_i64().and_then(|n| i32::try_from(n).ok());
    whole
        .ok_or_else(|| Error::usage("moved and died", format!("{number} is no number of fish"), "write a whole number"))
}

/// Young that left unscored; negative numbers take some back.
pub(super) async fn left(State(app): State<Arc<App>>, Posted(asked): Posted<Of<Left>>) -> Answered {
    asked.place.first_scorer_only()?;
    work(&app, move |app| {
        let by = app.by(&asked.place.by)?;
        let Place { brood, sitting, .. } = &asked.place;
        let Left { moved, died, on, sex } = asked.what;
        let (moved, died, on) = (whole_number(&moved)?, whole_number(&died)?, on.unwrap_or(*sitting));
        if moved == 0 && died == 0 {
            return Err(Error::usage("moved and died", "both are 0", "write how many left"));
        }
        keep(app, &asked.place, &[], |book| {
            for (what, number) in [(Gone::Moved, moved), (Gone::Died, died)].into_iter().filter(|(_, n)| *n != 0) {
                departures::record(book, brood, what, sex, number, on, &by)?;
            }
            let caution = whose::still_to_come(on, app.today()).map(|caution| format!(". {caution}"));
            Ok(format!("{moved} moved, {died} died unscored{}", caution.unwrap_or_default()))
        })
    })
    .await
    .map(Json)
}

#[derive(Debug, Deserialize)]
pub(super) struct Expected {
    ratio: String,
}

/// Keeps the ratio that is expected of this brood; an empty one forgets it.
pub(super) async fn ratio(State(app): State<Arc<App>>, Posted(asked): Posted<Of<Expected>>) -> Answered {
    work(&app, move |app| {
        let text = asked.what.ratio.trim();
        keep(app, &asked.place, &[], |book| {
            let brood = broods::known(book, &asked.place.brood)?;
            if text.is_empty() {
                settings::expect_ratio(book, &brood, text)?;
                return Ok("no ratio is expected any more".to_owned());
            }
            Ratio::read(text, &sheets::latest(book)?, &regions::of_brood(book, &brood)?)?;
            settings::expect_ratio(book, &brood, text)?;
            Ok("the expected ratio".to_owned())
        })
    })
    .await
    .map(Json)
}

/// The counts with expected numbers, because they were asked for.
pub(super) async fn strip(State(app): State<Arc<App>>, Posted(place): Posted<Place>) -> Answered {
    let asked = Place { expected: true, ..place };
    work(&app, move |app| unchanged(app, &asked, "Expected numbers shown.".to_owned())).await.map(Json)
}
