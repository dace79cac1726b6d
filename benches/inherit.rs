//! Speed of the inheritance analysis: 12 crosses of 8 founders with all modes (limit 100 ms), 60 crosses with loops
//! (limit 2 s), the next cross over 40 living fish (limit 2 s), and over 132 to show how it grows.
#![allow(missing_docs, clippy::unwrap_used, reason = "a benchmark may panic")]

use broodhue::inherit::{
    Breeder, Brood, Class, Counts, Evidence, JudgeOptions, Mating, Model, Origin, Sex, SexSystem, SexSystems, built_in,
    judge,
};
use broodhue::kin::Ancestry;
use broodhue::plan::{Aim, Candidate, Setup, next_crosses};
use criterion::{Criterion, criterion_group, criterion_main};

/// A book that grows cross by cross; every brood has 24 young, a quarter of the target.
#[derive(Default)]
struct Book {
    evidence: Evidence,
    ancestry: Vec<Ancestry>,
}

impl Book {
    fn fish(&mut self, sex: Sex, class: Class, origin: Origin) -> usize {
        let fish = format!("f{}", self.evidence.breeders.len());
        let parents = match origin {
            Origin::Brood(b) => Some(self.evidence.broods[b].parents[0]),
            Origin::Founder => None,
        };
        let name = |i: usize| self.evidence.breeders[i].fish.clone();
        self.ancestry.push(Ancestry {
            fish: fish.clone(),
            sire: parents.map(|m| name(m.sire)),
            dams: parents.iter().map(|m| name(m.dam)).collect(),
            ..Ancestry::default()
        });
        self.evidence.breeders.push(Breeder { fish, sex, class: Some(class), pure: false, origin });
        self.evidence.breeders.len() - 1
    }

    /// A brood, with `kept` daughters and sons of each class.
    fn cross(&mut self, sire: usize, dam: usize, kept: usize) -> (Vec<usize>, Vec<usize>) {
        let index = self.evidence.broods.len();
        let counts = Counts { female: [9, 0, 3], male: [9, 0, 3], unsexed: [0; 3] };
        let name = format!("K{index}");
        let parents = vec![Mating { sire, dam }];
        self.evidence.broods.push(Brood {
            name: name.clone(),
            label: name.clone(),
            cross: name,
            parents,
            stored: std::collections::BTreeMap::new(),
            young: None,
            counts,
        });
        let classes = [Class::Other, Class::Target];
        let mut of = |sex: Sex| (0..kept).map(|i| self.fish(sex, classes[i % 2], Origin::Brood(index))).collect();
        (of(Sex::Female), of(Sex::Male))
    }
}

/// Eight founders; four founder crosses, four sib matings, two backcrosses and two crosses between the lines.
fn twelve(kept: usize) -> Book {
    let mut book = Book::default();
    let mut lines = vec![];
    for _ in 0..4 {
        let sire = book.fish(Sex::Male, Class::Other, Origin::Founder);
        let dam = book.fish(Sex::Female, Class::Other, Origin::Founder);
        let (daughters, sons) = book.cross(sire, dam, 2);
        let second = book.cross(sons[0], daughters[0], kept);
        lines.push((sire, daughters, sons, second));
    }
    book.cross(lines[0].0, lines[0].1[1], kept);
    book.cross(lines[1].0, lines[1].1[1], kept);
    book.cross(lines[2].2[1], lines[3].1[1], kept);
    book.cross(lines[3].2[1], lines[2].1[1], kept);
    book
}

/// Six lines of ten crosses each, by sib mating, backcross to the founder sire and now and then a cross to the next line.
fn sixty() -> Book {
    let mut book = Book::default();
    let mut last: Option<Vec<usize>> = None;
    for _ in 0..6 {
        let sire = book.fish(Sex::Male, Class::Other, Origin::Founder);
        let dam = book.fish(Sex::Female, Class::Other, Origin::Founder);
        let (mut daughters, mut sons) = book.cross(sire, dam, 2);
        for generation in 1..10 {
            let other = last.as_ref().filter(|_| generation % 4 == 3).map(|sons| sons[0]);
            let male = if generation % 3 == 1 { sire } else { other.unwrap_or(sons[0]) };
            (daughters, sons) = book.cross(male, daughters[0], 2);
        }
        last = Some(sons);
    }
    book
}

fn models() -> Vec<Model> {
    let modes = built_in().unwrap().into_iter().map(|m| m.with_recombination(0.03));
    modes.map(|m| Model::new(m, SexSystems::Known(SexSystem::Xy))).collect()
}

fn benches(c: &mut Criterion) {
    let models = models();
    let options = JudgeOptions::new(0.01);
    let small = twelve(0).evidence;
    c.bench_function("inherit/12 crosses, 8 founders, all modes", |b| {
        b.iter(|| judge(&small, &models, &options).unwrap())
    });
    let large = sixty().evidence;
    c.bench_function("inherit/60 crosses with loops, all modes", |b| {
        b.iter(|| judge(&large, &models, &options).unwrap())
    });
    for (book, living) in [(twelve(2), 40), (sixty(), 132)] {
        next(c, &book, &models, living);
    }
}

/// The next cross over the last `living` fish of a book.
fn next(c: &mut Criterion, book: &Book, models: &[Model], living: usize) {
    let options = JudgeOptions::new(0.01);
    let crosses = book.evidence.broods.len();
    let last = (0..book.evidence.breeders.len()).rev().take(living);
    let candidates: Vec<Candidate> =
        last.map(|fish| Candidate { fish, warnings: vec![], stored: None, only_mate: None }).collect();
    assert_eq!(candidates.len(), living);
    let judgement = judge(&book.evidence, models, &options).unwrap();
    let modes: Vec<(f64, Model)> = judgement.modes.iter().map(|m| m.weight).zip(models.to_vec()).collect();
    let error = options.scoring(2);
    let setup = Setup {
        evidence: &book.evidence,
        modes: &modes,
        error: &error,
        ancestry: &book.ancestry,
        living: &candidates,
        aim: Aim::Mode,
    };
    c.bench_function(&format!("next/{living} living fish of {crosses} crosses, all modes"), |b| {
        b.iter(|| next_crosses(&setup, &|_, _| ()).unwrap());
    });
}

criterion_group! {
    name = inherit;
    config = Criterion::default().sample_size(10);
    targets = benches
}
criterion_main!(inherit);
