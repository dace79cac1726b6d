//! Which of the picture's smooth patches is the tray's floor.
#![expect(clippy::cast_possible_truncation, reason = "cell counts fit")]

use rayon::prelude::*;

use crate::geometry::{Point, Quad, mean_point, polygon_area, polygon_contains};

use super::cells::{Cells, Patch, hull_of, smooth_patches};

/// Smallest share of the picture that a tray's floor takes up (starting value).
const LEAST_SHARE: f64 = 0.03;
/// Smallest share of the picture of a floor that lies inside another smooth patch, as a tray on a table does (starting value).
const LEAST_NESTED: f64 = 0.06;
/// Smallest share of its hull that a nested floor covers; fish, shine and shadows take the rest (starting value).
const LEAST_COVER: f64 = 0.5;
/// Largest difference in L* and in a*, b* between two patches of one floor, as a moulded ring parts it (starting values).
const SAME_FLOOR: [f32; 3] = [4.0, 2.0, 2.0];

/// The floor's patch and the other plain surfaces under the same light.
#[derive(Debug, Clone)]
pub(super) struct Plain {
    /// Cells of the floor, ascending.
    pub(super) floor: Vec<usize>,
    /// Outline of the tray's inside in photo pixels.
    pub(super) outline: Vec<Point>,
    /// Cells of up to three other plain surfaces (the table), largest first.
    pub(super) others: Vec<Vec<usize>>,
    /// Whether the outline follows an edge inside the picture.
    pub(super) bounded: bool,
}

/// Finds the floor; `None` when no patch is large enough. Cells of the card are barred; `link` says how smooth a patch is, as in
/// [`smooth_patches`].
pub(super) fn find(cells: &Cells, card: Option<&Quad>, given: Option<&[Point]>, link: f32) -> Option<Plain> {
    let total = cells.lab.len();
    let barred = barred(cells, card, given);
    let free = barred.iter().filter(|b| !**b).count();
    let least = (LEAST_SHARE * if given.is_some() { free } else { total } as f64) as usize;
    let patches = merge_alike(cells, smooth_patches(cells, least, &barred, link));
    let chosen = choose(cells, &patches, card)?;
    let mut others: Vec<Vec<usize>> =
        patches.iter().enumerate().filter(|(i, _)| *i != chosen).take(2).map(|(_, p)| p.cells.clone()).collect();
    let floor = &patches[chosen];
    let on_plain = |q: &Quad| patches.iter().any(|p| polygon_contains(&p.hull, mean_point(q)));
    if card.is_some_and(|q| !on_plain(q)) {
        others.push(rough_table(cells, &floor.hull, &barred));
    }
    let outline = given.map_or_else(|| floor.hull.clone(), <[Point]>::to_vec);
    let bounded =
        given.is_some() || sides_touched(cells, &floor.hull) < 4 || polygon_area(&outline) < 0.9 * picture(cells);
    Some(Plain { floor: floor.cells.clone(), outline, others, bounded })
}

fn picture(cells: &Cells) -> f64 {
    cells.lab.len() as f64 * cells.step * cells.step
}

/// Cells of the card (one cell around it included) and, where the tray is given, all outside it.
fn barred(cells: &Cells, card: Option<&Quad>, given: Option<&[Point]>) -> Vec<bool> {
    let grown = card.map(|q| grow(q, 1.5 * cells.step));
    (0..cells.lab.len())
        .into_par_iter()
        .map(|k| {
            let p = cells.place(k);
            grown.as_ref().is_some_and(|q| polygon_contains(q, p)) || given.is_some_and(|t| !polygon_contains(t, p))
        })
        .collect()
}

/// A quad with its corners moved outwards from its centre by `by` pixels.
pub fn grow(quad: &Quad, by: f64) -> Quad {
    let centre = mean_point(quad);
    quad.map(|p| {
        let d = p.distance(centre).max(1e-9);
        centre + (p - centre) * ((d + by * std::f64::consts::SQRT_2) / d)
    })
}

/// Cells well outside the tray: a table with grain still tells, on the whole, how the light runs on to the card.
fn rough_table(cells: &Cells, hull: &[Point], barred: &[bool]) -> Vec<usize> {
    // The tray's own shade lies within a few per cent of the picture around it.
    const CLEAR: f64 = 1.08;
    let middle = mean_point(hull);
    let grown: Vec<Point> = hull.iter().map(|p| middle + (*p - middle) * CLEAR).collect();
    (0..cells.lab.len()).filter(|&k| !barred[k] && !polygon_contains(&grown, cells.place(k))).collect()
}

/// Joins patches of one colour when one lies mostly inside the other's hull: a moulded ring or a crease parted them.
fn merge_alike(cells: &Cells, mut patches: Vec<Patch>) -> Vec<Patch> {
    let mut i = 0;
    while i < patches.len() {
        let next = (i + 1..patches.len()).find(|&j| one_floor(cells, &patches[i], &patches[j]));
        match next {
            None => i += 1,
            Some(j) => {
                let mut joined = patches.remove(j).cells;
                joined.append(&mut patches[i].cells);
                joined.sort_unstable();
                patches[i] = Patch { hull: hull_of(cells, &joined), cells: joined };
            }
        }
    }
    patches.sort_by_key(|p| std::cmp::Reverse(p.cells.len()));
    patches
}

fn one_floor(cells: &Cells, a: &Patch, b: &Patch) -> bool {
    let inside = b.cells.iter().filter(|&&k| polygon_contains(&a.hull, cells.place(k))).count();
    let near = 2 * inside > b.cells.len();
    near && border_difference(cells, a, b).is_some_and(|d| d.iter().zip(SAME_FLOOR).all(|(d, limit)| d.abs() < limit))
}

/// Median colour step from `a` to `b` where the two come within three cells of each other; `None` when they nowhere do.
fn border_difference(cells: &Cells, a: &Patch, b: &Patch) -> Option<[f32; 3]> {
    const REACH: usize = 3;
    let mut of_a = vec![false; cells.lab.len()];
    a.cells.iter().for_each(|&k| of_a[k] = true);
    let mut steps: [Vec<f32>; 3] = Default::default();
    for &k in &b.cells {
        let (i, j) = (k % cells.width, k / cells.width);
        let near = [
            (i >= REACH).then(|| k - REACH),
            (i + REACH < cells.width).then(|| k + REACH),
            (j >= REACH).then(|| k - REACH * cells.width),
            (j + REACH < cells.height).then(|| k + REACH * cells.width),
        ];
        for q in near.into_iter().flatten().filter(|&q| of_a[q]) {
            (0..3).for_each(|c| steps[c].push(cells.lab[k][c] - cells.lab[q][c]));
        }
    }
    if steps[0].len() < 8 {
        return None;
    }
    Some(steps.map(|mut s| {
        let middle = s.len() / 2;
        *s.select_nth_unstable_by(middle, f32::total_cmp).1
    }))
}

/// Number of the picture's sides that a hull comes to.
fn sides_touched(cells: &Cells, hull: &[Point]) -> usize {
    let (w, h, near) = (cells.width as f64 * cells.step, cells.height as f64 * cells.step, 1.5 * cells.step);
    let any = |f: &dyn Fn(&Point) -> bool| usize::from(hull.iter().any(f));
    any(&|p| p.x < near) + any(&|p| p.y < near) + any(&|p| p.x > w - near) + any(&|p| p.y > h - near)
}

/// The patch that is the floor: a tray-shaped one that lies within another, else the best filled large one.
fn choose(cells: &Cells, patches: &[Patch], card: Option<&Quad>) -> Option<usize> {
    let share = |p: &Patch| polygon_area(&p.hull) / picture(cells);
    let cover = |p: &Patch| p.cells.len() as f64 * cells.step * cells.step / polygon_area(&p.hull).max(1.0);
    let holds_card = |p: &Patch| card.is_some_and(|q| polygon_contains(&p.hull, mean_point(q)));
    let score = |p: &Patch| {
        let sides = sides_touched(cells, &p.hull);
        let nested = sides <= 1 && share(p) >= LEAST_NESTED && cover(p) >= LEAST_COVER && tray_shaped(&p.hull);
        // A table reaches the picture's sides and holds the card; a floor that does is only taken when nothing better is there.
        let table = sides >= 3 && holds_card(p) && cover(p) < 0.75;
        share(p)
            * cover(p)
            * if nested {
                4.0
            } else if table {
                0.5
            } else {
                1.0
            }
    };
    (0..patches.len()).max_by(|&a, &b| score(&patches[a]).total_cmp(&score(&patches[b])))
}

/// Whether a hull fills its smallest rectangle at least as well as an ellipse does (π/4, less 5 % for perspective).
fn tray_shaped(hull: &[Point]) -> bool {
    const LEAST_FILL: f64 = 0.95 * std::f64::consts::FRAC_PI_4;
    let points: Vec<imageproc::point::Point<f64>> =
        hull.iter().map(|p| imageproc::point::Point::new(p.x, p.y)).collect();
    if points.len() < 3 {
        return false;
    }
    let corners = imageproc::geometry::min_area_rect(&points).map(|p| Point::new(p.x, p.y));
    polygon_area(hull).abs() >= LEAST_FILL * polygon_area(&corners).abs()
}
