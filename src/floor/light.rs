//! The light over the floor as one model (surface and slow remainder) and what is read off it.
#![expect(clippy::cast_possible_truncation, reason = "grid sizes and light values fit their types")]

use rayon::prelude::*;

use crate::colour::LinearRgb;
use crate::geometry::{PixelBox, Point, mean_point};
use crate::photo::Photo;

use super::cells::Cells;
use super::residue::Residue;
use super::surface::{Degree, Sample, Surface};
use super::tray::Plain;
use super::{Background, LightField};

/// Number of cells a surface is fitted to; more gain nothing.
const SAMPLES: usize = 4000;
/// Relative error of the field where nothing is known about the light (starting value: half a lamp-lit tray's usual range).
pub(super) const UNKNOWN_ERROR: f64 = 0.15;
/// Smallest relative error claimed for a field: what a moulded or stained floor leaves (starting value).
const LEAST_ERROR: f64 = 0.004;
/// Relative error of the step from floor to card over a table between them: tray walls and their shade lie in the way (measured
/// on the renderer's tuning seeds).
const ACROSS_TABLE: f64 = 0.02;
/// Spread of the floor about the common surface, relative, from which the other surfaces are taken to lie in another light, such as
/// the page of a book around a printed photo, or the floor itself to be two (starting value: floors of drawn trays reach 0.09, a tray
/// and its table together have 0.25).
const UNLIKE: f64 = 0.12;
/// Pixels of the photo per grid cell of the field and the background.
const GRID: f64 = 32.0;

/// From the file's light to the scene's: the phone's contrast curve undone, as far as it is known.
pub type ToScene<'a> = &'a (dyn Fn(LinearRgb) -> LinearRgb + Sync);

/// Log light of the bare floor over the picture, as the file holds it.
#[derive(Debug)]
pub(super) struct Light {
    samples: Vec<Sample>,
    fine: Surface,
    residue: Residue,
    /// The box around all samples: beyond it the fine surface is not trusted.
    known: PixelBox,
    /// The box around the floor's own samples.
    floor: PixelBox,
    /// Centre of the floor's own cells.
    middle: Point,
}

impl Light {
    /// Fits the light to the floor and the other plain surfaces; `None` when there is too little floor.
    pub(super) fn of(photo: &Photo, cells: &Cells, plain: &Plain) -> Option<Self> {
        let mut samples = samples(cells, plain);
        let mut fine = fit(photo, &samples, Degree::Four)?;
        if fine.spread > UNLIKE && samples.iter().any(|s| s.patch != 0) {
            samples.retain(|s| s.patch == 0);
            fine = fit(photo, &samples, Degree::Four)?;
        }
        let places: Vec<Point> = samples.iter().map(|s| s.at).collect();
        let own: Vec<Point> = samples.iter().filter(|s| s.patch == 0).map(|s| s.at).collect();
        let middle = mean_point(&own);
        Some(Self {
            residue: Residue::of(cells, &plain.floor, &fine),
            fine,
            known: PixelBox::around(&places)?,
            floor: PixelBox::around(&own)?,
            middle,
            samples,
        })
    }

    /// Whether all of the floor lies under one light, and is not made of surfaces unlike each other.
    pub(super) fn is_of_one_surface(&self) -> bool {
        self.fine.spread <= UNLIKE
    }

    /// Log light at `p`, a channel; beyond the samples' box the box's edge goes on.
    fn log_at(&self, p: Point) -> [f64; 3] {
        let inside = Point::new(p.x.clamp(self.known.x0, self.known.x1), p.y.clamp(self.known.y0, self.known.y1));
        let (fine, rest) = (self.fine.log_at(inside), self.residue.at(inside));
        std::array::from_fn(|c| fine[c] + rest[c])
    }

    /// The bare floor as the camera would see it.
    pub(super) fn background(&self, photo: &Photo) -> Background {
        let (columns, rows) = grid(photo);
        let place = |k: usize| Point::new((k % columns) as f64 * GRID, (k / columns) as f64 * GRID);
        let values = (0..columns * rows).into_par_iter().map(|k| linear(self.log_at(place(k)))).collect();
        Background { cell: GRID, columns, rows, values }
    }

    /// The lighting field in the scene's light with 1 at `anchor`, and its error; `bare` is this light's
    /// [background](Light::background).
    pub(super) fn field(&self, photo: &Photo, bare: &Background, anchor: Point, scene: ToScene<'_>) -> LightField {
        let of_scene = |v: LinearRgb| luminance(scene(v)).ln();
        let log = |p: Point| of_scene(linear(self.log_at(p)));
        let (reference, carried) = if self.floor.contains(anchor) {
            (log(anchor), 0.0)
        } else {
            let (step, error) = self.step_off_the_floor(photo, anchor, scene);
            (log(self.middle) + step, error)
        };
        let error = LEAST_ERROR.hypot(0.5 * self.residue.unevenness).hypot(carried).min(UNKNOWN_ERROR);
        let error = if self.is_of_one_surface() { error } else { UNKNOWN_ERROR };
        let ratios = bare.values.par_iter().map(|v| (of_scene(*v) - reference).exp() as f32).collect();
        LightField { cell: bare.cell, columns: bare.columns, rows: bare.rows, ratios, relative_error: error }
    }

    /// The step in log light from the floor's middle to an anchor beside the floor, and its error.
    ///
    /// Floor and table are of different brightness, so a contrast curve bends the file's light over the one otherwise than
    /// over the other: surfaces that go over both are fitted to the scene's light. Where the anchor lies beyond the samples,
    /// the stiff surface carries the light on, and the two surfaces' disagreement enters the error.
    fn step_off_the_floor(&self, photo: &Photo, anchor: Point, scene: ToScene<'_>) -> (f64, f64) {
        let samples: Vec<Sample> = self.samples.iter().map(|s| Sample { light: scene(s.light), ..*s }).collect();
        let step = |degree| {
            let surface = fit(photo, &samples, degree)?;
            let log = |p: Point| luminance(linear(surface.log_at(p))).ln();
            Some(log(anchor) - log(self.middle))
        };
        let (fine, stiff) = rayon::join(|| step(Degree::Four), || step(Degree::Two));
        let (fine, stiff) = (fine.unwrap_or(0.0), stiff.unwrap_or(0.0));
        if self.known.contains(anchor) {
            (fine, ACROSS_TABLE)
        } else {
            (stiff, (stiff - fine).abs().max(0.2 * stiff.abs()).max(ACROSS_TABLE))
        }
    }
}

/// A surface through samples of a photo.
fn fit(photo: &Photo, samples: &[Sample], degree: Degree) -> Option<Surface> {
    let centre = Point::new(f64::from(photo.width) / 2.0, f64::from(photo.height) / 2.0);
    Surface::fit(samples, centre, f64::from(photo.width.max(photo.height)) / 2.0, degree)
}

/// Grid points that cover the picture, edges included.
fn grid(photo: &Photo) -> (usize, usize) {
    let points = |side: u32| (f64::from(side) / GRID).ceil() as usize + 1;
    (points(photo.width), points(photo.height))
}

fn linear(log: [f64; 3]) -> LinearRgb {
    let [r, g, b] = log.map(|v| v.exp() as f32);
    LinearRgb::new(r, g, b)
}

/// Y of linear sRGB, never quite zero (IEC 61966-2-1, adapted to D50).
fn luminance(v: LinearRgb) -> f64 {
    crate::colour::profile_xyz(v).y.max(1e-6)
}

/// Evenly thinned cells of the floor (patch 0) and of the other plain surfaces (1…3).
fn samples(cells: &Cells, plain: &Plain) -> Vec<Sample> {
    let all = plain.floor.len() + plain.others.iter().map(Vec::len).sum::<usize>();
    let every = all.div_ceil(SAMPLES).max(1);
    let take = |patch: usize, list: &[usize]| {
        list.iter()
            .step_by(every)
            .map(|&k| Sample { at: cells.place(k), light: cells.light[k], patch })
            .collect::<Vec<_>>()
    };
    let mut out = take(0, &plain.floor);
    for (i, other) in plain.others.iter().enumerate() {
        out.extend(take(i + 1, other));
    }
    out
}
