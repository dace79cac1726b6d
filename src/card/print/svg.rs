//! The card as SVG, one user unit a millimetre.

use std::fmt::Write;

use super::super::tray::SHEET_MM;
use super::{Shape, shapes};

/// The tray card as an SVG document at true size.
pub fn svg() -> String {
    let (w, h) = SHEET_MM;
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"0 0 {w} {h}\">\n\
         <rect width=\"{w}\" height=\"{h}\" fill=\"#ffffff\"/>\n"
    );
    for shape in shapes() {
        // Writing into a string cannot fail.
        let _written = match shape {
            Shape::Rect { at, size, rgb } => {
                let [r, g, b] = rgb.map(|v| (v * 255.0).round());
                let ((x, y), (w, h)) = (at, size);
                writeln!(out, "<rect x=\"{x}\" y=\"{y}\" width=\"{w}\" height=\"{h}\" fill=\"rgb({r},{g},{b})\"/>")
            }
            Shape::Line { from: (x1, y1), to: (x2, y2), width } => writeln!(
                out,
                "<line x1=\"{x1}\" y1=\"{y1}\" x2=\"{x2}\" y2=\"{y2}\" stroke=\"#000000\" stroke-width=\"{width}\"/>"
            ),
            // The letters of the card are plain ASCII without markup.
            Shape::Text { at: (x, y), height, text } => {
                writeln!(
                    out,
                    "<text x=\"{x}\" y=\"{y}\" font-family=\"Helvetica, sans-serif\" font-size=\"{height}\">{text}</text>"
                )
            }
        };
    }
    out.push_str("</svg>\n");
    out
}
