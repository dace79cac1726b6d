//! What is true of a drawn scene: of the things themselves under the card's white, not of the picture.

mod fish;
mod numbers;

use broodhue::colour::Lab;
use broodhue::geometry::{Homography, PixelBox, Point, Quad};
use broodhue::units::Sex;
use rayon::prelude::*;

use super::fish::{FishLayer, Part};
use super::scene::{Scene, light_at};
use super::tray::Ground;
use super::view::View;
use fish::Stage;

/// What is true of a scene.
#[derive(Debug, Clone)]
pub struct Truth {
    /// Corners of the first card's dark frame in pixels, in the order of the print.
    pub corners: Option<Quad>,
    /// Patch centres of the first card in pixels, row by row.
    pub patches: Vec<Point>,
    /// Corners of every further card.
    pub other_cards: Vec<Quad>,
    /// Whether the picture is mirrored.
    pub mirrored: bool,
    /// The fish, in the order drawn.
    pub fish: Vec<FishTruth>,
    /// Lamp and lens: pixels a cell, cells across, ratio to the light at the card's (else the picture's) centre.
    pub field: (u32, usize, Vec<f64>),
    /// Outline of the tray's inside in pixels.
    pub tray: Vec<Point>,
    /// Millimetres a pixel in the middle of the picture.
    pub mm_per_px: f64,
}

/// Which pixels of a fish belong to what; row by row over `area`.
#[derive(Debug, Clone)]
pub struct FishMask {
    /// Left, top, width, height of the window in whole pixels.
    pub area: (i64, i64, usize, usize),
    /// The part seen at each pixel of the window; `None` beside the fish or where another thing hides it.
    pub parts: Vec<Option<Part>>,
    /// Whether the ground shows there.
    pub ground: Vec<bool>,
}

/// Shares of trunk, finnage and the whole fish, 0…1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shares {
    /// Of the trunk.
    pub trunk: f64,
    /// Of the finnage.
    pub finnage: f64,
    /// Of trunk and finnage together.
    pub fish: f64,
}

/// What is true of one fish.
#[derive(Debug, Clone)]
pub struct FishTruth {
    /// Centre of gravity of the visible mask.
    pub centre: Point,
    /// Box of the visible mask.
    pub bounds: PixelBox,
    /// Outline of the visible mask.
    pub outline: Vec<Point>,
    /// Parts pixel by pixel.
    pub mask: FishMask,
    /// Visible area in pixels.
    pub area_px: usize,
    /// Snout tip and tail tip in pixels.
    pub ends: (Point, Point),
    /// Snout to tail tip along the body, millimetres.
    pub length_mm: f64,
    /// Snout to end of the tail stalk along the body, millimetres.
    pub standard_length_mm: f64,
    /// Median colour of the trunk, cover included.
    pub trunk: Option<Lab>,
    /// Median colour of the finnage as seen over the floor.
    pub finnage: Option<Lab>,
    /// Median colour of the ground.
    pub ground: Option<Lab>,
    /// Red share by the design's limits.
    pub red: Shares,
    /// Orange share.
    pub orange: Shares,
    /// Yellow share.
    pub yellow: Shares,
    /// Black share.
    pub black: Shares,
    /// Share of the fish's own shiny pigment.
    pub reflective: Shares,
    /// Starting sheet's axis → class, from these numbers.
    pub classes: Vec<(&'static str, &'static str)>,
    /// Sex, where known.
    pub sex: Option<Sex>,
    /// Whether it touches or overlaps another fish (masks within two pixels).
    pub touching: bool,
    /// Whether the picture's edge cuts it.
    pub cut: bool,
    /// Visible share of its whole area.
    pub visible: f64,
}

/// Pixels per cell of the true lighting field.
const FIELD_CELL: u32 = 32;

/// The truth about a scene seen by a camera whose lens blurs by `blur` pixels (standard deviation).
pub fn tell(scene: &Scene, view: &View, blur: f64) -> Truth {
    let to_pixels = view.to_pixels();
    let back = view.to_plane();
    let layers: Vec<FishLayer> = scene.fish.iter().map(FishLayer::new).collect();
    let ground = Ground::new(&scene.tray);
    let stage = Stage { layers: &layers, ground: &ground, back, to_pixels, view, blur };
    let mut fish: Vec<FishTruth> = (0..layers.len()).into_par_iter().map(|i| stage.fish(i, &scene.fish[i])).collect();
    // What lies outside the picture, or wholly under another, is not in the photo.
    fish.retain(|f| f.area_px > 0);
    mark_touching(&mut fish);
    let first = scene.charts.first().map(|c| c.in_picture(&to_pixels));
    let reference = first.as_ref().map_or(Point::new(f64::from(view.width) / 2.0, f64::from(view.height) / 2.0), |c| {
        c.1.iter().fold(Point::default(), |s, p| s + *p) * (1.0 / 24.0)
    });
    let middle = Point::new(f64::from(view.width) / 2.0, f64::from(view.height) / 2.0);
    Truth {
        corners: first.as_ref().map(|c| c.0),
        patches: first.map(|c| c.1).unwrap_or_default(),
        other_cards: scene.charts.iter().skip(1).map(|c| c.in_picture(&to_pixels).0).collect(),
        mirrored: view.mirrored,
        fish,
        field: field(scene, view, &back, reference),
        tray: tray_outline(scene, &to_pixels),
        mm_per_px: back.magnification(middle),
    }
}

fn field(scene: &Scene, view: &View, back: &Homography, reference: Point) -> (u32, usize, Vec<f64>) {
    let at = light_at(scene, view, back, reference);
    let (columns, rows) = (view.width.div_ceil(FIELD_CELL) + 1, view.height.div_ceil(FIELD_CELL) + 1);
    let cell = f64::from(FIELD_CELL);
    let ratios = (0..rows * columns)
        .map(|i| {
            let p = Point::new(f64::from(i % columns) * cell, f64::from(i / columns) * cell);
            light_at(scene, view, back, p) / at
        })
        .collect();
    (FIELD_CELL, columns as usize, ratios)
}

fn tray_outline(scene: &Scene, to_pixels: &Homography) -> Vec<Point> {
    let t = &scene.tray;
    let arc = |cx: f64, cy: f64, from: f64| {
        (0..=6).map(move |i| {
            let (s, c) = (from + 15.0 * f64::from(i)).to_radians().sin_cos();
            Point::new(cx + t.corner * c, cy + t.corner * s)
        })
    };
    let (w, h) = (t.half.x - t.corner, t.half.y - t.corner);
    let corners = [(w, h, 0.0), (-w, h, 90.0), (-w, -h, 180.0), (w, -h, 270.0)];
    corners.iter().flat_map(|&(x, y, a)| arc(x, y, a)).map(|p| to_pixels.apply(p)).collect()
}

/// Marks fish whose visible masks come within two pixels of each other.
fn mark_touching(fish: &mut [FishTruth]) {
    for i in 0..fish.len() {
        for j in i + 1..fish.len() {
            if near(&fish[i], &fish[j]) {
                fish[i].touching = true;
                fish[j].touching = true;
            }
        }
    }
}

fn near(a: &FishTruth, b: &FishTruth) -> bool {
    const GAP: f64 = 2.0;
    let (p, q) = (&a.bounds, &b.bounds);
    if p.x0 > q.x1 + GAP || q.x0 > p.x1 + GAP || p.y0 > q.y1 + GAP || q.y0 > p.y1 + GAP {
        return false;
    }
    a.outline.iter().any(|u| b.outline.iter().any(|v| u.distance(*v) <= GAP))
}
