//! From features to readings: which part is compared, and which feature a trend follows.

use super::conditions::Conditions;
use super::reading::Reading;
use crate::error::{Error, Result};
use crate::features::{Feature, Features, PartColour};
use crate::units::View;

/// The part whose colour is compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Part {
    /// The whole trunk, cover included.
    #[default]
    Trunk,
    /// The base alone, where no cover hides it.
    Ground,
    /// Fins.
    Finnage,
}

impl Part {
    /// As it is called in a sentence.
    const fn word(self) -> &'static str {
        match self {
            Self::Trunk => "trunk",
            Self::Ground => "ground",
            Self::Finnage => "finnage",
        }
    }

    /// Its colour, where it can be read.
    pub const fn of(self, features: &Features) -> Option<&PartColour> {
        match self {
            Self::Trunk => features.trunk.as_ref(),
            Self::Ground => features.ground.as_ref(),
            Self::Finnage => features.finnage.as_ref(),
        }
    }
}

/// Where a fish was seen.
#[derive(Debug, Clone, PartialEq)]
pub struct Seen<'a> {
    /// The fish.
    pub fish: String,
    /// Its brood, where known.
    pub brood: Option<String>,
    /// The photo.
    pub photo: String,
    /// Its number there.
    pub n: u32,
    /// From where.
    pub view: View,
    /// The photo's conditions.
    pub conditions: &'a Conditions,
}

/// The reading of one part; `None` where the part cannot be read.
pub fn reading(seen: Seen<'_>, features: &Features, part: Part) -> Option<Reading> {
    let colour = part.of(features)?;
    let calibration = seen.conditions.calibration_of(seen.n);
    // The features' errors hold the calibration's; what is left is the fish's and the place's own.
    let own = |all: f64, common: f64| (all * all - common * common).max(0.0).sqrt();
    Some(Reading {
        fish: seen.fish,
        brood: seen.brood,
        photo: seen.photo,
        n: seen.n,
        lab: [colour.lightness, colour.a, colour.b],
        own: [
            own(colour.lightness_se, calibration[0]),
            own(colour.a_se, calibration[1]),
            own(colour.b_se, calibration[2]),
        ],
        calibration,
        floor: seen.conditions.floor.clone(),
        view: seen.view,
        card: seen.conditions.card.clone(),
        sheet: seen.conditions.sheet.clone(),
        set_up: set_up(seen.conditions, part, seen.view),
    })
}

/// The set-up that a reading's repeats belong to: fins and flanks repeat worse than a trunk from above, of which a set-up's name says
/// nothing more.
fn set_up(conditions: &Conditions, part: Part, view: View) -> String {
    let camera_card_tray = conditions.set_up();
    match (part, view) {
        (Part::Trunk, View::Above) => camera_card_tray,
        (part, View::Above) => format!("{camera_card_tray}, {} from above", part.word()),
        (part, View::Side) => format!("{camera_card_tray}, {} from the side", part.word()),
    }
}

/// The feature that a person names: as sheets do (`ground.lightness`, `red_share.fish`, `net`), or short, the trunk's
/// (`lightness`, `red_share`).
///
/// # Errors
/// No feature of this name.
pub fn feature_named(name: &str) -> Result<Feature> {
    let readings = [name.to_owned(), format!("trunk.{name}"), format!("{name}.trunk")];
    readings.iter().find_map(|text| text.parse().ok()).ok_or_else(|| {
        let hint = "features are named as in `measure --json`: lightness, chroma, red_share, ground.lightness, net";
        Error::usage("--feature", format!("there is no feature '{name}'"), hint)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::features::Shares;

    fn colour(l: f64) -> PartColour {
        PartColour {
            lightness: l,
            a: 0.0,
            b: 10.0,
            chroma: 10.0,
            hue: 90.0,
            saturation: 14.0,
            lightness_se: 0.5,
            a_se: 0.5,
            b_se: 0.5,
            chroma_se: 0.5,
            hue_se: 2.0,
        }
    }

    #[test]
    fn features_go_by_their_names() {
        let red_share = Shares { trunk: Some(0.3), fish: Some(0.4), finnage: None };
        let features = Features { trunk: Some(colour(70.0)), red_share, net: Some(0.1), ..Features::default() };
        let of = |name| feature_named(name).unwrap().read(&features).map(|e| e.value);
        assert_eq!(of("lightness"), Some(70.0));
        assert_eq!((of("red_share"), of("red_share.fish"), of("red_share.finnage")), (Some(0.3), Some(0.4), None));
        assert_eq!((of("net"), of("ground.lightness"), of("glare_share")), (Some(0.1), None, None));
        for wrong in ["lightnes", "trunk", "trunk.lightnes", "ground.x", "a.b.c"] {
            assert!(feature_named(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn fins_and_flanks_have_repeats_of_their_own() {
        let conditions = Conditions::default();
        let named = |part, view| set_up(&conditions, part, view);
        assert_eq!(named(Part::Trunk, View::Above), conditions.set_up());
        let others = [(Part::Finnage, View::Above), (Part::Trunk, View::Side), (Part::Finnage, View::Side)];
        let names: std::collections::BTreeSet<String> = others.into_iter().map(|(p, v)| named(p, v)).collect();
        assert!(names.len() == 3 && !names.contains(&conditions.set_up()), "{names:?}");
    }

    #[test]
    fn the_calibrations_share_is_taken_off_the_error() {
        let conditions = Conditions { calibration_se: vec![(1, [0.3, 0.3, 0.3])], ..Conditions::default() };
        let features = Features { trunk: Some(colour(70.0)), ..Features::default() };
        let seen =
            Seen { fish: "a".into(), brood: None, photo: "p".into(), n: 1, view: View::Above, conditions: &conditions };
        let found = reading(seen.clone(), &features, Part::Trunk).unwrap();
        assert!((found.own[0] - 0.4).abs() < 1e-12);
        assert!(reading(seen, &features, Part::Ground).is_none());
    }
}
