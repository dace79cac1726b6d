//! A planned pair: two fish, a male and a female.

use super::{Read, evidence, fish};
use crate::command_line::to_type;
use crate::error::{Error, Result};
use crate::units::Sex;

/// Refuses one fish as both parents, a female as the sire and a male as the dam. A fish of which neither its record nor its part in a cross
/// tells the sex may be either, and so may one that is not in the book by a name of its own, such as an unnamed sister.
///
/// # Errors
/// No such pair; the book cannot be read.
pub fn check(book: &Read<'_>, sire: &str, dam: &str) -> Result<()> {
    let place = |name: &str| format!("fish {name}");
    if sire == dam {
        return Err(Error::failed(place(sire), "is named as the sire and as the dam", "name a male and a female"));
    }
    let roles = evidence::roles(book)?;
    let sex = |name: &str| -> Result<Option<Sex>> {
        let known = fish::id(book, name)?.map(|_| fish::get(book, name)).transpose()?;
        Ok(known.and_then(|fish| fish.sex.or(roles.get(name).copied())))
    };
    let found = [("dam", dam, Sex::Female, sex(dam)?), ("sire", sire, Sex::Male, sex(sire)?)];
    let mut wrong = found.into_iter().filter(|(_, _, wanted, sex)| sex.is_some_and(|sex| sex != *wanted));
    let Some((role, name, wanted, _)) = wrong.next() else { return Ok(()) };
    let hint = if wrong.next().is_some() {
        format!("swap the two: --sire {} --dam {}", to_type(dam), to_type(sire))
    } else {
        format!("name a {}, or check the sex: broodhue fish show {}", wanted.word(), to_type(name))
    };
    Err(Error::failed(place(name), format!("cannot be a {role}: it is of the other sex"), hint))
}
