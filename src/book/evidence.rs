//! The whole pedigree of crosses with its counts, as the inheritance analysis takes it.
//!
//! Confirmed scores and counts by hand, never proposals. A parent that is not recorded stands as a founder of unknown
//! class of its own; an unnamed sister as a fish of her cross. A fish recorded without its brood is of its cross's only
//! brood, or of the only one dropped on the day it was born; else, and where that brood has many possible parents, it stands
//! in an uncounted brood of its cross, of the same parents as far as they are known.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::broods::{self, Brood, EarlierSire};
use super::crosses::Dam;
use super::fish::{self, Fish};
use super::paternity::{self, Matings, Paternity};
use super::tallies::{self, Selection, Tally};
use super::{Read, crosses, pedigree};
use crate::error::Result;
use crate::inherit::{self, Breeder, Class, Counts, Evidence, Mating, Origin};
use crate::sheet::{NOT_SHOWN, Sheet, UNDECIDED};
use crate::units::{Sex, View};

/// What is asked of the book.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Question<'a> {
    /// The axis.
    pub axis: &'a str,
    /// The mutant class.
    pub target: &'a str,
    /// A class between, where three are told apart.
    pub middle: Option<&'a str>,
    /// The view whose photos count.
    pub view: View,
}

impl<'a> Question<'a> {
    /// The broods it is asked of: all of them, confirmed fish alone.
    pub fn all_crosses(&self) -> Selection<'a> {
        Selection { cross: None, view: self.view, include_proposed: false }
    }
}

/// The evidence with what a reader should know about it: broods that could not be used, ages that are not known.
///
/// # Errors
/// The book cannot be read; a record that contradicts itself.
pub fn gather(book: &Read<'_>, sheet: &Sheet, question: &Question<'_>) -> Result<(Evidence, Vec<String>)> {
    from_tallies(book, question, &tallies::tallies(book, sheet, question.axis, &question.all_crosses())?)
}

/// The evidence of broods whose fish were sorted into classes already; see [`gather`].
///
/// # Errors
/// The book cannot be read; a record that contradicts itself.
pub fn from_tallies(
    book: &Read<'_>,
    question: &Question<'_>,
    broods: &[(Brood, Tally)],
) -> Result<(Evidence, Vec<String>)> {
    let mut build =
        Build { book, question, evidence: Evidence::default(), index: BTreeMap::new(), warnings: Vec::new() };
    build.evidence.axis = question.axis.to_owned();
    build.evidence.target = question.target.to_owned();
    build.evidence.middle = question.middle.map(str::to_owned);
    book.at_one_moment(|| {
        let fish = fish::list(book)?;
        let roles = roles(book)?;
        for one in &fish {
            match one.sex.or(roles.get(&one.name).copied()) {
                Some(sex) => build.breeder(one, sex),
                None => continue,
            }
        }
        build.sisters()?;
        for (brood, tally) in broods {
            build.brood(brood, tally)?;
        }
        let known: Vec<Brood> = broods.iter().map(|(brood, _)| brood.clone()).collect();
        build.origins(&fish, &known)
    })?;
    build.evidence.check()?;
    Ok((build.evidence, build.warnings))
}

/// The sex that a fish's part in a cross tells.
pub(super) fn roles(book: &Read<'_>) -> Result<BTreeMap<String, Sex>> {
    let mut roles = BTreeMap::new();
    for cross in crosses::list(book)? {
        roles.extend(cross.sires.into_iter().map(|(name, _)| (name, Sex::Male)));
        let named = cross.dams.into_iter().filter_map(|(dam, _)| match dam {
            Dam::Fish(name) => Some((name, Sex::Female)),
            Dam::SisterOf(_) => None,
        });
        roles.extend(named);
    }
    Ok(roles)
}

/// Most pairs of parents among which a fish that was recorded without its brood is traced: every fish traced multiplies the
/// work of its brood's counts by them. Beyond, it stands in an uncounted brood of the same parents.
const MOST_TRACED: usize = 2;

struct Build<'a> {
    book: &'a Read<'a>,
    question: &'a Question<'a>,
    evidence: Evidence,
    /// Place of each breeder by name.
    index: BTreeMap<String, usize>,
    warnings: Vec<String>,
}

impl Build<'_> {
    fn breeder(&mut self, fish: &Fish, sex: Sex) {
        let class = fish.classes.get(self.question.axis).and_then(|c| self.class(c));
        self.push(&fish.name, sex, class, fish.pure);
    }

    fn push(&mut self, name: &str, sex: Sex, class: Option<Class>, pure: bool) -> usize {
        let at = self.evidence.breeders.len();
        self.evidence.breeders.push(Breeder { fish: name.to_owned(), sex, class, pure, origin: Origin::Founder });
        self.index.insert(name.to_owned(), at);
        at
    }

    /// A parent by name; one that is not there yet is a founder of unknown class.
    fn parent(&mut self, name: &str, sex: Sex) -> usize {
        match self.index.get(name) {
            Some(at) => *at,
            None => self.push(name, sex, None, false),
        }
    }

    fn class(&self, class: &str) -> Option<Class> {
        match class {
            UNDECIDED | NOT_SHOWN => None,
            c if c == self.question.target => Some(Class::Target),
            c if Some(c) == self.question.middle => Some(Class::Middle),
            _ => Some(Class::Other),
        }
    }

    fn sisters(&mut self) -> Result<()> {
        for cross in crosses::list(self.book)? {
            for (place, (dam, _)) in cross.dams.iter().enumerate() {
                if let Dam::SisterOf(_) = dam {
                    self.push(&pedigree::dam_name(&cross.name, place, dam), Sex::Female, None, false);
                }
            }
        }
        Ok(())
    }

    fn brood(&mut self, brood: &Brood, tally: &Tally) -> Result<()> {
        let paternity = paternity::of_brood(brood);
        self.say(tally, &paternity.notes);
        let counts = match &paternity.doubt {
            Some(doubt) => {
                self.warnings.push(format!("the counts of brood {} are left out: {doubt}", brood.label));
                Counts::default()
            }
            None => self.counts(tally),
        };
        let bred = self.bred(&brood.name, brood, &paternity)?;
        self.evidence.broods.push(inherit::Brood { label: brood.label.clone(), counts, ..bred });
        Ok(())
    }

    /// A brood with its possible parents, uncounted.
    fn bred(&mut self, name: &str, brood: &Brood, paternity: &Paternity) -> Result<inherit::Brood> {
        let parents = self.matings(&brood.cross, brood, paternity)?;
        Ok(inherit::Brood {
            name: name.to_owned(),
            label: name.to_owned(),
            cross: brood.cross.clone(),
            parents,
            stored: self.stored(brood, paternity),
            young: brood.young,
            counts: Counts::default(),
        })
    }

    /// Whose sperm each possible dam may hold.
    fn stored(&mut self, brood: &Brood, paternity: &Paternity) -> BTreeMap<usize, inherit::EarlierSire> {
        let dams = brood.dams.iter().zip(&paternity.matings);
        let mut holders: Vec<(String, &EarlierSire)> =
            dams.filter_map(|(dam, m)| Some((pedigree::possible_dam_name(dam), m.stored.as_ref()?))).collect();
        if brood.dams.is_empty() {
            let dam = pedigree::unrecorded("dam", &brood.cross);
            holders.extend(paternity.earlier.as_ref().map(|sire| (dam, sire)));
        }
        let mut held = |(dam, sire): (String, &EarlierSire)| {
            let sire = match sire {
                EarlierSire::Fish(name) => inherit::EarlierSire::Known(self.parent(name, Sex::Male)),
                EarlierSire::Unknown => inherit::EarlierSire::Unknown,
            };
            (self.parent(&dam, Sex::Female), sire)
        };
        holders.into_iter().map(&mut held).collect()
    }

    /// What is to be said of the fathers of a brood that is counted; what holds for several broods once.
    fn say(&mut self, tally: &Tally, notes: &[String]) {
        for note in notes.iter().filter(|_| !tally.scored.is_empty()) {
            if !self.warnings.contains(note) {
                self.warnings.push(note.clone());
            }
        }
    }

    fn counts(&mut self, tally: &Tally) -> Counts {
        self.warnings.extend(tally.warnings.iter().cloned());
        let mut counts = Counts::default();
        for scored in &tally.scored {
            let Some(class) = self.class(scored.score.class()) else { continue };
            let row = match scored.place.sex {
                Some(Sex::Female) => &mut counts.female,
                Some(Sex::Male) => &mut counts.male,
                None => &mut counts.unsexed,
            };
            row[class.index()] += scored.number;
        }
        counts
    }

    fn matings(&mut self, cross: &str, brood: &Brood, paternity: &Paternity) -> Result<Vec<Mating>> {
        let mut matings = Vec::new();
        for (possible, Matings { sires, .. }) in brood.dams.iter().zip(&paternity.matings) {
            let dam = self.parent(&pedigree::possible_dam_name(possible), Sex::Female);
            for sire in sires {
                let sire = sire.clone().unwrap_or_else(|| pedigree::unrecorded("sire", cross));
                matings.push(Mating { sire: self.parent(&sire, Sex::Male), dam });
            }
        }
        if matings.is_empty() {
            let sires = crosses::sires(self.book, crosses::known_id(self.book, cross)?)?;
            let sire =
                if let [(only, _)] = sires.as_slice() { only.clone() } else { pedigree::unrecorded("sire", cross) };
            let dam = self.parent(&pedigree::unrecorded("dam", cross), Sex::Female);
            matings.push(Mating { sire: self.parent(&sire, Sex::Male), dam });
        }
        Ok(matings)
    }

    /// Ties each fish to its brood, and each one without a known brood to an uncounted brood of its cross.
    fn origins(&mut self, fish: &[Fish], broods: &[Brood]) -> Result<()> {
        for one in fish {
            let Some(&at) = self.index.get(&one.name) else { continue };
            // The broods of the book come first in the evidence, in the book's order.
            let known = broods::of_fish(broods, one).and_then(|own| broods.iter().position(|b| b.id == own.id));
            let traced =
                known.filter(|brood| one.brood.is_some() || self.evidence.broods[*brood].pairs() <= MOST_TRACED);
            let origin = match (&one.cross, traced) {
                (Some(_), Some(brood)) => Some(brood),
                (Some(cross), None) => Some(self.uncounted(broods, cross, &one.name, one.born)?),
                (None, _) => None,
            };
            self.evidence.breeders[at].origin = origin.map_or(Origin::Founder, Origin::Brood);
        }
        for cross in crosses::list(self.book)? {
            for (place, (dam, _)) in cross.dams.iter().enumerate() {
                if let Dam::SisterOf(origin) = dam {
                    let name = pedigree::dam_name(&cross.name, place, dam);
                    let brood = self.uncounted(broods, origin, &name, None)?;
                    let at = self.parent(&name, Sex::Female);
                    self.evidence.breeders[at].origin = Origin::Brood(brood);
                }
            }
        }
        Ok(())
    }

    /// A brood without counts for one fish of a cross, born on that day.
    fn uncounted(&mut self, broods: &[Brood], cross: &str, fish: &str, born: Option<Date>) -> Result<usize> {
        let brood = broods::unrecorded(self.book, broods, cross, born)?;
        let bred = self.bred(&format!("{cross}, brood of {fish}"), &brood, &paternity::of_brood(&brood))?;
        self.evidence.broods.push(bred);
        Ok(self.evidence.broods.len() - 1)
    }
}
