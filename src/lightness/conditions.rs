//! Under what conditions a photo was taken: what a comparison has to know beside the fish.

use serde::{Deserialize, Serialize};

/// What a photo's report keeps for comparisons.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default)]
pub struct Conditions {
    /// The camera's model, where the file names it.
    pub camera: Option<String>,
    /// The card: layout and edition; `None` without a usable one.
    pub card: Option<String>,
    /// Colour of the floor or backdrop in a word.
    pub floor: Option<String>,
    /// L*, a*, b* of the floor in the middle of the tray.
    pub floor_lab: Option<[f64; 3]>,
    /// Standard errors of L*, a*, b* from the calibration at each fish's trunk colour, by the fish's number.
    pub calibration_se: Vec<(u32, [f64; 3])>,
    /// L*, a*, b* of the card's patches as the file's profile alone reads them, in the layout's order: what the set-up
    /// does before any calibration.
    pub patches_as_read: Vec<[f64; 3]>,
    /// The sheet whose limits the features were read with, by its hash; `None` for photos measured for the comparison
    /// itself, which share one.
    #[serde(skip)]
    pub sheet: Option<String>,
    /// L*, a*, b* of the card's patches, each by a calibration that had not seen it, with its place on the card: how the
    /// set-up reads a colour it does not know.
    pub patches_unseen: Vec<(usize, [f64; 3])>,
}

impl Conditions {
    /// The set-up's name: camera, card and tray, the tray by its colour.
    pub fn set_up(&self) -> String {
        let unknown = |what: &Option<String>, of: &str| what.clone().unwrap_or_else(|| format!("no {of} named"));
        let tray = self.floor.as_ref().map_or("no plain tray".to_owned(), |floor| format!("{floor} tray"));
        format!("{}, {}, {tray}", unknown(&self.camera, "camera"), unknown(&self.card, "card"))
    }

    /// Calibration error of a fish; 10 L* and 8 in a* and b* when unknown, about that of a photo without a card.
    pub fn calibration_of(&self, n: u32) -> [f64; 3] {
        self.calibration_se.iter().find(|(fish, _)| *fish == n).map_or([10.0, 8.0, 8.0], |(_, se)| *se)
    }
}

/// A floor's colour in a word. Limits are starting values: the common trays are white, grey, blue and black.
pub fn floor_word([l, a, b]: [f64; 3]) -> &'static str {
    let chroma = a.hypot(b);
    match (l, chroma) {
        (_, c) if c >= 20.0 && b < -0.5 * a.abs() => "blue",
        (_, c) if c >= 20.0 => "coloured",
        (l, _) if l >= 75.0 => "white",
        (l, _) if l <= 35.0 => "black",
        _ => "grey",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_common_trays_have_their_words() {
        let words = [[92.0, 0.0, 2.0], [55.0, 1.0, 1.0], [40.0, -2.0, -35.0], [15.0, 0.0, 0.0], [50.0, 30.0, 20.0]];
        assert_eq!(words.map(floor_word), ["white", "grey", "blue", "black", "coloured"]);
    }

    #[test]
    fn a_fish_without_a_known_error_counts_as_uncalibrated() {
        let conditions = Conditions { calibration_se: vec![(3, [0.5, 0.4, 0.6])], ..Conditions::default() };
        assert!((conditions.calibration_of(3)[2] - 0.6).abs() < 1e-12);
        assert!((conditions.calibration_of(4)[0] - 10.0).abs() < 1e-12);
        assert_eq!(conditions.set_up(), "no camera named, no card named, no plain tray");
        let tray = Conditions { floor: Some("grey".into()), ..Conditions::default() };
        assert_ne!(tray.set_up(), conditions.set_up());
    }
}
