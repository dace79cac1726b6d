//! Shares of classes with their exact intervals, a line each.

use maud::html;

use super::plot::{Frame, Plot, drawing, line, names, square, text};
use crate::cells::{Cell, csv};
use crate::counts::{Counts, Row};
use crate::units::{Sex, percent_range, share_percent};

/// What the plot of each axis is called.
pub(super) fn named(all: &[Counts]) -> Vec<String> {
    names("shares", all.iter().map(|counts| counts.axis.clone()))
}

/// The plot of one axis; `None` when nothing was counted.
pub(super) fn shares(counts: &Counts, name: &str) -> Option<Plot> {
    if counts.rows.is_empty() {
        return None;
    }
    let height = 66.0 + 18.0 * counts.rows.len() as f64;
    let frame = Frame { x: (0.0, 1.0), y: (0.0, 1.0), area: [170.0, 20.0, 540.0, height - 40.0] };
    let marks = html! {
        (line(frame.area[0], frame.area[3], frame.area[2], frame.area[3], ""))
        @for tick in [0.0, 0.25, 0.5, 0.75, 1.0] {
            (line(frame.px(tick), frame.area[1], frame.px(tick), frame.area[3] + 5.0, "1 4"))
            (text(frame.px(tick), frame.area[3] + 18.0, "middle", &format!("{:.0} %", 100.0 * tick)))
        }
        @for (i, row) in counts.rows.iter().enumerate() {
            @let y = frame.area[1] + 12.0 + 18.0 * i as f64;
            (text(frame.area[0] - 8.0, y + 4.0, "end", &label(row)))
            (line(frame.px(row.low), y, frame.px(row.high), y, ""))
            (square(frame.px(row.share), y, 4.0, true))
            (text(frame.area[2] + 14.0, y + 4.0, "start", &format!("{} of {}", row.confirmed, row.of)))
        }
    };
    let title = format!("Shares of the classes of {}", counts.axis);
    let description = counts
        .rows
        .iter()
        .map(|r| format!("{}: {} ({})", label(r), share_percent(r.share), percent_range(r.low, r.high)))
        .collect::<Vec<_>>()
        .join("; ");
    let svg = drawing(name, &title, &description, (640.0, height), &marks);
    let rows: Vec<Vec<Cell>> = counts.rows.iter().map(cells).collect();
    let csv = csv(&["cross", "brood", "sitting", "sex", "class", "confirmed", "of", "share", "low", "high"], &rows);
    let caption = "Squares are shares of the fish counted, lines their exact 95 % intervals.".to_owned();
    Some(Plot { name: name.to_owned(), title, description, caption, svg, csv })
}

/// Brood, sex and class of a row.
pub(super) fn label(row: &Row) -> String {
    let sex = row.place.sex.map_or("", |s| if s == Sex::Male { " males" } else { " females" });
    format!("{}{sex}, {}", row.place.brood, row.class)
}

fn cells(row: &Row) -> Vec<Cell> {
    vec![
        Cell::text(&row.place.cross),
        Cell::text(&row.place.brood),
        Cell::text(row.place.sitting.map_or(String::new(), |d| d.to_string())),
        Cell::text(row.place.sex.map_or("", Sex::letter)),
        Cell::text(&row.class),
        Cell::number(row.confirmed),
        Cell::number(row.of),
        Cell::number(format!("{:.4}", row.share)),
        Cell::number(format!("{:.4}", row.low)),
        Cell::number(format!("{:.4}", row.high)),
    ]
}
