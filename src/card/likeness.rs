//! Whether a grid that stands like the chart also has the chart's colours, or is a print or another maker's card.
//!
//! Two things are asked of the patches' light. Do CIELAB values follow from it, through one affine map of its powers and a
//! slope across the card, about as closely as they do for real charts? And do the neutral patches share one colour of
//! light? Home printers mix greys from inks whose balance shifts from light to dark, which no lamp and no camera does.

use super::order::LEAST_SEEN;
use super::reference::CHART_NEUTRALS;
use super::robust::{self, Fitted, Sample};
use super::{Design, PatchReading};
use crate::colour::{Lab, ciede2000};

/// Exponents that bring light near to CIELAB's cube root, for cameras of more or less contrast.
const POWERS: [f64; 4] = [0.25, 0.33, 0.45, 0.6];

/// Mean CIEDE2000 of a chart through such a map, upper end. On the open photographs and their distorted copies known
/// charts have 1.9 to 5.3, home-printed ones 5.5 to 7.9.
const USUAL_DIFFERENCE: f64 = 5.3;

/// Spread of the neutrals' log ratios (red to green and blue to green), upper end. Known charts have 0.03 to 0.11,
/// home-printed ones 0.16 to 0.32.
const USUAL_TINT: f64 = 0.11;

/// The sum ln(difference / usual) + ½ ln(tint / usual) from which the colours are another card's. Known charts stay below
/// 0.13, home-printed ones above 0.25, each in all the distortions tried.
const OTHER_CARD: f64 = 0.18;

/// Whether the readings, in the chart's order, are the chart's own colours; odd patches are left out of the question.
pub(super) fn is_chart(patches: &[PatchReading], odd: &[bool]) -> bool {
    let usable: Vec<usize> = (0..patches.len())
        .filter(|&i| patches[i].clipped_share < 0.5 && patches[i].left_out.is_none() && !odd[i])
        .collect();
    let Some(difference) = mean_difference(patches, &usable) else { return false };
    let tint = neutral_tint(patches, &usable).unwrap_or(USUAL_TINT);
    (difference / USUAL_DIFFERENCE).ln() + 0.5 * (tint / USUAL_TINT).ln() < OTHER_CARD
}

/// Mean CIEDE2000 after the best of the maps; `None` when too few patches can be used.
fn mean_difference(patches: &[PatchReading], usable: &[usize]) -> Option<f64> {
    let chart = Design::chart();
    let references = &chart.colours;
    let brightest = usable.iter().map(|&i| light(&patches[i])[1]).fold(0.0, f64::max);
    let of_power = |power: f64| -> Option<f64> {
        let samples: Vec<Sample> = usable
            .iter()
            .map(|&i| {
                let [r, g, b] = light(&patches[i]).map(|v| (v / brightest).powf(power));
                let ((x, y), lab) = (chart.slopes(i), references[i]);
                Sample { terms: [1.0, r, g, b, x, y], seen: [Some(lab.l), Some(lab.a), Some(lab.b)] }
            })
            .collect();
        let difference = |k: usize, [l, a, b]: [f64; 3]| ciede2000(Lab::new(l, a, b), references[usable[k]]);
        let fitted: Fitted = robust::fit(&samples, vec![1.0; samples.len()], 0.5, difference)?;
        Some(fitted.residuals.iter().sum::<f64>() / fitted.residuals.len() as f64)
    };
    (usable.len() >= LEAST_SEEN).then(|| POWERS.into_iter().filter_map(of_power).min_by(f64::total_cmp))?
}

/// Mean distance of the neutrals' log ratios from their median; `None` with fewer than three neutrals. Black is left out:
/// stray light tints it on any card.
fn neutral_tint(patches: &[PatchReading], usable: &[usize]) -> Option<f64> {
    let greys: Vec<[f64; 3]> = usable
        .iter()
        .filter(|&&i| CHART_NEUTRALS.contains(&i) && i + 1 < CHART_NEUTRALS.end)
        .map(|&i| light(&patches[i]))
        .collect();
    if greys.len() < 3 {
        return None;
    }
    let spread = |ratio: fn(&[f64; 3]) -> f64| {
        let mut logs: Vec<f64> = greys.iter().map(|g| ratio(g).ln()).collect();
        logs.sort_by(f64::total_cmp);
        let middle = logs[logs.len() / 2];
        logs.iter().map(|v| (v - middle).abs()).sum::<f64>() / logs.len() as f64
    };
    Some(spread(|g| g[0] / g[1]) + spread(|g| g[2] / g[1]))
}

/// Light of a patch, kept above zero: wide-gamut values may lie below.
fn light(patch: &PatchReading) -> [f64; 3] {
    [patch.linear.red, patch.linear.green, patch.linear.blue].map(|v| f64::from(v).max(1e-4))
}
