//! The outline of a mask as a polygon, by walking around its pixels' edges.

use broodhue::geometry::Point;

/// The outline of the largest 4-connected run of `inside` pixels, walked along pixel edges with the mask on the right;
/// every second corner of a staircase is left out, so the polygon stays within a pixel of the mask.
/// Empty when no pixel is inside.
pub fn trace(width: usize, height: usize, origin: Point, inside: impl Fn(usize, usize) -> bool) -> Vec<Point> {
    let at = |x: i64, y: i64| {
        x >= 0 && y >= 0 && (x as usize) < width && (y as usize) < height && inside(x as usize, y as usize)
    };
    let mut best: Vec<(i64, i64)> = Vec::new();
    let mut seen = vec![false; width * height];
    for y in 0..height as i64 {
        for x in 0..width as i64 {
            // A walk starts at a top edge that no walk has passed.
            if at(x, y) && !at(x, y - 1) && !seen[y as usize * width + x as usize] {
                let path = walk(&at, (x, y), &mut |px, py| seen[py as usize * width + px as usize] = true);
                if path.len() > best.len() {
                    best = path;
                }
            }
        }
    }
    best.iter().map(|&(x, y)| origin + Point::new(x as f64, y as f64)).collect()
}

/// Directions right, down, left, up.
const STEPS: [(i64, i64); 4] = [(1, 0), (0, 1), (-1, 0), (0, -1)];

fn walk(at: &impl Fn(i64, i64) -> bool, start: (i64, i64), pass: &mut impl FnMut(i64, i64)) -> Vec<(i64, i64)> {
    let (mut corner, mut dir) = (start, 0_usize);
    let mut path = Vec::new();
    loop {
        path.push(corner);
        let (dx, dy) = STEPS[dir];
        if dir == 0 {
            pass(corner.0, corner.1);
        }
        corner = (corner.0 + dx, corner.1 + dy);
        // Pixels ahead on the right and on the left of the walk.
        let (rx, ry) = STEPS[(dir + 1) % 4];
        let pixel = |fx: i64, fy: i64| (corner.0 + (fx - 1) / 2, corner.1 + (fy - 1) / 2);
        let ahead_right = pixel(dx + rx, dy + ry);
        let ahead_left = pixel(dx - rx, dy - ry);
        dir = if !at(ahead_right.0, ahead_right.1) {
            (dir + 1) % 4
        } else if at(ahead_left.0, ahead_left.1) {
            (dir + 3) % 4
        } else {
            dir
        };
        if (corner == start && dir == 0) || path.len() > 400_000 {
            return path;
        }
    }
}
