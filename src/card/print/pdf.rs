//! The card as PDF, written directly at true size.
#![expect(clippy::cast_possible_truncation, reason = "PDF numbers are f32")]

use pdf_writer::{Content, Finish, Name, Pdf, Rect, Ref, Str};

use super::super::tray::SHEET_MM;
use super::{Shape, shapes};

/// Points a millimetre: a point is 1/72 inch (ISO 32000-1, 8.3.2.3), an inch 25.4 mm.
const POINTS: f64 = 72.0 / 25.4;

/// The tray card as a PDF of one page at true size.
pub fn pdf() -> Vec<u8> {
    let [catalog, pages, page, font, content] = [1, 2, 3, 4, 5].map(Ref::new);
    let letters = Name(b"F1");
    let mut pdf = Pdf::new();
    pdf.catalog(catalog).pages(pages);
    pdf.pages(pages).kids([page]).count(1);
    let mut leaf = pdf.page(page);
    leaf.media_box(Rect::new(0.0, 0.0, points(SHEET_MM.0), points(SHEET_MM.1)));
    leaf.parent(pages).contents(content);
    leaf.resources().fonts().pair(letters, font);
    leaf.finish();
    pdf.type1_font(font).base_font(Name(b"Helvetica"));
    pdf.stream(content, &painted(letters));
    pdf.finish()
}

fn points(mm: f64) -> f32 {
    (mm * POINTS) as f32
}

/// Height above the sheet's lower edge: PDF counts upwards.
fn up(y: f64) -> f32 {
    points(SHEET_MM.1 - y)
}

fn painted(letters: Name<'_>) -> Vec<u8> {
    let mut content = Content::new();
    for shape in shapes() {
        match shape {
            Shape::Rect { at: (x, y), size: (w, h), rgb } => {
                let [r, g, b] = rgb.map(|v| v as f32);
                content.set_fill_rgb(r, g, b);
                content.rect(points(x), up(y + h), points(w), points(h));
                content.fill_nonzero();
            }
            Shape::Line { from, to, width } => {
                content.set_stroke_rgb(0.0, 0.0, 0.0);
                content.set_line_width(points(width));
                content.move_to(points(from.0), up(from.1));
                content.line_to(points(to.0), up(to.1));
                content.stroke();
            }
            Shape::Text { at: (x, y), height, text } => {
                content.set_fill_rgb(0.0, 0.0, 0.0);
                content.begin_text();
                content.set_font(letters, points(height));
                content.next_line(points(x), up(y));
                content.show(Str(text.as_bytes()));
                content.end_text();
            }
        }
    }
    content.finish().to_vec()
}
