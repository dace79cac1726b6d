//! Reading a sheet: TOML with a line number and a hint for whatever is wrong in it.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

use serde::Deserialize;
use sha2::{Digest, Sha256};
use toml::Spanned;

use super::{Axis, Class, Condition, Limit, NOT_SHOWN, Rule, Sheet, UNDECIDED};
use crate::error::{Error, Result};
use crate::features::{Feature, Limits};
use crate::fish::Flag;
use crate::stats::Interval;
use crate::units::View;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawSheet {
    name: String,
    view: Option<View>,
    confidence: Spanned<f64>,
    limits: Option<Spanned<Limits>>,
    #[serde(default)]
    doubt: BTreeMap<Flag, Spanned<f64>>,
    axis: Vec<Spanned<RawAxis>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawAxis {
    name: Spanned<String>,
    #[serde(default)]
    males_only: bool,
    from_age_days: Option<u32>,
    settled_age_days: Option<u32>,
    class: Vec<Spanned<RawClass>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawClass {
    name: Spanned<String>,
    when: Option<Vec<Spanned<RawCondition>>>,
    #[serde(default)]
    otherwise: bool,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawCondition {
    feature: Option<Spanned<String>>,
    above: Option<f64>,
    below: Option<f64>,
    margin: Option<f64>,
    at_least: Option<usize>,
    of: Option<Vec<Spanned<RawCondition>>>,
    all: Option<Vec<Spanned<RawCondition>>>,
    first_known: Option<Vec<Spanned<RawCondition>>>,
}

/// Reads a sheet from its text; `name` (a file name) is only for messages.
///
/// # Errors
/// Not TOML, unknown keys or features, limits that contradict each other, names that are missing, doubled or reserved:
/// each with the line and a hint.
pub fn parse(name: &str, text: &str) -> Result<Sheet> {
    let at = Source { name, text };
    let raw: RawSheet = toml::from_str(text).map_err(|e| {
        at.error(e.span().unwrap_or(0..0), e.message(), "`sheet show` prints a sheet that works; start from it")
    })?;
    let confidence = at.share(&raw.confidence, "confidence")?;
    let limits = raw.limits.map_or(Ok(Limits::default()), |limits| colour_limits(&at, limits))?;
    let doubt = raw
        .doubt
        .iter()
        .map(|(flag, keep)| Ok((*flag, at.share(keep, flag.name())?)))
        .collect::<Result<BTreeMap<_, _>>>()?;
    let axes = raw.axis.into_iter().map(|a| axis(&at, a)).collect::<Result<Vec<_>>>()?;
    if axes.is_empty() {
        return Err(at.error(0..0, "the sheet has no axis", "add one that starts with [[axis]]"));
    }
    let mut seen = BTreeSet::new();
    if let Some(doubled) = axes.iter().find(|a| !seen.insert(a.name.clone())) {
        return Err(at.error(0..0, format!("the axis '{}' stands there twice", doubled.name), "rename one of them"));
    }
    let hash = Sha256::digest(canonical(text)).iter().map(|b| format!("{b:02x}")).collect();
    Ok(Sheet { name: raw.name, view: raw.view, confidence, limits, doubt, axes, hash, text: text.to_owned() })
}

/// The lines that carry meaning, without trailing spaces: comments, blank lines and line endings do not change a sheet.
fn canonical(text: &str) -> String {
    text.lines()
        .map(str::trim_end)
        .filter(|l| !l.is_empty() && !l.trim_start().starts_with('#'))
        .map(|l| format!("{l}\n"))
        .collect()
}

/// A sheet's text and its name, to say where something is wrong.
struct Source<'a> {
    name: &'a str,
    text: &'a str,
}

impl Source<'_> {
    fn error(&self, span: Range<usize>, message: impl std::fmt::Display, hint: &str) -> Error {
        let before = self.text.get(..span.start).unwrap_or_default();
        let line = before.matches('\n').count() + 1;
        let place = if span.end == 0 { self.name.to_owned() } else { format!("{}, line {line}", self.name) };
        Error::failed(place, message, hint)
    }

    fn share(&self, value: &Spanned<f64>, what: &str) -> Result<f64> {
        let v = *value.get_ref();
        if (0.0..=1.0).contains(&v) {
            return Ok(v);
        }
        Err(self.error(value.span(), format!("{what} is {v}"), "give a number from 0 to 1"))
    }

    fn name(&self, name: &Spanned<String>) -> Result<String> {
        let text = name.get_ref();
        if text.trim().is_empty() || text.trim() != text || text.contains(['=', '/', ',']) {
            return Err(self.error(
                name.span(),
                format!("'{text}' is no name"),
                "use words without '=', '/', ',' and without spaces around them",
            ));
        }
        Ok(text.clone())
    }
}

fn colour_limits(at: &Source, limits: Spanned<Limits>) -> Result<Limits> {
    match limits.get_ref().unfit() {
        None => Ok(limits.into_inner()),
        Some((name, value)) => {
            let hint = "hues run from 0 to 360 degrees, the others from 0 upwards";
            Err(at.error(limits.span(), format!("the limit {name} is {value}"), hint))
        }
    }
}

fn axis(at: &Source, raw: Spanned<RawAxis>) -> Result<Axis> {
    let span = raw.span();
    let raw = raw.into_inner();
    let name = at.name(&raw.name)?;
    let classes = raw.class.into_iter().map(|c| class(at, c)).collect::<Result<Vec<_>>>()?;
    if classes.len() < 2 {
        return Err(at.error(span, format!("the axis '{name}' has fewer than two classes"), "add an [[axis.class]]"));
    }
    let mut seen = BTreeSet::new();
    if let Some(doubled) = classes.iter().find(|c| !seen.insert(c.name.clone())) {
        let message = format!("the axis '{name}' has the class '{}' twice", doubled.name);
        return Err(at.error(span, message, "rename one of them"));
    }
    if classes.iter().filter(|c| c.rule == Rule::Otherwise).count() > 1 {
        let message = format!("the axis '{name}' has more than one class with `otherwise`");
        return Err(at.error(span, message, "give all but one of them a `when`"));
    }
    Ok(Axis {
        name,
        classes,
        males_only: raw.males_only,
        from_age_days: raw.from_age_days,
        settled_age_days: raw.settled_age_days,
    })
}

fn class(at: &Source, raw: Spanned<RawClass>) -> Result<Class> {
    let span = raw.span();
    let raw = raw.into_inner();
    let name = at.name(&raw.name)?;
    if [UNDECIDED, NOT_SHOWN].contains(&name.as_str()) {
        let message = format!("'{name}' is what the program itself says where no class can be proposed");
        return Err(at.error(raw.name.span(), message, "choose another name for the class"));
    }
    let rule = match (raw.when, raw.otherwise) {
        (Some(when), false) if !when.is_empty() => Rule::When(conditions(at, when)?),
        (None, true) => Rule::Otherwise,
        _ => {
            let message = format!("the class '{name}' needs either `when` with conditions or `otherwise = true`");
            return Err(at.error(span, message, "for example when = [{ feature = \"net\", above = 0.05 }]"));
        }
    };
    Ok(Class { name, rule })
}

fn conditions(at: &Source, raw: Vec<Spanned<RawCondition>>) -> Result<Vec<Condition>> {
    raw.into_iter().map(|c| condition(at, c)).collect()
}

fn condition(at: &Source, raw: Spanned<RawCondition>) -> Result<Condition> {
    let span = raw.span();
    match raw.into_inner() {
        RawCondition {
            feature: Some(f),
            above,
            below,
            margin,
            at_least: None,
            of: None,
            all: None,
            first_known: None,
        } => limit(at, &f, above, below, margin).map(Condition::Limit),
        RawCondition { feature: None, at_least: Some(count), of: Some(of), all: None, first_known: None, .. } => {
            if count == 0 || count > of.len() {
                let message = format!("at_least = {count} of {} conditions", of.len());
                return Err(at.error(span, message, "give a number from 1 to the number of conditions"));
            }
            Ok(Condition::AtLeast { count, of: conditions(at, of)? })
        }
        RawCondition { feature: None, at_least: None, of: None, all: Some(all), first_known: None, .. } => {
            Ok(Condition::All(conditions(at, all)?))
        }
        RawCondition { feature: None, at_least: None, of: None, all: None, first_known: Some(first), .. } => {
            Ok(Condition::FirstKnown(conditions(at, first)?))
        }
        _ => Err(at.error(
            span,
            "a condition is a `feature` with `above` or `below`, or one of `at_least` with `of`, `all`, `first_known`",
            "for example { feature = \"red_share.trunk\", above = 0.15 }",
        )),
    }
}

fn limit(
    at: &Source,
    name: &Spanned<String>,
    above: Option<f64>,
    below: Option<f64>,
    margin: Option<f64>,
) -> Result<Limit> {
    let feature: Feature =
        name.get_ref().parse().map_err(|e: String| at.error(name.span(), e, "check the spelling of the feature"))?;
    let Interval { low, high } = feature.limits();
    if let Some(end) = [above, below].into_iter().flatten().find(|end| !(low..=high).contains(end)) {
        let said = format!("{} is never {end}: it runs from {low} to {high}", name.get_ref());
        let hint = if feature.is_share() && (1.0..=100.0).contains(&end) {
            format!("{end} % is written as {}", end / 100.0)
        } else {
            "give a limit within that range".to_owned()
        };
        return Err(at.error(name.span(), said, &hint));
    }
    let margin = margin.unwrap_or(0.0);
    let message = match (above, below) {
        (None, None) => format!("'{}' has no limit", name.get_ref()),
        (_, Some(b)) if b <= low => format!("{} is never below {b}: it runs from {low}", name.get_ref()),
        (Some(a), Some(b)) if a >= b => format!("above {a} and below {b} leaves nothing"),
        _ if !(margin >= 0.0 && margin.is_finite()) => format!("margin is {margin}"),
        _ => return Ok(Limit { feature, above, below, margin }),
    };
    Err(at.error(name.span(), message, "give `above`, `below` or both, the first smaller, and a margin of 0 or more"))
}
