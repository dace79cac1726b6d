//! Fish in their floor's colour, pale ones on a light floor and dark ones on a black one: they differ from it no more than its own
//! unevenness does, but the network knows them by their shape.
#![expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "small counts of pixels")]

use rayon::prelude::*;

use crate::geometry::Point;

use super::Scene;
use super::evidence::Kind;
use super::grid::Grid;
use super::heads::{Fish, Spare, fish, likely, shows_heads};
use super::seek::{Blob, Survey};
use super::shape::Usual;

/// Lightness from which a colourless floor is light, L* (starting value: grey floors have up to 60, white ones from 78 on).
const LIGHT_FLOOR: f32 = 70.0;
/// How much like a fish a thing is that shows already, and how large in usual fish, at least (starting values).
const SHOWS: (f64, f64) = (0.8, 0.6);
/// Share of a fish's pixels from which the floor tells enough of it (starting value).
const TOLD: f64 = 0.9;

/// Takes for things, on a floor without colour, the fish that show a sure head and mostly not their outline; whether there are any. Where
/// `blobs` with the shape of a fish are all that is there, one does not look. Coloured floors tell every fish, and there the network takes
/// ripples of light for parts of fish, as it takes the blotches of a coarse photo on grey and black floors.
pub(super) fn see_hidden_fish(scene: &Scene<'_>, survey: &mut Survey, blobs: &[Blob], usual: Option<Usual>) -> bool {
    // A picture of the empty tray tells such fish from it by itself, and the close look's finer residues of it would pass for fry.
    let light = survey.block.floor[0] >= LIGHT_FLOOR;
    if scene.floor.pictured || survey.block.is_coloured() || survey.limits.are_coarse() && !light {
        return false;
    }
    let mut free = survey.inside.on.clone();
    let shown: Vec<&Blob> = blobs.par_iter().filter(|b| shows(b, usual)).collect();
    for blob in shown {
        blob.places(survey.block.width).for_each(|k| free[k] = false);
    }
    let step = f64::from(survey.block.step);
    let middle = Point::new(survey.block.width as f64, survey.block.height as f64) * (step / 2.0);
    let Some(mm_per_px) = scene.mm_per_px(middle).filter(|mm| shows_heads(*mm)) else { return false };
    let likely = likely(survey, &free, 1.0 / (mm_per_px * step)).into_par_iter();
    let seen = likely.map_init(Spare::default, |spare, rectangle| fish(scene, survey, rectangle, spare));
    let seen: Vec<Fish> = seen.flatten().collect();
    take(survey, &seen)
}

/// Whether a thing is enough like a whole fish that nothing hidden needs to be sought in it.
fn shows(blob: &Blob, usual: Option<Usual>) -> bool {
    let (Some(shape), Some(usual)) = (blob.shape(), usual) else { return false };
    shape.area >= SHOWS.1 * usual.area && shape.fishness(None) >= SHOWS.0
}

/// Takes what is seen of fish for things where the floor tells too little of it; whether there is any.
fn take(survey: &mut Survey, seen: &[Fish]) -> bool {
    let (width, height) = (survey.block.width, survey.block.height);
    let mut fish = Grid::empty(width, height);
    seen.iter().flat_map(|s| &s.places).for_each(|&k| fish.on[k] = true);
    let mut head = Grid::empty(width, height);
    let place = |p: Point| (p.y.max(0.0) as usize).min(height - 1) * width + (p.x.max(0.0) as usize).min(width - 1);
    seen.iter().flat_map(|s| &s.heads).for_each(|&p| head.on[place(p)] = true);
    let mut any = false;
    for piece in fish.pieces() {
        let told = piece.iter().filter(|&&k| survey.kinds[k] == Kind::Thing).count() as f64;
        if told < TOLD * piece.len() as f64 && piece.iter().any(|&k| head.on[k]) {
            any = true;
            for k in piece {
                survey.hidden.on[k] = survey.kinds[k] != Kind::Thing;
                survey.kinds[k] = Kind::Thing;
            }
        }
    }
    any
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Places of a bar of 30 by 6 whose left top corner is (`x`, `y`), 200 places across.
    fn bar(x: usize, y: usize) -> Vec<usize> {
        (y..y + 6).flat_map(|y| (x..x + 30).map(move |x| y * 200 + x)).collect()
    }

    #[test]
    fn what_has_the_shape_of_a_fish_shows_and_an_eye_does_not() {
        let survey = Survey::bare(80, 24);
        let blob = |on: &dyn Fn(f64, f64) -> bool| {
            let own = (0..80 * 24).filter(|k| on((k % 80) as f64 - 40.0, (k / 80) as f64 - 12.0)).collect();
            Blob::of(&survey, own, Vec::new())
        };
        let fish = blob(&|x, y| (x / 32.0).powi(2) + (y / 6.0).powi(2) < 1.0);
        let eye = blob(&|x, y| x.abs() < 2.0 && y.abs() < 2.0);
        let usual = fish.shape().map(|s| Usual { area: s.area, slenderness: s.slenderness }).unwrap();
        assert!(!shows(&eye, Some(usual)) && !shows(&fish, None));
        assert!(shows(&fish, Some(usual)));
    }

    #[test]
    fn only_fish_with_a_head_and_hardly_an_outline_are_taken() {
        let mut survey = Survey::bare(200, 60);
        // One by its eyes alone, one in the floor's colour without a head, and one that its colour tells.
        let (eyes, headless, bold) = (bar(10, 10), bar(60, 10), bar(110, 10));
        eyes.iter().take(3).chain(&bold).for_each(|&k| survey.kinds[k] = Kind::Thing);
        let kinds = survey.kinds.clone();
        let places = [&eyes[..], &headless, &bold].concat();
        let seen = Fish { places, heads: vec![Point::new(12.0, 13.0), Point::new(112.0, 13.0)] };
        assert!(take(&mut survey, &[seen]));
        assert!(eyes.iter().all(|&k| survey.kinds[k] == Kind::Thing));
        assert_eq!(survey.hidden.count(), eyes.len() - 3);
        assert!(headless.iter().chain(&bold).all(|&k| survey.kinds[k] == kinds[k]));
        let again = Fish { places: eyes, heads: vec![Point::new(12.0, 13.0)] };
        assert!(!take(&mut survey, &[again]), "what is taken is told");
    }
}
