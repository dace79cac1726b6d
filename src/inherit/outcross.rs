//! Whether the crosses of a line's fish with others speak against its breeding true.

use super::evidence::{Breeder, Class, EarlierSire, Evidence, Mating};

/// Young of another class after which a class is taken not to show with one allele: a dominant one would have shown in one of
/// two, so that so many are missed with 1 % at most.
const HIDES_BESIDE: u32 = 7;

/// Crosses out of the line, one sire and one dam, whose young show that a fish of the line may carry another allele: those of
/// both classes, unless the mate is of another class and the book shows that the class is recessive, so that it is the mate whose
/// alleles they tell of. Where an earlier sire may have fathered some, both classes tell nothing unless he and the pair show it.
pub(super) fn outcrosses(evidence: &Evidence, members: &[usize]) -> Vec<String> {
    let recessive = shown_recessive(evidence);
    let mut found = Vec::new();
    for brood in &evidence.broods {
        let [Mating { sire, dam }] = brood.parents.as_slice() else { continue };
        let earlier = match brood.earlier_sire {
            None => None,
            Some(EarlierSire::Known(earlier)) => Some(&evidence.breeders[earlier]),
            Some(EarlierSire::Unknown) => continue,
        };
        let (own, mate) = match (members.contains(sire), members.contains(dam)) {
            (true, false) => (*sire, *dam),
            (false, true) => (*dam, *sire),
            _ => continue,
        };
        let of_class = brood.counts.target();
        let (all, others) = (brood.counts.total(), brood.counts.total() - of_class);
        let (own, mate): (&Breeder, &Breeder) = (&evidence.breeders[own], &evidence.breeders[mate]);
        let seen = |more: &str| {
            format!(
                "{} × {} gave {others} of another class among {all} young (cross {}){more}",
                own.fish, mate.fish, brood.cross
            )
        };
        // None of the class at all: it is recessive, or the mate's is of another gene; the line may be fixed all the same.
        if others == 0 || of_class == 0 {
            continue;
        }
        if let Some(earlier) = earlier {
            if [own, mate, earlier].iter().all(|fish| fish.class == Some(Class::Target)) {
                found.push(seen(&format!(
                    ", though they show it, as does the earlier sire {}: one of the three carries another allele",
                    earlier.fish
                )));
            }
            continue;
        }
        match mate.class {
            Some(Class::Target) => found.push(seen(", though both show it: one of them carries another allele")),
            Some(Class::Other | Class::Middle) if !recessive => found.push(seen(&format!(
                ": {} carries another allele if {} is dominant, and {} does if it is recessive",
                own.fish, evidence.target, mate.fish
            ))),
            _ => {}
        }
    }
    found
}

/// Whether the book shows that the class does not show beside another allele: two parents of another class gave it, or a
/// parent of the class gave none of it to enough young.
fn shown_recessive(evidence: &Evidence) -> bool {
    evidence.broods.iter().filter(|b| b.earlier_sire.is_none()).any(|brood| {
        let [Mating { sire, dam }] = brood.parents.as_slice() else { return false };
        let classes = [evidence.breeders[*sire].class, evidence.breeders[*dam].class];
        let of_class = brood.counts.target();
        let another = |class: &Option<Class>| class.is_some_and(|c| c != Class::Target);
        match classes.iter().filter(|c| another(c)).count() {
            2 => of_class > 0,
            1 => classes.contains(&Some(Class::Target)) && of_class == 0 && brood.counts.total() >= HIDES_BESIDE,
            _ => false,
        }
    })
}
