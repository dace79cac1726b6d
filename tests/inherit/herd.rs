//! All pairs at once against each pair by itself: the same outlooks, loops, mixed broods and fish without young included.

use broodhue::inherit::{Evidence, Herd, Model, Outlook, ScoringError, Sex, SexSystem, SexSystems, built_in, outlook};

use crate::evidence::evidence;

/// Founders, a pooled brood with stored sperm, sibs and half-sibs mated, a backcross; of every brood some fish bred and
/// others, of either class, did not. `z` is a founder nobody bred from, `u` and `v` come from a brood that was not counted.
fn book() -> Evidence {
    evidence(
        "fish S m founder target
         fish T m founder other
         fish D f founder other
         fish E f founder other pure
         fish z f founder -
         fish k f B1 other
         fish l m B1 target
         fish a f B1 other
         fish b m B1 other
         fish c f B1 target
         fish q f B2 target
         fish r m B2 other
         fish x f B3 other
         fish y m B4 -
         fish u f B5 other
         fish v m B5 target
         brood B1 K1 S D+E earlier=? f=9/4 m=8/3
         brood B2 K2 l k f=5/6 m=4/3
         brood B3 K3 S k f=6/1 m=7/2
         brood B4 K4 T q u=9/2
         brood B5 K5 r x",
    )
}

fn sorted(outlook: &Outlook) -> Vec<(String, f64)> {
    let key = |c: &broodhue::inherit::Chance| {
        let rows = c.law.rows.iter().flat_map(|r| r.unwrap_or([9.0; 3]));
        rows.enumerate().fold(0.0, |sum, (i, p)| sum + p * 1.7_f64.powi(i32::try_from(i).unwrap()))
    };
    let mut all: Vec<(String, f64)> = outlook.iter().map(|c| (format!("{:.9}", key(c)), c.probability)).collect();
    all.sort_by(|(a, _), (b, _)| a.cmp(b));
    all.retain(|(_, p)| *p > 1e-12);
    all
}

fn compare(model: &Model, book: &Evidence, error: &ScoringError) {
    let of = |sex: Sex| (0..book.breeders.len()).filter(move |f| book.breeders[*f].sex == sex).collect::<Vec<_>>();
    let (dams, sires) = (of(Sex::Female), of(Sex::Male));
    let herd = Herd::new(model, book, error, (&dams, &sires)).unwrap();
    for (s, sire) in sires.iter().enumerate() {
        for (dam, found) in dams.iter().zip(herd.outlooks(s).unwrap()) {
            let plain = sorted(&outlook(model, book, error, *dam, *sire).unwrap());
            let found = sorted(&found);
            let pair = format!("{}: {} x {}", model.mode.name, book.breeders[*sire].fish, book.breeders[*dam].fish);
            assert_eq!(found.len(), plain.len(), "{pair}");
            for ((a, p), (b, q)) in found.iter().zip(&plain) {
                assert!(a == b && (p - q).abs() < 1e-9, "{pair}: {p} is not {q}");
            }
        }
    }
}

#[test]
fn all_pairs_at_once_agree_with_each_pair_alone() {
    let book = book();
    for (mode, e) in [(0, 0.01), (2, 0.0), (3, 0.02), (6, 0.05)] {
        let mode = built_in().unwrap().swap_remove(mode).with_recombination(0.1);
        compare(&Model::new(mode, SexSystems::Known(SexSystem::Xy)), &book, &ScoringError::even(e, 2));
    }
}

#[test]
fn an_unknown_sex_system_and_two_loci_agree_too() {
    let mut book = book();
    // Plain parents: two loci in a pooled brood with stored sperm are slow, and not what is tested here.
    book.broods[0].parents.truncate(1);
    book.broods[0].stored.clear();
    let models: Vec<Model> =
        built_in().unwrap().into_iter().map(|m| Model::new(m.with_recombination(0.1), SexSystems::Unknown)).collect();
    for name in ["x-linked-recessive", "two-locus-9-7"] {
        let model = models.iter().find(|m| m.mode.name == name).unwrap();
        compare(model, &book, &ScoringError::even(0.01, 2));
    }
}
