//! Where fish may lie, told at a glance by a much smaller network on a coarser picture, so that the larger one need not look everywhere.
#![expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "small counts of pixels")]

use std::ops::Range;
use std::sync::LazyLock;

use rayon::prelude::*;

use crate::fish::evidence::Kind;
use crate::fish::grid::Grid;
use crate::fish::seek::Survey;

use super::Rectangle;
use super::convolve::Shape;
use super::layers::Layers;
use super::look::picture;
use super::net::INPUTS;
use super::planes::{Planes, Spare};

/// Places a millimetre at which it looks.
const COARSE: f64 = 2.0;
/// Side of the cells of which it speaks, millimetres: four of its places.
const CELL: f64 = 2.0;
/// Cells a side of the squares in which the tray is looked at: as long as a grown fish.
const SQUARE: usize = 18;
/// Cells about a square that are seen as well, hardly less far than the layers reach.
const MARGIN: usize = 3;
/// How sure it must be that a cell holds fish (logit; starting value: of drawn trays that it was not taught on it sees 99.8 % of the
/// cells with fish then, and 1.3 % of the others).
const LIKELY: f32 = -4.0;
/// Fewest cells of a fry that touch each other (starting value).
const FEWEST: usize = 3;

/// Channels at a half and a quarter of the input's resolution.
const A: usize = 8;
/// See [`A`].
const B: usize = 16;
/// The layers in the order in which their weights are kept.
const SHAPES: [Shape; 6] = [(3, 2, INPUTS, A), (3, 1, A, A), (3, 2, A, B), (3, 1, B, B), (3, 1, B, B), (1, 1, B, 1)];
/// Weights and biases as `training/glimpse.py` writes them, see [`Layers::read`].
const WEIGHTS: &[u8] = include_bytes!("glimpse.bin");

/// The network, once it is needed.
static NET: LazyLock<Layers> = LazyLock::new(|| Layers::read(&SHAPES, WEIGHTS));

/// Of each cell of a picture, how sure it is that it holds fish (logit).
fn pass(picture: &Planes, spare: &mut Spare) -> Planes {
    NET.in_turn((0, 1..SHAPES.len()), picture, spare)
}

/// Rectangles that may hold fish in `free` pixels, if only the eye of a fry shows. `per_mm` is the survey's pixels a millimetre.
pub(in crate::fish) fn likely(survey: &Survey, free: &[bool], per_mm: f64) -> Vec<Rectangle> {
    let (width, height) = (survey.block.width, survey.block.height);
    let side = CELL * per_mm;
    let cells = |pixels: usize| (pixels as f64 / side).ceil() as usize;
    let (across, down) = (cells(width), cells(height));
    let corners = (0..down).step_by(SQUARE).flat_map(|y| (0..across).step_by(SQUARE).map(move |x| (x, y)));
    let squares: Vec<_> = corners.map(|(x, y)| ((x, y), ((x + SQUARE).min(across), (y + SQUARE).min(down)))).collect();
    let tray = Cells { survey, side, free };
    let seen = squares.into_par_iter().filter(|&square| tray.holds_something(square));
    let seen = seen.map_init(Spare::default, |spare, square| tray.likely_in(square, spare));
    let mut likely = Grid::empty(across, down);
    seen.collect::<Vec<_>>().into_iter().flatten().for_each(|(x, y)| likely.on[y * across + x] = true);
    let pieces = likely.pieces().into_iter().filter(|piece| piece.len() >= FEWEST);
    pieces.map(|piece| tray.pixels(about(&piece, across))).collect()
}

/// The rectangle about a piece of a grid so many cells across, with a cell to spare for fins that are hardly seen.
fn about(piece: &[usize], across: usize) -> Rectangle {
    let cells = piece.iter().map(|k| (k % across, k / across));
    let none = ((usize::MAX, usize::MAX), (0, 0));
    cells.fold(none, |(low, high), (x, y)| {
        let before = (x.saturating_sub(1), y.saturating_sub(1));
        ((low.0.min(before.0), low.1.min(before.1)), (high.0.max(x + 2), high.1.max(y + 2)))
    })
}

/// A tray in cells.
struct Cells<'a> {
    survey: &'a Survey,
    /// Pixels of the survey a cell.
    side: f64,
    /// Pixels in which fish are sought.
    free: &'a [bool],
}

impl Cells<'_> {
    /// The pixels of a rectangle of cells.
    fn pixels(&self, (low, high): Rectangle) -> Rectangle {
        let place = |n: usize, limit: usize| ((n as f64 * self.side).round() as usize).min(limit);
        let corner = |(x, y)| (place(x, self.survey.block.width), place(y, self.survey.block.height));
        (corner(low), corner(high))
    }

    /// Whether any pixel in a rectangle of cells is part of a thing.
    fn holds_something(&self, square: Rectangle) -> bool {
        let ((x0, y0), (x1, y1)) = self.pixels(square);
        let width = self.survey.block.width;
        let mut rows = (y0..y1).map(|y| y * width + x0..y * width + x1);
        let pixels = |row: Range<usize>| self.survey.kinds[row.clone()].iter().zip(&self.free[row]);
        rows.any(|row| pixels(row).any(|(kind, free)| *free && *kind == Kind::Thing))
    }

    /// The cells of a rectangle that may hold fish and whose middles are free.
    fn likely_in(&self, square: Rectangle, spare: &mut Spare) -> Vec<(usize, usize)> {
        let ((x0, y0), (x1, y1)) = square;
        let block = &self.survey.block;
        let first = (x0.saturating_sub(MARGIN), y0.saturating_sub(MARGIN));
        let (from, past) = self.pixels((first, (x1 + MARGIN, y1 + MARGIN)));
        let part = block.part((from.0 as u32, from.1 as u32), past);
        let said = pass(&picture(&part, self.side / (CELL * COARSE)), spare);
        let middle = |n: usize, limit: usize| (((n as f64 + 0.5) * self.side) as usize).min(limit - 1);
        let is_free = |(x, y)| self.free[middle(y, block.height) * block.width + middle(x, block.width)];
        let is_likely = |(x, y)| {
            let (x, y) = (x - first.0, y - first.1);
            x < said.width && y < said.height && said.at(x, y)[0] > LIKELY
        };
        let cells = (y0..y1).flat_map(|y| (x0..x1).map(move |x| (x, y)));
        cells.filter(|&cell| is_free(cell) && is_likely(cell)).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::super::reference::{assert_says, assert_whole, drawn};
    use super::*;
    use crate::fish::differ::Difference;
    use crate::fish::drawn::in_fish;
    use crate::geometry::Point;

    const SIZE: (usize, usize) = (500, 400);

    /// A tray at five pixels a millimetre whose floor has a grain of one unit, with these fish in it, `lighter` than the floor, of which
    /// only a little is told from it.
    fn tray(fish: &[(f64, f64, f64)], lighter: f32) -> Survey {
        let mut survey = Survey::bare(SIZE.0, SIZE.1);
        for k in 0..SIZE.0 * SIZE.1 {
            let grain = (k as f32 * 12.9898).sin();
            let at = survey.place(k);
            let body = if in_fish(fish, at) { lighter } else { 0.0 };
            survey.block.pixels[k] = Difference { lightness: grain + body, ..Difference::default() };
            if (k % SIZE.0).is_multiple_of(40) && (k / SIZE.0).is_multiple_of(40) {
                survey.kinds[k] = Kind::Thing;
            }
        }
        survey
    }

    #[test]
    fn a_fish_is_glimpsed_and_a_bare_floor_is_none() {
        let free = vec![true; SIZE.0 * SIZE.1];
        assert_eq!(likely(&tray(&[], 0.0), &free, 5.0), []);
        let [((x0, y0), (x1, y1))] = likely(&tray(&[(200.0, 210.0, 0.0)], -8.0), &free, 5.0)[..] else { panic!() };
        assert!((x0..x1).contains(&230) && (y0..y1).contains(&210), "{x0},{y0} to {x1},{y1}");
        assert!(x1 - x0 < 160 && y1 - y0 < 110, "{x0},{y0} to {x1},{y1}");
    }

    #[test]
    fn what_is_known_already_does_not_count() {
        let survey = tray(&[(200.0, 210.0, 0.0)], -8.0);
        let known = |k: usize| survey.place(k).distance(Point::new(200.0, 210.0)) < 80.0;
        let free: Vec<bool> = (0..SIZE.0 * SIZE.1).map(|k| !known(k)).collect();
        assert_eq!(likely(&survey, &free, 5.0), []);
    }

    #[test]
    fn nothing_is_looked_at_where_nothing_shows() {
        let mut survey = tray(&[(200.0, 210.0, 0.0)], -8.0);
        survey.kinds.fill(Kind::Floor);
        assert_eq!(likely(&survey, &vec![true; SIZE.0 * SIZE.1], 5.0), []);
    }

    #[test]
    fn the_weights_are_all_there() {
        assert_whole(&SHAPES, WEIGHTS);
    }

    /// PyTorch 2, `python training/glimpse.py --check`.
    #[test]
    fn a_pass_is_the_one_of_a_reference_library() {
        let said = pass(&drawn(), &mut Spare::default());
        assert_eq!((said.width, said.height), (6, 4));
        assert_says(&said, include_str!("../../../tests/fixtures/heads/glimpsed.txt"));
    }
}
