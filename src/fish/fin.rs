//! How much of a fin's light is its own, and how much shines through it from the floor.

use crate::colour::LinearRgb;
use crate::geometry::Point;

use super::{Mask, Scene};

/// Fewest pixels of a fin that are looked at: below, a median says little; common practice, no source.
const FEWEST: usize = 12;
/// About so many pixels are enough.
const ENOUGH: u64 = 2000;
/// Opacity below which nothing of the fin itself is told from the floor's noise (starting value).
const LEAST: f64 = 0.05;

/// The opacity of a fin in 0…1, as far as the floor tells it; `None` where it is too small or darkens no channel of the floor's light.
pub(super) fn opacity(scene: &Scene<'_>, fin: &Mask) -> Option<f64> {
    let every = usize::try_from(fin.area() / ENOUGH).unwrap_or(0) + 1;
    let light = fin.pixels().step_by(every).map(|(x, y)| {
        let place = Point::new(f64::from(x) + 0.5, f64::from(y) + 0.5);
        (scene.photo.linear(x, y), scene.floor.background.at(place))
    });
    least_opacity(&light.collect::<Vec<_>>())
}

/// The least opacity that explains the darkest channel of (seen, floor).
///
/// A layer of opacity o lets 1 − o of the floor's light through and only adds to that, so no channel is darker than 1 − o of
/// the floor's. A pigment that swallows one channel whole, as red does with blue, makes this bound the opacity itself; a
/// paler one is taken for more see-through than it is.
fn least_opacity(light: &[(LinearRgb, LinearRgb)]) -> Option<f64> {
    if light.len() < FEWEST {
        return None;
    }
    let ratio = |channel: fn(LinearRgb) -> f32| {
        let mut ratios: Vec<f32> = light.iter().map(|(s, f)| channel(*s) / channel(*f).max(f32::EPSILON)).collect();
        let middle = ratios.len() / 2;
        f64::from(*ratios.select_nth_unstable_by(middle, f32::total_cmp).1)
    };
    let darkest = ratio(|v| v.red).min(ratio(|v| v.green)).min(ratio(|v| v.blue));
    Some((1.0 - darkest).min(1.0)).filter(|o| *o >= LEAST)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seen(own: LinearRgb, opacity: f32) -> Vec<(LinearRgb, LinearRgb)> {
        let floor = LinearRgb::new(0.8, 0.7, 0.6);
        vec![(own * opacity + floor * (1.0 - opacity), floor); 20]
    }

    #[test]
    fn a_red_fin_s_opacity_is_read_off_the_channel_it_swallows() {
        let half = least_opacity(&seen(LinearRgb::new(0.4, 0.1, 0.0), 0.5)).unwrap();
        assert!((half - 0.5).abs() < 1e-6, "{half}");
        // Grey pigment of half the floor's blue: half of the truth is told.
        let grey = least_opacity(&seen(LinearRgb::new(0.5, 0.4, 0.3), 0.6)).unwrap();
        assert!((0.29..=0.6).contains(&grey), "{grey}");
    }

    #[test]
    fn a_fin_brighter_than_the_floor_and_a_crumb_tell_nothing() {
        assert_eq!(least_opacity(&seen(LinearRgb::new(0.9, 0.9, 0.9), 0.5)), None);
        assert_eq!(least_opacity(&seen(LinearRgb::new(0.4, 0.1, 0.0), 0.5)[..11]), None);
    }
}
