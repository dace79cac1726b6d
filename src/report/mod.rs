//! One self-contained page that tells a line's story, and the plots and numbers behind it, from plain values.
//!
//! The page needs no script and no network, reads in black and white, and prints on A4. It never reads the book.

mod base64;
mod chart;
mod lightness;
mod page;
mod pedigree;
mod plot;
mod shares;
mod story;

pub use page::page;
pub use plot::Plot;
pub use story::{Crop, CrossBox, FishBox, Inheritance, ModeLine, NextCross, Story, TrendStory};

/// Every plot of the story, in the order of the page.
pub fn plots(story: &Story) -> Vec<Plot> {
    let mut all = Vec::new();
    all.extend(pedigree::family(story));
    all.extend(story.counts.iter().filter_map(shares::shares));
    all.extend(story.trends.iter().filter_map(lightness::generations));
    all.extend(story.control.as_ref().map(|(control, points)| chart::control(control, points)));
    all
}
