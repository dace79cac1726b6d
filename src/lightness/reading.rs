//! One fish in one photo, as the lightness questions see it.

use crate::units::View;

/// What is compared. `Chroma` is derived from a* and b*.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Channel {
    /// L*, 0…100.
    Lightness,
    /// a*, red above 0.
    A,
    /// b*, yellow above 0.
    B,
    /// Chroma C*ab.
    Chroma,
}

impl Channel {
    /// All four, in the order of arrays over channels.
    pub const ALL: [Self; 4] = [Self::Lightness, Self::A, Self::B, Self::Chroma];
}

/// The colour of one part of one fish in one photo, with its error split into what this fish and place have of their own
/// and what every fish of the photo shares.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// The fish.
    pub fish: String,
    /// Its brood, where known.
    pub brood: Option<String>,
    /// The photo, by name or hash.
    pub photo: String,
    /// Its number there.
    pub n: u32,
    /// L*, a*, b* (D50, 2° observer).
    pub lab: [f64; 3],
    /// Standard errors from the pixels and the lighting field.
    pub own: [f64; 3],
    /// Standard errors from the photo's calibration.
    pub calibration: [f64; 3],
    /// The floor or backdrop colour in a word; `None` when not known.
    pub floor: Option<String>,
    /// From where it was seen.
    pub view: View,
    /// Which card calibrated the photo; `None` without a usable card.
    pub card: Option<String>,
    /// The sheet whose limits it was read with, by its hash; `None` for photos measured for the comparison itself.
    pub sheet: Option<String>,
    /// The set-up: camera, card and tray.
    pub set_up: String,
}

#[cfg(test)]
impl Reading {
    /// One from above over an unknown floor, for tests, in error by 1 from its photo's calibration.
    pub(super) fn drawn(fish: &str, photo: &str, lab: [f64; 3], own: f64) -> Self {
        Self {
            fish: fish.into(),
            brood: None,
            photo: photo.into(),
            n: 1,
            lab,
            own: [own; 3],
            calibration: [1.0; 3],
            floor: None,
            view: View::Above,
            card: Some("chart-24".into()),
            sheet: None,
            set_up: "phone".into(),
        }
    }
}

impl Reading {
    /// Value of a channel.
    pub fn value(&self, channel: Channel) -> f64 {
        let [l, a, b] = self.lab;
        match channel {
            Channel::Lightness => l,
            Channel::A => a,
            Channel::B => b,
            Channel::Chroma => a.hypot(b),
        }
    }

    /// Own variance of a channel.
    pub fn own_variance(&self, channel: Channel) -> f64 {
        self.squared(self.own, channel)
    }

    /// Variance of a channel that all fish of the photo share.
    pub fn calibration_variance(&self, channel: Channel) -> f64 {
        self.squared(self.calibration, channel)
    }

    fn squared(&self, se: [f64; 3], channel: Channel) -> f64 {
        let [_, a, b] = self.lab;
        match channel {
            Channel::Lightness => se[0] * se[0],
            Channel::A => se[1] * se[1],
            Channel::B => se[2] * se[2],
            // Propagated; near grey, where that breaks down, the larger of the two.
            Channel::Chroma if a.hypot(b) > se[1].max(se[2]) => {
                ((a * se[1]).powi(2) + (b * se[2]).powi(2)) / (a * a + b * b)
            }
            Channel::Chroma => se[1].max(se[2]).powi(2),
        }
    }
}
