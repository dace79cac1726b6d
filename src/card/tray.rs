//! Broodhue's own tray card: what is printed where, in millimetres, and how its corner marks are read.
//!
//! An A6 sheet, lying. Seven by five patches in hues that matter for fish stand on a grey field; left and right of the
//! first and last row stands a black mark with four cells, white or black. The sixteen cells together look different in
//! each of the eight ways a card can lie or be mirrored.

use crate::geometry::{Homography, Point};
use crate::photo::EncodedImage;

/// Sheet size: ISO 216, A6, lying.
pub const SHEET_MM: (f64, f64) = (148.0, 105.0);

/// Patches a row.
pub const COLUMNS: usize = 7;
/// Rows of patches.
pub const ROWS: usize = 5;
/// Distance between neighbouring patch centres.
pub const PITCH_MM: f64 = 15.0;
/// Side of a patch.
pub const PATCH_MM: f64 = 12.0;
/// Centre of the first patch from the sheet's top left corner.
pub const FIRST_MM: (f64, f64) = (29.0, 20.0);
/// Side of a corner mark, and of each of its four cells in the middle of it.
pub const MARK_MM: f64 = 12.0;
/// Side of a cell of a mark.
pub const CELL_MM: f64 = 4.0;

/// Colours meant, CIELAB under D50, row by row; a home printer comes near at best. Invented for this card: a neutral ramp,
/// reds to oranges, yellows to skins, blues to greens, pinks to dark.
pub const COLOURS: [[f64; 3]; COLUMNS * ROWS] = [
    [96.0, 0.0, 0.0],
    [82.0, 0.0, 0.0],
    [68.0, 0.0, 0.0],
    [54.0, 0.0, 0.0],
    [41.0, 0.0, 0.0],
    [28.0, 0.0, 0.0],
    [16.0, 0.0, 0.0],
    [35.0, 45.0, 25.0],
    [44.0, 60.0, 40.0],
    [52.0, 62.0, 48.0],
    [58.0, 50.0, 55.0],
    [64.0, 38.0, 60.0],
    [71.0, 26.0, 66.0],
    [78.0, 14.0, 72.0],
    [87.0, 0.0, 78.0],
    [90.0, -3.0, 48.0],
    [91.0, 1.0, 22.0],
    [84.0, 8.0, 18.0],
    [76.0, 13.0, 24.0],
    [64.0, 17.0, 28.0],
    [46.0, 18.0, 24.0],
    [28.0, 20.0, -48.0],
    [40.0, 2.0, -42.0],
    [54.0, -10.0, -36.0],
    [70.0, -14.0, -20.0],
    [68.0, -30.0, 4.0],
    [54.0, -38.0, 26.0],
    [40.0, -22.0, 16.0],
    [82.0, 14.0, 4.0],
    [70.0, 30.0, 6.0],
    [58.0, 48.0, 6.0],
    [46.0, 50.0, -12.0],
    [34.0, 30.0, -24.0],
    [30.0, 18.0, 12.0],
    [22.0, 6.0, 4.0],
];

/// Cells of the marks, row by row, white as true: top left, top right, bottom right, bottom left of the card. Found by
/// trying all codes with one to three white cells a mark: every other way to lie differs in at least eight cells.
pub const MARKS: [[bool; 4]; 4] =
    [[false, false, false, true], [false, false, false, true], [false, false, false, true], [true, true, true, false]];

/// Distance from the outer patches' centres to the sheet's edge in units of the pitch: top, right, bottom, left.
pub(super) fn edge() -> [f64; 4] {
    let right = SHEET_MM.0 - FIRST_MM.0 - (COLUMNS - 1) as f64 * PITCH_MM;
    let bottom = SHEET_MM.1 - FIRST_MM.1 - (ROWS - 1) as f64 * PITCH_MM;
    [FIRST_MM.1, right, bottom, FIRST_MM.0].map(|mm| mm / PITCH_MM)
}

/// Centre of a mark in card units: one pitch outside of the corner patches, left and right.
pub fn mark_place(mark: usize) -> Point {
    let (x, y) = (COLUMNS as f64, (ROWS - 1) as f64);
    [Point::new(-1.0, 0.0), Point::new(x, 0.0), Point::new(x, y), Point::new(-1.0, y)][mark]
}

/// Offset of a mark's cell from its centre, in millimetres.
pub fn cell_offset(cell: usize) -> (f64, f64) {
    let half = CELL_MM / 2.0;
    [(-half, -half), (half, -half), (-half, half), (half, half)][cell]
}

/// How well the picture carries the marks: the correlation of the sixteen cells' lightness with what is printed, -1…1;
/// `None` when one is outside of the picture.
pub(super) fn marks(image: &EncodedImage, to_px: &Homography) -> Option<f64> {
    let mut pairs = Vec::with_capacity(16);
    for (mark, cells) in MARKS.iter().enumerate() {
        for (cell, white) in cells.iter().enumerate() {
            let (dx, dy) = cell_offset(cell);
            let centre = mark_place(mark) + Point::new(dx, dy) * (1.0 / PITCH_MM);
            let [r, g, b] = image.value(to_px.apply(centre))?.map(f64::from);
            pairs.push((if *white { 1.0 } else { 0.0 }, r + g + b));
        }
    }
    let n = pairs.len() as f64;
    let (mx, my) = pairs.iter().fold((0.0, 0.0), |(x, y), p| (x + p.0 / n, y + p.1 / n));
    let (xx, xy, yy) = pairs.iter().fold((0.0, 0.0, 0.0), |(xx, xy, yy), p| {
        let (x, y) = (p.0 - mx, p.1 - my);
        (xx + x * x, xy + x * y, yy + y * y)
    });
    Some(if yy > 0.0 { xy / (xx * yy).sqrt() } else { 0.0 })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The sixteen cells as a picture of the card's corners, turned or mirrored in one of eight ways.
    fn seen(way: usize) -> Vec<bool> {
        let side = 4;
        let at = |x: usize, y: usize| {
            let mark = [[0, 1], [3, 2]][y / 2][x / 2];
            MARKS[mark][2 * (y % 2) + x % 2]
        };
        let mut out = Vec::new();
        for y in 0..side {
            for x in 0..side {
                let (x, y) = if way & 1 == 0 { (x, y) } else { (side - 1 - x, y) };
                let (x, y) = if way & 2 == 0 { (x, y) } else { (x, side - 1 - y) };
                let (x, y) = if way & 4 == 0 { (x, y) } else { (y, x) };
                out.push(at(x, y));
            }
        }
        out
    }

    #[test]
    fn marks_differ_in_at_least_eight_cells_in_every_other_way_to_lie() {
        let upright = seen(0);
        for way in 1..8 {
            let apart = seen(way).iter().zip(&upright).filter(|(a, b)| a != b).count();
            assert!(apart >= 8, "way {way}: {apart}");
        }
    }

    #[test]
    fn everything_stands_on_the_sheet() {
        for side in edge() {
            assert!(side * PITCH_MM > PATCH_MM / 2.0 + 5.0);
        }
        let outer = mark_place(1).x * PITCH_MM + FIRST_MM.0 + MARK_MM / 2.0;
        assert!(outer < SHEET_MM.0 - 3.0, "a printer leaves 3 mm and more empty: {outer}");
    }
}
