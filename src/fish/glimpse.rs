//! Whether a part of the tray is nothing but floor: told by means of a millimetre's square, before the network looks at it.
#![expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "small counts of pixels")]

use super::differ::Difference;
use super::heads::Rectangle;
use super::limits::median;
use super::seek::Survey;

/// Side of the cells in which pixels are averaged, millimetres: noise goes, a fry's body stays.
const CELL: f64 = 1.0;
/// L*a*b* units by which a cell of a fish differs from most cells (starting value: in their sixth cell pale fish on drawn trays have
/// 3.6 and more, bare squares with specks at most 2.4).
const UNLIKE: f32 = 2.5;
/// Fewest such cells of a fish.
const FEWEST: usize = 5;

/// Whether a rectangle is bare floor, by those of its pixels that are `free`. `per_mm` is the survey's pixels a millimetre.
pub(super) fn is_floor(survey: &Survey, rectangle: Rectangle, free: &[bool], per_mm: f64) -> bool {
    let ((x0, y0), (x1, y1)) = rectangle;
    let side = ((CELL * per_mm).round() as usize).max(1);
    let corners = (y0..y1).step_by(side).flat_map(|y| (x0..x1).step_by(side).map(move |x| (x, y)));
    let cells: Vec<[f32; 3]> = corners.filter_map(|at| mean(survey, at, side, free)).collect();
    let usual: [f32; 3] = std::array::from_fn(|i| median(cells.iter().map(|cell| cell[i]).collect()));
    let differs = |cell: &&[f32; 3]| (0..3).map(|i| (cell[i] - usual[i]).powi(2)).sum::<f32>() > UNLIKE * UNLIKE;
    cells.iter().filter(differs).nth(FEWEST - 1).is_none()
}

/// Mean difference in a cell; `None` where not all of it is free.
fn mean(survey: &Survey, (x, y): (usize, usize), side: usize, free: &[bool]) -> Option<[f32; 3]> {
    let (width, height) = (survey.block.width, survey.block.height);
    let inside = x + side <= width && y + side <= height;
    let rows = || (y..y + side).map(|y| y * width + x..y * width + x + side);
    if !inside || rows().any(|row| free[row].contains(&false)) {
        return None;
    }
    let pixels = rows().flat_map(|row| &survey.block.pixels[row]);
    let add = |sum: [f32; 3], d: &Difference| [sum[0] + d.lightness, sum[1] + d.tint[0], sum[2] + d.tint[1]];
    Some(pixels.fold([0.0; 3], add).map(|sum| sum / (side * side) as f32))
}

#[cfg(test)]
mod tests {
    use super::*;

    const WHOLE: Rectangle = ((0, 0), (180, 180));

    /// A floor at five pixels a millimetre with a grain of one unit, and a fish `lighter` than it in a rectangle.
    fn survey(((x0, y0), (x1, y1)): Rectangle, lighter: f32) -> Survey {
        let mut survey = Survey::bare(180, 180);
        for (k, pixel) in survey.block.pixels.iter_mut().enumerate() {
            let fish = (x0..x1).contains(&(k % 180)) && (y0..y1).contains(&(k / 180));
            let grain = (k as f32 * 12.9898).sin();
            *pixel = Difference { lightness: grain + if fish { lighter } else { 0.0 }, ..*pixel };
        }
        survey
    }

    #[test]
    fn a_bare_floor_is_floor_and_a_pale_fry_is_none() {
        let free = vec![true; 180 * 180];
        let fry = ((60, 90), (97, 99));
        assert!(is_floor(&survey(fry, 0.0), WHOLE, &free, 5.0));
        assert!(!is_floor(&survey(fry, -4.0), WHOLE, &free, 5.0));
        assert!(is_floor(&survey(WHOLE, 6.0), WHOLE, &free, 5.0), "as beside a lamp");
    }

    #[test]
    fn what_is_known_already_does_not_count() {
        let free: Vec<bool> = (0..180 * 180).map(|k| !(55..102).contains(&(k % 180))).collect();
        assert!(is_floor(&survey(((60, 90), (97, 99)), 20.0), WHOLE, &free, 5.0));
    }
}
