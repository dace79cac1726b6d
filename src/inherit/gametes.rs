//! Haplotypes of one linkage group, the pairs a fish may carry, and the law of its gametes.
//!
//! Source: textbook Mendel; the gamete law sums over strand paths, each locus on its strand with half, r or 1 - r.

use std::collections::BTreeMap;

use super::evidence::Sex;
use super::mode::{Locus, Mode, Place, SexSystem};

/// A chromosome of one linkage group; the order is the order in which genotypes are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) enum Chromosome {
    Autosome,
    W,
    X,
    Y,
}

impl Chromosome {
    pub(super) fn carries(self, place: Place) -> bool {
        match place {
            Place::Autosome => self == Chromosome::Autosome,
            Place::X => self == Chromosome::X,
            Place::Y => self == Chromosome::Y,
            Place::XAndY => self != Chromosome::Autosome,
        }
    }

    fn letter(self) -> &'static str {
        match self {
            Chromosome::Autosome => "",
            Chromosome::W => "W",
            Chromosome::X => "X",
            Chromosome::Y => "Y",
        }
    }
}

/// One chromosome with its mutant alleles as bits by place within the group.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) struct Haplotype {
    pub(super) chromosome: Chromosome,
    mutants: u8,
}

/// Two haplotypes, the smaller first.
pub(super) type Pair = (Haplotype, Haplotype);

/// The two in order.
pub(super) fn pair(a: Haplotype, b: Haplotype) -> Pair {
    if a <= b { (a, b) } else { (b, a) }
}

/// Mutant copies and all copies of every locus of the mode, of a fish with these pairs, one a group.
pub(super) fn copies(groups: &[Group], pairs: &[Pair]) -> Vec<(u8, u8)> {
    let mut copies = vec![(0, 0); groups.iter().map(|g| g.loci.len()).sum()];
    for (group, pair) in groups.iter().zip(pairs) {
        for (place, locus) in group.loci.iter().enumerate() {
            copies[*locus] = group.copies(place, *pair);
        }
    }
    copies
}

/// Loci that travel together.
#[derive(Debug, Clone)]
pub(super) struct Group {
    on_sex_chromosomes: bool,
    /// Indices into the mode's loci.
    pub(super) loci: Vec<usize>,
    places: Vec<Place>,
    names: Vec<String>,
    /// Recombination with the locus before it; the first entry is with the sex determiner.
    recombination: Vec<f64>,
}

/// Unlinked.
const FREE: f64 = 0.5;

impl Group {
    fn new(on_sex_chromosomes: bool) -> Self {
        Self { on_sex_chromosomes, loci: vec![], places: vec![], names: vec![], recombination: vec![] }
    }

    fn push(&mut self, index: usize, locus: &Locus) {
        self.loci.push(index);
        self.places.push(locus.place);
        self.names.push(locus.name.clone());
        self.recombination.push(locus.recombination.unwrap_or(FREE));
    }

    /// The sex chromosomes first (with or without loci), then the autosomal groups.
    pub(super) fn of(mode: &Mode) -> Vec<Group> {
        let mut groups = vec![Group::new(true)];
        for (i, locus) in mode.loci.iter().enumerate() {
            if locus.place != Place::Autosome {
                groups[0].push(i, locus);
                continue;
            }
            let linked = locus.recombination.is_some() && groups.len() > 1;
            if !linked {
                groups.push(Group::new(false));
            }
            if let Some(last) = groups.last_mut() {
                last.push(i, locus);
            }
        }
        groups
    }

    /// Pairs of chromosomes a fish may have, with the sex they make.
    fn karyotypes(&self, system: SexSystem) -> Vec<(Chromosome, Chromosome, Option<Sex>)> {
        use Chromosome::{Autosome, W, X, Y};
        if !self.on_sex_chromosomes {
            return vec![(Autosome, Autosome, None)];
        }
        let (f, m) = (Some(Sex::Female), Some(Sex::Male));
        match system {
            SexSystem::Xy => vec![(X, X, f), (X, Y, m)],
            SexSystem::Wxy => vec![(X, X, f), (W, X, f), (W, Y, f), (X, Y, m), (Y, Y, m)],
        }
    }

    /// Every state of the group with the sex it makes and its founder prior within that sex: karyotypes alike, each
    /// allele multiset of a locus alike, phases split evenly.
    pub(super) fn states(&self, system: SexSystem) -> Vec<(Pair, Option<Sex>, f64)> {
        let karyotypes = self.karyotypes(system);
        let mut states: BTreeMap<Pair, (Option<Sex>, f64)> = BTreeMap::new();
        for (a, b, sex) in &karyotypes {
            let alike = karyotypes.iter().filter(|(_, _, s)| s == sex).count() as f64;
            for first in self.haplotypes(*a) {
                for second in self.haplotypes(*b) {
                    let weight = self.arrangement_prior(first, second) / alike;
                    states.entry(pair(first, second)).or_insert((*sex, 0.0)).1 += weight;
                }
            }
        }
        states.into_iter().map(|(pair, (sex, prior))| (pair, sex, prior)).collect()
    }

    fn haplotypes(&self, chromosome: Chromosome) -> Vec<Haplotype> {
        let carried: u8 = self.mask(chromosome);
        let all = 1_u8 << self.loci.len();
        (0..all).filter(|m| m & !carried == 0).map(|mutants| Haplotype { chromosome, mutants }).collect()
    }

    fn mask(&self, chromosome: Chromosome) -> u8 {
        self.places.iter().enumerate().filter(|(_, p)| chromosome.carries(**p)).map(|(i, _)| 1 << i).sum()
    }

    /// One over (multisets × arrangements of the multiset), over the loci.
    fn arrangement_prior(&self, a: Haplotype, b: Haplotype) -> f64 {
        (0..self.loci.len())
            .map(|i| {
                let (mutant, total) = self.copies(i, (a, b));
                let arrangements = if total == 2 && mutant == 1 { 2.0 } else { 1.0 };
                1.0 / (f64::from(total + 1) * arrangements)
            })
            .product()
    }

    /// Mutant copies and all copies of the group's `i`-th locus.
    pub(super) fn copies(&self, i: usize, (a, b): Pair) -> (u8, u8) {
        [a, b]
            .iter()
            .filter(|h| h.chromosome.carries(self.places[i]))
            .fold((0, 0), |(mutant, total), h| (mutant + (h.mutants >> i & 1), total + 1))
    }

    /// The gametes of a fish with their probabilities.
    pub(super) fn gametes(&self, (a, b): Pair) -> BTreeMap<Haplotype, f64> {
        let strands = [a, b];
        let mut out = BTreeMap::new();
        for start in 0..2 {
            let gamete = Haplotype { chromosome: strands[start].chromosome, mutants: 0 };
            self.follow(strands, start, 0, (gamete, 0.5), &mut out);
        }
        out
    }

    /// Extends a gamete by the `i`-th locus along both ways the strand may go.
    fn follow(
        &self,
        strands: [Haplotype; 2],
        strand: usize,
        i: usize,
        (gamete, probability): (Haplotype, f64),
        out: &mut BTreeMap<Haplotype, f64>,
    ) {
        if i == self.loci.len() {
            *out.entry(gamete).or_insert(0.0) += probability;
            return;
        }
        let place = self.places[i];
        let take = |from: usize, p: f64, out: &mut BTreeMap<Haplotype, f64>| {
            let mutants = gamete.mutants | (strands[from].mutants & (1 << i));
            self.follow(strands, from, i + 1, (Haplotype { mutants, ..gamete }, p), out);
        };
        let both = strands.iter().all(|s| s.chromosome.carries(place));
        if !both {
            // Where only one of the two carries the locus nothing can cross over: the allele stays with its chromosome.
            let mutants = strands
                .iter()
                .find(|s| s.chromosome == gamete.chromosome && s.chromosome.carries(place))
                .map_or(0, |s| s.mutants & (1 << i));
            let longer = Haplotype { mutants: gamete.mutants | mutants, ..gamete };
            self.follow(strands, strand, i + 1, (longer, probability), out);
            return;
        }
        // The first autosomal locus has nothing before it: either strand alike, which `start` already is.
        let r = if i == 0 && !self.on_sex_chromosomes { 0.0 } else { self.recombination[i] };
        take(strand, probability * (1.0 - r), out);
        if r > 0.0 {
            take(1 - strand, probability * r, out);
        }
    }

    /// `+/m`, `X+/Ym`; nothing where the group has no locus and its chromosomes go without saying.
    pub(super) fn name(&self, (a, b): Pair, system: SexSystem) -> Option<String> {
        if self.loci.is_empty() && system == SexSystem::Xy {
            return None;
        }
        Some(format!("{}/{}", self.haplotype_name(a), self.haplotype_name(b)))
    }

    /// `m`, `X+`, `+b`.
    pub(super) fn haplotype_name(&self, h: Haplotype) -> String {
        let alleles: Vec<&str> = (0..self.loci.len())
            .filter(|i| h.chromosome.carries(self.places[*i]))
            .map(|i| if h.mutants >> i & 1 == 1 { self.names[i].as_str() } else { "+" })
            .collect();
        let short = self.names.iter().all(|n| n.chars().count() == 1);
        format!("{}{}", h.chromosome.letter(), alleles.join(if short { "" } else { "." }))
    }
}
