//! A breeder out of a brood of mixed parentage whose own class does not stand in the counts of its row.

use broodhue::inherit::{Evidence, Model, ScoringError, SexSystem, SexSystems, built_in};

use crate::evidence::evidence;

/// Probability that a fish is m/m, if the target is autosomal recessive and 1 in 100 is mis-scored.
fn both_copies(evidence: &Evidence, fish: &str) -> f64 {
    let mode = built_in().unwrap().into_iter().find(|m| m.name == "autosomal-recessive").unwrap();
    let model = Model::new(mode, SexSystems::Known(SexSystem::Xy));
    let posterior = model.posterior(evidence, &ScoringError::even(0.01, 2)).unwrap();
    let of_fish = &posterior.genotypes[evidence.find(fish).unwrap()];
    of_fish.iter().filter(|g| g.genotype == "m/m").map(|g| g.probability).sum()
}

/// The parents' genotypes are not quite certain: ten young of a kind and a pure male leave less than this.
const PARENTS_KNOWN: f64 = 1e-4;

/// By hand: a quarter of the young are expected to be the earlier sire's, all m/m, and the others all +/m, so that by Bayes
/// 0.25·0.99 / (0.25·0.99 + 0.75·0.01) = 0.970588 of those that show the target are m/m, counted with their sibs or not.
#[test]
fn a_daughter_of_stored_sperm_that_shows_the_target_is_the_earlier_sires() {
    for counts in ["", "f=0/1", "u=0/1"] {
        let evidence = evidence(&format!(
            "fish S m founder other pure
             fish Z m founder target
             fish M f founder target
             fish k f B1 target
             brood B0 K0 Z M u=0/10
             brood B1 K1 S M earlier=Z {counts}"
        ));
        let found = both_copies(&evidence, "k");
        assert!((found - 0.970_588).abs() < PARENTS_KNOWN, "{counts}: {found}");
    }
}

/// By hand: with uniform shares of two dams a sib of the second dam's daughter is hers with 2/3 (the mean of w² over that of w),
/// so that 2/3·0.99 / (2/3·0.99 + 1/3·0.01) = 0.994975 of the sibs that show the target are m/m.
#[test]
fn a_sister_tells_of_the_shares_of_pooled_dams() {
    let evidence = evidence(
        "fish S m founder target
         fish D1 f founder other pure
         fish D2 f founder target
         fish N m founder target
         fish k1 f B1 target
         fish k2 f B1 target
         brood B0 K0 S D2 u=0/10
         brood B1 K1 S D1+D2
         brood B2 K2 N k1 u=0/3",
    );
    let found = both_copies(&evidence, "k2");
    // Three young leave the sister's own dam a little less sure than certain.
    assert!((found - 0.994_975).abs() < 2e-3, "{found}");
}
