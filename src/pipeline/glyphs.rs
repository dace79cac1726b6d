//! A few letters and digits of 3 × 5 squares, for pictures that need a label and have no font.

use image::{Rgb, RgbImage};
use imageproc::drawing::draw_filled_rect_mut;
use imageproc::rect::Rect;

/// Squares from one letter to the next.
const ADVANCE: u32 = 4;

/// Height of a letter in squares.
const HEIGHT: u32 = 5;

/// Rows from top to bottom, three squares each, the left one in the highest bit; a space for what is not drawn.
const fn rows(letter: u8) -> [u8; HEIGHT as usize] {
    match letter {
        b'0' | b'O' => [7, 5, 5, 5, 7],
        b'1' => [2, 6, 2, 2, 7],
        b'2' => [7, 1, 7, 4, 7],
        b'3' => [7, 1, 3, 1, 7],
        b'4' => [5, 5, 7, 1, 1],
        b'5' => [7, 4, 7, 1, 7],
        b'6' => [7, 4, 7, 5, 7],
        b'7' => [7, 1, 2, 2, 2],
        b'8' => [7, 5, 7, 5, 7],
        b'9' => [7, 5, 7, 1, 7],
        b'.' => [0, 0, 0, 0, 2],
        b'A' => [2, 5, 7, 5, 5],
        b'C' => [7, 4, 4, 4, 7],
        b'D' => [6, 5, 5, 5, 6],
        b'E' => [7, 4, 6, 4, 7],
        b'F' => [7, 4, 6, 4, 4],
        b'G' => [7, 4, 5, 5, 7],
        b'H' => [5, 5, 7, 5, 5],
        b'I' => [7, 2, 2, 2, 7],
        b'L' => [4, 4, 4, 4, 7],
        b'N' => [6, 5, 5, 5, 5],
        b'P' => [7, 5, 7, 4, 4],
        b'R' => [6, 5, 6, 5, 5],
        b'T' => [7, 2, 2, 2, 2],
        _ => [0; HEIGHT as usize],
    }
}

/// Width and height in pixels of `text` in squares of `size` pixels.
pub(super) fn extent(text: &str, size: u32) -> (u32, u32) {
    let letters = u32::try_from(text.len()).unwrap_or(0);
    ((letters * ADVANCE).saturating_sub(1) * size, HEIGHT * size)
}

/// Writes `text` (ASCII, small letters as capitals) with its top left corner at `at`; what lies outside is cut.
pub(super) fn write(picture: &mut RgbImage, text: &str, at: (i32, i32), size: u32, colour: Rgb<u8>) {
    let step = size.cast_signed();
    for (n, letter) in (0..).zip(text.bytes()) {
        for (row, bits) in (0..).zip(rows(letter.to_ascii_uppercase())) {
            for column in (0..3).filter(|c| bits >> (2 - c) & 1 == 1) {
                let corner = (at.0 + (n * ADVANCE.cast_signed() + column) * step, at.1 + row * step);
                draw_filled_rect_mut(picture, Rect::at(corner.0, corner.1).of_size(size, size), colour);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_letter_is_made_of_squares() {
        let (ink, paper) = (Rgb([0; 3]), Rgb([255; 3]));
        let (width, height) = extent("l1", 2);
        assert_eq!((width, height), (14, 10));
        let mut picture = RgbImage::from_pixel(width, height, paper);
        write(&mut picture, "l1", (0, 0), 2, ink);
        let drawn = picture.pixels().filter(|p| **p == ink).count();
        // Seven squares of an L and eight of a 1, four pixels each.
        assert_eq!(drawn, (7 + 8) * 4);
        assert_eq!((picture[(0, 0)], picture[(2, 0)]), (ink, paper));
    }
}
