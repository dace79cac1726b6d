//! The Punnett table of a cross: every egg against every sperm.

use super::evidence::{Class, Sex};
use super::gametes::{Group, Haplotype, Pair, copies, pair};
use super::mode::{Mode, SexSystem};

/// A gamete with its probability.
#[derive(Debug, Clone, PartialEq)]
pub struct Gamete {
    /// Its alleles, such as `m` or `X+`.
    pub name: String,
    /// Its share of the parent's gametes.
    pub probability: f64,
}

/// What an egg and a sperm make.
#[derive(Debug, Clone, PartialEq)]
pub struct Cell {
    /// The young's genotype, such as `+/m`.
    pub genotype: String,
    /// The class it shows; `None` for young that do not live.
    pub class: Option<Class>,
}

/// Eggs down, sperm across.
#[derive(Debug, Clone, PartialEq)]
pub struct Punnett {
    /// The dam's gametes.
    pub eggs: Vec<Gamete>,
    /// The sire's gametes.
    pub sperm: Vec<Gamete>,
    /// One row an egg, one cell a sperm.
    pub cells: Vec<Vec<Cell>>,
}

type Haplotypes = Vec<(Vec<Haplotype>, f64)>;

/// The table of a dam and a sire whose genotypes are given by name; `None` when the mode has no such genotype.
pub fn punnett(mode: &Mode, system: SexSystem, dam: &str, sire: &str) -> Option<Punnett> {
    let with_sex = mode.depends_on_sex();
    let system = if with_sex { system } else { SexSystem::Xy };
    let groups: Vec<Group> = Group::of(mode).into_iter().skip(usize::from(!with_sex)).collect();
    let dam = find(&groups, system, Sex::Female, dam)?;
    let sire = find(&groups, system, Sex::Male, sire)?;
    let (eggs, sperm) = (gametes(&groups, &dam), gametes(&groups, &sire));
    let named = |list: &Haplotypes| {
        list.iter().map(|(h, p)| Gamete { name: gamete_name(&groups, h), probability: *p }).collect::<Vec<_>>()
    };
    let cells = eggs
        .iter()
        .map(|(egg, _)| sperm.iter().map(|(sperm, _)| cell(mode, system, &groups, egg, sperm)).collect())
        .collect();
    Some(Punnett { eggs: named(&eggs), sperm: named(&sperm), cells })
}

fn find(groups: &[Group], system: SexSystem, sex: Sex, name: &str) -> Option<Vec<Pair>> {
    let mut all: Vec<Vec<Pair>> = vec![vec![]];
    for group in groups {
        let states: Vec<Pair> = group
            .states(system)
            .into_iter()
            .filter(|(_, s, _)| s.is_none_or(|s| s == sex))
            .map(|(p, _, _)| p)
            .collect();
        all = all.iter().flat_map(|head| states.iter().map(|p| [head.as_slice(), &[*p]].concat())).collect();
    }
    all.into_iter().find(|pairs| genotype_name(groups, system, pairs) == name)
}

fn genotype_name(groups: &[Group], system: SexSystem, pairs: &[Pair]) -> String {
    let names: Vec<String> = groups.iter().zip(pairs).filter_map(|(g, p)| g.name(*p, system)).collect();
    names.join(" ")
}

fn gamete_name(groups: &[Group], haplotypes: &[Haplotype]) -> String {
    let names: Vec<String> = groups.iter().zip(haplotypes).map(|(g, h)| g.haplotype_name(*h)).collect();
    names.join(" ")
}

fn gametes(groups: &[Group], parent: &[Pair]) -> Haplotypes {
    let mut all: Haplotypes = vec![(vec![], 1.0)];
    for (group, pair) in groups.iter().zip(parent) {
        let of_group = group.gametes(*pair);
        all = all
            .iter()
            .flat_map(|(head, p)| of_group.iter().map(move |(h, q)| ([head.as_slice(), &[*h]].concat(), p * q)))
            .collect();
    }
    all
}

fn cell(mode: &Mode, system: SexSystem, groups: &[Group], egg: &[Haplotype], sperm: &[Haplotype]) -> Cell {
    let pairs: Vec<Pair> = egg.iter().zip(sperm).map(|(a, b)| pair(*a, *b)).collect();
    let copies = copies(groups, &pairs);
    let mut sex = Some(Sex::Female);
    for (group, pair) in groups.iter().zip(&pairs) {
        match group.states(system).into_iter().find(|(p, _, _)| p == pair) {
            Some((_, Some(made), _)) => sex = Some(made),
            Some(_) => {}
            None => sex = None,
        }
    }
    let alive = sex.filter(|sex| mode.survives(*sex, &copies) > 0.0);
    Cell { genotype: genotype_name(groups, system, &pairs), class: alive.map(|sex| mode.class(sex, &copies)) }
}

#[cfg(test)]
mod tests {
    use super::super::mode_file::{built_in, select};
    use super::*;

    fn mode(name: &str) -> Mode {
        select(&built_in().unwrap(), &[name.to_owned()]).unwrap().remove(0)
    }

    /// Textbook: two carriers give one in four, a carrier mother of an X-linked trait half of her sons.
    #[test]
    fn the_table_of_the_textbook() {
        let table = punnett(&mode("autosomal-recessive"), SexSystem::Xy, "+/m", "+/m").unwrap();
        let names: Vec<&str> = table.eggs.iter().map(|g| g.name.as_str()).collect();
        assert_eq!(names, ["+", "m"]);
        let targets = table.cells.iter().flatten().filter(|c| c.class == Some(Class::Target)).count();
        assert_eq!(targets, 1);
        let x = punnett(&mode("x-linked-recessive"), SexSystem::Xy, "X+/Xm", "X+/Y").unwrap();
        assert_eq!(x.sperm.iter().map(|g| g.name.as_str()).collect::<Vec<_>>(), ["X+", "Y"]);
        assert_eq!(x.cells[1][1], Cell { genotype: "Xm/Y".into(), class: Some(Class::Target) });
        assert_eq!(x.cells[1][0].class, Some(Class::Other));
    }

    #[test]
    fn two_loci_give_sixteen_cells_and_an_unknown_genotype_none() {
        let mode = mode("two-locus-9-7");
        let table = punnett(&mode, SexSystem::Xy, "+/a +/b", "+/a +/b").unwrap();
        let targets = table.cells.iter().flatten().filter(|c| c.class == Some(Class::Target)).count();
        assert_eq!((table.cells.len(), targets), (4, 7));
        assert!(punnett(&mode, SexSystem::Xy, "+/q", "+/a +/b").is_none());
    }
}
