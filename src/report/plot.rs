//! A small helper for inline SVG: a frame with two axes, marks that are told apart by shape, not by colour.

use maud::{Markup, html};

/// A plot with the numbers behind it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Plot {
    /// Name of its files, without ending.
    pub name: String,
    /// Title, also for screen readers.
    pub title: String,
    /// What is to be seen, in words, for those who cannot see it.
    pub description: String,
    /// What the marks mean, for those who can.
    pub caption: String,
    /// The drawing, a whole `svg` element.
    pub svg: String,
    /// The numbers, as CSV.
    pub csv: String,
}

/// Wraps marks as a whole drawing of `width` × `height` units with title and description.
pub(super) fn drawing(
    name: &str,
    title: &str,
    description: &str,
    (width, height): (f64, f64),
    marks: &Markup,
) -> String {
    let (t, d) = (format!("{name}-title"), format!("{name}-desc"));
    html! {
        svg xmlns="http://www.w3.org/2000/svg" viewBox=(format!("0 0 {width:.0} {height:.0}")) role="img"
            aria-labelledby=(format!("{t} {d}")) font-family="sans-serif" font-size="12" {
            title id=(t) { (title) }
            desc id=(d) { (description) }
            (marks)
        }
    }
    .into_string()
}

/// Names for files and ids, no two of them the same: each `kind` and its text as [`slug`] has it; where that is taken, with
/// a number behind it.
pub(super) fn names(kind: &str, texts: impl Iterator<Item = String>) -> Vec<String> {
    let mut taken: Vec<String> = Vec::new();
    for text in texts {
        let plain = slug(&format!("{kind} {text}"));
        let numbered = (2..).map(|n| format!("{plain}-{n}"));
        let free = std::iter::once(plain.clone()).chain(numbered).find(|name| !taken.contains(name));
        taken.extend(free);
    }
    taken
}

/// Letters, digits and dashes.
fn slug(text: &str) -> String {
    let plain: String =
        text.chars().map(|c| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '-' }).collect();
    plain.split('-').filter(|part| !part.is_empty()).collect::<Vec<_>>().join("-")
}

/// A plotting area: data ranges and where they stand in the drawing.
#[derive(Debug, Clone, Copy)]
pub(super) struct Frame {
    /// Range of x in data units.
    pub(super) x: (f64, f64),
    /// Range of y in data units.
    pub(super) y: (f64, f64),
    /// Left, top, right, bottom of the area in drawing units.
    pub(super) area: [f64; 4],
}

impl Frame {
    /// Drawing x of a value.
    pub(super) fn px(&self, x: f64) -> f64 {
        let [left, _, right, _] = self.area;
        left + (x - self.x.0) / (self.x.1 - self.x.0).max(1e-9) * (right - left)
    }

    /// Drawing y of a value; y grows upwards in data.
    pub(super) fn py(&self, y: f64) -> f64 {
        let [_, top, _, bottom] = self.area;
        bottom - (y - self.y.0) / (self.y.1 - self.y.0).max(1e-9) * (bottom - top)
    }

    /// Both axes with ticks, and their names.
    pub(super) fn axes(&self, x_ticks: &[(f64, String)], y_name: &str, x_name: &str) -> Markup {
        let [left, top, right, bottom] = self.area;
        html! {
            (line(left, bottom, right, bottom, ""))
            (line(left, top, left, bottom, ""))
            @for (x, label) in x_ticks {
                (line(self.px(*x), bottom, self.px(*x), bottom + 5.0, ""))
                (text(self.px(*x), bottom + 18.0, "middle", label))
            }
            @for (y, label) in labelled(&ticks(self.y)) {
                (line(left - 5.0, self.py(y), left, self.py(y), ""))
                (text(left - 8.0, self.py(y) + 4.0, "end", &label))
            }
            (text(left, top - 8.0, "start", y_name))
            (text(f64::midpoint(left, right), bottom + 36.0, "middle", x_name))
        }
    }
}

/// About five round numbers within a range.
pub(super) fn ticks((low, high): (f64, f64)) -> Vec<f64> {
    let span = (high - low).max(1e-9);
    let rough = 10f64.powf((span / 5.0).log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0].map(|m| m * rough).into_iter().find(|s| span / s <= 6.0).unwrap_or(10.0 * rough);
    let first = (low / step).ceil();
    (0..20).map(|i| (first + f64::from(i)) * step).take_while(|t| *t <= high + 1e-9 * span).collect()
}

/// Ticks with their labels, of as many decimals as tell them apart: a step is 1, 2 or 5 of a power of ten.
fn labelled(ticks: &[f64]) -> Vec<(f64, String)> {
    let step = ticks.windows(2).map(|pair| pair[1] - pair[0]).fold(1.0, f64::min);
    let decimals = (0_u8..9).find(|d| step * 10f64.powi(i32::from(*d)) > 0.99).unwrap_or(9);
    // Adding zero turns a negative zero into a plain one.
    ticks.iter().map(|t| (*t, format!("{:.*}", usize::from(decimals), t + 0.0))).collect()
}

/// A range that holds all values with a margin of a tenth on either side; around values that are all the same, of a tenth of
/// their size.
pub(super) fn range(values: impl Iterator<Item = f64>) -> (f64, f64) {
    let (low, high) = values.filter(|v| v.is_finite()).fold((f64::MAX, f64::MIN), |(l, h), v| (l.min(v), h.max(v)));
    if low > high {
        return (0.0, 1.0);
    }
    let size = if high > low { high - low } else { low.abs() };
    let margin = if size > 0.0 { size / 10.0 } else { 0.5 };
    (low - margin, high + margin)
}

/// A line; `dash` as in SVG, empty for a full one.
pub(super) fn line(x1: f64, y1: f64, x2: f64, y2: f64, dash: &str) -> Markup {
    html! {
        line x1=(one(x1)) y1=(one(y1)) x2=(one(x2)) y2=(one(y2)) stroke="black"
            stroke-dasharray=[(!dash.is_empty()).then_some(dash)] {}
    }
}

/// A round mark, full or hollow.
pub(super) fn dot(x: f64, y: f64, r: f64, full: bool) -> Markup {
    let fill = if full { "black" } else { "white" };
    html! { circle cx=(one(x)) cy=(one(y)) r=(one(r)) fill=(fill) stroke="black" {} }
}

/// A square mark.
pub(super) fn square(x: f64, y: f64, half: f64, full: bool) -> Markup {
    let fill = if full { "black" } else { "white" };
    let (left, top, side) = (one(x - half), one(y - half), one(2.0 * half));
    html! { rect x=(left) y=(top) width=(side) height=(side) fill=(fill) stroke="black" {} }
}

/// A word; `anchor` is `start`, `middle` or `end`.
pub(super) fn text(x: f64, y: f64, anchor: &str, words: &str) -> Markup {
    // The white outline keeps words readable where a line runs behind them.
    html! {
        text x=(one(x)) y=(one(y)) text-anchor=(anchor) stroke="white" stroke-width="3" paint-order="stroke" { (words) }
    }
}

/// One decimal: a tenth of a drawing unit is finer than any screen.
fn one(value: f64) -> String {
    format!("{value:.1}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_inside() {
        assert_eq!(ticks((0.0, 1.0)).len(), 6);
        let found = ticks((68.3, 76.1));
        assert!(found.iter().all(|t| (t % 2.0).abs() < 1e-9) && found.len() == 4, "{found:?}");
    }

    #[test]
    fn a_name_for_files_is_of_letters_digits_and_dashes() {
        assert_eq!(slug("Lowmere Pale / red_share"), "lowmere-pale-red-share");
    }

    #[test]
    fn no_two_plots_share_a_name() {
        let lines = ["Lowmere 1", "Lowmere-1", "Lowmere 1 2", "ルビー", "Ύδρα"].map(str::to_owned);
        assert_eq!(
            names("trend", lines.into_iter()),
            ["trend-lowmere-1", "trend-lowmere-1-2", "trend-lowmere-1-2-2", "trend", "trend-2"]
        );
    }

    /// Shares of a hundredth fill their axis like lightnesses of seventy.
    #[test]
    fn an_axis_is_as_wide_as_its_values() {
        let (low, high) = range([0.01, 0.05].into_iter());
        assert!((low - 0.006).abs() < 1e-12 && (high - 0.054).abs() < 1e-12, "{low} to {high}");
        let said: Vec<String> = labelled(&ticks((low, high))).into_iter().map(|(_, label)| label).collect();
        assert_eq!(said, ["0.01", "0.02", "0.03", "0.04", "0.05"]);
        let fine: Vec<String> = labelled(&ticks((0.001, 0.003))).into_iter().map(|(_, label)| label).collect();
        assert_eq!(fine, ["0.0010", "0.0015", "0.0020", "0.0025", "0.0030"]);
        for same in [70.0, 0.0, -3.0] {
            let (low, high) = range([same, same].into_iter());
            assert!(low < same && same < high, "{low} to {high}");
        }
    }
}
