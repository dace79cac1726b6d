//! The tray card on paper: one list of shapes in millimetres, written as PDF or SVG at true size.

mod pdf;
mod svg;

pub use pdf::pdf;
pub use svg::svg;

use super::tray::{
    CELL_MM, COLOURS, COLUMNS, FIRST_MM, MARK_MM, MARKS, PATCH_MM, PITCH_MM, ROWS, SHEET_MM, cell_offset, mark_place,
};
use crate::colour::{Lab, srgb_from_lab};
use crate::geometry::Point;

/// Something printed; places in millimetres from the sheet's top left corner, colours encoded sRGB 0…1.
#[derive(Debug, Clone, PartialEq)]
enum Shape {
    /// A filled rectangle with its top left corner.
    Rect { at: (f64, f64), size: (f64, f64), rgb: [f64; 3] },
    /// A line of the given width.
    Line { from: (f64, f64), to: (f64, f64), width: f64 },
    /// A line of plain ASCII text, its baseline's left end, letter height in millimetres.
    Text { at: (f64, f64), height: f64, text: String },
}

const BLACK: [f64; 3] = [0.0; 3];
const WHITE: [f64; 3] = [1.0; 3];

/// Grey around the patches, as CIELAB L*: darker than nearly all patches, so that they stand out.
const FIELD_L: f64 = 10.0;

/// How far the field reaches beyond the outer patches.
const FIELD_RIM_MM: f64 = 2.2;

/// Length of the scale, and of the line that must measure so much.
const SCALE_MM: u32 = 100;

/// Everything on the card, in the order of painting.
fn shapes() -> Vec<Shape> {
    let mut out = Vec::new();
    field(&mut out);
    marks(&mut out);
    scale(&mut out);
    let title = "Broodhue tray card. Printed colours are unknown until learned: broodhue card learn PHOTO";
    out.push(Shape::Text { at: (8.0, 7.0), height: 2.6, text: title.to_owned() });
    let lay = "Lay it flat in the light of the fish, the whole sheet in the picture.";
    out.push(Shape::Text { at: (8.0, 10.8), height: 2.6, text: lay.to_owned() });
    out
}

fn centred(centre: (f64, f64), side: f64, rgb: [f64; 3]) -> Shape {
    Shape::Rect { at: (centre.0 - side / 2.0, centre.1 - side / 2.0), size: (side, side), rgb }
}

/// Millimetres of a place in card units.
fn on_sheet(p: Point) -> (f64, f64) {
    (FIRST_MM.0 + p.x * PITCH_MM, FIRST_MM.1 + p.y * PITCH_MM)
}

fn field(out: &mut Vec<Shape>) {
    let rim = PATCH_MM / 2.0 + FIELD_RIM_MM;
    out.push(Shape::Rect {
        at: (FIRST_MM.0 - rim, FIRST_MM.1 - rim),
        size: ((COLUMNS - 1) as f64 * PITCH_MM + 2.0 * rim, (ROWS - 1) as f64 * PITCH_MM + 2.0 * rim),
        rgb: srgb_from_lab(Lab::new(FIELD_L, 0.0, 0.0)),
    });
    for (i, [l, a, b]) in COLOURS.iter().enumerate() {
        let place = Point::new((i % COLUMNS) as f64, (i / COLUMNS) as f64);
        out.push(centred(on_sheet(place), PATCH_MM, srgb_from_lab(Lab::new(*l, *a, *b))));
    }
}

fn marks(out: &mut Vec<Shape>) {
    for (mark, cells) in MARKS.iter().enumerate() {
        let (x, y) = on_sheet(mark_place(mark));
        out.push(centred((x, y), MARK_MM, BLACK));
        for (cell, _) in cells.iter().enumerate().filter(|(_, white)| **white) {
            let (dx, dy) = cell_offset(cell);
            out.push(centred((x + dx, y + dy), CELL_MM, WHITE));
        }
    }
}

fn scale(out: &mut Vec<Shape>) {
    let (left, top) = ((SHEET_MM.0 - f64::from(SCALE_MM)) / 2.0, 91.5);
    for mm in 0..=SCALE_MM {
        let length = match mm % 10 {
            0 => 3.5,
            5 => 2.6,
            _ => 1.6,
        };
        let x = left + f64::from(mm);
        out.push(Shape::Line { from: (x, top), to: (x, top + length), width: 0.15 });
        if mm % 20 == 0 {
            out.push(Shape::Text { at: (x - 1.2, top + 6.2), height: 2.2, text: mm.to_string() });
        }
    }
    out.push(Shape::Line { from: (left, top), to: (left + f64::from(SCALE_MM), top), width: 0.25 });
    let check =
        format!("The scale must measure {SCALE_MM} mm. If not, print again at 100 %, without fitting to the page.");
    out.push(Shape::Text { at: (left, top + 10.2), height: 2.4, text: check });
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn svg_and_pdf_state_the_sheet_at_true_size() {
        let svg = svg();
        assert!(svg.contains("width=\"148mm\" height=\"105mm\" viewBox=\"0 0 148 105\""), "{}", &svg[..200]);
        let pdf = pdf();
        // 148 mm × 72 / 25.4 = 419.5276 pt (ISO 216 sheet, ISO 32000 user space).
        let head = String::from_utf8_lossy(&pdf).into_owned();
        assert!(head.contains("/MediaBox [0 0 419.52756 297.6378]"), "{}", &head[..400]);
        assert_eq!(pdf, super::pdf());
    }
}
