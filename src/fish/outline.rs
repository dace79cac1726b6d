//! The outline of a set of pixels as a polygon.

use std::collections::VecDeque;

use image::GrayImage;
use imageproc::contours::{BorderType, find_contours};
use imageproc::geometry::approximate_polygon_dp;

use crate::geometry::{Point, polygon_area};

use super::grid::Grid;

/// Tolerance of the polygon, in block pixels.
const TOLERANCE: f64 = 0.6;

/// Share of the largest piece's area below which a piece is a speck and no part of the outline.
const SPECK: f64 = 0.02;

/// How wide a bridge between two pieces is, in pixels of the grid: next to nothing, and enough for the outline not to touch itself.
const BRIDGE: f64 = 0.1;

/// The outline of `grid` as one polygon, clockwise on the screen, in pixels of the grid; empty for an empty grid. From piece to piece it
/// runs over and back along the shortest line between their corners.
pub(super) fn outline(grid: &Grid) -> Vec<Point> {
    let mut pieces = outlines(grid);
    pieces.sort_by(|a, b| polygon_area(b).total_cmp(&polygon_area(a)));
    let least = pieces.first().map_or(0.0, |largest| SPECK * polygon_area(largest));
    let mut rest = pieces.into_iter().filter(|piece| polygon_area(piece) >= least).collect::<VecDeque<_>>();
    let Some(mut whole) = rest.pop_front() else { return Vec::new() };
    while let Some((number, from, to)) = nearest(&whole, &rest)
        && let Some(mut piece) = rest.remove(number)
    {
        piece.rotate_left(to);
        let back = [beside(piece[0], piece[piece.len() - 1]), beside(whole[from], whole[(from + 1) % whole.len()])];
        whole.splice(from + 1..from + 1, piece.into_iter().chain(back));
    }
    whole
}

/// A bridge's width from `corner` towards its neighbour.
fn beside(corner: Point, neighbour: Point) -> Point {
    let apart = corner.distance(neighbour);
    corner + (neighbour - corner) * (BRIDGE / apart.max(2.0 * BRIDGE))
}

/// Which of `rest` comes nearest to `whole`, and the numbers of the corners that do, of `whole` and of it.
fn nearest(whole: &[Point], rest: &VecDeque<Vec<Point>>) -> Option<(usize, usize, usize)> {
    let corners = rest.iter().enumerate().flat_map(|(number, piece)| (0..piece.len()).map(move |to| (number, to)));
    let pairs = corners.flat_map(|(number, to)| (0..whole.len()).map(move |from| (number, from, to)));
    let apart = |&(number, from, to): &(usize, usize, usize)| whole[from].distance(rest[number][to]);
    pairs.min_by(|a, b| apart(a).total_cmp(&apart(b)))
}

/// The outlines of the pieces of `grid`, each clockwise on the screen.
fn outlines(grid: &Grid) -> Vec<Vec<Point>> {
    // Contours run through pixel centres; on a picture of twice the size that is a quarter pixel inside the true edge.
    let (width, height) = (2 * grid.width + 2, 2 * grid.height + 2);
    let mut doubled = vec![0; width * height];
    let within = doubled.chunks_mut(width).skip(1).take(2 * grid.height);
    for (y, row) in within.enumerate() {
        let on = &grid.on[y / 2 * grid.width..][..grid.width];
        row[1..].chunks_exact_mut(2).zip(on).for_each(|(pair, on)| pair.fill(if *on { 255 } else { 0 }));
    }
    let size = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
    let Some(doubled) = GrayImage::from_raw(size(width), size(height), doubled) else { return Vec::new() };
    let contours = find_contours::<i32>(&doubled).into_iter().filter(|c| c.border_type == BorderType::Outer);
    contours.map(|contour| polygon(contour.points)).collect()
}

/// The polygon along a contour of the doubled picture, in pixels of the grid.
fn polygon(contour: Vec<imageproc::point::Point<i32>>) -> Vec<Point> {
    let points = if contour.len() > 8 { approximate_polygon_dp(&contour, 2.0 * TOLERANCE, true) } else { contour };
    let mut polygon: Vec<Point> =
        points.iter().map(|p| Point::new(f64::from(p.x) - 0.5, f64::from(p.y) - 0.5) * 0.5).collect();
    if polygon_area(&polygon) < 0.0 {
        polygon.reverse();
    }
    polygon
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::polygon_contains;

    #[test]
    fn a_disc_has_the_area_of_its_pixels() {
        let on = (0..60 * 60).map(|k| f64::from(k % 60 - 30).hypot(f64::from(k / 60 - 30)) < 22.0).collect();
        let grid = Grid { width: 60, height: 60, on };
        let ratio = polygon_area(&outline(&grid)) / grid.count() as f64;
        assert!((ratio - 1.0).abs() < 0.04, "{ratio}");
    }

    /// A fish whose stalk is as pale as the floor: its tail lies apart, and a speck says nothing.
    #[test]
    fn pieces_that_lie_apart_are_all_outlined() {
        let disc = |k: usize, x: f64, r: f64| ((k % 120) as f64 - x).hypot((k / 120) as f64 - 30.0) < r;
        let on = (0..120 * 60).map(|k| disc(k, 25.0, 20.0) || disc(k, 65.0, 12.0) || disc(k, 100.0, 15.0) || k == 130);
        let grid = Grid { width: 120, height: 60, on: on.collect() };
        let outline = outline(&grid);
        let ratio = polygon_area(&outline) / grid.count() as f64;
        assert!((ratio - 1.0).abs() < 0.04, "{ratio}");
        let inside = |x: f64| polygon_contains(&outline, Point::new(x, 30.3));
        assert!(inside(25.0) && inside(65.0) && inside(100.0) && !inside(49.0) && !inside(81.0), "{outline:?}");
        let side = |k: usize| (outline[k], outline[(k + 1) % outline.len()]);
        let beyond = |(a, b): (Point, Point), p: Point| (b - a).x * (p - a).y - (b - a).y * (p - a).x;
        let cross = |s: (Point, Point), t: (Point, Point)| {
            beyond(s, t.0) * beyond(s, t.1) < 0.0 && beyond(t, s.0) * beyond(t, s.1) < 0.0
        };
        for (i, j) in (0..outline.len()).flat_map(|i| (0..i).map(move |j| (i, j))) {
            assert!(!cross(side(i), side(j)), "sides {j} and {i} of {outline:?} cross");
        }
    }

    #[test]
    fn nothing_has_no_outline() {
        assert!(outline(&Grid::empty(5, 5)).is_empty());
    }
}
