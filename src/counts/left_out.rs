//! Fish that are in no class, and why.

use serde::Serialize;

use super::Open;

/// Why a fish is in no class.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Why {
    /// Scored before the age at which this axis is final.
    Unsettled,
    /// The axis does not show in this sex.
    NotShown,
    /// The axis shows only in males or from an age on, and this fish may still show it.
    NotShownYet,
    /// Neither rules nor person could tell.
    Undecided,
    /// Its photo was measured with a sheet that lacks the axis, and nobody said a class.
    NotAsked,
    /// Proposed, but nobody confirmed it.
    Unconfirmed,
    /// Set aside with a reason.
    SetAside,
    /// It cannot be said whose young these are.
    DoubtfulPaternity,
    /// Moved out unscored.
    Moved,
    /// Died unscored.
    Died,
    /// Dropped, but in no sitting and not recorded as moved or died.
    NotSeen,
}

impl Why {
    /// The reason in words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Unsettled => "too young",
            Self::NotShown => "not shown by this sex",
            Self::NotShownYet => "not shown yet",
            Self::Undecided => "undecided",
            Self::NotAsked => "measured with a sheet without this axis",
            Self::Unconfirmed => "not scored",
            Self::SetAside => "set aside",
            Self::DoubtfulPaternity => "of doubtful paternity",
            Self::Moved => "moved",
            Self::Died => "died",
            Self::NotSeen => "not seen",
        }
    }

    /// Whether the fish has a class that is only not known, so that it widens the bounds of the shares beside it.
    pub(super) const fn still_open(self) -> bool {
        !matches!(self, Self::NotShown | Self::SetAside | Self::DoubtfulPaternity)
    }
}

/// Fish in no class, by reason.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
pub struct Excluded {
    /// Too young for a final score.
    pub unsettled: u32,
    /// Of a sex or age that does not show the axis.
    pub not_shown: u32,
    /// Could not be told.
    pub undecided: u32,
    /// Set aside.
    pub set_aside: u32,
    /// Of unknown parents.
    pub doubtful_paternity: u32,
    /// Moved out.
    pub moved: u32,
    /// Died.
    pub died: u32,
    /// Proposed only.
    pub unconfirmed: u32,
    /// Dropped but never seen again.
    pub not_seen: u32,
    /// Measured with a sheet that lacks the axis.
    pub not_asked: u32,
}

impl Excluded {
    /// Adds fish that are in no class.
    pub(super) fn add(&mut self, open: &Open) {
        let slot = match open.why {
            Why::Unsettled => &mut self.unsettled,
            Why::NotShown | Why::NotShownYet => &mut self.not_shown,
            Why::Undecided => &mut self.undecided,
            Why::NotAsked => &mut self.not_asked,
            Why::Unconfirmed => &mut self.unconfirmed,
            Why::SetAside => &mut self.set_aside,
            Why::DoubtfulPaternity => &mut self.doubtful_paternity,
            Why::Moved => &mut self.moved,
            Why::Died => &mut self.died,
            Why::NotSeen => &mut self.not_seen,
        };
        *slot += open.number;
    }

    /// Each reason in words with its number, those that occur.
    pub fn words(&self) -> Vec<(&'static str, u32)> {
        let all = [
            ("unsettled (too young)", self.unsettled),
            ("not shown by this sex or age", self.not_shown),
            ("undecided", self.undecided),
            ("measured with a sheet without this axis", self.not_asked),
            ("unconfirmed", self.unconfirmed),
            ("set aside", self.set_aside),
            ("doubtful paternity", self.doubtful_paternity),
            ("moved", self.moved),
            ("died", self.died),
            ("dropped but not seen", self.not_seen),
        ];
        all.into_iter().filter(|(_, n)| *n > 0).collect()
    }
}
