//! Card + lighting field → [`Calibration`].

use super::error::{NO_CARD, Spread};
use super::fit::{Chosen, Explained, choose};
use super::patch::{Patch, readable};
use super::residue::Grid;
use super::tone::Tone;
use super::verdict::verdict;
use super::{ColourError, FitReport, Verdict};
use crate::card::reference::{self, Edition};
use crate::card::{Card, Layout, LeftOut};
use crate::colour::{Lab, LinearRgb, Xyz, lab_from_xyz, profile_xyz, xyz_from_lab};
use crate::floor::LightField;

/// Fewest readable patches of a card for a fit.
const FEWEST: usize = 3;

/// From the file's linear light at the card's place to CIELAB, with its error and what to think of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Calibration {
    map: Option<Map>,
    /// The fit's figures; `None` without a usable card.
    pub fit: Option<FitReport>,
    /// CIEDE2000 of every unclipped patch read by a fit that had not seen it, by its place on the card.
    pub leave_one_out: Vec<(usize, f64)>,
    /// What each of these patches was read as by the fit that had not seen it.
    pub read_unseen: Vec<(usize, Lab)>,
    /// How far the colours can be trusted.
    pub verdict: Verdict,
    /// Why the verdict is not better, and what to do; empty when it is good.
    pub reasons: Vec<String>,
    /// Patches that took no part in the fit, by their place on the card.
    pub left_out: Vec<(usize, LeftOut)>,
    /// The published table used; `None` for other cards.
    pub edition: Option<Edition>,
}

/// What a fit made of a card.
#[derive(Debug, Clone, PartialEq)]
struct Map {
    explained: Explained,
    tone: Tone,
    correction: Option<Grid>,
    spread: Spread,
    /// What a card file says of its own colours: a learned card shares its chart's error, which leave-one-out among its patches
    /// cannot see. Zero for the chart, whose published colours are nobody's measurement of this print.
    stated: ColourError,
}

impl Calibration {
    /// Fits a card; `edition` matters for the 24-patch chart alone. Readings are taken through the field to the card's
    /// centre first. A card whose colours nobody knows, or that cannot be read, gives the profile's colours and says so.
    pub fn from_card(card: &Card, edition: Edition, field: &LightField) -> Self {
        let references = reference::of_card(card, edition);
        if references.is_empty() {
            return Self::from_profile(
                "the colours of this card are not known; use the 24-patch chart, or teach the card with 'card learn'",
            );
        }
        let (patches, unreadable) = readable(card, &references, field);
        let chosen = (patches.len() >= FEWEST).then(|| choose(&patches, has_colour(&references))).flatten();
        match chosen {
            Some(chosen) => {
                let edition = (card.layout == Layout::Chart24).then_some(edition);
                let known = card.known.iter().map(|k| k.error);
                let stated = ColourError::shared(known.sum::<f64>() / card.known.len().max(1) as f64);
                Self { edition, ..Self::from_chosen(&chosen, &patches, unreadable, references.len(), stated) }
            }
            None => Self {
                left_out: unreadable,
                ..Self::from_profile(format!(
                    "only {} patches of the card can be read, at least {FEWEST} are needed; take the photo again with the card in the light",
                    patches.len()
                ))
            },
        }
    }

    fn from_chosen(
        chosen: &Chosen,
        patches: &[Patch],
        mut left_out: Vec<(usize, LeftOut)>,
        on_card: usize,
        stated: ColourError,
    ) -> Self {
        left_out.extend(&chosen.suspects);
        left_out.sort_unstable_by_key(|l| l.0);
        let fit = report(chosen);
        let (verdict, reasons) = verdict(&fit, chosen, &left_out, on_card);
        let coloured = chosen.explained.residue.is_some();
        let trusted: Vec<_> =
            chosen.outside.iter().filter(|u| !left_out.iter().any(|l| l.0 == u.index)).cloned().collect();
        Self {
            map: Some(Map {
                tone: Tone::of(&chosen.explained.camera),
                correction: chosen.explained.residue.as_ref().map(super::residue::Residue::grid),
                spread: Spread::of(&trusted, coloured),
                explained: chosen.explained.clone(),
                stated,
            }),
            fit: Some(fit),
            leave_one_out: patches.iter().zip(&chosen.outside).map(|(p, u)| (p.index, u.de00)).collect(),
            read_unseen: patches.iter().zip(&chosen.outside).map(|(p, u)| (p.index, u.read)).collect(),
            verdict,
            reasons,
            left_out,
            edition: None,
        }
    }

    /// No usable card: colours as the file's profile says, verdict poor for `reason`.
    pub fn from_profile(reason: impl Into<String>) -> Self {
        Self {
            map: None,
            fit: None,
            leave_one_out: Vec::new(),
            read_unseen: Vec::new(),
            verdict: Verdict::Poor,
            reasons: vec![reason.into()],
            left_out: Vec::new(),
            edition: None,
        }
    }

    /// Makes the verdict no better than `most`, for `reason`.
    pub(super) fn lower(&mut self, most: Verdict, reason: impl Into<String>) {
        if self.verdict > most {
            self.verdict = most;
        }
        self.reasons.push(reason.into());
    }

    /// The scene's light behind the file's linear light: the phone's contrast curve undone, white stays 1.
    pub fn scene(&self, file: LinearRgb) -> LinearRgb {
        self.map.as_ref().map_or(file, |m| m.tone.scene(file))
    }

    /// What the file would hold for the scene's light; undoes [`Self::scene`].
    pub fn file(&self, scene: LinearRgb) -> LinearRgb {
        self.map.as_ref().map_or(scene, |m| m.tone.file(scene))
    }

    /// XYZ of the file's linear light read at (or relit to) the card's place.
    pub fn xyz(&self, value: LinearRgb) -> Xyz {
        match &self.map {
            None => profile_xyz(value),
            Some(_) => xyz_from_lab(self.lab(value)),
        }
    }

    /// CIELAB of the file's linear light read at (or relit to) the card's place.
    pub fn lab(&self, value: LinearRgb) -> Lab {
        self.lab_of_scene(self.scene(value))
    }

    /// CIELAB of the scene's light at the card's place.
    pub fn lab_of_scene(&self, scene: LinearRgb) -> Lab {
        let Some(map) = &self.map else { return lab_from_xyz(profile_xyz(scene)) };
        let lab = lab_from_xyz(map.explained.camera.xyz([scene.red, scene.green, scene.blue].map(f64::from)));
        let [l, a, b] = map.correction.as_ref().map_or([0.0; 3], |c| c.correction(lab));
        Lab::new((lab.l + l).max(0.0), lab.a + a, lab.b + b)
    }

    /// Standard errors of a colour that this calibration gave: the calibration's part alone.
    pub fn error(&self, lab: Lab) -> ColourError {
        self.map.as_ref().map_or(NO_CARD, |m| m.spread.at(lab, &m.explained).and(m.stated))
    }

    /// Standard errors of a colour read on a fish that all fish of the photo share: the calibration's, and what the light
    /// does between card and fish.
    pub fn error_on_fish(&self, lab: Lab) -> ColourError {
        self.error(lab).on_a_fish()
    }
}

/// Whether a card has coloured patches.
fn has_colour(references: &[reference::Reference]) -> bool {
    references.iter().any(|r| !r.neutral)
}

fn report(chosen: &Chosen) -> FitReport {
    let mean = |v: &mut dyn Iterator<Item = f64>| {
        let (n, sum) = v.fold((0.0, 0.0), |(n, sum), x| (n + 1.0, sum + x));
        sum / f64::max(n, 1.0)
    };
    let outside = || chosen.outside.iter().map(|u| u.de00);
    FitReport {
        model: chosen.name.to_owned(),
        mean_de00: mean(&mut chosen.inside.iter().copied()),
        max_de00: chosen.inside.iter().copied().fold(0.0, f64::max),
        loo_mean_de00: mean(&mut outside()),
        loo_max_de00: outside().fold(0.0, f64::max),
    }
}
