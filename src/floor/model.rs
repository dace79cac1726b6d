//! From a photo and its card to the floor: tray, background and lighting field.
#![expect(clippy::cast_possible_truncation, reason = "pixel indices stay inside the picture")]

use rayon::prelude::*;

use crate::card::Card;
use crate::colour::LinearRgb;
use crate::error::{Error, Result, Warning};
use crate::geometry::{Point, Quad, mean_point, polygon_area, polygon_contains};
use crate::photo::{LinearImage, Photo};
use crate::units::percent;

use super::cells::{Cells, hull_of};
use super::exposed;
use super::light::{Light, ToScene, UNKNOWN_ERROR};
use super::perceive::perceived;
use super::surface::{log_light, robust_scale};
use super::tray::{self, Plain};
use super::{Background, Floor, FloorOptions, LightField, TraySource};

/// Length of the reduced picture's longer side the reduction aims at: a fry of 7 mm in a 300 mm tray is 30 of its pixels long.
const REDUCED_SIDE: u32 = 1200;
/// Fewest cells of a tray that a person gave: four for each of the fifteen numbers of the light over it (starting value).
const LEAST_CELLS: usize = 60;
/// Number of floor pixels the noise is judged by.
const SAMPLES: usize = 4000;
/// Difference in L*a*b* up to which a cell counts as explained by the background.
const EXPLAINED: f32 = 6.0;
/// Difference in L* from the smooth floor from which a cell is the tray's wall (starting value).
const WALL: f32 = 2.5;
/// How wide, as a share of the picture's longer side, the soft edge of a shadow is beside whatever is no floor, and the shade of
/// a tray's wall beside whatever is no table. Starting values, tuned on rendered trays.
const BESIDE_FISH: f64 = 0.005;
const BESIDE_TRAY: f64 = 0.01;
/// Shares of the usual limit that are tried after it where what links up is not of one surface: a dark tray's wall and its shade may
/// lead to a dark table without an edge (tuned on the renderer's tuning seeds: a half parts them).
const CLOSER_LINKS: [f32; 2] = [0.5, 0.25];
/// Share of the tray that a plain floor explains; gravel and plants explain far less (starting value).
pub const PLAIN_FROM: f64 = 0.35;

/// The photo at the size its floor is modelled at and its fish are sought on first.
pub fn reduced(photo: &Photo) -> LinearImage {
    let longer = f64::from(photo.width.max(photo.height));
    photo.reduced((longer / f64::from(REDUCED_SIDE)).round().max(1.0) as u32)
}

/// Models the floor of `photo`, which `reduced` is [the reduced picture](reduced) of.
///
/// `scene` undoes the phone's contrast curve, as far as it is known. White is set by the card alone: the field only says how
/// the light differs from that at the card's centre (at the middle of the tray when there is no card).
///
/// # Errors
/// A given tray of fewer than three corners, without area or hardly in the picture, an empty-tray photo of another size.
pub fn model(
    photo: &Photo,
    reduced: LinearImage,
    card: Option<&Card>,
    scene: ToScene<'_>,
    options: &FloorOptions<'_>,
) -> Result<Floor> {
    check(photo, options)?;
    let cells = Cells::of(&reduced);
    if let Some(tray) = options.tray {
        check_inside(photo, &cells, tray)?;
    }
    let Some((plain, light, bare)) = floor_and_light(photo, &cells, card.map(|c| &c.corners), options.tray) else {
        return Ok(unknown(photo, reduced, options));
    };
    let source = match (options.tray, plain.bounded) {
        (Some(_), _) => TraySource::Given,
        (None, true) => TraySource::Found,
        (None, false) => TraySource::WholePicture,
    };
    let anchor = card.map_or_else(|| mean_point(&plain.outline), Card::centre);
    let (field, blown_out) =
        exposed::field(photo, &cells, &plain, anchor, scene, || light.field(photo, &bare, anchor, scene));
    let background = options.empty.map_or(bare, |empty| empty_background(&reduced, empty, &plain.outline));
    let (plainness, noise) = rayon::join(
        || plainness(&cells, &plain.outline, &background),
        || noise(&reduced, &cells, &plain.floor, &background),
    );
    let mut warnings: Vec<Warning> = exposed::warning(blown_out).into_iter().collect();
    if plainness < PLAIN_FROM {
        warnings.push(not_plain(plainness));
    } else if !light.is_of_one_surface() {
        warnings.push(not_one_surface(options.tray.is_some()));
    }
    let (tray, pictured) = (plain.outline, options.empty.is_some());
    Ok(Floor { tray, source, field, blown_out, background, pictured, plainness, noise, reduced, warnings })
}

/// The floor, the light over it and the bare floor it makes; where what links up is not of one surface, a tray in it is sought that is.
fn floor_and_light(
    photo: &Photo,
    cells: &Cells,
    card: Option<&Quad>,
    given: Option<&[Point]>,
) -> Option<(Plain, Light, Background)> {
    let linked = |link| level(photo, cells, tray::find(cells, card, given, link)?, given.is_some());
    let usual = linked(1.0)?;
    if usual.1.is_of_one_surface() {
        return Some(usual);
    }
    let mut closer = CLOSER_LINKS.into_iter().filter_map(linked);
    Some(closer.find(|(plain, light, _)| plain.bounded && light.is_of_one_surface()).unwrap_or(usual))
}

/// The floor without the tray's walls, the light over it and the bare floor it makes: what the first fit leaves out goes, and
/// the fit is made anew.
fn level(photo: &Photo, cells: &Cells, mut plain: Plain, given: bool) -> Option<(Plain, Light, Background)> {
    let first = Light::of(photo, cells, &plain)?;
    let bare = first.background(photo);
    let level = |&k: &usize| (cells.lab[k][0] - perceived(bare.at(cells.place(k)))[0]).abs() < WALL;
    let kept = cells.largest_piece(&plain.floor.par_iter().copied().filter(level).collect::<Vec<_>>());
    if 2 * kept.len() < plain.floor.len() || kept.len() == plain.floor.len() {
        return Some((plain, first, bare));
    }
    if !given {
        plain.outline = hull_of(cells, &kept);
    }
    plain.floor = clear_of_shade(cells, kept, BESIDE_FISH);
    plain.others = plain.others.into_iter().map(|table| clear_of_shade(cells, table, BESIDE_TRAY)).collect();
    let light = Light::of(photo, cells, &plain)?;
    let bare = light.background(photo);
    Some((plain, light, bare))
}

/// A surface's cells without those beside its edges; all of them where that would leave less than half.
fn clear_of_shade(cells: &Cells, surface: Vec<usize>, beside: f64) -> Vec<usize> {
    let reach = (beside * cells.width.max(cells.height) as f64).round().max(1.0) as usize;
    let clear = cells.inner(&surface, reach);
    if 2 * clear.len() < surface.len() { surface } else { clear }
}

fn check(photo: &Photo, options: &FloorOptions<'_>) -> Result<()> {
    if let Some(tray) = options.tray
        && (tray.len() < 3 || polygon_area(tray).abs() < 100.0)
    {
        return Err(Error::usage(
            "--tray",
            format!("{} corners that enclose no area", tray.len()),
            "give at least three corners of the tray's inside in order: x,y,x,y,x,y",
        ));
    }
    if let Some(empty) = options.empty
        && (empty.width, empty.height) != (photo.width, photo.height)
    {
        return Err(Error::failed(
            &empty.name,
            format!(
                "the photo of the empty tray has {} × {} pixels, {} has {} × {}",
                empty.width, empty.height, photo.name, photo.width, photo.height
            ),
            "take both photos with the same camera from the same place",
        ));
    }
    Ok(())
}

/// A given tray must show enough of its floor for the light over it to be told.
fn check_inside(photo: &Photo, cells: &Cells, tray: &[Point]) -> Result<()> {
    let inside = (0..cells.lab.len()).filter(|&k| polygon_contains(tray, cells.place(k))).count();
    if inside >= LEAST_CELLS {
        return Ok(());
    }
    let side = cells.step;
    Err(Error::failed(
        &photo.name,
        format!(
            "of the tray given with --tray only {inside} squares of {side:.0} × {side:.0} pixels lie in the picture of {} × {} pixels, at \
             least {LEAST_CELLS} are needed",
            photo.width, photo.height
        ),
        "give the corners of the tray's inside in pixels of the upright picture, in order around it",
    ))
}

fn not_one_surface(given: bool) -> Warning {
    let mend = if given { "give its floor alone, and light it evenly" } else { "give the tray's inside with --tray" };
    Warning::new(
        "uneven-floor",
        format!(
            "what was taken for the floor is brighter and darker than one light makes it, so the fish's lightness is not to be trusted: {mend}"
        ),
    )
}

fn not_plain(plainness: f64) -> Warning {
    Warning::new(
        "no-plain-floor",
        format!("{} of the ground is plain: fish are found on a plain tray floor or backdrop only", percent(plainness)),
    )
}

/// The whole picture as floor of unknown light: what is left when nothing plain was found.
fn unknown(photo: &Photo, reduced: LinearImage, options: &FloorOptions<'_>) -> Floor {
    let mean =
        reduced.pixels.iter().fold(LinearRgb::new(0.0, 0.0, 0.0), |s, p| s + *p) / reduced.pixels.len().max(1) as f32;
    let (w, h) = (f64::from(photo.width), f64::from(photo.height));
    let whole = vec![Point::new(0.0, 0.0), Point::new(w, 0.0), Point::new(w, h), Point::new(0.0, h)];
    Floor {
        tray: options.tray.map_or(whole, <[Point]>::to_vec),
        source: if options.tray.is_some() { TraySource::Given } else { TraySource::WholePicture },
        field: LightField::even(UNKNOWN_ERROR),
        blown_out: 0.0,
        background: Background { cell: w.max(h), columns: 1, rows: 1, values: vec![mean] },
        pictured: false,
        plainness: 0.0,
        noise: [UNKNOWN_ERROR; 3],
        reduced,
        warnings: vec![not_plain(0.0)],
    }
}

/// The empty tray's picture with its light brought to this photo's by the median ratio a channel.
fn empty_background(reduced: &LinearImage, empty: &Photo, tray: &[Point]) -> Background {
    let bare = empty.reduced(reduced.factor);
    let inside: Vec<usize> = (0..bare.pixels.len())
        .step_by(7)
        .filter(|k| polygon_contains(tray, bare.place(k % bare.width, k / bare.width)))
        .collect();
    let gain = |channel: fn(&LinearRgb) -> f32| {
        let mut ratios: Vec<f32> =
            inside.iter().map(|&k| channel(&reduced.pixels[k]) / channel(&bare.pixels[k]).max(1e-4)).collect();
        if ratios.is_empty() {
            return 1.0;
        }
        let middle = ratios.len() / 2;
        *ratios.select_nth_unstable_by(middle, f32::total_cmp).1
    };
    let gains = LinearRgb::new(gain(|p| p.red), gain(|p| p.green), gain(|p| p.blue));
    let cell = f64::from(reduced.factor);
    // Reduced pixels stand at their centres, grid points at whole cells: read the pixel just beyond each corner.
    Background::sampled(cell, bare.width, bare.height, |p| {
        let (x, y) = ((p.x / cell).round() as usize, (p.y / cell).round() as usize);
        let (x0, y0) = (x.saturating_sub(1), y.saturating_sub(1));
        let (x, y) = (x.min(bare.width - 1), y.min(bare.height - 1));
        (bare.at(x, y) + bare.at(x0, y) + bare.at(x, y0) + bare.at(x0, y0)) * 0.25 * gains
    })
}

/// Share of the tray's cells that look like the background.
fn plainness(cells: &Cells, tray: &[Point], background: &Background) -> f64 {
    let inside = (0..cells.lab.len()).into_par_iter().filter(|&k| polygon_contains(tray, cells.place(k)));
    let is_plain = |k: usize| {
        let bare = perceived(background.at(cells.place(k)));
        let d: f32 = (0..3).map(|c| (cells.lab[k][c] - bare[c]).powi(2)).sum();
        d.sqrt() < EXPLAINED
    };
    let (inside, plain) = inside.map(|k| (1, u32::from(is_plain(k)))).reduce(|| (0, 0), |a, b| (a.0 + b.0, a.1 + b.1));
    f64::from(plain) / f64::from(inside.max(1u32))
}

/// Robust relative deviation of the floor's reduced pixels from the background, a channel.
fn noise(reduced: &LinearImage, cells: &Cells, floor: &[usize], background: &Background) -> [f64; 3] {
    let per_cell = (cells.step / f64::from(reduced.factor)) as usize;
    let every = (floor.len() / SAMPLES).max(1);
    let mut residuals: [Vec<f64>; 3] = Default::default();
    for &k in floor.iter().step_by(every) {
        let (x, y) = (k % cells.width * per_cell, k / cells.width * per_cell);
        let (seen, bare) = (log_light(reduced.at(x, y)), log_light(background.at(reduced.place(x, y))));
        (0..3).for_each(|c| residuals[c].push(seen[c] - bare[c]));
    }
    residuals.map(|r| robust_scale(&r))
}
