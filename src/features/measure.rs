//! One fish: from its parts' pixels to [`Features`].

use super::colour::part_colour;
use super::cover::{Cover, Covered, Judge};
use super::sample::{self, Samples};
use super::values::{Estimate, Features, PartColour, ShareErrors, Shares, Strength};
use super::{Limits, net, shine};
use crate::calibrate::{CalibratedPhoto, Calibration};
use crate::colour::{Lab, chroma};
use crate::fish::{Mask, Region, without_floor};

/// Measures one fish. What its region cannot show is `None`: everything for a cluster.
pub fn measure(photo: &CalibratedPhoto, region: &Region, limits: &Limits) -> Features {
    let step = sample::stride(region.mask.area());
    let coarse = photo.floor.reduced.factor;
    let inside = sample::inside(region, coarse);
    let inner = |mask: &Mask, rim: u32| mask.intersection(&sample::inside(region, rim));
    let glare = &region.parts.glare;
    let read = |mask: Mask| sample::read(photo, &mask, glare, step);
    // Fins are thin, and their clear edge belongs to them: half the rim is left out there.
    let mut fish = Fish {
        trunk: region.parts.trunk.as_ref().map(|m| read(m.intersection(&inside))),
        rim: None,
        finnage: region.parts.finnage.as_ref().map(|m| read(inner(m, coarse / 2))),
    };
    let field_error = photo.floor.field.relative_error;
    let judge = fish.judge(limits, field_error);
    // Through a clear fin the bright floor shows, so only the trunk can tell the lamp's image by its colour.
    if let Some(trunk) = &mut fish.trunk {
        trunk.mark_mixed(&sample::at_outline(trunk, &inside));
        // Before glare goes: the brightest readings tell where an image's fading rim is.
        if let Some(axis) = &region.axis {
            trunk.mark_mixed(&shine::mirrored(trunk, axis, region.area_px / region.length_px.max(1.0)));
        }
    }
    if let (Some(trunk), Some(mask)) = (&mut fish.trunk, &region.parts.trunk) {
        trunk.drop_glare(|c| judge.is_mirror_image(c));
        fish.rim = Some(trunk.nearest(&mask.difference(&inside), coarse));
    }
    let mut out = fish.features(&judge, &photo.calibration, field_error);
    out.finnage_without_floor = own_finnage(photo, region, step);
    if let (Some(mask), Some(ground)) = (&region.parts.trunk, out.ground) {
        // A point of the net may itself be as dark as black cover, so black counts as ground here.
        let shows = |c: Lab| matches!(judge.cover(c), None | Some(Cover::Black));
        let net = net::density(photo, &mask.difference(glare), shows, ground.lightness, limits);
        out.net = net.map(|e| e.value);
        out.net_se = net.map(|e| e.se);
    }
    out
}

/// The readings of one fish, part by part.
struct Fish {
    trunk: Option<Samples>,
    /// For the trunk's rim, which is not read, the nearest readings once more: in shares they stand for it.
    rim: Option<Samples>,
    finnage: Option<Samples>,
}

impl Fish {
    fn judge(&self, limits: &Limits, field_error: f64) -> Judge {
        let trunk: &[Lab] = self.trunk.as_ref().map_or(&[], |t| &t.colours);
        // A relative error δ of the light is one of (L* + 16)·δ/3, at L* 60 some 25·δ (CIE 15).
        Judge::of(trunk, limits, 25.0 * field_error)
    }

    fn features(&self, judge: &Judge, calibration: &Calibration, field_error: f64) -> Features {
        let colour = |part: Option<&Samples>, weight: &dyn Fn(usize) -> f32| -> Option<PartColour> {
            part_colour(part?, weight, calibration, field_error)
        };
        let trunk = self.trunk.as_ref();
        let finnage = self.finnage.as_ref();
        let is = |kind: Cover| move |c: Lab| judge.cover(c) == Some(kind);
        let strength = |part| red_strength(part, is(Cover::Red), calibration, field_error);
        let (on_trunk, on_finnage) = (strength(trunk), strength(finnage));
        let strengths = |of: fn(Estimate) -> f64| Strength { trunk: on_trunk.map(of), finnage: on_finnage.map(of) };
        let covers = Covers::of(self, judge);
        let weights = trunk.map_or_else(Vec::new, |t| covers.weights(t));
        let only = |cover: Option<Cover>| {
            let trunk = covers.trunk.as_ref();
            move |k: usize| f32::from(u8::from(trunk.is_some_and(|t| t.carries(k, cover))))
        };
        let (red, red_se) = covers.shares(judge, calibration, Cover::Red);
        let (orange, orange_se) = covers.shares(judge, calibration, Cover::Orange);
        let (yellow, yellow_se) = covers.shares(judge, calibration, Cover::Yellow);
        let (black, black_se) = covers.shares(judge, calibration, Cover::Black);
        let (reflective, reflective_se) = covers.shares(judge, calibration, Cover::Reflective);
        Features {
            trunk: colour(trunk, &|k| weights[k]),
            finnage: colour(finnage, &|_| 1.0),
            ground: judge.ground.and_then(|_| colour(trunk, &only(None))),
            red_share: red,
            orange_share: orange,
            yellow_share: yellow,
            black_share: black,
            reflective_share: reflective,
            red_strength: strengths(|e| e.value),
            red_strength_se: strengths(|e| e.se),
            net: None,
            glare_share: self.glare(),
            reflective: colour(trunk, &only(Some(Cover::Reflective))),
            finnage_without_floor: None,
            share_se: ShareErrors {
                red: red_se,
                orange: orange_se,
                yellow: yellow_se,
                black: black_se,
                reflective: reflective_se,
            },
            net_se: None,
        }
    }

    fn glare(&self) -> Option<f64> {
        let parts = || [&self.trunk, &self.finnage].into_iter().flatten();
        let seen: usize = parts().map(Samples::seen).sum();
        (seen > 0).then(|| parts().map(|s| s.glare + s.under_lamp).sum::<usize>() as f64 / seen as f64)
    }
}

/// The readings of one fish with their covers, part by part.
struct Covers<'a> {
    trunk: Option<Covered<'a>>,
    rim: Option<Covered<'a>>,
    finnage: Option<Covered<'a>>,
}

impl<'a> Covers<'a> {
    fn of(fish: &'a Fish, judge: &Judge) -> Self {
        let [trunk, rim, finnage] =
            [&fish.trunk, &fish.rim, &fish.finnage].map(|part| part.as_ref().map(|s| Covered::of(s, judge)));
        Self { trunk, rim, finnage }
    }

    /// How often each reading of the trunk counts in its colour.
    fn weights(&self, trunk: &Samples) -> Vec<f32> {
        self.trunk.as_ref().map_or_else(Vec::new, |covers| covers.weights(&trunk.mixed, self.rim.as_ref()))
    }

    /// Shares of trunk, finnage and both together, with their standard errors.
    fn shares(&self, judge: &Judge, calibration: &Calibration, kind: Cover) -> (Shares, Shares) {
        let of = |parts: &[&Option<Covered<'_>>]| -> Option<Estimate> {
            let known: Vec<&Covered<'_>> = parts.iter().filter_map(|p| p.as_ref()).collect();
            let middle = super::colour::middle(known.iter().flat_map(|r| r.with(kind)));
            judge.share(&known, kind, calibration.error(middle.unwrap_or(Lab::new(50.0, 0.0, 0.0))))
        };
        // Without a trunk nothing says what share of the whole fish a part is.
        let fish = self.trunk.as_ref().and_then(|_| of(&[&self.trunk, &self.rim, &self.finnage]));
        let all = [of(&[&self.trunk, &self.rim]), of(&[&self.finnage]), fish];
        let pick = |f: fn(Estimate) -> f64| {
            let [trunk, finnage, fish] = all.map(|e| e.map(f));
            Shares { trunk, finnage, fish }
        };
        (pick(|e| e.value), pick(|e| e.se))
    }
}

/// Mean chroma of the red readings; its error from their spread, the calibration and the light.
fn red_strength(
    part: Option<&Samples>,
    is_red: impl Fn(Lab) -> bool,
    calibration: &Calibration,
    field_error: f64,
) -> Option<Estimate> {
    let red: Vec<Lab> = part?.colours.iter().copied().filter(|c| is_red(*c)).collect();
    let middle = super::colour::middle(red.iter())?;
    let n = red.len() as f64;
    let value = red.iter().map(|c| chroma(*c)).sum::<f64>() / n;
    let variance = red.iter().map(|c| (chroma(*c) - value).powi(2)).sum::<f64>() / n;
    // A relative error δ of the light scales the chroma by the share δ/3, as in `part_colour`.
    let common = calibration.error_on_fish(middle).chroma(middle).hypot(value * field_error / 3.0);
    Some(Estimate { value, se: (variance / n).sqrt().hypot(common) })
}

/// The fins' own colour, estimated by taking away what shines through them from the floor.
fn own_finnage(photo: &CalibratedPhoto, region: &Region, step: u32) -> Option<PartColour> {
    let mask = region.parts.finnage.as_ref()?;
    #[expect(clippy::cast_possible_truncation, reason = "a share needs no more digits")]
    let opacity = region.parts.fin_opacity? as f32;
    let own = sample::read_with(photo, mask, &region.parts.glare, step, |place, light| {
        without_floor(light, photo.relit(place, photo.floor.background.at(place)), opacity)
    });
    part_colour(&own, |_| 1.0, &photo.calibration, photo.floor.field.relative_error)
}
