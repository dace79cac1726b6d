//! Touching and crossing fish taken apart: straight segments are fitted to the pixels, each pixel going to the segment nearest
//! to it, and the split is kept when its pieces are better fish than the whole (k-lines clustering, after the k-means of
//! Lloyd 1982).

#![expect(clippy::cast_possible_truncation, reason = "small counts and factors")]

use crate::geometry::Point;

use super::grid::Grid;
use super::shape::{Shape, Usual};
use super::spine::centre;

/// Most fish one blob is split into; more are a cluster.
const MOST: usize = 4;
/// How much better fish the pieces must be than the whole (starting value).
const BETTER: f64 = 1.3;
/// Rounds of reassignment; segments stand still after six to eight.
const ROUNDS: usize = 10;
/// Below this a whole is no fish by itself, and pieces need not be much better (starting value).
const NO_FISH: f64 = 0.12;

/// Area in pixels that a usual fish is fitted at.
const FITTED_AREA: f64 = 150.0;
/// Squared length over area from which a blob is rim or water line, not fish in a row.
const ENDLESS: f64 = 45.0;

/// What a blob turned out to be.
#[derive(Debug, Clone)]
pub(super) enum Split {
    /// One fish, or something that is none: the judge decides.
    Whole,
    /// Several fish, each with its pixels; where they cross, pixels belong to both.
    Pieces(Vec<Grid>),
    /// About this many fish that could not be told apart.
    Cluster(u32),
}

/// Takes a blob apart; `usual` is a fish usual in this photo.
pub(super) fn split(grid: &Grid, usual: Option<Usual>) -> Split {
    let Some(whole) = Shape::of(grid) else { return Split::Whole };
    let alone = whole.fishness(usual);
    let (shaped, times) = (whole.fishness(None), usual.map_or(1.0, |u| whole.area / u.area));
    let slender = usual.map_or(1.0, |u| whole.slenderness / u.slenderness);
    let endless = whole.slenderness > ENDLESS || times > 3.0 * MOST as f64;
    // A well-shaped fish as slender as the others is one fish unless it is enormous (two side by side are half as slender);
    // a fairly shaped one unless it is large as well.
    if endless || shaped >= 0.85 && slender > 0.75 && times < 3.5 || shaped >= 0.5 && times < 1.4 {
        return Split::Whole;
    }
    // Segments are fitted on a coarser grid: they need no more than a few pixels across a fish.
    let factor = ((usual.map_or(whole.area / 2.0, |u| u.area) / FITTED_AREA).sqrt() as usize).max(1);
    let coarse = grid.shrunk(factor);
    let coarse_usual = usual.map(|u| Usual { area: u.area / (factor * factor) as f64, ..u });
    let mut best: (f64, Vec<Segment>) = (alone.max(NO_FISH) * BETTER, Vec::new());
    let mut lines = vec![Segment::through(&coarse, &coarse.indices().collect::<Vec<_>>())];
    // One more than the area speaks for is tried; beyond that nothing is to be won.
    let most = if usual.is_some() { (times.round() as usize + 1).clamp(2, MOST) } else { MOST };
    for count in 2..=most {
        let Some((score, better_lines)) = one_more(&coarse, &lines, coarse_usual) else { break };
        lines = better_lines;
        // Each further fish must earn its place.
        if score > best.0 * if count == 2 { 1.0 } else { 1.1 } {
            best = (score, lines.clone());
        }
    }
    let best = (best.0, pieces(grid, &best.1.iter().map(|l| l.scaled(factor as f64)).collect::<Vec<_>>()));
    if !best.1.is_empty() {
        return Split::Pieces(best.1);
    }
    match usual {
        Some(_) if alone <= NO_FISH && times > 1.6 && whole.wholeness > 0.9 && whole.slenderness < 30.0 => {
            Split::Cluster((times.round() as u32).max(2))
        }
        _ => Split::Whole,
    }
}

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
        let mean = pixels.iter().fold(Point::default(), |s, &k| s + centre(grid, k)) * (1.0 / n);
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

    /// On a grid `k` times as fine.
    fn scaled(&self, k: f64) -> Self {
        Self { a: self.a * k, b: self.b * k, half_width: self.half_width * k }
    }

    /// Distance of a place from the segment.
    fn distance(&self, p: Point) -> f64 {
        let d = self.b - self.a;
        let v = p - self.a;
        let t = ((v.x * d.x + v.y * d.y) / (d.x * d.x + d.y * d.y).max(1e-9)).clamp(0.0, 1.0);
        (v - d * t).length()
    }
}

/// The best way to put one more segment: each present one in turn is replaced by two in several ways.
fn one_more(grid: &Grid, lines: &[Segment], usual: Option<Usual>) -> Option<(f64, Vec<Segment>)> {
    let mut best: Option<(f64, Vec<Segment>)> = None;
    for i in 0..lines.len() {
        for pair in halves(&lines[i]) {
            let mut start: Vec<Segment> = lines.to_vec();
            start[i] = pair[0];
            start.push(pair[1]);
            let settled = settle(grid, start);
            let score = score(grid, &settled, usual);
            if best.as_ref().is_none_or(|b| score > b.0) {
                best = Some((score, settled));
            }
        }
    }
    best
}

/// Ways to replace one segment by two: end to end, side by side, and crosses and angles.
fn halves(line: &Segment) -> Vec<[Segment; 2]> {
    let middle = line.a.lerp(line.b, 0.5);
    let d = (line.b - line.a) * 0.5;
    let across = Point::new(-d.y, d.x) * (1.0 / d.x.hypot(d.y).max(1e-9));
    let length = d.x.hypot(d.y);
    let segment = |a: Point, b: Point| Segment { a, b, half_width: line.half_width * 0.6 };
    let turned = |angle: f64| {
        let (s, c) = angle.to_radians().sin_cos();
        let e = Point::new(c * d.x - s * d.y, s * d.x + c * d.y);
        segment(middle - e, middle + e)
    };
    let beside = across * line.half_width;
    let mut out = vec![
        [segment(line.a, middle - d * 0.1), segment(middle + d * 0.1, line.b)],
        [segment(line.a + beside, line.b + beside), segment(line.a - beside, line.b - beside)],
        [turned(45.0), turned(-45.0)],
        [turned(20.0), turned(-20.0)],
        [turned(0.0), turned(90.0)],
    ];
    // One lies along, the other comes at it near either end, from either side.
    for (end, side) in [(0.8, 1.0), (0.8, -1.0), (-0.8, 1.0), (-0.8, -1.0)] {
        let root = middle + d * end;
        out.push([segment(line.a, line.b), segment(root, root + across * (side * length))]);
    }
    out
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

/// How good fish the pieces are: the geometric mean of their fishness, less for what they leave over.
fn score(grid: &Grid, lines: &[Segment], usual: Option<Usual>) -> f64 {
    let parts = pieces(grid, lines);
    let mut log = 0.0;
    let mut covered = Grid::empty(grid.width, grid.height);
    for part in &parts {
        let Some(shape) = Shape::of(part) else { return 0.0 };
        log += shape.fishness(usual).max(1e-6).ln();
        covered.on.iter_mut().zip(&part.on).for_each(|(c, p)| *c |= p);
    }
    let share = covered.count() as f64 / grid.count().max(1) as f64;
    (log / parts.len() as f64).exp() * share
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Fish-like spindles with a tail fan: length 60, width 12, from head (x, y) in direction `turn`.
    fn fish(heads: &[(f64, f64, f64)]) -> Grid {
        let mut grid = Grid::empty(180, 160);
        for k in 0..grid.on.len() {
            let p = centre(&grid, k);
            grid.on[k] = heads.iter().any(|&(x, y, turn)| {
                let (s, c) = f64::to_radians(turn).sin_cos();
                let (u, v) = (c * (p.x - x) + s * (p.y - y), c * (p.y - y) - s * (p.x - x));
                let half = match u {
                    u if (0.0..46.0).contains(&u) => 6.0 * (1.0 - ((u - 16.0) / 32.0).powi(2)).max(0.08).sqrt(),
                    u if (46.0..60.0).contains(&u) => 2.0 + (u - 46.0) * 0.3,
                    _ => 0.0,
                };
                v.abs() < half
            });
        }
        grid
    }

    fn usual() -> Option<Usual> {
        let one = Shape::of(&fish(&[(40.0, 60.0, 0.0)])).unwrap();
        Some(Usual { area: one.area, slenderness: one.slenderness })
    }

    #[test]
    fn a_lone_fish_stays_whole() {
        assert!(matches!(split(&fish(&[(40.0, 60.0, 30.0)]), usual()), Split::Whole));
    }

    #[test]
    fn two_and_three_touching_or_crossing_fish_come_apart() {
        let side_by_side = [(40.0, 60.0, 0.0), (44.0, 71.0, 4.0)];
        let crossing = [(50.0, 60.0, 20.0), (75.0, 40.0, 95.0)];
        let angle = [(40.0, 60.0, 0.0), (60.0, 66.0, 60.0)];
        let three = [(40.0, 60.0, 0.0), (44.0, 71.0, 4.0), (104.0, 70.0, -30.0)];
        for (name, heads) in [("beside", &side_by_side[..]), ("cross", &crossing), ("angle", &angle), ("three", &three)]
        {
            match split(&fish(heads), usual()) {
                Split::Pieces(parts) => assert_eq!(parts.len(), heads.len(), "{name}"),
                other => panic!("{name}: {other:?}"),
            }
        }
    }

    #[test]
    fn places_on_two_fish_part_them() {
        let parts =
            split_at(&fish(&[(40.0, 60.0, 0.0), (44.0, 71.0, 4.0)]), &[Point::new(55.0, 60.0), Point::new(60.0, 72.0)]);
        let ratio = parts[0].count() as f64 / parts[1].count() as f64;
        assert!((0.7..1.4).contains(&ratio), "{ratio}");
    }
}
