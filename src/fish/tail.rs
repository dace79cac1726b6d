//! Clear tails: on a pale floor a see-through fan only is a little darker than the floor, as shadow is, and is sought behind the
//! stalk where a tail must be.

use std::collections::{HashMap, HashSet};

use super::evidence::Kind;
use super::fan::Fan;
use super::seek::{Blob, Survey};
use super::spine::Spine;

/// Share of the place of a fan that must be shade for it to be one (starting value, tuned on drawn trays).
const SHADED: f64 = 0.55;
/// Share of the place of a fan that spots of colour take in a clear one: fewer are noise, more another thing (starting values).
const SPOTS: (f64, f64) = (0.04, 0.4);
/// Widening from the narrowest place of the rear on from which a tail is there already.
const SPREAD: f64 = 1.25;
/// Share of the length at either end that is looked at for a tail.
const REAR: f64 = 0.35;
/// Width of the last sixth, in lengths of what is seen, up to which an end is a bare stalk whatever its ragged outline does before it: a
/// tail that is seen has 0.12 and more (starting value, tuned on the renderer's tuning seeds).
const STALK: f64 = 0.09;
/// Fewest reduced pixels of a fish whose stalk that tells: smaller ones may be droppings beside a shadow (starting value).
const LARGE: usize = 200;

/// The blob with the clear tail behind it, where it shows none of its own.
pub(super) fn with_tail(survey: &Survey, blob: Blob) -> Blob {
    let Some(spine) = blob.spine() else { return blob };
    let tailed = has_tail(&spine.widths);
    let open = |s: &Spine| !tailed || is_large_on_plain_floor(survey, &blob) && is_bare_stalk(s);
    let ends = [spine, &spine.reversed()];
    let fan = ends.into_iter().filter(|s| open(s)).filter_map(|s| fan(survey, &blob, s)).max_by_key(Vec::len);
    let Some(fan) = fan else { return blob };
    let width = survey.block.width;
    let own = blob.places(width).collect();
    let bridge = blob.bridge_places(width).chain(fan).collect();
    Blob { at_edge: blob.at_edge, ..Blob::of(survey, own, bridge) }
}

/// Whether either end widens again behind a stalk.
fn has_tail(widths: &[f64]) -> bool {
    let most = |v: &[f64]| v.iter().copied().fold(0.0, f64::max);
    #[expect(clippy::cast_possible_truncation, reason = "a share of a small number")]
    let rear = (REAR * widths.len() as f64).ceil() as usize;
    let widens = |v: &[f64]| {
        let least = (0..v.len()).min_by(|&a, &b| v[a].total_cmp(&v[b])).unwrap_or(0);
        // The very end is round: its narrowness is no stalk.
        least + 1 < v.len() && most(&v[least..]) > SPREAD * v[least]
    };
    let front: Vec<f64> = widths[..rear].iter().rev().copied().collect();
    widens(&front) || widens(&widths[widths.len() - rear..])
}

/// Whether the far end is as thin as a stalk that shows no tail.
fn is_bare_stalk(spine: &Spine) -> bool {
    end_width(spine) < STALK * spine.length()
}

/// Mean width of the last sixth.
fn end_width(spine: &Spine) -> f64 {
    let n = spine.widths.len();
    mean(&spine.widths[n - n / 6 - 1..])
}

fn mean(widths: &[f64]) -> f64 {
    widths.iter().sum::<f64>() / widths.len().max(1) as f64
}

/// The fan beyond the end of `spine`, by its shade, its spots or as a whole; `None` where none shows, or where that end is the broader one.
fn fan(survey: &Survey, blob: &Blob, spine: &Spine) -> Option<Vec<usize>> {
    let n = spine.widths.len();
    if mean(&spine.widths[n - n / 3..]) > mean(&spine.widths[..n / 3]) {
        return None;
    }
    let fan = Fan::behind(blob, spine, end_width(spine));
    let own: HashSet<usize> = blob.places(survey.block.width).collect();
    let may_be_faint = is_large_on_plain_floor(survey, blob) && is_bare_stalk(spine);
    let faint = || may_be_faint.then(|| fan.faint(survey, &own)).flatten();
    seen_in(survey, &own, &fan.spread(survey)).or_else(faint)
}

/// Whether a blob is no dropping and the floor pale or grey, so that a clear tail is a little darker.
fn is_large_on_plain_floor(survey: &Survey, blob: &Blob) -> bool {
    !survey.block.is_bold() && blob.grid.count() >= LARGE
}

/// The fan's pixels among places with their distance from its root: its shade; or, where no shade but spots of colour show, all
/// up to the farthest spot.
fn seen_in(survey: &Survey, own: &HashSet<usize>, places: &[(usize, f64)]) -> Option<Vec<usize>> {
    let darker = |k: &usize| survey.block.pixels[*k].lightness < 0.0;
    let shade = |k: &usize| survey.inside.on[*k] && survey.kinds[*k] == Kind::Light && darker(k);
    let shade: Vec<usize> = places.iter().map(|p| p.0).filter(shade).collect();
    if shade.len() as f64 >= SHADED * places.len() as f64 {
        return Some(shade);
    }
    let spots = spots(survey, own, places);
    if !(SPOTS.0..SPOTS.1).contains(&(spots.len() as f64 / places.len().max(1) as f64)) {
        return None;
    }
    let end = spots.iter().map(|p| p.1).fold(0.0, f64::max);
    Some(places.iter().filter(|p| p.1 <= end && survey.inside.on[p.0]).map(|p| p.0).collect())
}

/// Places of things that lie wholly in the fan: what reaches out of it is something else.
fn spots(survey: &Survey, own: &HashSet<usize>, places: &[(usize, f64)]) -> Vec<(usize, f64)> {
    let fan: HashMap<usize, f64> = places.iter().copied().collect();
    let is_thing = |k: usize| survey.kinds[k] == Kind::Thing && !own.contains(&k);
    let mut seen: HashSet<usize> = HashSet::new();
    let mut out = Vec::new();
    for &(start, _) in places.iter().filter(|p| is_thing(p.0)) {
        if !seen.insert(start) {
            continue;
        }
        let mut piece = vec![start];
        let mut next = 0;
        while let Some(&k) = piece.get(next) {
            next += 1;
            if fan.contains_key(&k) {
                piece.extend(survey.inside.neighbours(k).filter(|&q| is_thing(q) && seen.insert(q)));
            }
        }
        if let Some(inside) = piece.iter().map(|k| fan.get(k).map(|s| (*k, *s))).collect::<Option<Vec<_>>>() {
            out.extend(inside);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fish::seek::blobs;

    /// A trunk of 40 by 10 pixels that tapers to the right, and behind it what `behind` says of (along, across); shade is darker than the
    /// floor.
    fn survey(behind: impl Fn(f64, f64) -> Kind) -> Survey {
        let mut survey = Survey::bare(90, 50);
        for k in 0..survey.kinds.len() {
            let p = survey.place(k);
            let (u, v) = (p.x - 15.0, (p.y - 25.0).abs());
            let half = 5.0 * (1.0 - ((u - 14.0) / 28.0).powi(2)).max(0.09).sqrt();
            survey.kinds[k] = if (0.0..40.0).contains(&u) && v < half { Kind::Thing } else { behind(u - 40.0, v) };
            survey.block.pixels[k].lightness = if survey.kinds[k] == Kind::Light { -4.0 } else { 0.0 };
        }
        survey
    }

    fn grown(survey: &Survey) -> f64 {
        let blob = blobs(survey, 24).remove(0);
        let before = blob.grid.count() as f64;
        with_tail(survey, blob).grid.count() as f64 / before
    }

    #[test]
    fn shade_in_the_shape_of_a_fan_is_a_tail_and_a_bare_floor_is_none() {
        let fan = survey(|u, v| if (0.0..14.0).contains(&u) && v < 2.0 + 0.7 * u { Kind::Light } else { Kind::Floor });
        assert!(grown(&fan) > 1.3);
        assert!((grown(&survey(|_, _| Kind::Floor)) - 1.0).abs() < 1e-9);
    }

    #[test]
    fn a_ragged_stalk_is_no_tail_and_mirrored_light_behind_it_none_either() {
        let fan = |u: f64, v: f64| (4.0..18.0).contains(&u) && v < 1.5 + 0.7 * (u - 4.0);
        // The stalk goes on four pixels past the trunk, which is but a thread a little before that.
        let mut ragged = survey(|u, v| match (fan(u, v), (0.0..4.0).contains(&u) && v < 1.0) {
            (true, _) => Kind::Light,
            (_, true) => Kind::Thing,
            _ => Kind::Floor,
        });
        for k in 0..ragged.kinds.len() {
            let p = ragged.place(k);
            if (45.0..48.0).contains(&p.x) && (p.y - 24.5).abs() > 0.1 {
                ragged.kinds[k] = Kind::Floor;
            }
        }
        assert!(has_tail(&blobs(&ragged, 24)[0].spine().unwrap().widths));
        assert!(grown(&ragged) > 1.3);
        ragged.block.pixels.iter_mut().for_each(|d| d.lightness = -d.lightness);
        assert!((grown(&ragged) - 1.0).abs() < 1e-9);
    }

    #[test]
    fn spots_in_a_clear_fan_show_it_and_another_fish_does_not() {
        let spot = survey(|u, v| if (7.0..11.0).contains(&u) && v < 3.0 { Kind::Thing } else { Kind::Floor });
        assert!(grown(&spot) > 1.15);
        let other = survey(|u, v| if (7.0..30.0).contains(&u) && v < 3.0 { Kind::Thing } else { Kind::Floor });
        assert!((grown(&other) - 1.0).abs() < 1e-9);
    }
}
