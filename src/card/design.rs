//! How a card is laid out and what its patches should look like: the chart, the tray card, or one described in a file.

use super::reference::{CHART_GRID, Edition, chart};
use super::{KnownColour, Layout, tray};
use crate::colour::Lab;
use crate::geometry::{Point, Quad};

/// A card as printed. In card units one unit is the pitch and patch (row r, column c) stands at (c, r).
#[derive(Debug, Clone, PartialEq)]
pub struct Design {
    /// Which layout it is.
    pub layout: Layout,
    /// Patches a row.
    pub columns: usize,
    /// Rows of patches.
    pub rows: usize,
    /// Colours to find it by, row by row: published, learned or merely meant.
    pub colours: Vec<Lab>,
    /// Colours to calibrate with, row by row; empty when nobody knows them, or when an edition decides.
    pub known: Vec<KnownColour>,
    /// Millimetres between neighbouring patch centres, where the card's size is known.
    pub pitch_mm: Option<f64>,
    /// Distance from the outer patches' centres to the card's outer edge, in units of the pitch: top, right, bottom, left.
    pub edge: [f64; 4],
}

/// The chart's own frame in units of the pitch, measured on the full-size charts of the open photographs.
const CHART_EDGE: [f64; 4] = [0.62; 4];

impl Design {
    /// The common 24-patch chart.
    pub fn chart() -> Self {
        Self {
            layout: Layout::Chart24,
            columns: CHART_GRID.0,
            rows: CHART_GRID.1,
            colours: chart(Edition::default()).iter().map(|r| r.lab).collect(),
            known: Vec::new(),
            pitch_mm: None,
            edge: CHART_EDGE,
        }
    }

    /// Broodhue's own tray card, its printed colours unknown.
    pub fn tray() -> Self {
        Self {
            layout: Layout::Tray,
            columns: tray::COLUMNS,
            rows: tray::ROWS,
            colours: tray::COLOURS.iter().map(|[l, a, b]| Lab::new(*l, *a, *b)).collect(),
            known: Vec::new(),
            pitch_mm: Some(tray::PITCH_MM),
            edge: tray::edge(),
        }
    }

    /// Number of patches.
    pub fn count(&self) -> usize {
        self.columns * self.rows
    }

    /// Centres of the patches in card units, row by row.
    pub fn places(&self) -> impl Iterator<Item = Point> + '_ {
        (0..self.count()).map(|i| Point::new((i % self.columns) as f64, (i / self.columns) as f64))
    }

    /// The middle of the patches in card units.
    pub fn middle(&self) -> Point {
        Point::new((self.columns as f64 - 1.0) / 2.0, (self.rows as f64 - 1.0) / 2.0)
    }

    /// A rectangle around the patches in card units, `[top, right, bottom, left]` beyond the outer centres.
    pub fn around(&self, [top, right, bottom, left]: [f64; 4]) -> Quad {
        let (x, y) = (self.columns as f64 - 1.0, self.rows as f64 - 1.0);
        [(-left, -top), (x + right, -top), (x + right, y + bottom), (-left, y + bottom)].map(|(x, y)| Point::new(x, y))
    }

    /// Length of the card's shorter side in units of the pitch.
    pub(super) fn shorter_side(&self) -> f64 {
        let [corner, _, opposite, _] = self.around(self.edge);
        (opposite.x - corner.x).min(opposite.y - corner.y)
    }

    /// Place of a patch on the card, -1…1 along both sides.
    pub(super) fn slopes(&self, patch: usize) -> (f64, f64) {
        let along = |i: usize, n: usize| 2.0 * i as f64 / (n.max(2) - 1) as f64 - 1.0;
        (along(patch % self.columns, self.columns), along(patch / self.columns, self.rows))
    }
}
