//! What a thing is by its size and shape alone: plainly one fish, or no fish however it is taken apart.

use super::group::{MOST, PIECE};
use super::seek::{Blob, Survey, stronger};
use super::shape::Usual;

/// Squared length over area from which a blob is rim or water line, not fish in a row.
const ENDLESS: f64 = 45.0;

/// Whether a blob by itself is so much like a fish that nothing needs telling apart.
pub(super) fn is_plain(blob: &Blob, usual: Option<Usual>) -> bool {
    let Some(whole) = blob.shape() else { return true };
    let (shaped, times) = (whole.fishness(None), usual.map_or(1.0, |u| whole.area / u.area));
    let slender = usual.map_or(1.0, |u| whole.slenderness / u.slenderness);
    times > 0.6 && times < 3.5 && shaped >= 0.95 && (0.9..1.6).contains(&slender)
}

/// Radius of the largest disc in a thing, in mean widths of a usual fish, from which it is a hand or some such: reaching in from
/// the edge, or lying anywhere (starting values: a fish twice as long has 1.5, two side by side 1.6).
const THICK: (f64, f64) = (1.35, 2.5);

/// Length of a cut by the picture's edge, in mean widths of a usual fish, from which what is cut is a hand or some such (starting
/// value: a fish twice as long cut aslant).
const CUT: f64 = 3.0;

/// Whether a blob is so thick that it is a hand, a net or some such.
pub(super) fn is_thick(blob: &Blob, usual: Usual) -> bool {
    if blob.cut as f64 > CUT * usual.breadth() {
        return true;
    }
    let most = usual.breadth() * if blob.at_edge { THICK.0 } else { THICK.1 };
    blob.grid.count() as f64 > 3.0 * most * most && blob.grid.thickness() > most
}

/// Whether a blob is no fish however it is taken apart.
pub(super) fn is_endless(blob: &Blob, usual: Option<Usual>) -> bool {
    let Some(whole) = blob.shape() else { return false };
    let times = usual.map_or(1.0, |u| whole.area / u.area);
    whole.slenderness > ENDLESS || times > 2.0 * MOST as f64 || blob.at_edge && times > 2.2
}

/// A blob, or, where it can be no fish, the fish that stay of it when what is faint is left out: noise, shine or a water line tied
/// them together.
pub(super) fn narrowed(survey: &Survey, blob: Blob, usual: Option<Usual>, least: usize) -> Vec<Blob> {
    let Some(u) = usual else { return vec![blob] };
    let hopeless = |b: &Blob| is_thick(b, u) || is_endless(b, usual);
    // What reaches in over the edge is a net or a hand: its strong parts would pass for fish.
    if blob.at_edge || !hopeless(&blob) {
        return vec![blob];
    }
    for times in [2.0, 4.0, 8.0] {
        let parts = stronger(survey, &blob, times, least);
        if parts.iter().any(|b| !hopeless(b) && b.grid.count() as f64 > PIECE * u.area) {
            return parts;
        }
    }
    vec![blob]
}
