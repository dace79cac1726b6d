//! What is true of a drawn scene: of the things themselves under the card's white, not of the picture.

use broodhue::colour::{Lab, chroma, hue};
use broodhue::geometry::{Homography, PixelBox, Point, Quad};
use broodhue::units::Sex;
use rayon::prelude::*;

use super::fish::{Fish, FishLayer, Hides, Part, trace};
use super::paint::{Tri, lab};
use super::scene::{Scene, light_at};
use super::tray::Ground;
use super::view::{View, project_box};

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

/// The truth about a scene seen by a camera.
pub fn tell(scene: &Scene, view: &View) -> Truth {
    let to_pixels = view.to_pixels();
    let back = view.to_plane();
    let layers: Vec<FishLayer> = scene.fish.iter().map(FishLayer::new).collect();
    let ground = Ground::new(&scene.tray);
    let stage = Stage { layers: &layers, ground: &ground, back, to_pixels, view };
    let mut fish: Vec<FishTruth> = (0..layers.len()).into_par_iter().map(|i| stage.fish(i, &scene.fish[i])).collect();
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

struct Stage<'a> {
    layers: &'a [FishLayer],
    ground: &'a Ground,
    back: Homography,
    to_pixels: Homography,
    view: &'a View,
}

/// One visible pixel of a fish: its part, what hides the ground, and its surface colour.
type Seen = (Part, Hides, Lab);

impl Stage<'_> {
    fn fish(&self, index: usize, fish: &Fish) -> FishTruth {
        let layer = &self.layers[index];
        let b = project_box(&self.to_pixels, &layer.body().bounds());
        let (w, h) = (f64::from(self.view.width), f64::from(self.view.height));
        let (x0, y0) = (b.x0.floor().clamp(0.0, w) as i64, b.y0.floor().clamp(0.0, h) as i64);
        let (x1, y1) = (b.x1.ceil().clamp(0.0, w) as i64, b.y1.ceil().clamp(0.0, h) as i64);
        let (cols, rows) = ((x1 - x0) as usize, (y1 - y0) as usize);
        let mut whole = 0_usize;
        let seen: Vec<Option<Seen>> = (0..cols * rows)
            .map(|i| {
                let at = Point::new((x0 + (i % cols.max(1)) as i64) as f64, (y0 + (i / cols.max(1)) as i64) as f64);
                let middle = self.back.apply(at + Point::new(0.5, 0.5));
                let (skin, _) = layer.surface(middle, [0.0; 3])?;
                whole += 1;
                let hidden = self.layers[index + 1..].iter().any(|l| l.skin(middle).is_some());
                (!hidden).then(|| (skin.part, skin.hides, lab(self.mean_colour(layer, at))))
            })
            .collect();
        let mask = FishMask {
            area: (x0, y0, cols, rows),
            parts: seen.iter().map(|s| s.map(|(p, ..)| p)).collect(),
            ground: seen.iter().map(|s| matches!(s, Some((Part::Trunk, Hides::Nothing, _)))).collect(),
        };
        self.summary(fish, layer, mask, &seen, whole)
    }

    /// The surface's colour over a pixel, in light.
    fn mean_colour(&self, layer: &FishLayer, at: Point) -> Tri {
        let (mut sum, mut n) = ([0.0_f32; 3], 0.0_f32);
        for k in 0..9 {
            let (u, v) = (f64::from(k % 3) / 3.0 + 1.0 / 6.0, f64::from(k / 3) / 3.0 + 1.0 / 6.0);
            let p = self.back.apply(at + Point::new(u, v));
            if let Some((_, c)) = layer.surface(p, self.ground.colour(p)) {
                (0..3).for_each(|i| sum[i] += c[i]);
                n += 1.0;
            }
        }
        sum.map(|v| v / n.max(1.0))
    }

    fn summary(
        &self,
        fish: &Fish,
        layer: &FishLayer,
        mask: FishMask,
        seen: &[Option<Seen>],
        whole: usize,
    ) -> FishTruth {
        let (x0, y0, cols, rows) = mask.area;
        let places: Vec<Point> = (0..seen.len())
            .filter(|&i| seen[i].is_some())
            .map(|i| Point::new((x0 + (i % cols) as i64) as f64, (y0 + (i / cols) as i64) as f64))
            .collect();
        let n = places.len().max(1) as f64;
        let centre = places.iter().fold(Point::default(), |s, p| s + *p) * (1.0 / n) + Point::new(0.5, 0.5);
        let mut bounds = PixelBox::around(&places).unwrap_or_default();
        bounds.x1 += 1.0;
        bounds.y1 += 1.0;
        let (w, h) = (f64::from(self.view.width), f64::from(self.view.height));
        let all: Vec<&Seen> = seen.iter().flatten().collect();
        let of = |f: &dyn Fn(&Seen) -> bool| median(all.iter().filter(|s| f(s)).map(|s| s.2).collect());
        let ground = of(&|s| s.0 == Part::Trunk && s.1 == Hides::Nothing);
        let floor_chroma = ground.map_or(0.0, chroma) + 8.0;
        let purer = |l: Lab, from: f64, to: f64| {
            let h = hue(l);
            let in_range = if from > to { h >= from || h < to } else { h >= from && h < to };
            in_range && chroma(l) >= floor_chroma.max(20.0)
        };
        let share = |f: &dyn Fn(&Seen) -> bool| shares(&all, f);
        let axis = &layer.body().axis;
        let whole_body = layer.body();
        let mut told = FishTruth {
            centre,
            bounds,
            outline: trace(cols, rows, Point::new(x0 as f64, y0 as f64), |x, y| mask.parts[y * cols + x].is_some()),
            area_px: places.len(),
            ends: (self.to_pixels.apply(axis[0]), self.to_pixels.apply(axis[axis.len() - 1])),
            length_mm: whole_body.total_length(),
            standard_length_mm: whole_body.standard_length,
            trunk: of(&|s| s.0 == Part::Trunk),
            finnage: of(&|s| s.0 == Part::Finnage),
            ground,
            red: share(&|s| purer(s.2, 345.0, 50.0)),
            orange: share(&|s| purer(s.2, 50.0, 78.0)),
            yellow: share(&|s| purer(s.2, 78.0, 110.0)),
            black: share(&|s| s.2.l <= 30.0 && chroma(s.2) <= 15.0),
            reflective: share(&|s| s.1 == Hides::Reflective),
            classes: Vec::new(),
            sex: fish.sex,
            touching: false,
            cut: bounds.x0 <= 0.0 || bounds.y0 <= 0.0 || bounds.x1 >= w || bounds.y1 >= h,
            visible: places.len() as f64 / whole.max(1) as f64,
            mask,
        };
        told.classes = classes(&told, fish.coat.base == super::fish::Base::Grey);
        told
    }
}

fn shares(all: &[&Seen], f: &dyn Fn(&Seen) -> bool) -> Shares {
    let of = |parts: &[Part]| {
        let members: Vec<_> = all.iter().filter(|s| parts.contains(&s.0)).collect();
        members.iter().filter(|s| f(s)).count() as f64 / members.len().max(1) as f64
    };
    Shares { trunk: of(&[Part::Trunk]), finnage: of(&[Part::Finnage]), fish: of(&[Part::Trunk, Part::Finnage]) }
}

/// Median of L*, a* and b*, each on its own.
fn median(colours: Vec<Lab>) -> Option<Lab> {
    let middle = |f: fn(&Lab) -> f64| {
        let mut v: Vec<f64> = colours.iter().map(f).collect();
        v.sort_by(f64::total_cmp);
        v[v.len() / 2]
    };
    (!colours.is_empty()).then(|| Lab::new(middle(|c| c.l), middle(|c| c.a), middle(|c| c.b)))
}

/// Classes of the starting sheet, by its own limits on the true numbers.
fn classes(f: &FishTruth, grey: bool) -> Vec<(&'static str, &'static str)> {
    let three = |share: f64| {
        if share > 0.15 {
            "full"
        } else if share >= 0.03 {
            "reduced"
        } else {
            "absent"
        }
    };
    let covers = [("red", f.red.trunk), ("orange", f.orange.trunk), ("yellow", f.yellow.trunk)];
    let strong: Vec<_> = covers.iter().filter(|c| c.1 >= 0.30).collect();
    let pale = covers.iter().all(|c| c.1 < 0.03) && f.trunk.is_some_and(|l| l.l >= 77.0 && chroma(l) <= 14.0);
    let body = match strong.as_slice() {
        [] if pale => "white",
        [] => "none yet",
        [one] => one.0,
        _ => "mixed",
    };
    let yellow = f.yellow.fish + f.orange.fish >= 0.05;
    vec![
        ("base", if grey { "grey" } else { "blond" }),
        ("body-colour", body),
        ("red-body", three(f.red.trunk)),
        ("red-finnage", three(f.red.finnage)),
        ("yellow", if yellow { "present" } else { "absent" }),
    ]
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
