//! The search itself: from coarse to fine, spots → lattices → grids, and the best that a card's design explains.

use rayon::prelude::*;

use super::blobs::blobs;
use super::candidate::{Candidate, Finding, LEAST_SPOTS};
use super::lattice::{Lattice, lattices};
use super::order::Pattern;
use super::place::{Placement, placements};
use super::{Card, Design, FindOptions, Search};
use crate::photo::{EncodedImage, Photo};

/// Longest side of the coarsest picture searched: a chart a tenth of the picture wide has patches of 7 pixels there.
const COARSE: u32 = 500;

/// Unexplained share above which a grid is looked at more thoroughly.
const DOUBTFUL: f64 = 0.1;

/// Looks for a card in a photo, or takes the one whose corners are given.
pub fn find(photo: &Photo, options: &FindOptions) -> Search {
    if let Some(corners) = &options.corners {
        return super::by_hand::search(photo, corners, options);
    }
    let designs = options.design.clone().map_or_else(|| vec![Design::chart(), Design::tray()], |d| vec![d]);
    let patterns: Vec<Pattern> = designs.into_iter().map(Pattern::new).collect();
    let mut hunt = Hunt::default();
    let coarse: Vec<Hunt<'_>> = coarse_levels(photo).par_iter().map(|image| Hunt::level(image, &patterns)).collect();
    coarse.into_iter().for_each(|level| hunt.add(level));
    // Twice as coarse for pictures full of noise, then finer for small cards.
    let coarse = coarse_factor(photo);
    let rest = [2 * coarse, coarse / 4, coarse / 8, coarse / 16];
    for factor in rest.into_iter().filter(|f| *f >= 1) {
        if hunt.found.is_empty() {
            hunt.add(Hunt::level(&photo.reduced_encoded(factor), &patterns));
        }
    }
    hunt.search(photo, options)
}

/// The power of two that brings the picture's long side to [`COARSE`] pixels or a little more.
fn coarse_factor(photo: &Photo) -> u32 {
    let fold = photo.width.max(photo.height) / COARSE;
    if fold < 2 { 1 } else { 1 << fold.ilog2() }
}

/// The two coarsest levels; they are always searched, so that a second, smaller card does not go unnoticed.
fn coarse_levels(photo: &Photo) -> Vec<EncodedImage> {
    let factor = coarse_factor(photo);
    if factor == 1 {
        return vec![photo.reduced_encoded(1)];
    }
    let fine = photo.reduced_encoded(factor / 2);
    vec![fine.halved(), fine]
}

/// What one level, or all that were searched so far, have shown.
#[derive(Debug, Default)]
struct Hunt<'a> {
    /// Cards, best first.
    found: Vec<Candidate<'a>>,
    refused: Vec<(Candidate<'a>, String)>,
    spots: usize,
    lattices: usize,
}

impl<'a> Hunt<'a> {
    fn level(image: &EncodedImage, patterns: &'a [Pattern]) -> Self {
        let spots = blobs(image);
        let grids = lattices(&spots);
        let pairs: Vec<_> = grids.iter().flat_map(|grid| patterns.iter().map(move |pattern| (grid, pattern))).collect();
        let judged = |(grid, pattern): &(&Lattice, &'a Pattern)| {
            let candidate = |placement| Candidate::new(placement, image, pattern);
            let judged = |c: Candidate<'a>| (c.judge(), c);
            likely(image, grid, pattern).into_iter().map(candidate).map(judged).collect::<Vec<_>>()
        };
        let judged: Vec<Vec<_>> = pairs.par_iter().map(judged).collect();
        let mut level = Self { spots: spots.len(), lattices: grids.len(), ..Self::default() };
        for (finding, candidate) in judged.into_iter().flatten() {
            match finding {
                Finding::Card => level.found.push(candidate),
                Finding::Refused(why) => level.refused.push((candidate, why)),
                Finding::Nothing => {}
            }
        }
        level
    }

    fn add(&mut self, level: Self) {
        self.found.extend(level.found);
        self.refused.extend(level.refused);
        self.spots = self.spots.max(level.spots);
        self.lattices += level.lattices;
        keep_distinct(&mut self.found);
    }

    fn search(self, photo: &Photo, options: &FindOptions) -> Search {
        let mut cards: Vec<Card> = self.found.par_iter().map(|c| c.card(photo, options)).collect();
        if cards.is_empty() {
            return Search { card: None, others: Vec::new(), reason: self.reason() };
        }
        // A card whose colours are known, before any that is only a card.
        cards.sort_by_key(|c| !c.has_known_colours());
        let others = cards.split_off(1);
        Search { card: cards.pop(), others, reason: String::new() }
    }

    fn reason(&self) -> String {
        let likeliest = self.refused.iter().min_by(|a, b| a.0.rank().total_cmp(&b.0.rank()));
        if let Some((_, why)) = likeliest {
            return why.clone();
        }
        let stage = if self.spots < 24 {
            "too few evenly coloured patches stand out: the photo may be blurred, too dark or without a card"
        } else if self.lattices == 0 {
            "evenly coloured patches were seen, but none stand in rows and columns"
        } else {
            "patches in rows and columns were seen, but their colours are not those of the card looked for"
        };
        format!(
            "{stage}; put the whole card in the picture, in focus, at least 110 pixels wide, or give its corners with --card-corners"
        )
    }
}

/// The position on a lattice that the design explains best, and the best upright one as if it were some other card.
fn likely(image: &EncodedImage, grid: &Lattice, pattern: &Pattern) -> Vec<Placement> {
    let best = |all: &[Placement]| all.iter().min_by(|a, b| a.rank().total_cmp(&b.rank())).cloned();
    let least = LEAST_SPOTS * pattern.design.count() as f64;
    let mut all = placements(image, grid, pattern, false);
    // Glare or a shadow may have spoilt the plain judgement of a good grid.
    if best(&all).is_some_and(|p| p.matched.unexplained > DOUBTFUL && p.spots as f64 >= least) {
        all = placements(image, grid, pattern, true);
    }
    let first = best(&all);
    let most = all.iter().map(|p| p.spots).max();
    all.retain(|p| !p.mirrored && Some(p.spots) == most);
    first.into_iter().chain(best(&all)).map(|p| p.refit(grid, &pattern.design)).collect()
}

/// Sorts best first and keeps the best of those that lie on each other.
fn keep_distinct(found: &mut Vec<Candidate<'_>>) {
    found.sort_by(|a, b| a.rank().total_cmp(&b.rank()));
    let mut kept: Vec<Candidate<'_>> = Vec::new();
    for candidate in found.drain(..) {
        if !kept.iter().any(|k| k.overlaps(&candidate)) {
            kept.push(candidate);
        }
    }
    *found = kept;
}
