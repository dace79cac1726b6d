//! Modes from text: the built-in list and a person's own file, both in the same TOML form.

use std::collections::BTreeMap;

use serde::Deserialize;

use super::evidence::{Class, Sex};
use super::mode::{Condition, Copies, Locus, Mode, Place};
use crate::error::{Error, Result};

/// The built-in modes as text; also the pattern for a file of one's own.
pub const BUILT_IN: &str = include_str!("modes.toml");

/// Three loci are what the prediction table can still be read with, and 27 genotypes what elimination can carry.
const MAX_LOCI: usize = 3;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FileText {
    mode: Vec<ModeText>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ModeText {
    name: String,
    loci: Vec<LocusText>,
    rules: Vec<RuleText>,
    #[serde(default)]
    survival: Vec<SurvivalText>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LocusText {
    name: String,
    on: Place,
    recombination: Option<f64>,
}

#[derive(Deserialize)]
struct RuleText {
    class: Class,
    sex: Option<Sex>,
    #[serde(flatten)]
    copies: BTreeMap<String, Copies>,
}

#[derive(Deserialize)]
struct SurvivalText {
    share: f64,
    sex: Option<Sex>,
    #[serde(flatten)]
    copies: BTreeMap<String, Copies>,
}

/// The modes of a text; `place` names the file in messages.
///
/// # Errors
/// Names the mode, the key and the value that cannot be meant.
pub fn parse(place: &str, text: &str) -> Result<Vec<Mode>> {
    let file: FileText = toml::from_str(text)
        .map_err(|e| Error::failed(place, e.to_string().trim(), "docs/modes.md shows the form of a mode file"))?;
    file.mode.into_iter().map(|mode| read_mode(place, mode)).collect()
}

/// The built-in modes, in the order in which every output has them.
///
/// # Errors
/// None that a test would let pass: the text is part of the program.
pub fn built_in() -> Result<Vec<Mode>> {
    parse("built-in modes", BUILT_IN)
}

fn read_mode(file: &str, text: ModeText) -> Result<Mode> {
    let place = format!("{file}, mode {}", text.name);
    if text.loci.is_empty() || text.loci.len() > MAX_LOCI {
        let message = format!("has {} loci, the limit is 1 to {MAX_LOCI}", text.loci.len());
        return Err(Error::failed(place, message, "describe the mode with fewer loci"));
    }
    let loci: Vec<Locus> =
        text.loci.into_iter().map(|l| Locus { name: l.name, place: l.on, recombination: l.recombination }).collect();
    check_loci(&place, &loci)?;
    let rules = text
        .rules
        .into_iter()
        .map(|r| Ok((condition(&place, &loci, r.sex, &r.copies)?, r.class)))
        .collect::<Result<Vec<_>>>()?;
    let survival = text
        .survival
        .into_iter()
        .map(|s| {
            if !(0.0..=1.0).contains(&s.share) {
                return Err(Error::failed(&place, format!("survival share {} is not in 0 to 1", s.share), ""));
            }
            Ok((condition(&place, &loci, s.sex, &s.copies)?, s.share))
        })
        .collect::<Result<Vec<_>>>()?;
    Ok(Mode { name: text.name, loci, rules, survival })
}

fn check_loci(place: &str, loci: &[Locus]) -> Result<()> {
    for (i, locus) in loci.iter().enumerate() {
        if ["class", "sex", "share", "+", ""].contains(&locus.name.as_str())
            || loci[..i].iter().any(|l| l.name == locus.name)
        {
            return Err(Error::failed(
                place,
                format!("locus name `{}` cannot be used", locus.name),
                "pick another name",
            ));
        }
        if let Some(r) = locus.recombination
            && !(0.0..=0.5).contains(&r)
        {
            let message = format!("recombination {r} of locus {} is not in 0 to 0.5", locus.name);
            return Err(Error::failed(place, message, "0.5 means unlinked"));
        }
    }
    Ok(())
}

fn condition(place: &str, loci: &[Locus], sex: Option<Sex>, copies: &BTreeMap<String, Copies>) -> Result<Condition> {
    if let Some(unknown) = copies.keys().find(|k| loci.iter().all(|l| l.name != **k)) {
        let names: Vec<&str> = loci.iter().map(|l| l.name.as_str()).collect();
        return Err(Error::failed(place, format!("a rule names `{unknown}`, loci are {}", names.join(", ")), ""));
    }
    Ok(Condition { sex, copies: loci.iter().map(|l| copies.get(&l.name).copied()).collect() })
}

/// Picks modes by name, in the order asked for. `NAME:LOCUS-on-PLACE` moves one locus: `two-locus-9-7:b-on-x`.
///
/// # Errors
/// Names the mode, locus or place that is not known and lists those that are.
pub fn select(known: &[Mode], names: &[String]) -> Result<Vec<Mode>> {
    names.iter().map(|name| select_one(known, name)).collect()
}

fn select_one(known: &[Mode], asked: &str) -> Result<Mode> {
    let (name, moves) = asked.split_once(':').map_or((asked, None), |(n, m)| (n, Some(m)));
    let found = known.iter().find(|m| m.name == name).cloned().ok_or_else(|| {
        let names: Vec<&str> = known.iter().map(|m| m.name.as_str()).collect();
        Error::usage(format!("mode {name}"), "is not known", format!("the modes are {}", names.join(", ")))
    })?;
    let Some(moves) = moves else { return Ok(found) };
    moves.split(':').try_fold(found, move_locus).map(|m| Mode { name: asked.to_owned(), ..m })
}

fn move_locus(mut mode: Mode, step: &str) -> Result<Mode> {
    let wrong = || {
        Error::usage(format!("mode {}", mode.name), format!("`{step}` is not LOCUS-on-PLACE"), "for example `b-on-x`")
    };
    let (locus, to) = step.split_once("-on-").ok_or_else(wrong)?;
    let places = [Place::Autosome, Place::X, Place::Y, Place::XAndY];
    let to = places.into_iter().find(|p| p.word() == to).ok_or_else(wrong)?;
    let at = mode.loci.iter().position(|l| l.name == locus).ok_or_else(wrong)?;
    mode.loci[at].place = to;
    Ok(mode)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The mode names of `inherit --json`, in its order; scripts rely on them.
    const NAMES: [&str; 14] = [
        "autosomal-recessive",
        "autosomal-dominant",
        "incompletely-dominant",
        "x-linked-recessive",
        "x-linked-dominant",
        "y-linked",
        "partially-sex-linked",
        "male-limited-autosomal",
        "male-limited-partially-sex-linked",
        "two-locus-15-1",
        "two-locus-9-7",
        "two-locus-9-3-4",
        "two-locus-12-3-1",
        "two-locus-13-3",
    ];

    #[test]
    fn every_mode_of_the_contract_is_built_in() {
        let names: Vec<String> = built_in().unwrap().into_iter().map(|m| m.name).collect();
        assert_eq!(names, NAMES);
    }

    #[test]
    fn a_locus_can_be_moved_to_a_sex_chromosome() {
        let known = built_in().unwrap();
        let modes = select(&known, &["two-locus-9-7:b-on-x".into()]).unwrap();
        assert_eq!(modes[0].loci[1].place, Place::X);
        assert_eq!(modes[0].name, "two-locus-9-7:b-on-x");
        for wrong in ["two-locus-9-7:c-on-x", "two-locus-9-7:b-on-z", "two-locus-9-7:b"] {
            assert!(select(&known, &[wrong.into()]).is_err(), "{wrong}");
        }
    }

    #[test]
    fn what_cannot_be_meant_is_named() {
        let base = "[[mode]]\nname = \"mine\"\nloci = [{ name = \"p\", on = \"autosome\" }]\n";
        let unknown = format!("{base}rules = [{{ class = \"target\", q = \"all\" }}]\n");
        assert!(parse("my.toml", &unknown).unwrap_err().message.contains("`q`"));
        let share = format!("{base}rules = []\nsurvival = [{{ share = 1.5, p = \"all\" }}]\n");
        assert!(parse("my.toml", &share).unwrap_err().message.contains("1.5"));
        assert!(parse("my.toml", "[[mode]]\nname = 3").unwrap_err().to_string().starts_with("my.toml"));
    }
}
