//! The evidence as plain values: breeders, the broods they come from and what was counted in each brood.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use crate::error::{Error, Result};
pub use crate::units::Sex;

/// An observed class, collapsed to what the modes speak of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Class {
    /// Anything but the target (and the middle class where one is scored).
    Other,
    /// The class between the two; only where `Evidence::middle` names one.
    Middle,
    /// The mutant class, the last number of a ratio.
    Target,
}

impl Class {
    /// All, in the order of [`Counts`].
    pub const ALL: [Class; 3] = [Class::Other, Class::Middle, Class::Target];

    /// The place in an array kept by class.
    pub fn index(self) -> usize {
        match self {
            Class::Other => 0,
            Class::Middle => 1,
            Class::Target => 2,
        }
    }
}

/// Where a breeder comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Origin {
    /// Bought, found, or of unknown parents.
    Founder,
    /// Out of the brood with this index in [`Evidence::broods`]; the brood's counts include the fish. A fish whose brood
    /// was never counted, or is not known within its cross, stands in a brood of its own with empty counts.
    Brood(usize),
}

/// One named fish that is, or may become, a parent.
#[derive(Debug, Clone, PartialEq)]
pub struct Breeder {
    /// The fish's name in the book; unique.
    pub fish: String,
    /// Female or male.
    pub sex: Sex,
    /// Its own class; `None` when not scored, not shown by its sex, or not settled.
    pub class: Option<Class>,
    /// Known to carry no hidden allele for the target.
    pub pure: bool,
    /// Founder, or the brood it came from.
    pub origin: Origin,
}

/// A dam with the sire she was with, both as indices in [`Evidence::breeders`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Mating {
    /// The sire.
    pub sire: usize,
    /// The dam.
    pub dam: usize,
}

/// A male whose stored sperm may have fathered some of a brood.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum EarlierSire {
    /// A fish of the book (index in [`Evidence::breeders`]).
    Known(usize),
    /// Some male of unknown class; the same one for all broods of one cross.
    Unknown,
}

/// Scored fish by sex and class; each array is other, middle, target. Fish that cannot be scored are not in it.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Counts {
    /// Daughters.
    pub female: [u32; 3],
    /// Sons.
    pub male: [u32; 3],
    /// Fish whose sex was not seen.
    pub unsexed: [u32; 3],
}

impl Counts {
    /// The counts of one sex, or of the unsexed.
    pub fn of(&self, sex: Option<Sex>) -> [u32; 3] {
        match sex {
            Some(Sex::Female) => self.female,
            Some(Sex::Male) => self.male,
            None => self.unsexed,
        }
    }

    /// The three rows with their sex: daughters, sons, unsexed.
    pub fn rows(&self) -> [(Option<Sex>, [u32; 3]); 3] {
        [(Some(Sex::Female), self.female), (Some(Sex::Male), self.male), (None, self.unsexed)]
    }

    /// Fish counted that show the target.
    pub fn target(&self) -> u32 {
        self.rows().iter().map(|(_, row)| row[Class::Target.index()]).sum()
    }

    /// All fish counted.
    pub fn total(&self) -> u32 {
        self.rows().iter().flat_map(|(_, row)| row).sum()
    }
}

/// One brood: who its parents may be and what was counted. The shares of several dams, and of an earlier sire, belong to
/// the brood.
#[derive(Debug, Clone, PartialEq)]
pub struct Brood {
    /// The brood's name.
    pub name: String,
    /// What it is called where its name alone would not tell it from others: what commands take.
    pub label: String,
    /// The cross it is booked under.
    pub cross: String,
    /// Each possible dam with each sire she may have had it by; one entry for a plain brood, several for pooled dams or sires.
    pub parents: Vec<Mating>,
    /// The possible dams some of whose young may be out of stored sperm, each with the male whose it is; their share of the brood is
    /// one for all of them.
    pub stored: BTreeMap<usize, EarlierSire>,
    /// How many young were dropped, where somebody counted them all.
    pub young: Option<u32>,
    /// What was counted of the axis.
    pub counts: Counts,
}

impl Brood {
    /// The earlier sire, where one may have fathered this dam's young.
    pub fn stored_in(&self, dam: usize) -> Option<EarlierSire> {
        self.stored.get(&dam).copied()
    }

    /// Every male whose stored sperm may have fathered some, once.
    pub fn earlier_sires(&self) -> BTreeSet<EarlierSire> {
        self.stored.values().copied().collect()
    }

    /// Those of [`Self::earlier_sires`] that are fish of the book.
    pub fn known_earlier_sires(&self) -> impl Iterator<Item = usize> {
        self.earlier_sires().into_iter().filter_map(|sire| match sire {
            EarlierSire::Known(fish) => Some(fish),
            EarlierSire::Unknown => None,
        })
    }

    /// How many pairs of parents a young fish of it may have.
    pub fn pairs(&self) -> usize {
        self.parents.len() + self.parents.iter().filter(|m| self.stored_in(m.dam).is_some()).count()
    }
}

/// All that is known about one axis and one target class.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Evidence {
    /// The axis scored, such as `red-body`.
    pub axis: String,
    /// The mutant class, such as `absent`.
    pub target: String,
    /// A class between, where three classes are scored; with `None` every other class is lumped into "other".
    pub middle: Option<String>,
    /// Breeders and candidates.
    pub breeders: Vec<Breeder>,
    /// Broods, in book order.
    pub broods: Vec<Brood>,
}

impl Evidence {
    /// How many classes are told apart: 2, or 3 where a middle class is scored.
    pub fn class_count(&self) -> usize {
        if self.middle.is_some() { 3 } else { 2 }
    }

    /// The name of a class on this axis.
    pub fn class_name(&self, class: Class) -> &str {
        match class {
            Class::Other => "other",
            Class::Middle => self.middle.as_deref().unwrap_or("middle"),
            Class::Target => &self.target,
        }
    }

    /// The index of a fish by name.
    ///
    /// # Errors
    /// Names the fish that is not known.
    pub fn find(&self, fish: &str) -> Result<usize> {
        self.breeders
            .iter()
            .position(|b| b.fish == fish)
            .ok_or_else(|| Error::failed(format!("fish {fish}"), "is not known", "`fish list` shows the names"))
    }

    /// Fish counted in all broods.
    pub fn total(&self) -> u32 {
        self.broods.iter().map(|b| b.counts.total()).sum()
    }

    /// Checks that every index stands for a fish, sires are male and dams female, and no fish is its own ancestor.
    ///
    /// # Errors
    /// Names the first brood or fish that breaks a rule.
    pub fn check(&self) -> Result<()> {
        let mut names = BTreeSet::new();
        for breeder in &self.breeders {
            if !names.insert(&breeder.fish) {
                return Err(Error::failed(
                    format!("fish {}", breeder.fish),
                    "stands twice",
                    "give each fish its own name",
                ));
            }
            if let Origin::Brood(b) = breeder.origin
                && b >= self.broods.len()
            {
                return Err(Error::failed(
                    format!("fish {}", breeder.fish),
                    "comes from a brood that is not known",
                    "",
                ));
            }
        }
        self.broods.iter().try_for_each(|brood| self.check_brood(brood))?;
        (0..self.breeders.len()).try_for_each(|fish| self.check_ancestors(fish))
    }

    fn check_brood(&self, brood: &Brood) -> Result<()> {
        let place = format!("cross {}, brood {}", brood.cross, brood.name);
        if brood.parents.is_empty() {
            return Err(Error::failed(place, "has no parents", "name its sire and dam, or leave the brood out"));
        }
        let sires =
            brood.parents.iter().map(|m| m.sire).chain(brood.known_earlier_sires()).map(|f| (f, Sex::Male, "sire"));
        let dams = brood.parents.iter().map(|m| (m.dam, Sex::Female, "dam"));
        for (fish, sex, role) in sires.chain(dams) {
            let Some(breeder) = self.breeders.get(fish) else {
                return Err(Error::failed(place, format!("its {role} is not known"), "import the fish first"));
            };
            if breeder.sex != sex {
                let is = if sex == Sex::Male { "female" } else { "male" };
                return Err(Error::failed(
                    place,
                    format!("its {role} {} is {is}", breeder.fish),
                    "correct the fish's sex or the cross",
                ));
            }
        }
        let lumped = self.middle.is_none() && brood.counts.rows().iter().any(|(_, row)| row[Class::Middle.index()] > 0);
        if lumped {
            return Err(Error::failed(
                place,
                "counts a middle class that no mode explains here",
                "name the middle class",
            ));
        }
        Ok(())
    }

    /// A class as it is told apart here: a middle class counts as other where the evidence knows none.
    pub(super) fn collapsed(&self, class: Class) -> Class {
        if self.middle.is_none() && class == Class::Middle { Class::Other } else { class }
    }

    /// The possible parents of a fish, earlier sires included.
    pub fn parents_of(&self, fish: usize) -> Vec<usize> {
        let Origin::Brood(b) = self.breeders[fish].origin else { return Vec::new() };
        let brood = &self.broods[b];
        let mut parents: Vec<usize> = brood.parents.iter().flat_map(|m| [m.sire, m.dam]).collect();
        parents.extend(brood.known_earlier_sires());
        parents.sort_unstable();
        parents.dedup();
        parents
    }

    fn check_ancestors(&self, fish: usize) -> Result<()> {
        let mut seen = BTreeSet::new();
        let mut open = self.parents_of(fish);
        while let Some(ancestor) = open.pop() {
            if ancestor == fish {
                let place = format!("fish {}", self.breeders[fish].fish);
                return Err(Error::failed(place, "is its own ancestor", "correct the cross it comes from"));
            }
            if seen.insert(ancestor) {
                open.extend(self.parents_of(ancestor));
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn breeder(fish: &str, sex: Sex, origin: Origin) -> Breeder {
        Breeder { fish: fish.into(), sex, class: None, pure: false, origin }
    }

    fn evidence() -> Evidence {
        Evidence {
            breeders: vec![
                breeder("sire", Sex::Male, Origin::Founder),
                breeder("dam", Sex::Female, Origin::Founder),
                breeder("son", Sex::Male, Origin::Brood(0)),
            ],
            broods: vec![Brood {
                name: "K1-1".into(),
                label: "K1-1".into(),
                cross: "K1".into(),
                parents: vec![Mating { sire: 0, dam: 1 }],
                stored: BTreeMap::new(),
                young: None,
                counts: Counts::default(),
            }],
            ..Evidence::default()
        }
    }

    #[test]
    fn a_sound_pedigree_passes() {
        assert_eq!(evidence().check(), Ok(()));
    }

    #[test]
    fn a_female_sire_is_named() {
        let mut e = evidence();
        e.breeders[0].sex = Sex::Female;
        let error = e.check().unwrap_err();
        assert!(error.to_string().contains("its sire sire is female"), "{error}");
    }

    #[test]
    fn a_fish_that_is_its_own_ancestor_is_named() {
        let mut e = evidence();
        e.broods[0].parents[0].sire = 2;
        let error = e.check().unwrap_err();
        assert!(error.to_string().contains("son: is its own ancestor"), "{error}");
    }

    #[test]
    fn an_unknown_parent_and_a_twin_name_are_named() {
        let mut e = evidence();
        e.broods[0].parents[0].dam = 9;
        assert!(e.check().unwrap_err().message.contains("dam is not known"));
        let mut e = evidence();
        e.breeders[2].fish = "dam".into();
        assert!(e.check().unwrap_err().message.contains("stands twice"));
    }

    #[test]
    fn a_middle_class_needs_a_name() {
        let mut e = evidence();
        e.broods[0].counts.male[1] = 3;
        assert!(e.check().is_err());
        e.middle = Some("reduced".into());
        assert_eq!(e.check(), Ok(()));
    }
}
