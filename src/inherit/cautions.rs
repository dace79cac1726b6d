//! What else could have made such counts: said with every verdict.

use super::evidence::{Class, Evidence};
use crate::error::Warning;
use crate::units::counted;

/// Below this many fish in all, ratios are loose (a 3:1 and a 1:1 need 42 fish to be told apart at 5 %, by exact
/// binomial tails).
const FEW_FISH: u32 = 42;

/// Share that a class of true share `share` seems to have in broods of `young` fish that were kept only because at least
/// one showed it: p / (1 - (1-p)ⁿ).
fn apparent_share(share: f64, young: u32) -> f64 {
    share / (1.0 - (f64::from(young) * (1.0 - share).ln()).exp())
}

/// The cautions that hold for every set of counts, and those these counts call for.
pub fn cautions(evidence: &Evidence) -> Vec<Warning> {
    let mut out = vec![];
    if evidence.total() < FEW_FISH {
        let fish = counted(evidence.total(), "fish is", "fish are");
        let message = format!("only {fish} counted: ratios this small are loose, more young would help");
        out.push(Warning::new("small-numbers", message));
    }
    let mut one_sided = vec![];
    let mut lone_mutants = vec![];
    let mut smallest = u32::MAX;
    for brood in &evidence.broods {
        let target = brood.counts.target();
        let parents = brood.parents.iter().flat_map(|m| [m.sire, m.dam]);
        let breeds_true = parents.into_iter().all(|p| evidence.breeders[p].class == Some(Class::Target));
        if target > 0 && target == brood.counts.total() && !breeds_true {
            one_sided.push(brood.label.as_str());
        } else if target == 1 {
            lone_mutants.push(format!("{} ({} fish)", brood.label, brood.counts.total()));
            smallest = smallest.min(brood.counts.total());
        }
    }
    if !one_sided.is_empty() {
        let message = format!(
            "only {} young stand in {}: if the others were not counted, these broods carry no ratio and must not be used",
            evidence.target,
            one_sided.join(", ")
        );
        out.push(Warning::new("one-sided-counts", message));
    }
    if !lone_mutants.is_empty() {
        let message = format!(
            "a single {} fish stands in {}: a brood kept only because a mutant appeared overstates its share (one in four seems \
             {:.0} in 100 in broods of {smallest})",
            evidence.target,
            lone_mutants.join(", "),
            100.0 * apparent_share(0.25, smallest)
        );
        out.push(Warning::new("selected-broods", message));
    }
    let standing = [
        ("early-deaths", "young that died before scoring can bend a ratio, above all if one class is weaker"),
        ("hybrid-stocks", "in hybrid stocks (many platies and swordtails) ratios need not be Mendelian"),
        (
            "sex-reversal",
            "sex can be reversed in livebearers: a few XX males or XY females mimic exceptions to sex linkage",
        ),
    ];
    out.extend(standing.map(|(code, text)| Warning::new(code, text)));
    out
}

#[cfg(test)]
mod tests {
    use super::apparent_share;

    /// Families kept only for a mutant among them: p / (1 - (1 - p)^n), in every textbook of segregation analysis.
    #[test]
    fn broods_kept_for_their_mutants() {
        for (n, apparent) in [(4, 0.365_714_29), (6, 0.304_128_3), (8, 0.277_812_63), (12, 0.258_178_14)] {
            let found = apparent_share(0.25, n);
            assert!((found - apparent).abs() < 1e-8, "{n}: {found}");
        }
    }
}
