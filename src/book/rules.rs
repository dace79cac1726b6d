//! The measured fish of the book as the scoring sheet sees them: to fit its limits, and to compare two sheets.

use jiff::civil::Date;

use super::photos::{self, Photo, Subject as Shows};
use super::regions::Region;
use super::{Read, broods, regions};
use crate::error::Result;
use crate::fish::Flag;
use crate::sheet::{Example, NOT_SHOWN, Stored, Subject, UNDECIDED};
use crate::units::age_days;

/// Every measured fish of every brood, by photo and number; set aside ones and clusters are left out.
///
/// # Errors
/// The book cannot be read.
pub fn stored(book: &Read<'_>) -> Result<Vec<Stored>> {
    let mut all = Vec::new();
    each(book, |_, photo, region, subject| {
        all.push(Stored { name: format!("{}#{}", photo.name, region.n), features: region.features, subject });
    })?;
    Ok(all)
}

/// Every fish of which a person confirmed a class on `axis`, with its brood.
///
/// # Errors
/// The book cannot be read.
pub fn examples(book: &Read<'_>, axis: &str) -> Result<Vec<Example>> {
    let mut all = Vec::new();
    each(book, |brood, _, region, subject| {
        let class = region.classes.get(axis).map(|c| c.class().to_owned());
        if let Some(class) = class.filter(|c| ![UNDECIDED, NOT_SHOWN].contains(&c.as_str())) {
            all.push(Example { brood: brood.to_owned(), features: region.features, subject, class });
        }
    })?;
    Ok(all)
}

fn each(book: &Read<'_>, mut see: impl FnMut(&str, &Photo, Region, Subject)) -> Result<()> {
    let photos = photos::list(book)?;
    for brood in broods::list(book)? {
        for region in regions::of_brood(book, &brood)? {
            let Some(photo) = photos.iter().find(|p| p.hash == region.photo) else { continue };
            if region.set_aside.is_some() || region.number > 1 {
                continue;
            }
            let subject = Subject {
                sex: region.sex,
                age_days: brood.dropped_to.zip(day_of(photo)).and_then(|(born, on)| age_days(born, on)),
                flags: region.flags.iter().filter_map(|f| Flag::from_name(f)).collect(),
            };
            see(&brood.label, photo, region, subject);
        }
    }
    Ok(())
}

/// The day of the sitting.
const fn day_of(photo: &Photo) -> Option<Date> {
    match &photo.subject {
        Shows::Sitting { day, .. } => Some(*day),
        Shows::Portrait(_) => None,
    }
}
