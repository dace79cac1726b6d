//! What a person said of the fish that met nothing: a value, so that it can be a warning of a photo and a failure of a command.

use std::fmt;

use crate::error::{Error, Warning};

/// What it was.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Asked {
    /// The correction at this place in the list, from 0.
    Correction(usize),
    /// A box drawn around a fish.
    Box,
}

/// Something that met nothing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unmet {
    /// What it was.
    pub asked: Asked,
    /// Why it met nothing.
    pub why: Why,
}

/// Why something met nothing, and what to do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Why {
    /// The reason.
    pub reason: String,
    /// What to do.
    pub hint: &'static str,
}

impl Why {
    pub(super) fn new(reason: impl fmt::Display, hint: &'static str) -> Self {
        Self { reason: reason.to_string(), hint }
    }
}

impl Unmet {
    /// As a warning of the photo.
    pub(super) fn warning(&self) -> Warning {
        let code = match self.asked {
            Asked::Correction(_) => "correction",
            Asked::Box => "no-fish",
        };
        Warning::new(code, self)
    }

    /// As the failure of a command that asked for it.
    pub fn failure(&self, photo: &str) -> Error {
        Error::failed(photo, &self.why.reason, self.why.hint)
    }
}

impl fmt::Display for Unmet {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}; {}", self.why.reason, self.why.hint)
    }
}
