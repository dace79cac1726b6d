//! Which crosses tell of linkage between two axes: those of a parent that is heterozygous on both, with a mate that lets its
//! gametes show. Expected shares alone do not tell: +/a b/b × a/a +/b gives four classes alike, however close the loci lie.

use std::collections::BTreeSet;

use super::evidence::{Class, Evidence, Mating, Sex};
use super::judgement::ModeJudgement;
use super::linkage::CrossKind;
use super::model::{BestGenotypes, Model};
use super::space::Space;

/// One axis with the mode that its counts were judged to weigh most, at whose best genotypes parents are looked at.
pub struct JudgedAxis<'a> {
    /// Counts and pedigree.
    pub evidence: &'a Evidence,
    /// The models that were judged.
    pub models: &'a [Model],
    /// The mode that leads.
    pub mode: &'a ModeJudgement,
}

/// An axis of one autosomal locus.
struct Single<'a> {
    evidence: &'a Evidence,
    space: &'a Space,
    best: &'a BestGenotypes,
}

/// What a pair of parents is on one axis.
struct PairOnAxis {
    dam_mixed: bool,
    sire_mixed: bool,
    /// Share of target among the young.
    target: f64,
}

/// Shares of the target within this of 1/2 or 1/4 are these (expected shares are exact; this is rounding).
const SHARE_ROUNDING: f64 = 1e-6;

/// What a cross is on two axes together, by the best genotypes of its parents.
///
/// # Errors
/// Why nothing can be said about linkage from its young, in words that may follow a colon.
pub fn cross_kind(cross: &str, axes: [&JudgedAxis<'_>; 2]) -> Result<CrossKind, String> {
    let [first, second] = [single(axes[0])?, single(axes[1])?];
    let mut kinds = BTreeSet::new();
    let counted =
        |e: &Evidence, name: &str| e.broods.iter().any(|b| b.cross == cross && b.name == name && b.counts.total() > 0);
    let on_both = |name: &str| [&first, &second].iter().all(|axis| counted(axis.evidence, name));
    for brood in first.evidence.broods.iter().filter(|b| b.cross == cross && on_both(&b.name)) {
        if !brood.stored.is_empty() {
            return Err("stored sperm may have fathered some of its young".to_owned());
        }
        for Mating { sire, dam } in &brood.parents {
            let names = [*dam, *sire].map(|f| first.evidence.breeders[f].fish.as_str());
            kinds.insert(kind_of_pair(names, [&first, &second])?);
        }
    }
    let mut kinds = kinds.into_iter();
    match (kinds.next(), kinds.next()) {
        (Some((kind, _)), None) => Ok(kind),
        (None, _) => Err("none of its broods counts on both axes".to_owned()),
        _ => {
            Err("its young have several parents that are heterozygous on both axes, whose phases may differ".to_owned())
        }
    }
}

/// The axis as one autosomal locus; or why it is none.
fn single<'a>(axis: &JudgedAxis<'a>) -> Result<Single<'a>, String> {
    let (name, mode) = (&axis.evidence.axis, &axis.mode.mode);
    let model = axis.models.iter().find(|m| m.mode.name == *mode);
    let model = model.filter(|m| m.mode.loci.len() == 1);
    let Some(model) = model else { return Err(format!("under {mode}, which weighs most, {name} is not one locus")) };
    if model.mode.depends_on_sex() {
        return Err(format!(
            "under {mode}, which weighs most, {name} depends on sex; only autosomal loci are compared"
        ));
    }
    let best = axis.mode.best.as_ref().ok_or_else(|| format!("{mode} does not explain the counts of {name}"))?;
    Ok(Single { evidence: axis.evidence, space: &model.spaces[0], best })
}

impl Single<'_> {
    fn pair(&self, [dam, sire]: [&str; 2]) -> Option<PairOnAxis> {
        let of = |fish: &str| self.best.fish[self.evidence.find(fish).ok()?];
        let (dam, sire) = (of(dam)?, of(sire)?);
        Some(PairOnAxis {
            dam_mixed: self.space.genotypes(Sex::Female)[dam].mixed,
            sire_mixed: self.space.genotypes(Sex::Male)[sire].mixed,
            target: self.space.law(dam, sire).of(None)?[Class::Target.index()],
        })
    }
}

/// The kind of cross with the fish that are heterozygous on both axes.
fn kind_of_pair<'a>(names: [&'a str; 2], axes: [&Single<'_>; 2]) -> Result<(CrossKind, Vec<&'a str>), String> {
    let pair = axes[0].pair(names).zip(axes[1].pair(names));
    let Some((a, b)) = pair else { return Err("the genotypes of its parents are not known".to_owned()) };
    let shares = |share: f64| [&a, &b].iter().all(|axis| (axis.target - share).abs() < SHARE_ROUNDING);
    let (dam, sire) = (a.dam_mixed && b.dam_mixed, a.sire_mixed && b.sire_mixed);
    let plain = |mixed: [bool; 2]| !mixed[0] && !mixed[1];
    if dam && sire && shares(0.25) {
        Ok((CrossKind::F2, names.to_vec()))
    } else if dam && plain([a.sire_mixed, b.sire_mixed]) && shares(0.5) {
        Ok((CrossKind::TestCross, vec![names[0]]))
    } else if sire && plain([a.dam_mixed, b.dam_mixed]) && shares(0.5) {
        Ok((CrossKind::TestCross, vec![names[1]]))
    } else if dam || sire {
        Err("it is neither a test cross of a parent heterozygous on both axes nor an F2 of two recessives".to_owned())
    } else {
        Err("no parent is heterozygous on both axes, so that recombination does not show in the young".to_owned())
    }
}
