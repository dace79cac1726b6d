//! What holds for whoever photographs live fish beside lamps and water, worded once for the command line and every page.

/// A fish's time in the tray.
pub const TRAY: &str = "Photograph fish in water, for a few minutes only: a shallow tray warms and fouls quickly. Put them back at once \
     when one gasps, clamps its fins or rolls over.";

/// Lamps and leads.
pub const ELECTRICITY: &str =
    "Keep mains lamps and leads where they cannot fall or drip into the water, and touch them with dry hands only.";

/// What the program says nothing about.
pub const VET: &str = "Illness, sedation and killing are matters for a fish vet and the local rules: no advice of that kind is given here.";
