//! A card whose corners a person pointed out.

use super::candidate::card;
use super::order::Pattern;
use super::place::inner_mean;
use super::{Design, FindOptions, Search};
use crate::geometry::{Homography, Quad};
use crate::photo::Photo;

/// The card between the four corners of its outer edge, given in the order of the card as printed.
pub(super) fn search(photo: &Photo, corners: &Quad, options: &FindOptions) -> Search {
    let design = options.design.clone().unwrap_or_else(Design::chart);
    let Some(to_px) = Homography::from_quads(&design.around(design.edge), corners) else {
        let reason = "the corners given with --card-corners lie in line; give the four corners of the card's outer edge, \
                      beginning at the first patch (the chart's brown one) and going along its row";
        return Search { card: None, others: Vec::new(), reason: reason.into() };
    };
    let image = photo.reduced_encoded(1);
    let colours: Vec<_> = design.places().map(|p| inner_mean(&image, &to_px, p)).collect();
    let matched = Pattern::new(design.clone()).explain(&colours, true);
    let odd = matched.map_or_else(|| vec![false; design.count()], |m| m.odd);
    let mut card = card(photo, to_px, &design, &odd, options);
    card.corners = *corners;
    Search { card: Some(card), others: Vec::new(), reason: String::new() }
}
