//! What `score` prints of each photo: a line of JSON, or a table in words.

use serde_json::json;

use super::score_tasks::Job;
use super::{desk, measure_table};
use crate::book::Book;
use crate::book::measurements::Difference;
use crate::book::photos::Subject;
use crate::command_line::to_type;
use crate::error::{Error, Result};
use crate::pipeline;
use crate::pipeline::keep::Ready;

/// What keeping a photo did.
pub(super) struct Kept {
    pub(super) subject: Subject,
    pub(super) difference: Difference,
    pub(super) again: bool,
}

/// What came of one photo.
pub(super) enum Outcome {
    /// It was measured and kept.
    Measured(Box<Ready>, Kept),
    /// The book had it already, just so.
    Settled,
}

/// Prints what came of a photo; in words, one that the book had already and one that failed have been told on stderr.
pub(super) fn print(book: &Book, job: &Result<Job>, outcome: &Result<Outcome>, json: bool) -> Result<()> {
    match (outcome, job, json) {
        (Ok(Outcome::Measured(ready, kept)), _, true) => print_line(ready, kept),
        (Ok(Outcome::Measured(ready, kept)), _, false) => desk::print(in_words(ready, kept)),
        (Ok(Outcome::Settled), Ok(Job::Settled { name, photo }), true) => {
            let said = format!(
                "in the book already with {}, as it was measured then; --again measures it again",
                photo.subject
            );
            let mut line = pipeline::kept_line(&book.read(), photo, &said)?;
            line["photo"] = name.as_str().into();
            line["kept"] = kept_as(&photo.subject, None);
            desk::print_json(&line)
        }
        (Err(error), _, true) => {
            // One of the book goes by its name, any other by the name it was given.
            let photo = match job {
                Ok(Job::Score(task)) if task.kept.is_none() => task.path.to_string_lossy().into_owned(),
                Ok(Job::Score(task)) => task.name.clone(),
                Ok(Job::Settled { name, .. }) => name.clone(),
                Err(error) => error.place.clone(),
            };
            desk::print(format_args!("{}\n", pipeline::failure_line(&photo, error)))
        }
        (Ok(Outcome::Settled) | Err(_), ..) => Ok(()),
    }
}

/// Whose photo it is, and what measuring it again changed.
fn kept_as(subject: &Subject, changed: Option<&Difference>) -> serde_json::Value {
    let (brood, sitting, fish) = match subject {
        Subject::Sitting { brood, day } => (Some(brood), Some(day), None),
        Subject::Portrait(fish) => (None, None, Some(fish)),
    };
    json!({ "brood": brood, "sitting": sitting, "fish": fish, "changed": changed })
}

fn print_line(ready: &Ready, kept: &Kept) -> Result<()> {
    let failed = |e: serde_json::Error| Error::failed(&ready.report.photo, e, "please report this");
    let line = ready.report.line().map_err(failed)?;
    let mut value: serde_json::Value = serde_json::from_str(&line).map_err(failed)?;
    value["kept"] = kept_as(&kept.subject, kept.again.then_some(&kept.difference));
    desk::print_json(&value)
}

fn in_words(ready: &Ready, Kept { subject, difference, again }: &Kept) -> String {
    let mut text = measure_table::table(&ready.report);
    text += &format!("  kept with {subject}; ");
    if !again {
        return text + "nothing is confirmed yet\n";
    }
    let others = if difference.set_aside.is_empty() { "" } else { " of all others" };
    text += &format!("what was confirmed{others} stays\n");
    text += &format!(
        "  measured again: {} the same fish, {} new, {} gone\n",
        difference.same, difference.new, difference.lost
    );
    for gone in &difference.set_aside {
        let back = format!("broodhue confirm --photo {} --fish {} --bring-back", to_type(&ready.report.photo), gone.n);
        let said = format!("set aside ({}), its score no longer counts; `{back}` brings it back", gone.why);
        text += &format!("  fish {}: {said}\n", gone.n);
    }
    for n in &difference.kept {
        text +=
            &format!("  fish {n} of before keeps its outline and its score: nothing found now is clearly that fish\n");
    }
    for line in &difference.proposals {
        text += &format!("  {line}\n");
    }
    text
}
