//! Candidate traits: what a trait file claims, against the counts and against the measured contrast between the classes.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::contrast::Contrast;
use super::judgement::{Judgement, Verdict};
use super::model::Model;
use crate::error::{Error, Result};

/// The example that comes with the program; its traits are invented.
pub const EXAMPLE: &str = include_str!("traits.toml");

/// A feature a trait may speak of: its name in trait files and its name among measured features.
pub const FEATURES: [(&str, &str); 7] = [
    ("red-body", "red_share.trunk"),
    ("red-finnage", "red_share.finnage"),
    ("yellow", "yellow_share.fish + orange_share.fish"),
    ("black", "black_share.fish"),
    ("net", "net"),
    ("reflective", "reflective_share.fish"),
    ("lightness", "trunk.lightness"),
];

/// What a trait does to a feature, beside fish without it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Effect {
    /// Nothing of it is left.
    Removed,
    /// Less of it.
    Reduced,
    /// As much of it.
    Unchanged,
    /// More of it.
    Raised,
}

impl Effect {
    /// The word in trait files.
    pub fn word(self) -> &'static str {
        match self {
            Effect::Removed => "removed",
            Effect::Reduced => "reduced",
            Effect::Unchanged => "unchanged",
            Effect::Raised => "raised",
        }
    }
}

/// One trait of a trait file.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Trait {
    /// Its name.
    pub name: String,
    /// The mode of inheritance it is known for.
    pub mode: String,
    /// What one copy does.
    #[serde(default)]
    pub one_copy: BTreeMap<String, Effect>,
    /// What two copies (or the only copy, of a male's X or Y) do.
    #[serde(default)]
    pub two_copies: BTreeMap<String, Effect>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FileText {
    #[serde(rename = "trait")]
    traits: Vec<Trait>,
}

/// The traits of a text; `place` names the file in messages.
///
/// # Errors
/// Names the trait, key or feature that cannot be meant.
pub fn parse_traits(place: &str, text: &str) -> Result<Vec<Trait>> {
    let file: FileText = toml::from_str(text)
        .map_err(|e| Error::failed(place, e.to_string().trim(), "docs/traits.md shows the form of a trait file"))?;
    for one in &file.traits {
        let known = |key: &&String| FEATURES.iter().any(|(name, _)| name == *key);
        if let Some(unknown) = one.one_copy.keys().chain(one.two_copies.keys()).find(|k| !known(k)) {
            let names: Vec<&str> = FEATURES.iter().map(|(name, _)| *name).collect();
            let message = format!("trait {} names a feature `{unknown}` that is not known", one.name);
            return Err(Error::failed(place, message, format!("features are {}", names.join(", "))));
        }
    }
    Ok(file.traits)
}

impl Trait {
    /// What the trait does to fish that show the target, feature by feature. Where one copy shows it, what one copy does, and
    /// what two do where nothing is said of one; where only two copies show it, what two do alone; where a fish has the only
    /// copy there can be, what that does, under either name.
    fn effects(&self, one_copy_shows: Option<bool>) -> BTreeMap<&str, Effect> {
        let (first, fallback) = match one_copy_shows {
            Some(true) => (&self.one_copy, Some(&self.two_copies)),
            Some(false) => (&self.two_copies, None),
            None => (&self.two_copies, Some(&self.one_copy)),
        };
        fallback.into_iter().flatten().chain(first).map(|(feature, effect)| (feature.as_str(), *effect)).collect()
    }
}

/// What the measurements say of one claim.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Says {
    /// The interval lies where the trait would put it.
    Fits,
    /// The interval lies elsewhere.
    Against,
    /// The interval is too wide to tell.
    Open,
    /// Too few fish are measured.
    NotMeasured,
}

/// One claim beside its measurement.
#[derive(Debug, Clone, PartialEq)]
pub struct Claim {
    /// The feature, as in trait files.
    pub feature: String,
    /// What the trait would do.
    pub effect: Effect,
    /// What was measured.
    pub contrast: Option<Contrast>,
    /// How they agree.
    pub says: Says,
}

/// One trait, tested.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// The trait's name.
    pub name: String,
    /// Its mode.
    pub mode: String,
    /// What the counts say of the mode.
    pub verdict: Verdict,
    /// Its weight among the modes listed.
    pub weight: f64,
    /// Claims about measured features.
    pub claims: Vec<Claim>,
    /// The observation that speaks against it; `None` while it still fits.
    pub against: Option<String>,
}

/// A change smaller than this share of the others' mean is no change a breeder would see (starting value, not tuned).
const UNSEEN_CHANGE: f64 = 0.1;

/// Nor is a smaller change than this, whatever the mean (starting value, not tuned).
const UNSEEN_SHARE: f64 = 0.01;

/// "Removed" leaves at most this share of what the others have (starting value: the sheet's "absent" limit of 3 % beside
/// its "full" limit of 15 %).
const LEFT_WHEN_REMOVED: f64 = 0.2;

/// Below this share of the body there is nothing to remove (the sheet's "absent" limit).
const NOTHING_THERE: f64 = 0.03;

fn weigh(effect: Effect, contrast: Option<&Contrast>) -> Says {
    let Some(c) = contrast else { return Says::NotMeasured };
    let seen = (UNSEEN_CHANGE * c.other_mean.abs()).max(UNSEEN_SHARE);
    let nothing = c.other_mean.abs() < NOTHING_THERE;
    let removed = -(1.0 - LEFT_WHEN_REMOVED) * c.other_mean;
    let (fits, against) = match effect {
        Effect::Removed if nothing => (false, false),
        Effect::Reduced if nothing => (false, false),
        Effect::Removed => (c.difference <= removed && c.high < 0.0, c.low > removed),
        Effect::Reduced => (c.high < 0.0, c.low > -seen),
        Effect::Unchanged => (c.low > -seen && c.high < seen, c.high < -seen || c.low > seen),
        Effect::Raised => (c.low > 0.0, c.high < seen),
    };
    match (fits, against) {
        (_, true) => Says::Against,
        (true, false) => Says::Fits,
        (false, false) => Says::Open,
    }
}

/// Tests every trait against the judged modes, which `models` are worked out of, and the measured contrasts (by the feature's name
/// in trait files).
///
/// # Errors
/// A trait whose mode was not judged.
pub fn candidates(
    traits: &[Trait],
    models: &[Model],
    judgement: &Judgement,
    contrasts: &BTreeMap<String, Contrast>,
) -> Result<Vec<Candidate>> {
    traits
        .iter()
        .map(|one| {
            let judged = judgement.modes.iter().find(|m| m.mode == one.mode);
            let model = models.iter().find(|m| m.mode.name == one.mode);
            let (judged, model) = judged.zip(model).ok_or_else(|| {
                Error::failed(format!("trait {}", one.name), format!("its mode {} was not judged", one.mode), "list it")
            })?;
            let claims: Vec<Claim> = one
                .effects(model.one_copy_shows())
                .into_iter()
                .map(|(feature, effect)| {
                    let contrast = contrasts.get(feature);
                    let says = weigh(effect, contrast);
                    Claim { feature: feature.to_owned(), effect, contrast: contrast.cloned(), says }
                })
                .collect();
            let by_counts = matches!(judged.verdict, Verdict::RuledOut | Verdict::Disfavoured)
                .then(|| format!("the counts: {}", judged.because));
            // What weighs little where a parent may be mis-scored is yet a cross that the trait does not explain.
            let by_counts = by_counts.or_else(|| (!judged.fits()).then(|| format!("as scored: {}", judged.because)));
            let against = by_counts.or_else(|| claims.iter().find(|c| c.says == Says::Against).map(words));
            let (verdict, weight) = (judged.verdict, judged.weight);
            Ok(Candidate { name: one.name.clone(), mode: one.mode.clone(), verdict, weight, claims, against })
        })
        .collect()
}

fn words(claim: &Claim) -> String {
    let Some(c) = &claim.contrast else { return String::new() };
    format!(
        "measured {}: target fish differ by {:+.3} (95 % {:+.3} to {:+.3}) from {:.3} in the others, where the trait leaves it {}",
        claim.feature,
        c.difference,
        c.low,
        c.high,
        c.other_mean,
        claim.effect.word()
    )
}

#[cfg(test)]
mod tests {
    use super::super::contrast::Unit;
    use super::super::{SexSystem, SexSystems, built_in, parse};
    use super::*;

    fn measured(other_mean: f64, difference: f64, half: f64) -> Contrast {
        Contrast {
            broods: 3,
            target_fish: 12,
            other_fish: 30,
            other_mean,
            difference,
            low: difference - half,
            high: difference + half,
            unit: Unit::Brood,
        }
    }

    #[test]
    fn the_example_can_be_read_and_its_features_are_measured_ones() {
        assert_eq!(parse_traits("example", EXAMPLE).unwrap().len(), 5);
        for (_, feature) in FEATURES {
            assert!(feature.parse::<crate::features::Feature>().is_ok(), "{feature}");
        }
    }

    #[test]
    fn an_unknown_feature_is_named() {
        let text = "[[trait]]\nname = \"x\"\nmode = \"y-linked\"\ntwo_copies = { stripes = \"removed\" }\n";
        assert!(parse_traits("my.toml", text).unwrap_err().message.contains("`stripes`"));
    }

    /// What one copy does is what target fish show under every mode in which one copy beside a wild one shows the target, whatever the mode is
    /// called; a Y is the only copy there can be.
    #[test]
    fn what_one_copy_does_is_asked_of_the_rules_not_of_the_name() {
        let own = "[[mode]]\nname = \"my-not-dominant\"\nloci = [{ name = \"m\", on = \"autosome\" }]\n\
                   rules = [{ class = \"target\", m = \"all\" }]\n";
        let modes = built_in().unwrap().into_iter().chain(parse("own", own).unwrap());
        let one: Trait = Trait {
            name: "t".into(),
            mode: String::new(),
            one_copy: BTreeMap::from([("red-body".to_owned(), Effect::Removed), ("net".to_owned(), Effect::Raised)]),
            two_copies: BTreeMap::from([
                ("red-body".to_owned(), Effect::Raised),
                ("black".to_owned(), Effect::Reduced),
            ]),
        };
        for mode in modes {
            let name = mode.name.clone();
            let model = Model::new(mode.with_recombination(0.03), SexSystems::Known(SexSystem::Xy));
            let wanted = match name.as_str() {
                "autosomal-dominant"
                | "x-linked-dominant"
                | "partially-sex-linked"
                | "male-limited-autosomal"
                | "male-limited-partially-sex-linked" => {
                    vec![("black", Effect::Reduced), ("net", Effect::Raised), ("red-body", Effect::Removed)]
                }
                "y-linked" => vec![("black", Effect::Reduced), ("net", Effect::Raised), ("red-body", Effect::Raised)],
                _ => vec![("black", Effect::Reduced), ("red-body", Effect::Raised)],
            };
            assert_eq!(one.effects(model.one_copy_shows()).into_iter().collect::<Vec<_>>(), wanted, "{name}");
        }
    }

    #[test]
    fn claims_are_weighed_by_the_interval() {
        let gone = measured(0.30, -0.29, 0.02);
        let halved = measured(0.30, -0.15, 0.03);
        let same = measured(0.30, 0.005, 0.02);
        let wide = measured(0.30, -0.10, 0.25);
        // A fifth less at the most, and no less at the least: neither within a tenth nor beyond it.
        let rather_less = measured(0.30, -0.03, 0.03);
        for (effect, contrast, says) in [
            (Effect::Removed, &gone, Says::Fits),
            (Effect::Removed, &halved, Says::Against),
            (Effect::Reduced, &halved, Says::Fits),
            (Effect::Reduced, &same, Says::Against),
            (Effect::Unchanged, &same, Says::Fits),
            (Effect::Unchanged, &halved, Says::Against),
            (Effect::Unchanged, &wide, Says::Open),
            (Effect::Unchanged, &rather_less, Says::Open),
            (Effect::Raised, &same, Says::Against),
        ] {
            assert_eq!(weigh(effect, Some(contrast)), says, "{effect:?} {contrast:?}");
        }
        assert_eq!(weigh(Effect::Removed, Some(&measured(0.01, 0.0, 0.005))), Says::Open);
        assert_eq!(weigh(Effect::Removed, None), Says::NotMeasured);
    }
}
