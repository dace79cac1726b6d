//! The outline of a set of pixels as a polygon.

use image::GrayImage;
use imageproc::contours::{BorderType, find_contours};
use imageproc::geometry::approximate_polygon_dp;

use crate::geometry::{Point, polygon_area};

use super::grid::Grid;

/// Tolerance of the polygon, in block pixels.
const TOLERANCE: f64 = 0.6;

/// The outline of the largest piece of `grid`, clockwise on the screen, in pixels of the grid; empty for an empty grid.
pub(super) fn outline(grid: &Grid) -> Vec<Point> {
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
    let longest = find_contours::<i32>(&doubled)
        .into_iter()
        .filter(|c| c.border_type == BorderType::Outer)
        .max_by_key(|c| c.points.len());
    let Some(contour) = longest else { return Vec::new() };
    let points = if contour.points.len() > 8 {
        approximate_polygon_dp(&contour.points, 2.0 * TOLERANCE, true)
    } else {
        contour.points
    };
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

    #[test]
    fn a_disc_has_the_area_of_its_pixels() {
        let on = (0..60 * 60).map(|k| f64::from(k % 60 - 30).hypot(f64::from(k / 60 - 30)) < 22.0).collect();
        let grid = Grid { width: 60, height: 60, on };
        let ratio = polygon_area(&outline(&grid)) / grid.count() as f64;
        assert!((ratio - 1.0).abs() < 0.04, "{ratio}");
    }

    #[test]
    fn nothing_has_no_outline() {
        assert!(outline(&Grid::empty(5, 5)).is_empty());
    }
}
