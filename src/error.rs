//! Errors and warnings as values: where, what, and what to do about it.

use std::fmt;

use serde::{Deserialize, Serialize};

/// What every fallible function of the library returns.
pub type Result<T, E = Error> = std::result::Result<T, E>;

/// Why something could not be done, as the exit code tells it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ErrorKind {
    /// The request itself is wrong (exit code 2): an unknown axis, a malformed option.
    Usage,
    /// The request is fine but could not be carried out (exit code 1).
    Failed,
    /// It could not be carried out because it would take too long or too much memory (exit code 1); less of it could.
    TooDear,
}

/// One failure: the place (photo, patch, fish, row), what is wrong there with its value and limit, and a hint.
///
/// Prints in one breath: `tray.jpg: the file is cut short after 4096 bytes; hint: copy it again from the phone`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Error {
    /// Decides the exit code.
    pub kind: ErrorKind,
    /// Where: a file, a photo, a fish, a row of a table. May be empty.
    pub place: String,
    /// What is wrong, with the value and the limit.
    pub message: String,
    /// What the person can do about it. May be empty.
    pub hint: String,
}

impl Error {
    /// A request that was understood but could not be carried out.
    pub fn failed(place: impl fmt::Display, message: impl fmt::Display, hint: impl fmt::Display) -> Self {
        Self::of_kind(ErrorKind::Failed, place, message, hint)
    }

    /// A request that is itself wrong.
    pub fn usage(place: impl fmt::Display, message: impl fmt::Display, hint: impl fmt::Display) -> Self {
        Self::of_kind(ErrorKind::Usage, place, message, hint)
    }

    /// A request that would take too long or too much memory.
    pub fn too_dear(place: impl fmt::Display, message: impl fmt::Display, hint: impl fmt::Display) -> Self {
        Self::of_kind(ErrorKind::TooDear, place, message, hint)
    }

    fn of_kind(kind: ErrorKind, place: impl fmt::Display, message: impl fmt::Display, hint: impl fmt::Display) -> Self {
        Self { kind, place: one_line(place), message: one_line(message), hint: one_line(hint) }
    }
}

/// Line ends and other control characters become spaces: a message is one line, whatever a file is called.
fn one_line(text: impl fmt::Display) -> String {
    text.to_string().trim().replace(char::is_control, " ")
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if !self.place.is_empty() {
            write!(f, "{}: ", self.place)?;
        }
        write!(f, "{}", self.message)?;
        if !self.hint.is_empty() {
            write!(f, "; hint: {}", self.hint)?;
        }
        Ok(())
    }
}

impl std::error::Error for Error {}

/// Something a person should know although the work went on. Stored with the measurement it belongs to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Warning {
    /// A short fixed name, for scripts: `no-card`, `broken-exif`.
    pub code: String,
    /// The sentence a person reads.
    pub message: String,
}

impl Warning {
    /// A warning with its fixed code and its sentence.
    pub fn new(code: &str, message: impl fmt::Display) -> Self {
        Self { code: code.to_owned(), message: message.to_string() }
    }
}

impl fmt::Display for Warning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.message)
    }
}
