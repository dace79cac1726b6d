//! A proposal and a person make a score: the type that counts and conclusions are built on.

use serde::Serialize;

use crate::command_line::to_type;
use crate::error::{Error, Result};
use crate::sheet::{NOT_SHOWN, Proposal, UNDECIDED};

/// A class that a person confirmed. There is no way from a [`Proposal`] to here without a person's name.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct Confirmed {
    axis: String,
    class: String,
    by: String,
}

impl Confirmed {
    /// The class `class` of `axis`, as `person` says.
    ///
    /// # Errors
    /// An empty name, axis or class.
    pub fn said_by(person: &str, axis: &str, class: &str) -> Result<Self> {
        if person.trim().is_empty() {
            return Err(Error::usage(axis, "a score needs the name of who says so", "give it with --by NAME"));
        }
        if axis.is_empty() || class.is_empty() {
            return Err(Error::usage(format!("{axis}={class}"), "an axis and a class are needed", "write AXIS=CLASS"));
        }
        Ok(Self { axis: axis.to_owned(), class: class.to_owned(), by: person.to_owned() })
    }

    /// The proposal's own class, which `person` agrees to.
    ///
    /// # Errors
    /// A proposal that is undecided, to which nobody can agree; an empty name.
    pub fn agreed(proposal: &Proposal, person: &str) -> Result<Self> {
        if proposal.class == UNDECIDED {
            let hint = format!("say which class it is: --class {}", to_type(format!("{}=CLASS", proposal.axis)));
            return Err(Error::usage(&proposal.axis, "the proposal is undecided and cannot be agreed to", hint));
        }
        Self::said_by(person, &proposal.axis, &proposal.class)
    }

    /// The axis.
    pub fn axis(&self) -> &str {
        &self.axis
    }

    /// The class.
    pub fn class(&self) -> &str {
        &self.class
    }

    /// Who said so.
    pub fn by(&self) -> &str {
        &self.by
    }

    /// Whether the class is one that counts: not [`UNDECIDED`], not [`NOT_SHOWN`].
    pub fn counts(&self) -> bool {
        self.class != UNDECIDED && self.class != NOT_SHOWN
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn proposal(class: &str) -> Proposal {
        Proposal { axis: "red-body".into(), class: class.into(), confidence: 0.5, because: Vec::new() }
    }

    #[test]
    fn a_person_agrees_to_a_class_but_not_to_an_open_question() {
        let score = Confirmed::agreed(&proposal("absent"), "Ann").unwrap();
        assert_eq!((score.axis(), score.class(), score.by()), ("red-body", "absent", "Ann"));
        assert!(Confirmed::agreed(&proposal(UNDECIDED), "Ann").is_err());
        assert!(Confirmed::agreed(&proposal("absent"), " ").is_err());
    }

    #[test]
    fn a_person_may_leave_a_fish_undecided_and_it_does_not_count() {
        assert!(!Confirmed::said_by("Ann", "red-body", UNDECIDED).unwrap().counts());
        assert!(!Confirmed::said_by("Ann", "red-body", NOT_SHOWN).unwrap().counts());
        assert!(Confirmed::said_by("Ann", "red-body", "absent").unwrap().counts());
    }
}
