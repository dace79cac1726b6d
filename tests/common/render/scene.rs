//! A whole scene and how it is drawn.

use broodhue::geometry::{Homography, Point};
use image::RgbImage;
use rayon::prelude::*;

use super::Camera;
use super::chart::{Chart, ChartLayer};
use super::clutter::{Clutter, ClutterLayer};
use super::fish::{Fish, FishLayer, ShadowLayer};
use super::light::Light;
use super::paint::{Layer, Tri, pixel_ink};
use super::tray::{Ground, Tray};
use super::truth::{self, Truth};
use super::view::{View, project_box};

/// A shadow every fish throws.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shadow {
    /// Direction and length for a fish one millimetre over the floor.
    pub offset: Point,
    /// Share of the light it takes, 0…1.
    pub depth: f64,
    /// Width of its edge, millimetres.
    pub softness: f64,
}

/// What lies on the plane, and the light on it.
#[derive(Debug, Clone, PartialEq)]
pub struct Scene {
    /// Tray and table.
    pub tray: Tray,
    /// Colour cards; the first is the one the truth speaks of.
    pub charts: Vec<Chart>,
    /// Fish from lowest to topmost.
    pub fish: Vec<Fish>,
    /// Everything else.
    pub clutter: Vec<Clutter>,
    /// Shadows of every fish: one a lamp.
    pub shadows: Vec<Shadow>,
    /// Lamp and lens.
    pub light: Light,
}

/// A picture with its truth.
pub struct Shot {
    /// As the phone would show it, before JPEG.
    pub image: RgbImage,
    /// What was drawn.
    pub truth: Truth,
}

impl Shot {
    /// The picture as a JPEG file of the camera's quality.
    pub fn jpeg(&self, quality: u8) -> Vec<u8> {
        let mut bytes = Vec::new();
        image::codecs::jpeg::JpegEncoder::new_with_quality(&mut bytes, quality).encode_image(&self.image).unwrap();
        bytes
    }
}

/// Draws a scene and tells the truth about it.
pub fn draw(scene: &Scene, view: &View, camera: &Camera) -> Shot {
    let mut light = radiance(scene, view);
    let truth = truth::tell(scene, view, camera.blur);
    let image = camera.develop(&mut light, view.width as usize);
    Shot { image, truth }
}

/// Light at the sensor: XYZ under D50 times lamp and lens, row by row.
pub fn radiance(scene: &Scene, view: &View) -> Vec<Tri> {
    let ground = Ground::new(&scene.tray);
    let layers = layers(scene);
    let to_pixels = view.to_pixels();
    let back = view.to_plane();
    let boxes: Vec<_> = layers.iter().map(|l| project_box(&to_pixels, &l.bounds())).collect();
    let width = view.width as usize;
    let mut out = vec![[0.0; 3]; width * view.height as usize];
    out.par_chunks_mut(width).enumerate().for_each(|(y, row)| {
        let y = y as f64;
        for (x, v) in row.iter_mut().enumerate() {
            *v = ground.colour(back.apply(Point::new(x as f64 + 0.5, y + 0.5)));
        }
        for (layer, b) in layers.iter().zip(&boxes).filter(|(_, b)| b.y0 < y + 1.0 && b.y1 > y) {
            paint_row(row, y, (b.x0, b.x1), layer.as_ref(), &back);
        }
        light_row(row, |x| light_at(scene, view, &back, Point::new(x, y + 0.5)));
    });
    out
}

/// Lamp and lens at a pixel.
pub fn light_at(scene: &Scene, view: &View, back: &Homography, at: Point) -> f64 {
    let half = f64::from(view.width.max(view.height)) / 2.0;
    let (x, y) = (at.x - f64::from(view.width) / 2.0, at.y - f64::from(view.height) / 2.0);
    scene.light.on_plane(back.apply(at)) * scene.light.in_lens(x / half, y / half)
}

/// Pixels between places where the light is worked out; it is smooth, so straight lines between do.
const LIGHT_STEP: usize = 16;

fn light_row(row: &mut [Tri], light: impl Fn(f64) -> f64) {
    let mut left = light(0.5);
    for (i, run) in row.chunks_mut(LIGHT_STEP).enumerate() {
        let right = light(((i + 1) * LIGHT_STEP) as f64 + 0.5);
        for (k, v) in run.iter_mut().enumerate() {
            let t = k as f64 / LIGHT_STEP as f64;
            let here = (left + (right - left) * t) as f32;
            v.iter_mut().for_each(|c| *c *= here);
        }
        left = right;
    }
}

fn paint_row(row: &mut [Tri], y: f64, (x0, x1): (f64, f64), layer: &dyn Layer, back: &Homography) {
    let from = x0.floor().max(0.0) as usize;
    let to = (x1.ceil().max(0.0) as usize).min(row.len());
    for (x, v) in row.iter_mut().enumerate().take(to).skip(from) {
        let ink = pixel_ink(layer, |dx, dy| back.apply(Point::new(x as f64 + dx, y + dy)));
        if let Some(ink) = ink {
            *v = ink.over(*v);
        }
    }
}

/// Everything on the ground, from lowest to topmost.
fn layers(scene: &Scene) -> Vec<Box<dyn Layer>> {
    let mut all: Vec<Box<dyn Layer>> = Vec::new();
    let (over, under): (Vec<_>, Vec<_>) =
        scene.clutter.iter().map(ClutterLayer::new).partition(ClutterLayer::above_fish);
    all.extend(under.into_iter().map(|c| Box::new(c) as Box<dyn Layer>));
    for shadow in &scene.shadows {
        for f in &scene.fish {
            all.push(Box::new(ShadowLayer::new(f, shadow.offset * f.height, shadow.depth, shadow.softness)));
        }
    }
    all.extend(scene.charts.iter().map(|c| Box::new(ChartLayer::new(c)) as Box<dyn Layer>));
    all.extend(scene.fish.iter().map(|f| Box::new(FishLayer::new(f)) as Box<dyn Layer>));
    all.extend(over.into_iter().map(|c| Box::new(c) as Box<dyn Layer>));
    all
}
