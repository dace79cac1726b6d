//! One fish: its visible pixels and what follows from them.

use broodhue::colour::{Lab, chroma, hue};
use broodhue::geometry::{Homography, PixelBox, Point};

use super::numbers::{classes, median, shares};
use super::{FishMask, FishTruth};
use crate::common::render::fish::{Base, Fish, FishLayer, Hides, Part, trace};
use crate::common::render::paint::{Tri, lab};
use crate::common::render::tray::Ground;
use crate::common::render::view::{View, project_box};

/// What is needed to tell the truth about a fish.
pub(super) struct Stage<'a> {
    pub(super) layers: &'a [FishLayer],
    pub(super) ground: &'a Ground,
    pub(super) back: Homography,
    pub(super) to_pixels: Homography,
    pub(super) view: &'a View,
    /// Lens blur, standard deviation in pixels.
    pub(super) blur: f64,
}

/// One visible pixel of a fish: its part, what hides the ground, and its surface colour.
pub(super) type Seen = (Part, Hides, Lab);

impl Stage<'_> {
    /// The truth about fish number `index`.
    pub(super) fn fish(&self, index: usize, fish: &Fish) -> FishTruth {
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
                let (skin, here) = layer.surface(middle, self.ground.colour(middle))?;
                whole += 1;
                let hidden = self.layers[index + 1..].iter().any(|l| l.skin(middle).is_some());
                let colour = || self.mean_colour(layer, at, skin.part).unwrap_or(here);
                (!hidden).then(|| (skin.part, skin.hides, lab(colour())))
            })
            .collect();
        let mask = FishMask {
            area: (x0, y0, cols, rows),
            parts: seen.iter().map(|s| s.map(|(p, ..)| p)).collect(),
            ground: seen.iter().map(|s| matches!(s, Some((Part::Trunk, Hides::Nothing, _)))).collect(),
        };
        self.summary(fish, layer, mask, &seen, whole)
    }

    /// The surface's colour at the picture's resolution: the mean, in light, over what pixel and lens gather, as far as
    /// it is this part of this fish. Without it a fine net would have another median than any picture can show.
    fn mean_colour(&self, layer: &FishLayer, at: Point, part: Part) -> Option<Tri> {
        // A pixel's box has variance 1/12; the lens adds its own.
        let sigma = (1.0 / 12.0 + self.blur * self.blur).sqrt();
        let (mut sum, mut n) = ([0.0_f32; 3], 0.0_f32);
        for k in 0..16 {
            let (dx, dy) = ((f64::from(k % 4) - 1.5) * 0.9 * sigma, (f64::from(k / 4) - 1.5) * 0.9 * sigma);
            let p = self.back.apply(at + Point::new(0.5 + dx, 0.5 + dy));
            if let Some((skin, c)) = layer.surface(p, self.ground.colour(p))
                && skin.part == part
            {
                let weight = (-(dx * dx + dy * dy) / (2.0 * sigma * sigma)).exp() as f32;
                (0..3).for_each(|i| sum[i] += weight * c[i]);
                n += weight;
            }
        }
        (n > 0.0).then(|| sum.map(|v| v / n))
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
        told.classes = classes(&told, fish.coat.base == Base::Grey);
        told
    }
}
