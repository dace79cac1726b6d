//! The lamp's mirror image across a fish: it brightens the floor beside the fish as well, softly, and so is told from bright cover.
#![expect(clippy::cast_possible_truncation, reason = "sizes inside the picture and CIELAB values fit their types")]

use std::ops::Range;

use super::body::Body;
use super::differ::Block;
use super::grid::Grid;
use super::peel::brightest_nearby;

/// Lightness of the floor from which the lamp's image on it is told from pale fish (starting value).
const PALE_FLOOR: f32 = 40.0;
/// How much brighter than the bare floor its image there is, L* units (starting value: noise and moulded rings are below).
const BRIGHT: f32 = 5.0;
/// Photo pixels from the outline within which lens, sharpening and compression soften a fish's own edge, and up to which the image's soft
/// rim is sought outside (starting values).
const BESIDE: (usize, usize) = (3, 7);
/// What the rim has at most of the brightest place nearby, and how steep it is, L* units a photo pixel (starting values): a fish's edge is
/// steeper, its back and its fins are flatter or brighter.
const RIM: (f32, Range<f32>) = (0.5, 0.5..3.0);
/// How large the rim is at least, as a share of what lies that far outside of the outline (starting value: on 45 drawn trays eighteen
/// regions had more, all of them at a lamp's image or a water line).
const LEAST: f64 = 0.02;
/// Share of a fish that is as bright as its image from which that is the fish's own (starting value).
const MOST: f64 = 0.65;
/// How much brighter than skin without it the image makes a fish, L* units (starting value).
const BRIGHTER: f32 = 4.0;
/// How many places of a fish's skin without the image stand for all of it.
const SKIN: usize = 48;
/// Share of a fish's pixels without the image that tell what its skin is like, at least (starting value).
const LEAST_SKIN: f64 = 0.2;
/// Tolerance in a* and b*, and how it grows with the light added: what an imperfect white balance leaves (starting values).
const TOLERANCE: (f32, f32) = (3.0, 0.12);

/// The pixels of a fish that the lamp's image covers; none where no image lies on the floor beside it.
pub(super) fn lamp_image(body: &Body) -> Grid {
    let fish = &body.grid;
    let none = Grid::empty(fish.width, fish.height);
    if body.block.floor[0] < PALE_FLOOR {
        return none;
    }
    let reach = (fish.thickness() as usize).max(1);
    let Some(rim) = rim(body, reach) else { return none };
    let on_floor = reached(fish, rim, |k| is_on_floor(body, k));
    if fish.indices().filter(|&k| on_floor.on[k]).count() as f64 > MOST * fish.count() as f64 {
        return none;
    }
    let lit = on_skin(body, on_floor, reach).dilated(pixels(&body.block, 1));
    Grid { on: fish.on.iter().zip(&lit.on).map(|(own, lit)| *own && *lit).collect(), ..none }
}

/// The soft rim of a lamp's image at the outline of a fish that is `reach` pixels thick; `None` where there is too little of it.
fn rim(body: &Body, reach: usize) -> Option<Vec<usize>> {
    let (block, fish) = (&body.block, &body.grid);
    let (near, far) = (pixels(block, BESIDE.0), pixels(block, BESIDE.1));
    // What lies in a notch of a pale fish's outline is the fish rather than light.
    let whole = fish.dilated(reach).eroded(reach).with(|k| fish.on[k]);
    let (grown, wide, within) = (whole.dilated(near), whole.dilated(far), fish.eroded(near));
    let others = body.others.dilated(near);
    let brightest = brightest_nearby(block);
    let is_rim = |k: usize| {
        let dim = block.pixels[k].lightness <= RIM.0 * f32::from(brightest[k]) / 2.0;
        dim && !others.on[k] && is_on_floor(body, k) && RIM.1.contains(&(block.slope(k) / block.step as f32))
    };
    let outside: Vec<usize> = wide.indices().filter(|&k| !grown.on[k] && !others.on[k]).collect();
    let mut rim: Vec<usize> = outside.iter().copied().filter(|&k| is_rim(k)).collect();
    let outer = rim.len();
    // An outline that takes in all of the image has some of its rim inside.
    rim.extend(within.indices().filter(|&k| is_rim(k)));
    (rim.len() as f64 > LEAST * outside.len() as f64 && 3 * outer >= rim.len()).then_some(rim)
}

/// Whether a pixel is the floor with the lamp's image over it, or a pale fish.
fn is_on_floor(body: &Body, k: usize) -> bool {
    let pixel = body.block.pixels[k];
    !body.others.on[k] && pixel.sheen && pixel.lightness >= BRIGHT
}

/// An image on the floor with what of it lies on a fish of another colour: what hangs together with it and is skin with white light added.
fn on_skin(body: &Body, on_floor: Grid, reach: usize) -> Grid {
    let (block, fish) = (&body.block, &body.grid);
    let near = on_floor.dilated(reach);
    let bare: Vec<usize> = fish.indices().filter(|&k| !near.on[k]).collect();
    if (bare.len() as f64) < LEAST_SKIN * fish.count() as f64 {
        return on_floor;
    }
    let some = bare.iter().step_by(bare.len().div_ceil(SKIN));
    let skin: Vec<[f32; 3]> = some.map(|&k| cube_roots(block, k)).collect();
    let may = |k: usize| fish.on[k] && near.on[k] && skin.iter().any(|bare| is_lit(*bare, cube_roots(block, k)));
    reached(fish, on_floor.indices().collect(), may)
}

/// Block pixels that are so many photo pixels at least.
fn pixels(block: &Block, photo_pixels: usize) -> usize {
    photo_pixels.div_ceil(block.step as usize)
}

/// What hangs together with the pixels of `front` by pixels that `may` be taken, in a grid of that `size`.
fn reached(size: &Grid, front: Vec<usize>, may: impl Fn(usize) -> bool) -> Grid {
    let mut out = Grid::empty(size.width, size.height);
    let mut open = front;
    open.iter().for_each(|&k| out.on[k] = true);
    while let Some(k) = open.pop() {
        for q in size.neighbours(k) {
            if !out.on[q] && may(q) {
                out.on[q] = true;
                open.push(q);
            }
        }
    }
    out
}

/// The cube roots of X, Y and Z against white of which CIELAB is made (CIE 15).
fn cube_roots(block: &Block, k: usize) -> [f32; 3] {
    let ([l, a, b], d) = (block.floor, block.pixels[k]);
    let shade = (l + d.lightness + 16.0) / (l + 16.0);
    let y = (l + d.lightness + 16.0) / 116.0;
    [y + (shade * a + d.tint[0]) / 500.0, y, y - (shade * b + d.tint[1]) / 200.0]
}

/// Whether a colour is that of `bare` skin with white light added.
fn is_lit(bare: [f32; 3], seen: [f32; 3]) -> bool {
    let brighter = 116.0 * (seen[1] - bare[1]);
    if brighter < BRIGHTER {
        return false;
    }
    let added = seen[1].powi(3) - bare[1].powi(3);
    let [x, z] = [bare[0], bare[2]].map(|v| (v.powi(3) + added).cbrt());
    (500.0 * (x - seen[0])).hypot(200.0 * (z - seen[2])) < TOLERANCE.0 + TOLERANCE.1 * brighter
}

#[cfg(test)]
mod tests {
    use super::super::differ::Difference;
    use super::super::drawn::in_fish;
    use super::*;
    use crate::colour::{Lab, Xyz, lab_from_xyz, xyz_from_lab};
    use crate::geometry::Point;

    const SIZE: (usize, usize) = (160, 120);
    const FLOOR: f64 = 60.0;

    /// A fish of one colour on a grey floor, `light` of white added at each place, and outlined by itself.
    fn body(skin: Lab, light: impl Fn(Point) -> f64) -> Body {
        let place = |k: usize| Point::new((k % SIZE.0) as f64 + 0.5, (k / SIZE.0) as f64 + 0.5);
        let is_fish = |k: usize| in_fish(&[(50.0, 60.0, 0.0)], place(k));
        let pixel = |k: usize| {
            let own = xyz_from_lab(if is_fish(k) { skin } else { Lab::new(FLOOR, 0.0, 0.0) });
            let (white, added) = (xyz_from_lab(Lab::new(100.0, 0.0, 0.0)), light(place(k)));
            let c = lab_from_xyz(Xyz::new(own.x + added * white.x, own.y + added * white.y, own.z + added * white.z));
            let (lightness, tint) = ((c.l - FLOOR) as f32, [c.a as f32, c.b as f32]);
            Difference { lightness, tint, sheen: lightness > 1.5 && tint[0].hypot(tint[1]) < 3.0 + 0.12 * lightness }
        };
        let count = SIZE.0 * SIZE.1;
        let pixels = (0..count).map(pixel).collect();
        let block = Block { origin: (0, 0), step: 1, width: SIZE.0, height: SIZE.1, pixels, floor: [60.0, 0.0, 0.0] };
        let grid = Grid { on: (0..count).map(is_fish).collect(), ..Grid::empty(SIZE.0, SIZE.1) };
        Body { block, grid, others: Grid::empty(SIZE.0, SIZE.1) }
    }

    /// A soft round lamp over a fish's middle.
    fn lamp(p: Point) -> f64 {
        0.5 * (-((p.x - 80.0).powi(2) + (p.y - 60.0).powi(2)) / 150.0).exp()
    }

    #[test]
    fn a_lamp_across_a_fish_is_found_on_skin_of_any_colour_and_no_farther() {
        for skin in [Lab::new(50.0, 1.0, 9.0), Lab::new(44.0, 45.0, 30.0), Lab::new(70.0, 2.0, 50.0)] {
            let body = body(skin, lamp);
            let covered = lamp_image(&body);
            let is_covered = |x: usize, y: usize| covered.on[y * SIZE.0 + x];
            assert!(is_covered(80, 60) && is_covered(88, 60) && is_covered(74, 62), "{skin:?}");
            let far = covered.indices().filter(|k| (k % SIZE.0).abs_diff(80) > 26).count();
            assert_eq!((far, covered.indices().all(|k| body.grid.on[k])), (0, true), "{skin:?}");
        }
    }

    #[test]
    fn a_white_fish_without_a_lamp_and_one_beside_another_thing_have_none() {
        let white = body(Lab::new(82.0, 0.0, 4.0), |_| 0.0);
        assert_eq!(lamp_image(&white).count(), 0);
        let beside = |p: Point| lamp(Point::new(p.x, p.y + 40.0));
        assert_eq!(lamp_image(&body(Lab::new(50.0, 1.0, 9.0), beside)).count(), 0, "a lamp far from it");
        let mut other = body(Lab::new(50.0, 1.0, 9.0), lamp);
        other.others.on.fill(true);
        assert_eq!(lamp_image(&other).count(), 0);
    }

    #[test]
    fn what_is_bright_all_over_is_the_fish_itself() {
        // The same lamp over a fish that is as bright without it.
        assert_eq!(lamp_image(&body(Lab::new(82.0, 0.0, 4.0), lamp)).count(), 0);
    }

    #[test]
    fn on_a_dark_floor_nothing_can_be_said() {
        let mut body = body(Lab::new(50.0, 1.0, 9.0), lamp);
        body.block.floor[0] = 30.0;
        assert_eq!(lamp_image(&body).count(), 0);
    }
}
