//! A floor too bright for the camera: where it is blown out, it says nothing of the light over it.
#![expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "places inside the picture")]

use rayon::prelude::*;

use crate::error::Warning;
use crate::geometry::Point;
use crate::photo::Photo;
use crate::units::percent;

use super::LightField;
use super::cells::Cells;
use super::light::{Light, ToScene, UNKNOWN_ERROR};
use super::tray::Plain;

/// Share of the floor up to which what is blown out is shine on the water and drops of it (starting value).
const SHINE: f64 = 0.02;
/// Share of the floor from which too little is left to tell the light by (starting value).
pub const MOSTLY_BLOWN_OUT: f64 = 0.5;

/// The lighting field of a floor whose blown-out cells are left out, and their share; where they hardly matter the field is `usual`.
/// What a surface carried over the gap may be off by grows with the gap.
pub(super) fn field(
    photo: &Photo,
    cells: &Cells,
    plain: &Plain,
    anchor: Point,
    scene: ToScene<'_>,
    usual: impl FnOnce() -> LightField,
) -> (LightField, f64) {
    let readable = |list: &[usize]| list.par_iter().copied().filter(|&k| !is_blown_out(photo, cells, k)).collect();
    let floor: Vec<usize> = readable(&plain.floor);
    let share = 1.0 - floor.len() as f64 / plain.floor.len().max(1) as f64;
    if share <= SHINE {
        return (usual(), share);
    }
    let unknown = LightField::even(UNKNOWN_ERROR);
    if share > MOSTLY_BLOWN_OUT {
        return (unknown, share);
    }
    let others = plain.others.iter().map(|other| readable(other)).collect();
    let light = Light::of(photo, cells, &Plain { floor, others, ..plain.clone() });
    let field = light.map_or(unknown, |light| {
        let known = light.field(photo, &light.background(photo), anchor, scene);
        let error = known.relative_error.hypot(share * UNKNOWN_ERROR).min(UNKNOWN_ERROR);
        LightField { relative_error: error, ..known }
    });
    (field, share)
}

/// What a person should know of a floor of which that share is blown out.
pub(super) fn warning(share: f64) -> Option<Warning> {
    let text = || {
        format!(
            "{} of the floor is too bright for the camera, and what light falls there is not known: expose less, so that a white floor stays a \
             light grey in the photo",
            percent(share)
        )
    };
    (share > SHINE).then(|| Warning::new("floor-too-bright", text()))
}

/// Whether most of five places of a cell are clipped.
fn is_blown_out(photo: &Photo, cells: &Cells, k: usize) -> bool {
    const PLACES: [(f64, f64); 5] = [(0.0, 0.0), (-0.3, -0.3), (0.3, -0.3), (-0.3, 0.3), (0.3, 0.3)];
    let middle = cells.place(k);
    let clipped = |&(dx, dy): &(f64, f64)| {
        let p = middle + Point::new(dx, dy) * cells.step;
        photo.clipped((p.x as u32).min(photo.width - 1), (p.y as u32).min(photo.height - 1))
    };
    2 * PLACES.iter().filter(|place| clipped(place)).count() > PLACES.len()
}
