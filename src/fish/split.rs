//! Fish taken apart at places a person gave: each pixel goes to the segment nearest to it, segments through their pixels, in turns
//! (k-lines clustering, after the k-means of Lloyd 1982).

use crate::geometry::{Point, mean_point};

use super::grid::Grid;
use super::spine::centre;

/// Rounds of reassignment; segments stand still after six to eight.
const ROUNDS: usize = 10;

/// Takes a blob apart at places a person gave, one on each fish.
pub(super) fn split_at(grid: &Grid, places: &[Point]) -> Vec<Grid> {
    // A short segment at each place grows along the pixels that are nearest to it.
    let lines = places.iter().map(|&p| Segment { a: p, b: p, half_width: 1.0 }).collect();
    pieces(grid, &settle(grid, lines))
}

/// A fish's axis as a straight segment.
#[derive(Debug, Clone, Copy)]
struct Segment {
    a: Point,
    b: Point,
    half_width: f64,
}

impl Segment {
    /// Along the main direction of some pixels, from end to end.
    fn through(grid: &Grid, pixels: &[usize]) -> Self {
        let n = pixels.len().max(1) as f64;
        let mean = mean_point(pixels.iter().map(|&k| centre(grid, k)));
        let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
        for &k in pixels {
            let d = centre(grid, k) - mean;
            (xx, xy, yy) = (xx + d.x * d.x, xy + d.x * d.y, yy + d.y * d.y);
        }
        let (s, c) = (0.5 * (2.0 * xy).atan2(xx - yy)).sin_cos();
        let mut along: Vec<f64> = pixels
            .iter()
            .map(|&k| {
                let d = centre(grid, k) - mean;
                d.x * c + d.y * s
            })
            .collect();
        along.sort_by(f64::total_cmp);
        // The outermost hundredth at either end is left to stray pixels.
        let cut = along.len() / 100;
        let (lo, hi) = (
            along.get(cut).copied().unwrap_or(0.0),
            along.get(along.len().saturating_sub(1 + cut)).copied().unwrap_or(0.0),
        );
        let half_width = (n / (hi - lo + 1.0) / 2.0).max(0.7);
        let at = |t: f64| mean + Point::new(c, s) * t;
        // The body's round ends reach half a width beyond the axis.
        let inset = (half_width * 0.7).min((hi - lo) / 3.0);
        Self { a: at(lo + inset), b: at(hi - inset), half_width }
    }

    /// Distance of a place from the segment.
    fn distance(&self, p: Point) -> f64 {
        let d = self.b - self.a;
        let v = p - self.a;
        let t = ((v.x * d.x + v.y * d.y) / (d.x * d.x + d.y * d.y).max(1e-9)).clamp(0.0, 1.0);
        (v - d * t).length()
    }
}

/// Moves pixels to the nearest segment and segments through their pixels until nothing changes.
fn settle(grid: &Grid, mut lines: Vec<Segment>) -> Vec<Segment> {
    let pixels: Vec<usize> = grid.indices().collect();
    for _ in 0..ROUNDS {
        let groups = assign(grid, &pixels, &lines);
        for (line, group) in lines.iter_mut().zip(&groups) {
            if group.len() >= 4 {
                *line = Segment::through(grid, group);
            }
        }
    }
    lines
}

/// The pixels nearest to each segment, by distance beyond its half width.
fn assign(grid: &Grid, pixels: &[usize], lines: &[Segment]) -> Vec<Vec<usize>> {
    let mut groups = vec![Vec::new(); lines.len()];
    for &k in pixels {
        let p = centre(grid, k);
        let far = |l: &Segment| l.distance(p) / l.half_width.max(1.0);
        let nearest = (0..lines.len()).min_by(|&a, &b| far(&lines[a]).total_cmp(&far(&lines[b])));
        if let Some(i) = nearest {
            groups[i].push(k);
        }
    }
    groups
}

/// Pixels of each fish: those nearest to its segment, and where fish cross those well within its width.
fn pieces(grid: &Grid, lines: &[Segment]) -> Vec<Grid> {
    let pixels: Vec<usize> = grid.indices().collect();
    let groups = assign(grid, &pixels, lines);
    groups
        .iter()
        .zip(lines)
        .map(|(group, line)| {
            let mut piece = Grid::empty(grid.width, grid.height);
            group.iter().for_each(|&k| piece.on[k] = true);
            for &k in &pixels {
                if line.distance(centre(grid, k)) < 0.8 * line.half_width {
                    piece.on[k] = true;
                }
            }
            largest_piece(&piece)
        })
        .collect()
}

fn largest_piece(grid: &Grid) -> Grid {
    let mut out = Grid::empty(grid.width, grid.height);
    if let Some(piece) = grid.pieces().into_iter().max_by_key(Vec::len) {
        piece.iter().for_each(|&k| out.on[k] = true);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::super::drawn::in_fish;
    use super::*;

    fn fish(heads: &[(f64, f64, f64)]) -> Grid {
        let mut grid = Grid::empty(180, 160);
        for k in 0..grid.on.len() {
            grid.on[k] = in_fish(heads, centre(&grid, k));
        }
        grid
    }

    #[test]
    fn places_on_two_fish_part_them() {
        let parts =
            split_at(&fish(&[(40.0, 60.0, 0.0), (44.0, 71.0, 4.0)]), &[Point::new(55.0, 60.0), Point::new(60.0, 72.0)]);
        let ratio = parts[0].count() as f64 / parts[1].count() as f64;
        assert!((0.7..1.4).contains(&ratio), "{ratio}");
    }
}
