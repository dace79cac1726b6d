//! Patches that a shadow or the lamp's mirror image spoilt.

use super::camera::Camera;
use super::patch::Patch;
use crate::card::LeftOut;
use crate::colour::{D50_WHITE, Lab, Xyz, ciede2000, lab_from_xyz, xyz_from_lab};

/// CIEDE2000 below which no patch is suspected: twice what the worst clean patch of a usual phone photo shows in the fit
/// (open chart photographs, median of the largest residual 4).
const LEAST: f64 = 8.0;

/// How many times the card's median difference a spoilt patch must show.
const TIMES_MEDIAN: f64 = 4.0;

/// Share of the difference that a shadow or mirror image must explain.
const EXPLAINED: f64 = 0.5;

/// Patches far off in a way that a lack of light, or added white light, explains.
pub(super) fn suspects(camera: &Camera, patches: &[&Patch]) -> Vec<(usize, LeftOut)> {
    let seen: Vec<Lab> = patches.iter().map(|p| camera.lab(p)).collect();
    let off: Vec<f64> = seen.iter().zip(patches).map(|(s, p)| ciede2000(*s, p.lab)).collect();
    let mut sorted = off.clone();
    sorted.sort_by(f64::total_cmp);
    let limit = sorted.get(sorted.len() / 2).map_or(LEAST, |m| LEAST.max(TIMES_MEDIAN * m));
    patches
        .iter()
        .zip(seen)
        .zip(off)
        .filter(|(_, off)| *off > limit)
        .filter_map(|((p, seen), off)| Some((p.index, cause(seen, p.lab, off)?)))
        .collect()
}

/// What explains the difference between what was seen and what should be; `None` when neither shadow nor mirror image does.
fn cause(seen: Lab, wanted: Lab, off: f64) -> Option<LeftOut> {
    let (s, w) = (xyz_from_lab(seen), xyz_from_lab(wanted));
    let lit = w.y / s.y.max(1e-6);
    let brightened = lab_from_xyz(Xyz::new(s.x * lit, s.y * lit, s.z * lit));
    if lit > 1.0 && ciede2000(brightened, wanted) < EXPLAINED * off {
        return Some(LeftOut::Shaded);
    }
    let veil = ((s.x - w.x) / D50_WHITE[0] + (s.y - w.y) / D50_WHITE[1] + (s.z - w.z) / D50_WHITE[2]) / 3.0;
    let unveiled =
        lab_from_xyz(Xyz::new(s.x - veil * D50_WHITE[0], s.y - veil * D50_WHITE[1], s.z - veil * D50_WHITE[2]));
    (veil > 0.0 && ciede2000(unveiled, wanted) < EXPLAINED * off).then_some(LeftOut::Glare)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn half_the_light_is_a_shadow_and_added_white_is_glare() {
        let red = Lab::new(42.0, 51.0, 28.0);
        let xyz = xyz_from_lab(red);
        let dark = lab_from_xyz(Xyz::new(xyz.x / 2.0, xyz.y / 2.0, xyz.z / 2.0));
        assert_eq!(cause(dark, red, ciede2000(dark, red)), Some(LeftOut::Shaded));
        let veiled = lab_from_xyz(Xyz::new(xyz.x + 0.2 * D50_WHITE[0], xyz.y + 0.2, xyz.z + 0.2 * D50_WHITE[2]));
        assert_eq!(cause(veiled, red, ciede2000(veiled, red)), Some(LeftOut::Glare));
    }

    #[test]
    fn another_hue_is_neither() {
        let (red, blue) = (Lab::new(42.0, 51.0, 28.0), Lab::new(42.0, 10.0, -50.0));
        assert_eq!(cause(blue, red, ciede2000(blue, red)), None);
    }
}
