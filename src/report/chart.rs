//! The card as control chart.

use maud::html;

use super::plot::{Frame, Plot, dot, drawing, line, range, square, text};
use crate::cells::{Cell, csv};
use crate::lightness::{CardPoint, Control};

/// The chart: photos in time, centre line, limits, changes.
pub(super) fn control(control: &Control, points: &[CardPoint]) -> Plot {
    let days = || points.iter().map(|p| p.day);
    let start = days().fold(f64::MAX, f64::min);
    let values = points.iter().map(|p| p.value).chain([control.limits.low.max(0.0), control.limits.high]);
    let frame = Frame { x: range(days().map(|d| d - start)), y: range(values), area: [60.0, 30.0, 560.0, 230.0] };
    let ticks: Vec<(f64, String)> =
        super::plot::ticks(frame.x).into_iter().filter(|t| *t >= 0.0).map(|t| (t, format!("{t:.0}"))).collect();
    let level = |y: f64, dash: &str, name: &str| {
        html! {
            (line(frame.area[0], frame.py(y), frame.area[2], frame.py(y), dash))
            (text(frame.area[2] + 4.0, frame.py(y) + 4.0, "start", name))
        }
    };
    let marks = html! {
        (frame.axes(&ticks, "CIEDE2000 from the set-up's first photo", "days since the first photo"))
        (level(control.mean, "", "mean"))
        (level(control.limits.high, "6 4", "limit"))
        @for change in &control.changes {
            (line(frame.px(change.day - start), frame.area[1], frame.px(change.day - start), frame.area[3], "2 3"))
        }
        @for p in points {
            @let (x, y) = (frame.px(p.day - start), frame.py(p.value));
            @if control.limits.holds(p.value) { (dot(x, y, 3.0, true)) } @else { (square(x, y, 5.0, false)) }
        }
    };
    let title = "The colour card over time".to_owned();
    let description = format!(
        "How far the card's patches, as the camera reads them, are from where they were: {} photos, {} outside the limits \
         (hollow squares), {} changes (dotted upright lines).",
        control.photos,
        control.outside.len(),
        control.changes.len()
    );
    let rows: Vec<Vec<Cell>> = points
        .iter()
        .map(|p| {
            let numbers = [format!("{:.0}", p.day - start), format!("{:.3}", p.value)].map(Cell::number);
            [&[Cell::text(&p.photo)][..], &numbers, &[Cell::text(&p.set_up)]].concat()
        })
        .collect();
    let svg = drawing("control", &title, &description, (620.0, 280.0), &marks);
    let csv = csv(&["photo", "days", "de00", "set_up"], &rows);
    let caption = description.clone();
    Plot { name: "control".to_owned(), title, description, caption, svg, csv }
}
