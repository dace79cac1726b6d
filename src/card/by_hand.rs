//! A card whose corners a person pointed out.

use super::candidate::grid_card;
use super::order::{Chart, Colours};
use super::place::inner_mean;
use super::{FindOptions, Search};
use crate::geometry::{Homography, Point, Quad};
use crate::photo::Photo;

/// Distance from the outer patches' centres to the chart's outer edge, in units of the pitch: along its long sides and
/// along its short ones. Measured on the full-size charts of the open photographs.
pub(super) const EDGE: (f64, f64) = (0.62, 0.62);

/// The card between the four corners of its outer edge, given in the order of the card as printed.
pub(super) fn search(photo: &Photo, corners: &Quad, options: &FindOptions) -> Search {
    let edge: Quad = [(0.0, 0.0), (5.0, 0.0), (5.0, 3.0), (0.0, 3.0)].map(|(x, y)| {
        let out = |v: f64, n: f64, e: f64| if v > 0.0 { n + e } else { -e };
        Point::new(out(x, 5.0, EDGE.0), out(y, 3.0, EDGE.1))
    });
    let Some(to_px) = Homography::from_quads(&edge, corners) else {
        return Search {
            card: None,
            others: Vec::new(),
            reason:
                "the corners given with --card-corners lie in line; give the four corners of the card's outer edge, \
                     beginning at the brown patch and going round by the bluish green one"
                    .into(),
        };
    };
    let image = photo.reduced_encoded(1);
    let colours: Colours = super::candidate::places()
        .map(|p| inner_mean(&image, &to_px, p))
        .collect::<Vec<_>>()
        .try_into()
        .unwrap_or([None; super::order::PATCHES]);
    let odd = Chart::new().explain(&colours, true).map_or([false; super::order::PATCHES], |m| m.odd);
    let mut card = grid_card(photo, to_px, &odd, options);
    card.corners = *corners;
    Search { card: Some(card), others: Vec::new(), reason: String::new() }
}
