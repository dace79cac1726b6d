//! What spindles are fitted to: a map of what covering each place is worth.

use std::ops::Range;

use super::spindle::Spindle;
use crate::geometry::Point;

/// What is to be explained: for every place of a rectangle what covering it is worth.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Worth {
    /// Places across.
    pub(super) width: usize,
    /// Places down.
    pub(super) height: usize,
    /// Row by row; above zero where there is a thing, below where there is floor.
    pub(super) value: Vec<f32>,
}

impl Worth {
    /// Where in the values a row lies; `None` above and below the rectangle.
    fn span(&self, y: isize) -> Option<Range<usize>> {
        let y = usize::try_from(y).ok().filter(|y| *y < self.height)?;
        Some(y * self.width..(y + 1) * self.width)
    }

    /// Its values; none above and below the rectangle.
    pub(super) fn row(&self, y: isize) -> &[f32] {
        self.span(y).map_or(&[], |span| &self.value[span])
    }

    /// With what `spindle` covers worth `left` there instead where it was above zero.
    pub(super) fn covered(&mut self, spindle: &Spindle, left: f32) {
        for (y, across) in spindle.rows(spindle.half_width, spindle.turn.sin_cos()) {
            let Some(span) = self.span(y) else { continue };
            let row = &mut self.value[span];
            for x in across {
                let p = Point::new(x as f64 + 0.5, y as f64 + 0.5);
                if let Some(value) = row.get_mut(x.cast_unsigned())
                    && *value > left
                    && spindle.distance(p) <= 1.0
                {
                    *value = left;
                }
            }
        }
    }
}

/// The most that stretches of a map's rows can be worth: all that lies above zero in them.
pub(super) struct Gains {
    width: usize,
    /// Sum of what lies above zero in a row before each of its places, and in all of it.
    sums: Vec<f64>,
}

impl Gains {
    /// Those of a map.
    pub(super) fn of(map: &Worth) -> Self {
        let mut sums = Vec::with_capacity((map.width + 1) * map.height);
        for row in map.value.chunks(map.width.max(1)) {
            let mut sum = 0.0;
            sums.push(sum);
            sums.extend(row.iter().map(|v| {
                sum += f64::from(v.max(0.0));
                sum
            }));
        }
        Self { width: map.width, sums }
    }

    /// The most that a stretch of row `y` can be worth.
    pub(super) fn within(&self, y: isize, across: &Range<isize>) -> f64 {
        let place = |x: isize| usize::try_from(x).unwrap_or(0).min(self.width);
        let (from, to) = (place(across.start), place(across.end.max(across.start)));
        let row = usize::try_from(y).ok().map(|y| y * (self.width + 1)).filter(|row| *row < self.sums.len());
        row.map_or(0.0, |row| self.sums[row + to] - self.sums[row + from])
    }
}
