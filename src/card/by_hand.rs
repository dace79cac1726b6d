//! A card whose corners a person pointed out.

use super::candidate::{LEAST_PITCH, MARKED, card};
use super::order::Pattern;
use super::place::inner_mean;
use super::{Design, FindOptions, Search, tray};
use crate::error::{Error, Result};
use crate::geometry::{Homography, Point, Quad, is_convex};
use crate::photo::Photo;

/// Shortest side of a card pointed out by hand, in pixels (starting value): with less the chart's patches are ten pixels apart and
/// say nothing. A described card of a single row may be as short as its patches need.
const LEAST_SIDE: f64 = 2.5 * LEAST_PITCH;

/// How far outside the picture a corner may lie, in longest sides of the card: a card that the frame cuts still shows a half.
const MOST_OUTSIDE: f64 = 0.5;

/// Least sine of the angle by which the edge turns at a corner (starting value): six degrees, far flatter than a card that can be read.
const LEAST_TURN: f64 = 0.1;

/// Looks whether corners pointed out by hand can be those of a card in this photo.
///
/// # Errors
/// Corners that cross or lie in line, too close together, or too far outside the picture.
pub fn check(photo: &Photo, corners: &Quad, design: Option<&Design>) -> Result<()> {
    let wrong = |what: String, hint: &str| Err(Error::failed(&photo.name, what, hint));
    let outside = |p: &Point| {
        let beyond = |v: f64, limit: u32| (-v).max(v - f64::from(limit));
        beyond(p.x, photo.width).max(beyond(p.y, photo.height))
    };
    let sides: [f64; 4] = std::array::from_fn(|i| corners[i].distance(corners[(i + 1) % 4]));
    let longest = sides.into_iter().fold(0.0, f64::max);
    if let Some(p) = corners.iter().find(|p| !longest.is_finite() || outside(p) > MOST_OUTSIDE * longest) {
        let what = format!(
            "the card's corner {:.0},{:.0} lies more than half a card outside the picture of {} × {} pixels",
            p.x, p.y, photo.width, photo.height
        );
        return wrong(what, "give corners in pixels of the upright picture, counted from its top left");
    }
    let least = design.map_or(LEAST_SIDE, |d| (LEAST_PITCH * d.shorter_side()).min(LEAST_SIDE));
    let shortest = sides.into_iter().fold(f64::MAX, f64::min);
    if shortest < least {
        let what =
            format!("two of the card's corners are only {shortest:.0} pixels apart, at least {least:.0} are needed");
        return wrong(what, "give the four corners of the card's outer edge, or go closer");
    }
    if !is_convex(corners, LEAST_TURN) {
        return wrong(
            "the card's corners cross, or three of them lie in line".to_owned(),
            "give them around the card as printed: top left, top right, bottom right, bottom left",
        );
    }
    Ok(())
}

/// The card between the four corners of its outer edge, given in the order of the card as printed. Without a design it is the
/// tray card where its marks are seen, else the chart.
pub(super) fn search(photo: &Photo, corners: &Quad, options: &FindOptions) -> Search {
    let image = photo.reduced_encoded(1);
    let laid = |design: &Design| Homography::from_quads(&design.around(design.edge), corners);
    let design = options.design.clone().unwrap_or_else(|| {
        let tray = Design::tray();
        let marked = laid(&tray).and_then(|to_px| tray::marks(&image, &to_px)).is_some_and(|seen| seen >= MARKED.0);
        if marked { tray } else { Design::chart() }
    });
    let Some(to_px) = laid(&design) else {
        let reason = "the corners given with --card-corners lie in line; give the four corners of the card's outer edge, \
                      beginning at the first patch (the chart's brown one) and going along its row";
        return Search { card: None, others: Vec::new(), reason: reason.into() };
    };
    let colours: Vec<_> = design.places().map(|p| inner_mean(&image, &to_px, p)).collect();
    let matched = Pattern::new(design.clone()).explain(&colours, true);
    let odd = matched.map_or_else(|| vec![false; design.count()], |m| m.odd);
    let mut card = card(photo, to_px, &design, &odd, options);
    card.corners = *corners;
    Search { card: Some(card), others: Vec::new(), reason: String::new() }
}
