//! What a person names for a comparison: a fish of a photo, a class of a brood, a fish or a brood of the book.

use std::fmt;

use crate::error::{Error, Result};

/// One name on the command line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Named {
    /// `PHOTO#N`: fish N of a photo file.
    OfPhoto {
        /// The file.
        photo: String,
        /// The fish's number.
        n: u32,
    },
    /// `BROOD/axis=class`.
    OfClass {
        /// The brood.
        brood: String,
        /// The axis.
        axis: String,
        /// The class.
        class: String,
    },
    /// A fish or a brood of the book.
    OfBook(String),
}

impl fmt::Display for Named {
    /// As it is typed.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::OfPhoto { photo, n } => write!(f, "{photo}#{n}"),
            Self::OfClass { brood, axis, class } => write!(f, "{brood}/{axis}={class}"),
            Self::OfBook(name) => f.write_str(name),
        }
    }
}

/// Reads one side: names separated by commas; a name that stands in `known` is taken as it is, whatever signs it holds.
///
/// # Errors
/// An empty name, a number of a fish that is none.
pub fn side(text: &str, known: impl Fn(&str) -> bool) -> Result<Vec<Named>> {
    if known(text) {
        return Ok(vec![Named::OfBook(text.to_owned())]);
    }
    text.split(',').map(|part| one(part.trim(), &known)).collect()
}

fn one(text: &str, known: impl Fn(&str) -> bool) -> Result<Named> {
    let usage = |what: &str| {
        let hint = "name a fish, a brood, BROOD/axis=class, or PHOTO#N (fish N of a photo)";
        Error::usage(text, what, hint)
    };
    if text.is_empty() {
        return Err(usage("an empty name"));
    }
    if known(text) {
        return Ok(Named::OfBook(text.to_owned()));
    }
    let numbered = text.rsplit_once('#');
    if let Some((photo, Ok(n))) = numbered.map(|(photo, n)| (photo, n.parse())) {
        return Ok(Named::OfPhoto { photo: photo.to_owned(), n });
    }
    match text.rsplit_once('/').and_then(|(brood, rest)| Some((brood, rest.split_once('=')?))) {
        Some((brood, (axis, class))) => {
            Ok(Named::OfClass { brood: brood.to_owned(), axis: axis.to_owned(), class: class.to_owned() })
        }
        None if numbered.is_some() => Err(usage("no number of a fish after the #")),
        None => Ok(Named::OfBook(text.to_owned())),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_every_kind() {
        let read = |text: &str| side(text, |name| name == "odd, #1").unwrap();
        assert_eq!(read("tray.jpg#7"), [Named::OfPhoto { photo: "tray.jpg".into(), n: 7 }]);
        let class =
            |brood: &str| Named::OfClass { brood: brood.into(), axis: "red-body".into(), class: "absent".into() };
        assert_eq!(read("K2/1/red-body=absent"), [class("K2/1")]);
        assert_eq!(read("K2-1/red-body=absent"), [class("K2-1")]);
        assert_eq!(read("K2-1, K2/2"), [Named::OfBook("K2-1".into()), Named::OfBook("K2/2".into())]);
        assert_eq!(read("odd, #1"), [Named::OfBook("odd, #1".into())]);
        assert_eq!(read("K #1/red-body=absent"), [class("K #1")]);
        assert_eq!(read("K#/2/red-body=absent"), [class("K#/2")]);
        assert_eq!(read("K #1/tray.jpg#7"), [Named::OfPhoto { photo: "K #1/tray.jpg".into(), n: 7 }]);
        assert!(side("tray.jpg#x", |_| false).is_err() && side("a,,b", |_| false).is_err());
    }
}
