//! A mode of inheritance as data: its loci, which genotype shows which class, and who survives.

use serde::Deserialize;

use super::evidence::{Class, Sex};

/// Which chromosomes carry a locus.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Place {
    /// Two copies in either sex.
    Autosome,
    /// On the X alone.
    X,
    /// On the Y alone.
    Y,
    /// On X and Y (and W), crossing over with the sex determiner.
    XAndY,
}

impl Place {
    /// The word used in mode files.
    pub fn word(self) -> &'static str {
        match self {
            Place::Autosome => "autosome",
            Place::X => "x",
            Place::Y => "y",
            Place::XAndY => "x-and-y",
        }
    }
}

/// How sex is determined in this stock.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum SexSystem {
    /// Females XX, males XY.
    Xy,
    /// Females XX, WX, WY; males XY, YY (platies).
    Wxy,
}

/// One locus with two alleles, wild and mutant.
#[derive(Debug, Clone, PartialEq)]
pub struct Locus {
    /// Name of the mutant allele.
    pub name: String,
    /// Where it lies.
    pub place: Place,
    /// Recombination in 0..=0.5 with the locus before it on the same chromosome (sex chromosomes: the first one with the
    /// sex determiner). `None` on an autosome: a chromosome of its own.
    pub recombination: Option<f64>,
}

/// A condition on the copies of one locus.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Copies {
    /// No mutant allele.
    None,
    /// At least one mutant allele.
    Some,
    /// A mutant and a wild allele.
    Mixed,
    /// At least one copy, and every copy is mutant (a single copy counts).
    All,
    /// Anything but [`Copies::All`].
    NotAll,
}

impl Copies {
    /// Whether `mutant` of `total` copies meet the condition.
    pub fn holds(self, mutant: u8, total: u8) -> bool {
        let all = total > 0 && mutant == total;
        match self {
            Copies::None => mutant == 0,
            Copies::Some => mutant > 0,
            Copies::Mixed => mutant > 0 && !all,
            Copies::All => all,
            Copies::NotAll => !all,
        }
    }
}

/// Which fish a rule speaks of.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Condition {
    /// Only this sex; `None` for both.
    pub sex: Option<Sex>,
    /// One entry a locus; `None` for "whatever".
    pub copies: Vec<Option<Copies>>,
}

impl Condition {
    /// Whether a fish of this sex with `(mutant, total)` copies at each locus meets it.
    pub fn holds(&self, sex: Sex, copies: &[(u8, u8)]) -> bool {
        self.sex.is_none_or(|s| s == sex)
            && self
                .copies
                .iter()
                .zip(copies)
                .all(|(want, (mutant, total))| want.is_none_or(|w| w.holds(*mutant, *total)))
    }
}

/// A mode of inheritance.
#[derive(Debug, Clone, PartialEq)]
pub struct Mode {
    /// Its name, as built in or in the person's own mode file.
    pub name: String,
    /// One to three loci, in map order.
    pub loci: Vec<Locus>,
    /// The first that holds gives the class; none: other.
    pub rules: Vec<(Condition, Class)>,
    /// Share in 0..=1 of such young that live to be scored; the first that holds counts, none: 1.
    pub survival: Vec<(Condition, f64)>,
}

impl Mode {
    /// The class a genotype shows.
    pub fn class(&self, sex: Sex, copies: &[(u8, u8)]) -> Class {
        self.rules.iter().find(|(c, _)| c.holds(sex, copies)).map_or(Class::Other, |(_, class)| *class)
    }

    /// The share of such young that live to be scored.
    pub fn survives(&self, sex: Sex, copies: &[(u8, u8)]) -> f64 {
        self.survival.iter().find(|(c, _)| c.holds(sex, copies)).map_or(1.0, |(_, share)| *share)
    }

    /// Whether sex matters: a locus on a sex chromosome, or a rule for one sex.
    pub fn depends_on_sex(&self) -> bool {
        self.loci.iter().any(|l| l.place != Place::Autosome)
            || self.rules.iter().any(|(c, _)| c.sex.is_some())
            || self.survival.iter().any(|(c, _)| c.sex.is_some())
    }

    /// The mode with another recombination for every x-and-y locus that names none.
    pub fn with_recombination(mut self, recombination: f64) -> Self {
        for locus in self.loci.iter_mut().filter(|l| l.place == Place::XAndY) {
            locus.recombination.get_or_insert(recombination);
        }
        self
    }
}
